"""The stream that the gateway sends: its order, its form, and what the story promises of it."""

import json
from itertools import islice

import pytest
from CoolProp.CoolProp import PropsSI

from demo_feed.play import play
from demo_feed.site import modules
from demo_feed.story import Story
from tests.demo_feed.conftest import END_US, HOUR_US

# Vented gauge at 120 m: US Standard Atmosphere 1976, 99.89 kPa. Sealed gauge: 101.325 kPa.
TO_ABSOLUTE_PA = {"north": (1e3, 99_890.0), "south": (1.0, 0.0), "east": (1e5, 101_325.0)}
FLUID = {"north": "R410A", "south": "R32", "east": "R32"}


def dew_c(truth, values, name="suction_pressure"):
    scale, reference = TO_ABSOLUTE_PA[truth.system]
    return PropsSI("T", "P", values[name] * scale + reference, "Q", 1, FLUID[truth.system]) - 273.15


def settled(recorded, module, since_h=-99.0, until_h=99.0):
    """Every tenth settled moment, as (truth, values)."""
    moments = [
        (truth, values)
        for truth, values in recorded.joined(module)
        if truth.settled and since_h <= (truth.time_us - END_US) / HOUR_US <= until_h
    ]
    assert len(moments) > 50
    return moments[::10]


