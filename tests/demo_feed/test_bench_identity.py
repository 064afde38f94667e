"""What a bench module shows of its piping: what a probe's place does to its reading, and what may hide it."""

import json
from collections import defaultdict
from statistics import mean

import pytest

from demo_feed.bench import (
    ARRANGEMENTS,
    Fault,
    FaultKind,
    Gateway,
    Renaming,
    SensorFault,
    SensorFaultKind,
    Unit,
    neutral,
    play,
)

HOUR_US = 3_600_000_000
MIDNIGHT_US = 1_762_128_000_000_000  # 2025-11-03 00:00 UTC
EXACT = {"error_factor": 0.0, "temperature_step": 0.01}
LATE, EARLY = ARRANGEMENTS["two-pipe-twin-late"], ARRANGEMENTS["two-pipe-single-early"]
BRANCHES = ARRANGEMENTS["two-pipe-twin-branches"]


def played(unit, hours=24, start_us=MIDNIGHT_US, seed="a", **settings):
    """(truth, values) of every minute."""
    gateway = Gateway(**(EXACT | settings))
    for each in play(unit, gateway, seed, start_us, start_us + round(hours * HOUR_US)):
        if each.payload is not None:
            records = json.loads(each.payload)
            yield each.truth, {record["n"]: record.get("v", record.get("vs")) for record in records}


def settled(told):
    return [(truth, values) for truth, values in told if truth.settled]


