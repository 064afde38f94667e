"""Signals of a system or site: every module below has them, unless it has its own."""

import json

import pytest

from agent.settings import ModulePath
from tests.settings.site import good, plan

SITE, NORTH = ModulePath("hill-house"), ModulePath("hill-house", "north")
FIRST, SECOND = ModulePath("hill-house", "north", "n1"), ModulePath("hill-house", "north", "n2")
AIR = {"unit": "degC", "accuracy": 0.5}
MODE = {"values": {0: "off", 1: "cooling"}}


def with_shared(of_site=None, of_system=None, taken=("mode",), **sets):
    """Two modules whose own set lacks what is ``taken`` out of it."""
    data = good()
    signals = data["signal_sets"]["polled"]["signals"]
    own = {name: signal for name, signal in signals.items() if name not in taken}
    data["signal_sets"]["polled"]["signals"] = own
    for name, of_set in sets.items():
        data["signal_sets"][name] = {"every_s": 60, "max_age_s": 180, "signals": of_set}
    module = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    data["systems"]["north"]["modules"] = {"n1": module, "n2": module}
    if of_site:
        data["shared"] = of_site
    if of_system:
        data["systems"]["north"]["shared"] = of_system
    return data


def test_modules_have_the_signals_of_their_system_and_site(tmp_path):
    sets = {"weather": {"outdoor_air": AIR}, "line": {"mode": MODE}}
    found = plan(tmp_path, with_shared({"signal_set": "weather"}, {"signal_set": "line"}, **sets))
    for module in found.modules:
        assert (module.owners["outdoor_air"], module.owners["mode"]) == (SITE, NORTH)
        assert module.owners["suction_pipe"] == module.path
        assert module.module.signals["mode"].max_age_us == 180_000_000
        assert module.module.signals["mode"].shared and not module.module.signals["suction_pipe"].shared
        assert module.conversions["mode"].words == {"0": 1.0, "1": 3.0}
        assert "mode" not in module.points.values()
    assert [(shared.path, shared.topic, dict(shared.points)) for shared in found.shared] == [
        (SITE, "plant/hill-house", {"outdoor_air": "outdoor_air"}),
        (NORTH, "plant/hill-house/north", {"mode": "mode"}),
    ]
    mapping = json.loads(found.mapping)
    assert mapping["plant/hill-house"] == {"outdoor_air": ["hill-house", "outdoor_air", "degC"]}
    assert mapping["plant/hill-house/north"] == {"mode": ["hill-house/north", "mode", None]}


def test_the_nearer_wins(tmp_path):
    both = {"mode": MODE, "outdoor_air": AIR}
    sets = {"weather": both, "line": {"outdoor_air": AIR}}
    data = with_shared({"signal_set": "weather"}, {"signal_set": "line"}, **sets)
    data["signal_sets"]["of-n2"] = json.loads(json.dumps(data["signal_sets"]["polled"]))
    data["signal_sets"]["of-n2"]["signals"] |= {"mode": {"values": {"0": "off", "1": "heating"}}}
    data["systems"]["north"]["modules"]["n2"]["signal_set"] = "of-n2"
    data["systems"]["north"]["modules"]["n1"] = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    first, second = plan(tmp_path, data).modules
    assert (first.owners["mode"], second.owners["mode"]) == (SITE, SECOND)
    assert first.owners["outdoor_air"] == second.owners["outdoor_air"] == NORTH
    assert second.conversions["mode"].words == {"0": 1.0, "1": 4.0}


def test_a_shared_set_need_not_suit_every_layout_below(tmp_path):
    data = with_shared(None, {"signal_set": "line"}, line={"mode": MODE, "accumulator_outlet": AIR})
    early = json.loads(json.dumps(data["signal_sets"]["polled"]))
    del early["signals"]["compressor_inlet"]
    data["signal_sets"]["early"] = early
    data["systems"]["north"]["modules"]["n2"] = {"layout": "two-pipe-single-early", "signal_set": "early"}
    first, second = plan(tmp_path, data).modules
    assert "accumulator_outlet" not in first.module.signals
    assert second.owners["accumulator_outlet"] == NORTH


def test_a_shared_suction_pressure(tmp_path):
    pressure = good()["signal_sets"]["polled"]["signals"]["suction_pressure"]
    line = {"suction_pressure": pressure}
    data = with_shared(None, {"signal_set": "line"}, ("suction_pressure",), line=line)
    module = plan(tmp_path, data).modules[0]
    assert module.owners["suction_pressure"] == NORTH
    assert module.conversions["suction_pressure"].reference_pa == pytest.approx(98_358, abs=2)  # at 250 m


def test_topics_and_zones(tmp_path):
    data = with_shared(
        {"signal_set": "weather", "topic": "met/{site}", "stamps_zone": "Europe/Berlin"},
        {"signal_set": "line", "topic": "bus/{system}"},
        weather={"outdoor_air": AIR},
        line={"mode": MODE},
    )
    data["systems"]["north"]["stamps_zone"] = "Asia/Tokyo"
    of_site, of_system = plan(tmp_path, data).shared
    assert (of_site.topic, of_site.zone) == ("met/hill-house", "Europe/Berlin")
    assert (of_system.topic, of_system.zone) == ("bus/north", "Asia/Tokyo")


def test_shared_and_own_signals_on_one_topic(tmp_path):
    topic = "plant/hill-house/north/n1"
    data = with_shared(None, {"signal_set": "line", "topic": topic}, line={"mode": MODE})
    found = plan(tmp_path, data)
    assert json.loads(found.mapping)[topic]["mode"][0] == "hill-house/north"
    assert json.loads(found.mapping)[topic]["suction_pipe"][0] == "hill-house/north/n1"


def test_what_is_shared_belongs_to_what_an_assessment_rests_on(tmp_path):
    def revision(accuracy):
        signals = {"mode": MODE, "outdoor_air": AIR | {"accuracy": accuracy}}
        return plan(tmp_path, with_shared(None, {"signal_set": "line"}, line=signals)).modules[0].revision

    assert revision(0.5) != revision(0.6)
    alone = plan(tmp_path, good()).modules[0].revision
    assert "shared" not in json.loads(alone)["layouts"][0]["signals"]
