"""The mode where no point states it: valves, fan and compressors, with the reason in a sentence.

That a reversal out of heating with the outdoor fan stopped is a defrost, that a defrost is a matter of
minutes, and that an outdoor fan runs in heating: common practice, no source.
"""

import numpy as np
import pytest

from agent.assess import CODE, MODES, SECOND, Module
from agent.assess.frames import Frame
from agent.assess.modes import course
from agent.piping import Layout
from tests.assess.world import EARLY, STATE
from tests.piping.layouts import shipped

MINUTE = 60 * SECOND
COOLING_ONLY = Layout.from_mapping(shipped("cooling-only-single-oil-ahead"))
THREE_PIPE = Layout.from_mapping(shipped("three-pipe-twin-late"))
HEAT, COOL = 1.0, 0.0


def follow(minutes, layout=EARLY, **signals):
    """Mode and reason at every whole minute; a signal is a value, a list, or a function of the minute."""
    grid_us = 1_700_000_000 * SECOND + MINUTE * np.arange(minutes)
    found = {}
    for name, given in signals.items():
        values = [given(m) for m in range(minutes)] if callable(given) else given
        found[name] = Frame(np.broadcast_to(np.array(values, float), minutes).copy(), grid_us)
    of = Module(layout, "R-410A", dict.fromkeys(found, STATE), start_us=0)
    result = course(of, grid_us, found)
    return [MODES[code] for code in result.mode], [result.whys[n] for n in result.why.tolist()]


def reverses_at(minute, back=10_000):
    return lambda m: COOL if minute <= m < back else HEAT


RUNS = {"compressor_1_speed": 50.0}


@pytest.mark.parametrize(("stands", "mode"), [(HEAT, "heating"), (COOL, "cooling")])
def test_the_reversing_valve_tells_the_mode(stands, mode):
    modes, whys = follow(3, reversing_valve=stands, **RUNS)
    assert modes == [mode] * 3
    assert whys == [f"reversing_valve stands at {mode}"] * 3


def test_a_missing_valve_is_no_mode():
    assert follow(1, reversing_valve=np.nan, **RUNS) == (["unknown"], ["reversing_valve is missing"])


def test_it_is_off_while_every_compressor_stands():
    modes, whys = follow(2, reversing_valve=HEAT, compressor_1_speed=[0.0, 50.0])
    assert modes == ["off", "heating"]
    assert whys[0] == "every compressor stands"


def test_a_short_reversal_out_of_heating_is_a_defrost_and_never_cooling():
    modes, whys = follow(30, reversing_valve=reverses_at(10, back=17), outdoor_fan=1.0, **RUNS)
    assert modes == ["heating"] * 10 + ["defrost"] * 7 + ["heating"] * 13
    assert whys[12] == "it reversed out of heating less than 15 min ago"


def test_a_reversal_with_the_fan_stopped_stays_a_defrost_beyond_its_longest():
    modes, whys = follow(40, reversing_valve=reverses_at(5), outdoor_fan=lambda m: float(m < 5), **RUNS)
    assert set(modes[5:]) == {"defrost"}
    assert whys[-1] == "it reversed out of heating, and the outdoor fan stands"


def test_with_the_fan_running_a_long_reversal_is_unknown_first_and_cooling_in_the_end():
    modes, whys = follow(60, reversing_valve=reverses_at(5), outdoor_fan=1.0, **RUNS)
    assert (modes[18], modes[19], modes[33], modes[34]) == ("defrost", "unknown", "unknown", "cooling")
    assert whys[25] == (
        "it reversed out of heating more than 15 min ago, and may still come back from a defrost"
    )


def test_without_a_fan_it_is_unknown_for_longer():
    modes, whys = follow(80, reversing_valve=reverses_at(5), **RUNS)
    assert (modes[19], modes[63], modes[64]) == ("unknown", "unknown", "cooling")
    assert whys[30].endswith("no signal tells whether the outdoor fan runs")