def test_the_rise_of_a_late_probe_goes_as_one_over_flow():
    """Energy balance: the same oil into twice the vapour warms it half as much.

    Of the usual oil, 2 %: 2.1 K at the usual flow (R-410A, evaporating 5 degC, oil at 70 degC; computed with
    CoolProp 8.0.0). Flow is taken as speed times compressors, at a suction pressure that is held.
    """
    rises = defaultdict(list)
    for _, values in settled(played(Unit(LATE))):
        speeds = values["compressor_1_speed"] + values["compressor_2_speed"]
        # What oil passes goes by the root of the pressure difference, and its heat by how hot it is.
        root = (values["discharge_pressure"] - values["suction_pressure"]) ** 0.5
        warm_k = max(values["discharge_1"], values["discharge_2"]) - values["compressor_inlet"]
        rise_k = values["compressor_inlet"] - values["suction_pipe"]
        rises[speeds // 10 * 10].append(rise_k * speeds / (root * warm_k))
    level = [mean(each) for each in rises.values() if len(each) > 20]
    assert len(level) >= 4 and max(rises) > 1.6 * min(rises)
    assert max(level) < 1.25 * min(level)


@pytest.mark.parametrize(
    ("piping", "probe", "least_k", "most_k"),
    [(LATE, "compressor_inlet", 2.6, 3.9), (EARLY, "accumulator_outlet", -0.3, 0.3)],
)
def test_hot_gas_steps_the_late_probe_and_leaves_the_early_one(piping, probe, least_k, most_k):
    """10 % of hot gas at 75 degC lift R-410A vapour at 5 degC by 3.9 K (energy balance, CoolProp 8.0.0).

    Here it comes a little cooler, and the compressors that then take in more thin the oil's share.
    """
    start_us = MIDNIGHT_US + 13 * HOUR_US
    without = played(Unit(piping), 6, start_us)
    with_gas = played(Unit(piping, bypass_every_s=5 * 3600.0), 6, start_us)
    steps = [
        values[probe] - values["suction_pipe"] - (before[probe] - before["suction_pipe"])
        for (_, before), (truth, values) in zip(without, with_gas, strict=True)
        if truth.settled and values["bypass_valve"]
    ]
    assert len(steps) > 20  # minutes in which it is settled with the valve open, of 40
    assert least_k < mean(steps) < most_k


def test_without_being_asked_the_bypass_stays_shut_in_settled_running():
    assert {values["bypass_valve"] for _, values in settled(played(Unit(LATE)))} == {0}


def test_shells_warm_the_probes_beside_them_after_a_stop_and_no_others():
    """Common practice, no source. Heaters keep the shells 22 K above the air all night."""
    stop_us = MIDNIGHT_US + 22 * HOUR_US
    told = list(played(Unit(LATE), 8, stop_us))
    assert {truth.mode for truth, _ in told} == {"off"}
    after = told[60][1]
    assert after["compressor_inlet"] > after["outdoor_air"] + 2.5
    assert after["suction_pipe"] < after["outdoor_air"] + 1.2
    night = told[-1][1]
    for probe in ("suction_pipe", "outdoor_coil_gas"):
        assert night[probe] == pytest.approx(night["outdoor_air"], abs=1.5)
    assert 2.0 < night["compressor_inlet"] - night["outdoor_air"] < 5.0


def test_a_standing_compressors_branch_goes_towards_the_air():
    """Common practice, no source. With shells of their own; else the warmest shell warms every branch."""
    warmer = []
    for truth, values in played(Unit(BRANCHES, own_shells=True)):
        stands = [n for n in (1, 2) if values[f"compressor_{n}_speed"] == 0]
        if truth.settled and len(stands) == 1:
            warmer.append(values[f"inlet_{stands[0]}"] - values["outdoor_air"])
            assert values[f"inlet_{3 - stands[0]}"] < values["outdoor_air"] - 5.0
    assert len(warmer) > 60
    assert abs(warmer[-1]) < 8.0  # its heater holds its shell 22 K above the air


def test_a_locked_out_compressor_draws_nothing_and_its_branch_is_dead():
    told = list(played(Unit(BRANCHES, locked_out=frozenset({2}))))
    assert {(values["compressor_2_speed"], values["compressor_2_current"]) for _, values in told} == {(0, 0)}
    assert max(values["compressor_1_current"] for _, values in told) > 5.0
    for _, values in settled(told):
        for name in ("inlet_2", "discharge_2"):
            assert values[name] == pytest.approx(values["outdoor_air"], abs=3.0)
    assert len(settled(told)) > 8 * 60
    with pytest.raises(ValueError, match="no compressor left"):
        next(play(Unit(BRANCHES, locked_out=frozenset({1, 2})), Gateway(), "a", 0, HOUR_US))


def test_a_loose_probe_is_drawn_towards_the_outdoor_air():
    fault = SensorFault(SensorFaultKind.LOOSE, "accumulator_outlet", 0.2)
    plain = list(played(Unit(EARLY), 3, MIDNIGHT_US + 12 * HOUR_US))
    loose = list(played(Unit(EARLY), 3, MIDNIGHT_US + 12 * HOUR_US, faults=(fault,)))
    for (_, right), (_, wrong) in zip(plain, loose, strict=True):
        drawn = right.pop("accumulator_outlet")
        drawn += 0.2 * (right["outdoor_air"] - drawn)
        assert wrong.pop("accumulator_outlet") == pytest.approx(drawn, abs=0.25)  # the air's probe lags
        assert wrong == right


def test_other_names_carry_the_same_values():
    scrambled = neutral(LATE.suction_probes, "b")
    assert sorted(scrambled.names.values()) == ["t1", "t2", "t3"]
    swap_us = MIDNIGHT_US + 13 * HOUR_US
    board = Renaming({"t1": "t2", "t2": "t1"}, swap_us)
    plain = list(played(Unit(LATE), 2, MIDNIGHT_US + 12 * HOUR_US))
    named = list(played(Unit(LATE), 2, MIDNIGHT_US + 12 * HOUR_US, renamed=(scrambled, board)))
    for (truth, values), (_, under) in zip(plain, named, strict=True):
        names = dict(scrambled.names)
        if truth.time_us >= swap_us:
            names = {name: board.names.get(new, new) for name, new in names.items()}
        assert {names.get(name, name): value for name, value in values.items()} == under
    orders = {tuple(neutral(LATE.suction_probes, seed).names) for seed in "abcdef"}
    assert len(orders) > 1


def test_two_signals_cannot_take_one_name():
    collision = Renaming({"suction_pipe": "compressor_inlet"})
    with pytest.raises(ValueError, match="two signals under one name"):
        list(played(Unit(LATE), 1, renamed=(collision,)))


def test_a_pipe_on_the_high_side_is_hot():
    for season, hot in (("cooling", "outdoor_coil_gas"), ("heating", "suction_pipe")):
        for _, values in settled(played(Unit(LATE, season), 4, MIDNIGHT_US + 12 * HOUR_US)):
            assert values[hot] > values["outdoor_air"] + 15.0


def test_a_blocked_oil_return_makes_a_late_probe_look_early():
    fault = Fault(FaultKind.OIL_RETURN_BLOCKED, 1.0, 0)
    rises = [
        values["compressor_inlet"] - values["suction_pipe"]
        for _, values in settled(played(Unit(LATE, faults=(fault,)), 4, MIDNIGHT_US + 12 * HOUR_US))
    ]
    assert mean(rises) == pytest.approx(0.0, abs=0.4)
