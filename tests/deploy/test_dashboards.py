"""The dashboards: made by make.py, and every query of theirs answered by a real Prometheus with data.

What is rightly empty on a healthy site is fed here by what went wrong: an invented site in alarm, a probe
that failed, a module that fell silent, a payload that is none, a store that another program held too long.
That Grafana draws them well is not tested here: there is none.
"""

import json
import re
import sqlite3
import subprocess
import sys
import threading
import time
from contextlib import closing, contextmanager

import pytest
import yaml

from tests.deploy.broker import DEPLOY
from tests.deploy.test_files import everything, names
from tests.deploy.watching import watching
from tests.mosquitto import MARKS as MOSQUITTO
from tests.mosquitto import Mosquitto, free_port
from tests.prometheus import MARKS as PROMETHEUS
from tests.receivers import HttpReceiver
from tests.service.processes import DEWLINE, agent_on, eventually, process
from tests.service.site import demo_configuration, write
from tests.service.test_kill import publisher

GRAFANA = DEPLOY / "grafana"
BOARDS = ("fleet", "module", "agent")
UNITS = {"_kelvin": "kelvin", "_celsius": "celsius"}
RANGE_S = 600
LOADED_S = 300  # patience on a machine that has much else to do
FAILED, SILENT, FAULTY = "n3", "n4", "liquid_line"


def board(name):
    return json.loads((GRAFANA / f"{name}.json").read_text())


def panels(name):
    return [panel for panel in board(name)["panels"] if panel["type"] != "row"]


def test_what_lies_there_is_what_make_py_makes(tmp_path):
    done = subprocess.run(
        [sys.executable, str(GRAFANA / "make.py"), "--to", str(tmp_path)], capture_output=True, check=False
    )
    assert done.returncode == 0, done.stderr.decode()
    for name in BOARDS:
        assert (tmp_path / f"{name}.json").read_text() == (GRAFANA / f"{name}.json").read_text(), (
            f"{name}.json: run python deploy/grafana/make.py"
        )


def test_each_has_its_own_name_and_leads_to_the_others():
    uids = [board(name)["uid"] for name in BOARDS]
    assert len(set(uids)) == 3
    for name in BOARDS:
        assert board(name)["links"][0]["tags"] == board(name)["tags"] == ["dewline"]
        for url in re.findall(r'"url": "/d/([^?"]+)', json.dumps(board(name))):
            assert url in uids


@pytest.mark.parametrize("name", BOARDS)
def test_no_panel_stands_on_another(name):
    taken = set()
    for panel in board(name)["panels"]:
        at = panel["gridPos"]
        cells = {(x, y) for x in range(at["x"], at["x"] + at["w"]) for y in range(at["y"], at["y"] + at["h"])}
        assert not cells & taken, panel["title"]
        assert at["x"] + at["w"] <= 24, panel["title"]
        taken |= cells


@pytest.mark.parametrize("name", BOARDS)
def test_a_figure_has_the_unit_of_its_metric(name):
    for panel in panels(name):
        unit = panel["fieldConfig"]["defaults"].get("unit")
        by_column = {
            each["matcher"]["options"]: value["value"]
            for each in panel["fieldConfig"]["overrides"]
            for value in each["properties"]
            if value["id"] == "unit"
        }
        for end, right in UNITS.items():
            asked = [target["refId"] for target in panel["targets"] if re.search(rf"{end}\b", target["expr"])]
            if panel["type"] == "table":
                renamed = panel["transformations"][1]["options"]["renameByName"]
                shown = {by_column[renamed[f"Value #{ref}"]] for ref in asked}
                assert shown <= {right}, panel["title"]
            elif asked:
                assert unit == right, panel["title"]


@pytest.mark.parametrize("name", BOARDS)
def test_what_is_absent_is_neither_bridged_nor_drawn_as_zero(name):
    for panel in panels(name):
        custom = panel["fieldConfig"]["defaults"].get("custom", {})
        assert custom.get("spanNulls", False) is False, panel["title"]
        assert "stacking" not in custom, panel["title"]
        assert panel["fieldConfig"]["defaults"]["noValue"], panel["title"]
        for target in panel["targets"]:
            # Nought may stand for none only where an agent answers at that time.
            assert "vector(" not in target["expr"], panel["title"]
            assert re.findall(r"or (0 .*)", target["expr"]) in (
                [],
                ["0 * max(dewline_build_info)"],
                ['0 * max(dewline_build_info{job="dewline", instance="$instance"})'],
            )