def test_a_stop_between_heating_and_the_reversal_changes_nothing():
    """Many units stop, reverse and start again to defrost."""
    speed = lambda m: 0.0 if 5 <= m < 8 else 50.0  # noqa: E731
    modes, _ = follow(12, reversing_valve=reverses_at(6), outdoor_fan=0.0, compressor_1_speed=speed)
    assert modes[5:8] == ["off"] * 3
    assert modes[8:] == ["defrost"] * 4


def test_cooling_that_has_never_heated_is_cooling_even_with_the_fan_stopped():
    """At low outdoor temperature the fan may stand while the rooms are cooled."""
    assert set(follow(30, reversing_valve=COOL, outdoor_fan=0.0, **RUNS)[0]) == {"cooling"}


def test_heating_with_the_fan_stopped_is_not_judged():
    """A defrost by hot gas, or a fan that stops in mild weather: both happen."""
    modes, whys = follow(8, reversing_valve=HEAT, outdoor_fan=lambda m: float(m < 4), **RUNS)
    assert modes == ["heating"] * 4 + ["unknown"] * 4
    assert whys[-1] == "the outdoor fan stands while it heats: a defrost, or mild weather"


def test_a_point_that_says_heating_is_believed_while_the_fan_stands():
    assert (
        follow(8, mode=CODE["heating"], reversing_valve=HEAT, outdoor_fan=0.0, **RUNS)[0] == ["heating"] * 8
    )


@pytest.mark.parametrize("fan", ["outdoor_fan", "outdoor_fan_speed", "outdoor_fan_share"])
def test_the_fan_is_known_by_state_speed_or_share(fan):
    assert follow(30, reversing_valve=reverses_at(2), **{fan: 0.0}, **RUNS)[0][-1] == "defrost"


def test_a_layout_that_knows_one_mode_needs_no_point():
    modes, whys = follow(2, COOLING_ONLY, compressor_1_speed=[0.0, 50.0])
    assert modes == ["off", "cooling"]
    assert whys[1] == "layout cooling-only-single-oil-ahead describes cooling alone"


@pytest.mark.parametrize("flag", ["defrost", "oil_recovery"])
def test_a_signal_of_its_own_tells_a_transient(flag):
    modes, whys = follow(2, mode=CODE["heating"], **{flag: [0.0, 1.0]}, **RUNS)
    assert modes == ["heating", flag]
    assert whys[1] == f"the gateway's signal {flag} is active"


class TestPointAgainstValve:
    def test_the_point_needs_no_reason_where_both_agree(self):
        assert follow(2, mode=CODE["cooling"], reversing_valve=COOL, **RUNS) == (["cooling"] * 2, [""] * 2)

    @pytest.mark.parametrize(
        ("point", "valve", "stands"), [("cooling", HEAT, "heating"), ("heating", COOL, "cooling")]
    )
    def test_a_contradiction_is_unknown_and_says_so(self, point, valve, stands):
        modes, whys = follow(2, mode=CODE[point], reversing_valve=valve, **RUNS)
        assert modes == ["unknown"] * 2
        assert whys[0] == f"mode says {point} and reversing_valve stands at {stands}: one of them is wrong"

    def test_it_matters_only_while_a_compressor_runs(self):
        modes, _ = follow(1, mode=CODE["cooling"], reversing_valve=HEAT, compressor_1_speed=0.0)
        assert modes == ["off"]

    def test_a_point_that_goes_on_saying_heating_does_not_hide_a_defrost(self):
        modes, _ = follow(
            20, mode=CODE["heating"], reversing_valve=reverses_at(8, back=14), outdoor_fan=1.0, **RUNS
        )
        assert modes == ["heating"] * 8 + ["defrost"] * 6 + ["heating"] * 6

    def test_where_the_point_is_missing_the_valve_speaks(self):
        modes, whys = follow(2, mode=[CODE["heating"], np.nan], reversing_valve=HEAT, **RUNS)
        assert modes == ["heating"] * 2
        assert whys == ["", "reversing_valve stands at heating"]


