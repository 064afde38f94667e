"""Gateway, broker, agent and Prometheus as they run on a site: what comes in, what goes out, how it ends.

The site is invented; what is true of it is known, and written beside what it sends.
"""

import csv
import json
import re
import signal
import sys
import urllib.request
from dataclasses import dataclass, field
from pathlib import Path

import pytest

from agent.alarms import CATALOGUE
from tests.mosquitto import MARKS as MOSQUITTO
from tests.mosquitto import Mosquitto, free_port
from tests.prometheus import MARKS as PROMETHEUS
from tests.prometheus import lint, scraping
from tests.service.processes import agent_on, eventually, group_is_alive, listener, process
from tests.service.site import demo_configuration, write

pytestmark = [*MOSQUITTO, *PROMETHEUS]

PREFIX, CLIENT = "watch/dewline", "end-to-end"
MODULES = {"north/n1", "north/n2", "south/s1", "south/s2", "east/e1"}
LATE, EARLY = {"n1", "n2", "e1"}, {"s1", "s2"}
QUERIES = (
    "up",
    "dewline_return_superheat_kelvin",
    "dewline_superheat_uncertainty_kelvin",
    "dewline_apparent_superheat_kelvin",
    "dewline_accumulator_outlet_superheat_kelvin",
    "dewline_compressor_inlet_superheat_kelvin",
    "dewline_oil_return_rise_kelvin",
    "dewline_saturated_suction_celsius",
    "dewline_quantity_status",
    "dewline_chosen_probe",
    "dewline_probe_fitness",
    "dewline_mode",
    "dewline_alarm_active",
    "dewline_readings_total",
    "dewline_reading_age_seconds",
    "dewline_broker_connected",
    "dewline_build_info",
)


@dataclass
class Seen:
    """What was seen while everything ran, and after it was told to end."""

    directory: Path
    scraped: bytes = b""
    queries: dict[str, list[tuple[dict[str, str], float]]] = field(default_factory=dict)
    retained: dict[str, bytes] = field(default_factory=dict)
    retained_after: dict[str, bytes] = field(default_factory=dict)
    agent_code: int | None = None
    left_running: bool = True
    broker_log: str = ""
    truth: dict[str, dict[str, str]] = field(default_factory=dict)

    def values(self, metric):
        return {labels["module"]: value for labels, value in self.queries[metric]}


@pytest.fixture(scope="module")
def seen(tmp_path_factory):
    directory = tmp_path_factory.mktemp("site")
    metrics_port = free_port()
    found = Seen(directory)
    agent_log, truth = directory / "agent.log", directory / "truth.csv"
    with Mosquitto(directory / "broker", "log_type all") as broker:
        config = write(directory, demo_configuration(broker.port, metrics_port, CLIENT, PREFIX))
        feed = [sys.executable, "-m", "demo_feed", "--port", str(broker.port), "--backlog", "2h"]
        with (
            scraping(directory / "prometheus", metrics_port) as prometheus,
            process(agent_on(config), agent_log) as agent,
            process([*feed, "--truth", str(truth)], directory / "feed.log") as gateway,
        ):
            eventually(
                lambda: agent.poll() is not None or everything_is_shown(prometheus),
                "alarms, modes and the values of n1 and n2 in Prometheus",
            )
            eventually(
                lambda: agent.poll() is not None or evidence_is_published(broker),
                "the alarm's evidence at the broker",
            )
            assert agent.poll() is None, agent_log.read_text()
            with urllib.request.urlopen(f"http://127.0.0.1:{metrics_port}/metrics", timeout=10) as answer:
                found.scraped = answer.read()
            found.queries = {query: prometheus.query(query) for query in QUERIES}
            found.retained = kept_by(broker)
            agent.send_signal(signal.SIGTERM)
            found.agent_code = agent.wait(30)
            found.left_running = group_is_alive(agent.pid)
            found.retained_after = kept_by(broker)
            gateway.send_signal(signal.SIGTERM)
            gateway.wait(30)
    found.broker_log = (directory / "broker" / "mosquitto.log").read_text()
    with truth.open(newline="") as file:
        for row in csv.DictReader(file):
            found.truth[row["module"]] = row
    return found


def everything_is_shown(prometheus):
    alarms = {labels["alarm"] for labels, _ in prometheus.query("dewline_alarm_active")}
    modules = {labels["module"] for labels, _ in prometheus.query("dewline_mode")}
    risen = {labels["module"] for labels, _ in prometheus.query("dewline_oil_return_rise_kelvin")}
    return (
        alarms >= {"superheat-low", "probe-unfit"} and len(modules) == len(MODULES) and risen >= {"n1", "n2"}
    )


def evidence_is_published(broker):
    body = json.loads(kept_by(broker)[f"{PREFIX}/quince-court/north/n2/alarm/superheat-low"])
    return body["active"] and body["value_k"] is not None


def kept_by(broker):
    """Every retained message of the broker."""
    with listener(broker.port, "#") as heard:
        eventually(lambda: len(heard.retained) >= 5 * (1 + len(CATALOGUE)) + 1, "few retained messages")
        return {topic: heard.last[topic] for topic in heard.retained}


def test_promtool_finds_nothing_wrong_with_the_metrics(seen):
    assert lint(seen.scraped) == ""