def test_every_metric_that_is_asked_for_is_one_that_the_agent_shows():
    asked = {
        metric
        for name in BOARDS
        for panel in panels(name)
        for target in panel["targets"]
        for metric in re.findall(r"\bdewline_\w+", target["expr"])
    }
    assert len(asked) > 25
    known = names(everything())
    assert {metric for metric in asked - known if not metric.endswith(("_kelvin", "_celsius"))} <= {
        "dewline_chosen_probe",
        "dewline_probe_failed",
        "dewline_pressure_ratio",
        "dewline_shadow",
        "dewline_readings_total",
        "dewline_readings_refused_total",
        "dewline_running_seconds_total",
        "dewline_undecided_seconds_total",
        "dewline_gateway_clock_offset_seconds",
        "dewline_notices_total",
        "dewline_broker_oldest_unacknowledged_seconds",
    }


def test_the_files_that_bring_them_in_fit_what_they_bring():
    sources = yaml.safe_load((GRAFANA / "provisioning" / "datasources" / "dewline.yml").read_text())
    (source,) = sources["datasources"]
    assert source["type"] == "prometheus"
    prometheus = yaml.safe_load((DEPLOY / "prometheus.yml").read_text())
    assert source["jsonData"]["timeInterval"] == prometheus["global"]["scrape_interval"]
    (provider,) = yaml.safe_load((GRAFANA / "provisioning" / "dashboards" / "dewline.yml").read_text())[
        "providers"
    ]
    assert provider["type"] == "file"
    for name in BOARDS:
        (chosen,) = [each for each in board(name)["templating"]["list"] if each["type"] == "datasource"]
        assert chosen["query"] == source["type"]


class Asking:
    """The queries of the dashboards, with what is chosen in them put in."""

    def __init__(self, prometheus, chosen):
        self.prometheus = prometheus
        self.chosen = {"__rate_interval": "30s", "__range": f"{RANGE_S}s", **chosen}

    def put_in(self, expr):
        for name, value in self.chosen.items():
            expr = expr.replace(f"${name}", value)
        assert "$" not in expr, expr
        return expr

    def of_variable(self, variable):
        """Its values, as Grafana's label_values(metric, label) finds them."""
        asked = variable["query"] if isinstance(variable["query"], str) else variable["query"]["query"]
        expr, label = re.fullmatch(r"label_values\((.+), (\w+)\)", asked).groups()
        return {each["metric"].get(label) for each in self.prometheus.result(self.put_in(expr))}

    def of_target(self, target):
        expr = self.put_in(target["expr"])
        if target.get("instant"):
            return self.prometheus.result(expr)
        now = time.time()
        course = {"start": str(now - RANGE_S), "end": str(now), "step": "2"}
        return self.prometheus.ask("query_range", query=expr, **course)["result"]


@contextmanager
def troubled(directory):
    """The invented site, live, with more wrong in it than the demonstration has; gives what asks of it."""
    metrics_port = free_port()
    with Mosquitto(directory / "broker") as broker, HttpReceiver() as receiver:
        body = demo_configuration(broker.port, metrics_port, "boards", "watch/dewline")
        north = body["systems"]["north"]["modules"]
        body["systems"] = {
            **body["systems"],
            "north": {
                **body["systems"]["north"],
                "modules": {**north, FAILED: north["n1"], SILENT: north["n1"]},
            },
        }
        body["alarms"] = {"shadow_days": 7}
        body["notices"] = {"routes": [{"name": "desk", "url": receiver.url}]}
        config, store = write(directory, body), directory / "boards.db"
        ended = threading.Event()
        rules = ("prometheus-rules.yml", "prometheus-rules-alarms.yml")
        feed = [sys.executable, "-m", "demo_feed", "--port", str(broker.port), "--backlog", "2h"]
        with (
            process(agent_on(config), directory / "agent.log") as agent,
            watching(directory / "prometheus", metrics_port, rules=rules, hurried=True) as prometheus,
            process(feed, directory / "feed.log"),
            publisher(broker.port) as client,
        ):
            eventually(
                lambda: "watching" in (directory / "agent.log").read_text(), "the agent watches", LOADED_S
            )
            client.publish("plant/quince-court/north/n1", b"no payload of any kind", qos=1)
            more = threading.Thread(target=send_more, args=(client, directory, ended))
            more.start()
            try:
                eventually(lambda: prometheus.result('dewline_mode{module="n2"}'), "n2 is assessed", LOADED_S)
                confirm = [*DEWLINE, "service", "n2", "confirm", "--by", "A. Fitter", "-c", str(config)]
                subprocess.run(confirm, check=True, capture_output=True)
                hold(store, prometheus)
                yield prometheus, f"127.0.0.1:{metrics_port}"
                assert agent.poll() is None
            finally:
                ended.set()
                more.join()