def test_one_seed_gives_one_stream_and_another_seed_another():
    def first(seed):
        return [played.samples for played in islice(play(seed, END_US - HOUR_US // 6, END_US), 40)]

    assert first("a") == first("a")
    assert first("a") != first("b")


def test_sample_times_ascend_over_all_modules_and_within_the_pack(recorded):
    times = [sample.time_us for sample in recorded.samples]
    assert times == sorted(times)
    for module, packs in recorded.packs.items():
        assert len({time_us for time_us, _ in packs}) == len(packs), module
    first = recorded.samples[0]
    assert json.loads(first.payload)[0]["bt"] == first.time_us / 1e6


def test_signals_and_units_are_those_of_the_site(recorded):
    common = {"mode", "suction_pipe", "outdoor_coil_gas", "liquid_line", "outdoor_air", "suction_pressure"}
    common |= {"discharge_pressure", "discharge_1", "compressor_1_speed", "bypass_valve"}
    late = common | {"compressor_inlet", "discharge_2", "compressor_2_speed"}
    early = common | {"accumulator_outlet"}
    for module in ("n1", "n2", "e1"):
        assert set(recorded.packs[module][0][1]) == late
    for module in ("s1", "s2"):
        assert set(recorded.packs[module][0][1]) == early
    units = {}
    for sample in recorded.samples[:10]:
        system = sample.topic.split("/")[2]
        units |= {(system, record["n"]): record.get("u") for record in json.loads(sample.payload)}
    assert units["south", "suction_pressure"] == "Pa"
    assert units["north", "suction_pressure"] is units["east", "suction_pressure"] is None
    assert units["north", "suction_pipe"] == "Cel" and units["north", "compressor_1_speed"] == "Hz"


@pytest.mark.parametrize(
    ("module", "temperature", "pressure", "every_s"),
    [("n1", 0.1, 1, 30), ("s1", 1, 10_000, 120), ("s2", 0.1, 1000, 30)],
)
def test_polled_modules_round_and_keep_their_interval(recorded, module, temperature, pressure, every_s):
    packs = recorded.packs[module]
    for _, values in packs:
        for name, step in [
            ("suction_pipe", temperature),
            ("outdoor_air", temperature),
            ("suction_pressure", pressure),
        ]:
            assert values[name] / step == pytest.approx(round(values[name] / step), abs=1e-6)
    gaps = {later[0] - earlier[0] for earlier, later in zip(packs, packs[1:], strict=False)}
    assert gaps == {every_s * 1_000_000}


def test_on_change_sends_changes_only_and_a_full_pack_every_quarter_of_an_hour(recorded):
    known, full, partial = {}, 0, 0
    for time_us, values in recorded.packs["e1"]:
        if not known or time_us // 1_000_000 % 900 == 0:
            assert len(values) == 13
            full += 1
        else:
            assert all(known[name] != value for name, value in values.items())
            assert len(values) < 13
            partial += 1
        known |= values
    assert full == 31 and partial > 100


def test_apparent_superheat_after_the_oil_return_is_return_superheat_and_rise(recorded):
    for truths in recorded.truths.values():
        running = [truth for truth in truths if truth.mode != "off"]
        for truth in running:
            assert truth.compressor_inlet_superheat_k - truth.return_superheat_k == pytest.approx(
                truth.rise_k
            )
        assert all(truth.rise_k is None and not truth.settled for truth in truths if truth.mode == "off")


@pytest.mark.parametrize(
    ("module", "probe"), [("n1", "suction_pipe"), ("e1", "suction_pipe"), ("s2", "outdoor_coil_gas")]
)
def test_healthy_return_superheat_is_what_the_right_probe_shows(recorded, module, probe):
    for truth, values in settled(recorded, module):
        assert 5.0 < truth.return_superheat_k < 8.0
        shown = values[probe] - dew_c(truth, values)
        assert shown == pytest.approx(truth.return_superheat_k, abs=0.6)


def test_healthy_late_probe_reads_two_to_five_kelvin_more(recorded):
    for module in ("n1", "e1"):
        for truth, values in settled(recorded, module):
            assert 1.8 < truth.rise_k < 5.0
            assert values["compressor_inlet"] - values["suction_pipe"] == pytest.approx(truth.rise_k, abs=0.7)


def test_n2_is_wet_at_the_end_while_its_late_probe_looks_superheated(recorded):
    healthy = [values["discharge_1"] - dew_c(truth, values, "discharge_pressure")
               for truth, values in settled(recorded, "n2", until_h=-5.5)]  # fmt: skip
    for truth, values in settled(recorded, "n2", since_h=-4.8):
        suction_c = dew_c(truth, values)
        assert truth.fault == "liquid_return" and truth.return_liquid > 0.02
        assert values["suction_pipe"] - suction_c == pytest.approx(0.0, abs=0.35)
        assert 8.0 < values["compressor_inlet"] - suction_c < 12.0
        assert values["discharge_1"] - dew_c(truth, values, "discharge_pressure") < min(healthy) - 3.0


def test_heating_turns_the_gas_pipe_hot_and_keeps_the_accumulator_below_the_return(recorded):
    for truth, values in settled(recorded, "s2"):
        assert truth.mode == "heating" and values["mode"] == "heat"
        assert 60.0 < values["suction_pipe"] < 82.0
        assert 0.0 < truth.return_superheat_k - truth.accumulator_outlet_superheat_k < 1.5


def test_defrost_reverses_the_flow(recorded):
    defrosts = [
        (truth, values)
        for truth, values in recorded.joined("s2")
        if truth.mode == "defrost" and not truth.settled
    ]
    starts_s = [(truth.time_us - END_US) / 1e6 for truth, _ in defrosts]
    assert any(180 <= start_s <= 300 for start_s in starts_s)
    truth, values = next(
        (truth, values) for truth, values in defrosts if truth.time_us > END_US + 480_000_000
    )
    assert values["mode"] == "defrost"
    assert values["suction_pipe"] < 0.0 < 40.0 < values["outdoor_coil_gas"]
    assert dew_c(truth, values) < -10.0


def test_hunting_swings_the_return_superheat(recorded):
    hunted = [truth.return_superheat_k for truth in recorded.truths["e1"] if truth.fault == "hunting"]
    calm = [truth.return_superheat_k for truth in recorded.truths["e1"] if truth.settled]
    assert max(hunted) - min(hunted) > 5.0 > 2.0 > max(calm) - min(calm)


def test_pressures_meet_and_pipes_drift_when_off_and_suction_dips_at_the_start(recorded):
    moments = list(recorded.joined("e1"))
    stop = next(
        i for i in range(1, len(moments)) if moments[i - 1][0].settled and moments[i][0].mode == "off"
    )
    start = next(i for i in range(stop, len(moments)) if moments[i][0].mode == "starting")
    running, (truth, values), dipped = moments[stop - 1], moments[start - 1], moments[start + 2]
    assert values["mode"] == "off" and values["compressor_1_speed"] == 0
    assert dew_c(truth, values) == pytest.approx(dew_c(truth, values, "discharge_pressure"), abs=0.6)
    assert values["discharge_1"] < running[1]["discharge_1"] - 40.0
    assert dew_c(*dipped) < dew_c(*running) - 2.0


@pytest.mark.parametrize("seed", ["quince", "a", "b", "c", "d", "e"])
def test_nothing_changes_around_the_end_of_the_backlog(seed):
    for module in modules():
        if module.name not in ("n1", "n2", "e1"):
            continue
        story = Story(module.story, seed)
        for kind in ("off", "oil_recovery", "single", "hunting", "defrost"):
            assert not any(story.active(kind, time_s) for time_s in range(-45 * 60, 15 * 60, 15)), (
                module.name,
                kind,
            )