class TestCoils:
    @pytest.mark.parametrize("role", [1.0, 0.0])
    def test_heat_recovery_needs_no_point_where_valves_tell_the_roles(self, role):
        valves = dict.fromkeys(THREE_PIPE.coil_valves, role)
        modes, whys = follow(2, THREE_PIPE, **valves, **RUNS)
        assert modes == ["simultaneous"] * 2
        assert whys[0] == "what each coil does is told by its valve"

    def test_a_coil_that_ceases_to_evaporate_while_the_fan_stands_is_defrosted(self):
        valves = dict.fromkeys(THREE_PIPE.coil_valves, lambda m: float(m < 5))
        fan = lambda m: float(m < 5)  # noqa: E731
        modes, whys = follow(10, THREE_PIPE, **valves, outdoor_fan=fan, **RUNS)
        assert modes == ["simultaneous"] * 5 + ["defrost"] * 5
        assert whys[-1] == "no coil evaporates any more, and the outdoor fan stands"

    def test_without_a_fan_signal_it_may_be_either_for_a_while(self):
        valves = dict.fromkeys(THREE_PIPE.coil_valves, lambda m: float(m < 5))
        modes, whys = follow(30, THREE_PIPE, **valves, **RUNS)
        assert modes == ["simultaneous"] * 5 + ["unknown"] * 14 + ["simultaneous"] * 11
        assert whys[8].endswith("no signal tells whether the outdoor fan runs")

    def test_with_the_fan_running_it_is_a_change_of_role(self):
        valves = dict.fromkeys(THREE_PIPE.coil_valves, lambda m: float(m < 5))
        modes, _ = follow(10, THREE_PIPE, **valves, outdoor_fan=1.0, **RUNS)
        assert modes == ["simultaneous"] * 10

    def test_one_reversing_valve_tells_nothing_where_rooms_may_heat_and_cool_at_once(self):
        modes, whys = follow(2, THREE_PIPE, reversing_valve=HEAT, **RUNS)
        assert (modes, whys) == (["unknown"] * 2, ["nothing tells the mode"] * 2)

    def test_a_coil_that_evaporates_while_the_point_says_cooling_contradicts_it(self):
        valves = dict.fromkeys(THREE_PIPE.coil_valves, 1.0)
        modes, whys = follow(2, THREE_PIPE, mode=CODE["cooling"], **valves, **RUNS)
        assert modes == ["unknown"] * 2
        assert "the mode is said to be cooling, but" in whys[0]
        assert whys[0].endswith("evaporates: one is wrong")


def test_the_mode_at_a_time_depends_on_the_lookback_alone():
    """Any history before the lookback gives the same mode."""
    rng = np.random.default_rng(7)
    minutes = 400
    valve = np.repeat(rng.integers(0, 2, minutes // 4), 4).astype(float)
    fan = np.repeat(rng.integers(0, 2, minutes // 5), 5).astype(float)
    speed = np.repeat(rng.choice([0.0, 50.0, 50.0], minutes // 8), 8)
    whole, whys = follow(minutes, reversing_valve=valve, outdoor_fan=fan, compressor_1_speed=speed)
    names = ("reversing_valve", "outdoor_fan", "compressor_1_speed")
    back = Module(EARLY, "R-410A", dict.fromkeys(names, STATE), start_us=0).lookback_us // MINUTE
    for at in range(back + 1, minutes, 7):
        cut = slice(at - back, at + 1)
        part = follow(
            back + 1, reversing_valve=valve[cut], outdoor_fan=fan[cut], compressor_1_speed=speed[cut]
        )
        assert (part[0][-1], part[1][-1]) == (whole[at], whys[at])
