"""The files in deploy/ against the agent they are written for: limits, names, priorities."""

import dataclasses
import re

import yaml
from prometheus_client import CollectorRegistry
from prometheus_client.core import Metric

from agent.alarms import Life, Priority, State, StateName
from agent.intake import BrokerSettings, Facts
from agent.outlets import Lives, Metrics
from agent.service.intaking import BATCH_MESSAGES
from agent.settings.http import HttpSettings
from agent.settings.model import BrokerSettings as ConfiguredBroker
from tests.deploy.broker import DEPLOY, stated
from tests.outlets.views import ALARM, MINUTE_US, NOON_US, shown

DAY_S = 86_400


RULES = ("prometheus-rules.yml", "prometheus-rules-alarms.yml")


def rules(names=RULES):
    files = [yaml.safe_load((DEPLOY / name).read_text())["groups"] for name in names]
    return [rule for groups in files for group in groups for rule in group["rules"]]


def test_the_brokers_limits_fit_the_agent():
    configured = ConfiguredBroker(telemetry="plant")
    window = int(stated()["max_inflight_messages"])
    assert window == configured.receive_maximum == BrokerSettings.receive_maximum
    assert window >= 2 * BATCH_MESSAGES
    days = stated()["persistent_client_expiration"].removesuffix("d")
    assert int(days) * DAY_S > configured.session_expiry_s


def test_the_list_of_rights_knows_the_agents_prefix_and_nothing_else_of_it():
    rights = (DEPLOY / "mosquitto.acl").read_text().split("user dewline\n")[1].split("\n\n")[0]
    prefix = ConfiguredBroker(telemetry="plant").prefix
    assert rights.splitlines() == ["topic read plant/#", f"topic write {prefix}/#"]


def test_the_example_scrapes_where_the_agent_answers():
    scraped = yaml.safe_load((DEPLOY / "prometheus.yml").read_text())["scrape_configs"]
    default = HttpSettings()
    assert scraped == [
        {"job_name": "dewline", "static_configs": [{"targets": [f"{default.host}:{default.port}"]}]}
    ]


def test_every_metric_that_a_rule_asks_for_is_one_that_the_agent_shows():
    asked = {name for rule in rules() for name in re.findall(r"\bdewline_\w+", rule["expr"])}
    assert len(asked) >= 8
    assert asked <= names(everything())


def test_the_states_that_are_not_passed_on_are_those_of_which_nobody_is_told():
    (expr,) = (rule["expr"] for rule in rules() if rule["alert"] == "DewlineAlarm")
    kept = set(re.search(r'state=~"([^"]+)"', expr)[1].split("|"))
    assert kept == {StateName.SHELVED, StateName.SUPPRESSED, StateName.OUT_OF_SERVICE}


def test_what_the_agent_posts_itself_is_in_the_second_file_alone():
    """The first watches from outside; no rule of it repeats an alarm of the agent's."""
    first, second = (rules([name]) for name in RULES)
    assert [rule["alert"] for rule in second] == ["DewlineAlarm"]
    assert all("dewline_alarm" not in rule["expr"] for rule in first)
    assert yaml.safe_load((DEPLOY / "prometheus.yml").read_text())["rule_files"] == [RULES[0]]


def test_every_rule_says_what_it_means_and_how_soon_to_look():
    priorities = set(Priority)
    for rule in rules():
        assert set(rule["annotations"]) == {"summary", "consequence", "first_response"}, rule["alert"]
        passed_on = rule["alert"] == "DewlineAlarm"  # with the priority that the agent gave it
        assert passed_on or rule["labels"]["priority"] in priorities, rule["alert"]


def everything() -> list[Metric]:
    """All families of an agent to which everything has happened once."""
    zero = {field.name: 0 for field in dataclasses.fields(Facts)}
    metrics = Metrics(lambda: NOON_US, MINUTE_US, {"version": "1"})
    lives = Lives({ALARM.name: Life(State(active=True, acknowledged=False))}, NOON_US + 1, NOON_US)
    metrics.show(dataclasses.replace(shown(alarms=[ALARM]), lives=lives))
    metrics.count_work(0.5)
    metrics.count_failed("store")
    metrics.ask(lambda: Facts(**zero))
    registry = CollectorRegistry(auto_describe=False)
    registry.register(metrics)
    return list(registry.collect())


def names(families: list[Metric]) -> set[str]:
    return {sample.name for family in families for sample in family.samples}