def send_more(client, directory, ended):
    """What n1 sent, as two other modules': one with an open circuit, one silent since half an hour."""
    path, now = directory / "more.jsonl", time.time()
    command = [sys.executable, "-m", "demo_feed", "--record", str(path), "--backlog", "2h", "--for", "900"]
    subprocess.run([*command, "--end", str(now)], check=True, capture_output=True)
    for line in path.read_text().splitlines():
        sent = json.loads(line)
        if not sent["topic"].endswith("/n1"):
            continue
        pack = json.loads(sent["payload"])
        sample_s = pack[0]["bt"]
        while sample_s > time.time():
            if ended.wait(0.2):
                return
        if sample_s < now - 1800:
            client.publish(sent["topic"].replace("/n1", f"/{SILENT}"), sent["payload"], qos=1)
        for record in pack:
            if record["n"] == FAULTY:
                record["v"] = -55.0
        client.publish(sent["topic"].replace("/n1", f"/{FAILED}"), json.dumps(pack), qos=1)


def hold(store, prometheus):
    """As a program does that opens the store and forgets it: what comes waits, and work fails."""
    with closing(sqlite3.connect(store, isolation_level=None, timeout=30)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        eventually(
            lambda: prometheus.result("dewline_work_failed_total"), "work fails at the held store", LOADED_S
        )


@pytest.fixture(scope="module")
def site(tmp_path_factory):
    with troubled(tmp_path_factory.mktemp("boards")) as made:
        yield made


def service(test):
    for mark in (*MOSQUITTO, *PROMETHEUS):
        test = mark(test)
    return test


@service
@pytest.mark.parametrize("name", BOARDS)
def test_every_query_finds_data(site, name):
    prometheus, instance = site
    modules = ["n2", "n1", "s2", FAILED, SILENT, "s1", "e1"]
    systems = {"n": "north", "s": "south", "e": "east"}
    each = [
        Asking(
            prometheus, {"site": "quince-court", "system": systems[m[0]], "module": m, "instance": instance}
        )
        for m in modules
    ]
    asked = {
        f"{panel['title']} [{target['refId']}]": target
        for panel in panels(name)
        for target in panel["targets"]
    }
    empty = set(asked)

    def still_empty():
        for title in list(empty):
            if any(asking.of_target(asked[title]) for asking in each):
                empty.discard(title)
        return empty

    try:
        eventually(lambda: not still_empty(), "every panel has data", LOADED_S)
    except AssertionError:
        raise AssertionError(f"without data: {sorted(empty)}") from None
    for variable in board(name)["templating"]["list"]:
        if variable["type"] == "query":
            assert each[0].of_variable(variable) >= {each[0].chosen[variable["name"]]}


@service
def test_behind_a_nought_there_is_a_count_too(site):
    """A query that shows nought where nothing was told finds what was told when there is something."""
    prometheus, _ = site
    for metric in (
        'dewline_alarm_active{priority="high"}',
        'dewline_alarm_active{priority="medium"}',
        "dewline_shadow",
        "dewline_notices_total",
        "dewline_work_failed_total",
        'dewline_quantity_status{place="return", status!="decided"}',
    ):
        eventually(lambda asked=metric: prometheus.result(asked), metric)