def test_the_value_that_prometheus_holds_is_close_to_the_truth(seen):
    values = seen.values("dewline_return_superheat_kelvin")
    for module in ("n1", "n2"):
        true_k = float(seen.truth[module]["return_superheat_k"])
        sides = {
            labels["side"]: value
            for labels, value in seen.queries["dewline_superheat_uncertainty_kelvin"]
            if (labels["module"], labels["place"]) == (module, "return")
        }
        assert -sides["below"] <= true_k - values[module] <= sides["above"]
    assert values["n1"] == pytest.approx(float(seen.truth["n1"]["return_superheat_k"]), abs=0.7)


def test_the_late_probe_hides_the_liquid_and_is_shown_as_apparent_only(seen):
    assert float(seen.truth["n2"]["return_liquid"]) > 0.02
    apparent = {
        (labels["module"], labels["probe"]): v
        for labels, v in seen.queries["dewline_apparent_superheat_kelvin"]
    }
    assert apparent["n2", "compressor_inlet"] > 6
    chosen = [labels for labels, _ in seen.queries["dewline_chosen_probe"] if labels["module"] == "n2"]
    assert [labels["probe"] for labels in chosen if labels["place"] == "return"] == ["suction_pipe"]


def test_the_alarms_that_stand_are_those_of_the_scenario(seen):
    standing = {(labels["module"], labels["alarm"]) for labels, value in seen.queries["dewline_alarm_active"]}
    assert standing == {("n2", "superheat-low"), ("e1", "probe-unfit")}
    assert all(value == 1 for _, value in seen.queries["dewline_alarm_active"])


def test_what_cannot_be_measured_is_absent(seen):
    assert "n1" in seen.values("dewline_oil_return_rise_kelvin")
    assert not EARLY & seen.values("dewline_oil_return_rise_kelvin").keys()
    assert not EARLY & seen.values("dewline_compressor_inlet_superheat_kelvin").keys()
    assert not LATE & seen.values("dewline_accumulator_outlet_superheat_kelvin").keys()
    status = {
        (labels["module"], labels["place"]): labels["status"]
        for labels, _ in seen.queries["dewline_quantity_status"]
    }
    assert all(status[module, "oil_return_rise"] == "not_measurable" for module in EARLY)
    assert all(status[module, "accumulator_outlet"] == "not_measurable" for module in LATE)


def test_every_module_is_scraped_with_its_mode_age_and_count(seen):
    assert [value for _, value in seen.queries["up"]] == [1]
    for metric in ("dewline_mode", "dewline_readings_total", "dewline_reading_age_seconds"):
        assert {f"{labels['system']}/{labels['module']}" for labels, _ in seen.queries[metric]} == MODULES
        assert {labels["site"] for labels, _ in seen.queries[metric]} == {"quince-court"}
    assert seen.values("dewline_readings_total")["n1"] >= 13 * 2 * 120
    assert all(0 <= age < 1300 for age in seen.values("dewline_reading_age_seconds").values())
    assert [value for _, value in seen.queries["dewline_broker_connected"]] == [1]


def test_no_sample_bears_a_timestamp(seen):
    samples = [line for line in seen.scraped.decode().splitlines() if line and line[0] != "#"]
    assert samples
    assert all(re.fullmatch(r"[a-z_]+(\{.*\})? \S+", line) for line in samples)


def test_the_broker_keeps_assessments_alarms_and_that_the_agent_is_online(seen):
    expected = {f"{PREFIX}/quince-court/{module}/assessment" for module in MODULES}
    expected |= {f"{PREFIX}/quince-court/{module}/alarm/{name}" for module in MODULES for name in CATALOGUE}
    assert seen.retained.keys() == expected | {f"{PREFIX}/agent/{CLIENT}"}
    assert seen.retained[f"{PREFIX}/agent/{CLIENT}"] == b"online"
    bodies = {topic: json.loads(payload) for topic, payload in seen.retained.items() if topic in expected}
    wet = bodies[f"{PREFIX}/quince-court/north/n2/alarm/superheat-low"]
    assert (wet["active"], wet["probe"]) == (True, "suction_pipe"), wet
    assert wet["value_k"] < 2
    unfit = bodies[f"{PREFIX}/quince-court/east/e1/alarm/probe-unfit"]
    assert unfit["active"] is True and unfit["probe"] == "compressor_inlet"
    inactive = bodies[f"{PREFIX}/quince-court/north/n1/alarm/superheat-low"]
    assert (inactive["alarm"], inactive["active"]) == ("superheat-low", False)
    assert "value_k" not in inactive and "since" not in inactive
    said = bodies[f"{PREFIX}/quince-court/south/s2/assessment"]["quantities"]["oil_return_rise"]
    assert said["status"] == "not_measurable" and said["value"] is None and said["reason"]


def test_the_agent_ends_well_and_says_offline(seen):
    assert seen.agent_code == 0
    assert not seen.left_running
    assert seen.retained_after[f"{PREFIX}/agent/{CLIENT}"] == b"offline"
    assert seen.retained_after.keys() == seen.retained.keys()
    log = (seen.directory / "agent.log").read_text()
    assert not re.search("WARNING|ERROR|Traceback", log), log


def test_the_agent_publishes_under_its_own_prefix_and_nowhere_else(seen):
    topics = set(re.findall(rf"Received PUBLISH from {CLIENT} \(.*?'(.*?)'", seen.broker_log))
    assert topics == seen.retained.keys()
    assert all(topic.startswith(f"{PREFIX}/") for topic in topics)
    assert "Received PUBLISH from demo-feed" in seen.broker_log
