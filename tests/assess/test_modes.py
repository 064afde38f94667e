"""The mode in force: what the gateway says, what the compressors say against it, and starts."""

import numpy as np
import pytest

from agent.assess import CODE, MODES, SECOND, Module
from agent.assess.elapsed import LONG_AGO
from agent.assess.frames import Frame
from agent.assess.modes import course, unchanged_us
from tests.assess.world import EARLY, LATE, STATE

MINUTE = 60 * SECOND


def follow(words, start_us=3 * MINUTE, layout=LATE, every_us=MINUTE, **speeds):
    """Mode and how long it has lasted in steps, from words per grid time; '' is a missing reading."""
    grid_us = 1_700_000_000 * SECOND + every_us * np.arange(len(words))
    value = np.array([np.nan if word == "" else CODE[word] for word in words])
    found = {"mode": Frame(value, grid_us)}
    found |= {name: Frame(np.array(each, float), grid_us) for name, each in speeds.items()}
    of = Module(layout, "R-410A", dict.fromkeys(found, STATE), start_us=start_us)
    result = course(of, grid_us, found)
    lasted = [None if each == LONG_AGO else each // every_us for each in result.lasted_us.tolist()]
    return [MODES[code] for code in result.mode], lasted, result.running


def test_what_lies_before_the_grid_is_long_ago():
    assert follow(["cooling"] * 3)[:2] == (["cooling"] * 3, [None] * 3)


def test_a_change_counts_from_its_first_grid_time():
    mode, lasted, _ = follow(["cooling", "cooling", "heating", "heating", "defrost"])
    assert mode == ["cooling", "cooling", "heating", "heating", "defrost"]
    assert lasted == [None, None, 0, 1, 0]


def test_the_first_minutes_after_standing_are_a_start():
    mode, lasted, _ = follow(["off", "cooling", "cooling", "cooling", "cooling"])
    assert mode == ["off", "starting", "starting", "starting", "cooling"]
    assert lasted == [None, 0, 1, 2, 0]


@pytest.mark.parametrize("before", ["heating", "defrost", "oil_recovery", ""])
def test_only_after_standing_is_it_a_start(before):
    assert follow([before, "cooling", "cooling"])[0][1:] == ["cooling", "cooling"]


@pytest.mark.parametrize("after", ["defrost", "oil_recovery", ""])
def test_only_a_steady_mode_is_started_into(after):
    assert follow(["off", after])[0][1] == (after or "unknown")


def test_every_start_counts_anew():
    mode, _, _ = follow(["off", "cooling", "off", "cooling", "cooling", "cooling", "cooling"])
    assert mode == ["off", "starting", "off", "starting", "starting", "starting", "cooling"]


def test_a_missing_mode_is_unknown_and_no_guess():
    assert follow(["cooling", "", "cooling"])[:2] == (["cooling", "unknown", "cooling"], [None, 0, 0])


def test_without_a_mode_signal_it_is_unknown():
    grid_us = np.arange(3) * MINUTE
    assert course(Module(LATE, "R-410A", {}), grid_us, {}).mode.tolist() == [CODE["unknown"]] * 3


def test_it_is_off_where_every_compressor_stands_whatever_the_gateway_says():
    standing = {"compressor_1_speed": [0, 0, 50], "compressor_2_speed": [0, 40, 0]}
    assert follow(["cooling"] * 3, **standing, start_us=0)[0] == ["off", "cooling", "cooling"]


def test_standing_overrules_steady_modes_alone():
    standing = {"compressor_1_speed": [0, 0, 0], "compressor_2_speed": [0, 0, 0]}
    assert follow(["defrost", "oil_recovery", ""], **standing)[0] == ["defrost", "oil_recovery", "unknown"]


def test_one_compressor_not_known_is_not_standing():
    not_known = {"compressor_1_speed": [0, 0], "compressor_2_speed": [np.nan, 0]}
    mode, _, running = follow(["cooling"] * 2, **not_known)
    assert mode == ["cooling", "off"]
    assert running["2"].tolist() == [-1, 0]
    assert follow(["cooling"], compressor_1_speed=[0])[0] == ["cooling"]


def test_a_current_tells_where_there_is_no_speed():
    mode, _, running = follow(
        ["cooling"] * 3, layout=EARLY, compressor_1_current=[0.0, 5.0, np.nan], start_us=0
    )
    assert mode == ["off", "cooling", "cooling"]
    assert running["1"].tolist() == [0, 1, -1]
    both = {"compressor_1_speed": [50.0], "compressor_1_current": [0.0]}
    assert follow(["cooling"], layout=EARLY, **both)[2]["1"].tolist() == [1]


def test_a_start_is_counted_in_time_and_not_in_grid_steps():
    mode, _, _ = follow(["off", *["cooling"] * 4], every_us=2 * MINUTE)
    assert mode == ["off", "starting", "starting", "cooling", "cooling"]


def whether_any_runs(layout=LATE, **readings):
    """1, 0 or -1 for not known, from readings of one grid time."""
    grid_us = np.array([1_700_000_000 * SECOND])
    found = {name: Frame(np.array([float(each)]), grid_us) for name, each in readings.items()}
    return course(Module(layout, "R-410A", dict.fromkeys(found, STATE)), grid_us, found).runs.tolist()[0]


@pytest.mark.parametrize(
    ("first", "second", "expected"),
    [
        (50, 0, 1),
        (50, np.nan, 1),
        (np.nan, 50, 1),
        (0, 0, 0),
        (0, np.nan, -1),
        (np.nan, np.nan, -1),
        (1.0, 1.0, 0),
        (1.01, 0, 1),
    ],
)
def test_one_that_runs_is_enough_and_all_must_stand(first, second, expected):
    assert whether_any_runs(compressor_1_speed=first, compressor_2_speed=second) == expected


@pytest.mark.parametrize(("ampere", "expected"), [(1.0, 0), (1.01, 1), (np.nan, -1)])
def test_a_current_below_an_ampere_is_a_heater(ampere, expected):
    assert whether_any_runs(EARLY, compressor_1_current=ampere) == expected


def whether_it_pumps(suction, discharge, hot, minutes=6, **speeds):
    """1, 0 or -1, from pressures and a discharge temperature by minute; a number holds all the time."""
    grid_us = 1_700_000_000 * SECOND + MINUTE * np.arange(minutes)
    values = {"suction_pressure": suction, "discharge_pressure": discharge, "discharge_1": hot} | speeds
    found = {
        name: Frame(np.broadcast_to(np.array(value, float), grid_us.shape), grid_us)
        for name, value in values.items()
        if value is not None
    }
    return course(Module(LATE, "R-410A", dict.fromkeys(found, STATE)), grid_us, found).runs.tolist()[-1]


@pytest.mark.parametrize(
    ("suction", "discharge", "expected"),
    [(800e3, 961e3, 1), (800e3, 960e3, 0), (800e3, 800e3, 0), (np.nan, 2e6, -1), (800e3, np.nan, -1)],
)
def test_the_pressures_tell_where_no_compressor_does(suction, discharge, expected):
    pressures = (suction, discharge, 75.0)
    assert whether_it_pumps(*pressures) == expected
    assert whether_it_pumps(*pressures, compressor_1_speed=0, compressor_2_speed=np.nan) == expected
    assert whether_it_pumps(*pressures, compressor_1_speed=0, compressor_2_speed=0) == 0
    assert whether_it_pumps(*pressures, compressor_1_speed=50, compressor_2_speed=0) == 1


def test_a_check_valve_that_holds_pressure_is_no_compressor():
    """After a stop it holds the pressures apart for 20 min: common practice, no source.

    R-410A condenses at 41 degC under 2500 kPa (CoolProp 8.0.0).
    """
    held = np.linspace(2500e3, 2200e3, 6)
    assert whether_it_pumps(800e3, held, 75.0) == -1  # the shell stays hot for an hour
    assert whether_it_pumps(800e3, 2500e3, 45.0) == -1  # in balance with the outdoor air
    assert whether_it_pumps(800e3, 2500e3, 47.0) == 1
    assert whether_it_pumps(800e3, 2500e3, None) == -1  # nothing tells
    assert whether_it_pumps(800e3, 2500e3, 75.0, minutes=5) == -1  # nor before the ratio was seen to hold


def test_one_pressure_alone_tells_nothing():
    assert whether_any_runs(suction_pressure=800e3) == whether_any_runs(discharge_pressure=2e6) == -1


def test_pressures_that_part_are_a_start():
    parting = {"suction_pressure": [800e3] * 5, "discharge_pressure": [800e3, 2e6, 2e6, 2e6, 2e6]}
    assert follow(["cooling"] * 5, **parting)[0] == ["off", "starting", "starting", "starting", "cooling"]


def test_how_long_a_value_has_stood_still():
    grid_us = 1_700_000_000 * SECOND + MINUTE * np.arange(8)
    found = unchanged_us(np.array([1.0, 1.0, 2.0, 2.0, 2.0, np.nan, 2.0, 2.0]), grid_us)
    assert found[:2].tolist() == [LONG_AGO, LONG_AGO]
    assert (found[2:] // MINUTE).tolist() == [0, 1, 2, 0, 0, 1]
