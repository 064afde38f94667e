"""Instruments that fail: each way of it is told, and nothing that a healthy module does is taken for one.

What an open thermistor, a lost supply or a loose contact looks like is common practice, no source.
"""

from dataclasses import replace

import numpy as np
import pytest

from agent.assess import AT_PROBE, CODE, SATURATED_SUCTION, SECOND, Samples, assess, load_assessment
from agent.assess.failing.failures import Kind
from agent.piping import COMPRESSOR_INLET, RETURN, RISE, Layout
from tests.assess import healthy
from tests.assess.world import (
    EARLY,
    LATE,
    START_US,
    STATE,
    STEP_US,
    THERMISTOR,
    TRANSDUCER,
    grid,
    module,
    random_day,
    said,
    samples,
    text,
)
from tests.piping.layouts import shipped

FAILED, DECIDED = ("not_decidable", "failed"), ("decided", "")
MORE = {"discharge_1": THERMISTOR, "discharge_2": THERMISTOR, "discharge_pressure": TRANSDUCER}
HOT = {"discharge_1": 75.0, "discharge_2": 40.0}  # the second compressor stands
LAYOUTS = (
    "two-pipe-twin-late", "two-pipe-single-early", "two-pipe-twin-branches", "two-pipe-single-common",
    "two-pipe-twin-both-injection", "two-pipe-split-coil", "three-pipe-twin-late",
    "two-pipe-single-late-subcooler",
)  # fmt: skip


def judged(of=None, minutes=90, **values):
    of = of or module(signals=MORE)
    return assess(of, grid(minutes), samples(of, int(grid(minutes)[-1]), **(HOT | values)), STEP_US)


def kinds(stretch, name):
    """Kind of failure at every grid time."""
    return [str(stretch.failures.words[code].kind) for code in stretch.failures.codes[name].tolist()]


def failed(stretch):
    """What counts as failed somewhere, with its kinds; a spike is no failure."""
    found = {name: set(kinds(stretch, name)) - {Kind.FINE, Kind.SPIKE} for name in stretch.failures.codes}
    return {name: each for name, each in found.items() if each}


def evidence(stretch, name, at=-1):
    return stretch.failures.words[stretch.failures.codes[name][at]].text


def after(minutes, before, then):
    """A flickering value that changes for good; what comes then may be a function of minutes."""

    def value(m):
        now = before if m < minutes else then(m) if callable(then) else then
        return now + 0.1 * (round(2 * m) % 20 == 13)

    return value


class TestOpenOrShort:
    @pytest.mark.parametrize("shown", [-55.0, -273.15, 150.0, 999.0])
    def test_a_thermistor_at_the_end_of_what_is_read(self, shown):
        stretch = judged(minutes=20, suction_pipe=after(5, 8.0, shown))
        found = kinds(stretch, "suction_pipe")
        assert set(found[:10]) == {""}
        assert set(found[10:19]) == {"spike"}  # no value from the first, a failure once that is sure
        assert set(found[19:]) == {"open_or_short"}
        assert f"{shown:.0f} degC" in evidence(stretch, "suction_pipe")
        assert said(stretch, RETURN, 10) == said(stretch, RETURN) == said(stretch, RISE) == FAILED
        assert text(stretch, RETURN) == "suction_pipe has failed: an open or short circuit"
        assert said(stretch, AT_PROBE + "suction_pipe") == FAILED

    @pytest.mark.parametrize("shown_pa", [0.0, -600e3, 20e3, 5.2e6])
    def test_a_transducer_without_supply_or_with_too_much(self, shown_pa):
        stretch = judged(minutes=20, suction_pressure=shown_pa)
        assert set(kinds(stretch, "suction_pressure")) == {"open_or_short"}
        for name in (RETURN, COMPRESSOR_INLET, SATURATED_SUCTION, AT_PROBE + "suction_pipe"):
            assert said(stretch, name) == FAILED
        assert text(stretch, RETURN).startswith("suction_pressure has failed")

    @pytest.mark.parametrize(("gas", "pa"), [("R-32", 101.3e3), ("R-410A", 81e3), ("R-407C", 101.3e3)])
    def test_a_pressure_near_atmospheric_may_be_an_empty_circuit(self, gas, pa):
        """Dew at 101.3 kPa: R-32 -51.7, R-407C -36.7 degC, R-410A at 81 kPa -55.7 (CoolProp 6)."""
        of = replace(module(signals=MORE), refrigerant=gas)
        falls = {"suction_pressure": lambda m: max(pa, 800e3 * 0.8 ** max(2 * m, 0.0))}
        stretch = judged(of, minutes=20, **falls)
        found = kinds(stretch, "suction_pressure")
        assert set(found[:18]) == {""} and found[-1] == "near_atmosphere"
        assert "may have lost its refrigerant" in evidence(stretch, "suction_pressure")
        assert "otherwise the transducer" in evidence(stretch, "suction_pressure")
        steady = judged(of, minutes=20, suction_pressure=pa)
        assert said(steady, SATURATED_SUCTION) != FAILED
        assert not np.isnan(steady.signals["suction_pressure"]).any()

    def test_both_near_atmospheric_say_the_leak_first(self):
        rest = {"mode": CODE["off"], "compressor_1_speed": 0.0, "discharge_1": 20.0}
        stretch = judged(minutes=20, suction_pressure=101.3e3, discharge_pressure=103e3, **rest)
        for name in ("suction_pressure", "discharge_pressure"):
            assert kinds(stretch, name)[-1] == "near_atmosphere"
            assert evidence(stretch, name).index("leaked out") < evidence(stretch, name).index(
                "without supply"
            )

    def test_a_discharge_side_alone_cannot_be_empty(self):
        found = failed(judged(minutes=20, discharge_pressure=90e3))
        assert found["discharge_pressure"] == {"open_or_short"}

    def test_a_cold_evaporator_of_a_thin_gas_is_not_empty(self):
        """R-134a evaporates at -23.3 degC at 115 kPa (CoolProp 6): that cold it may well run."""
        of = replace(module(signals=MORE), refrigerant="R-134a")
        assert failed(judged(of, minutes=20, suction_pressure=100e3, suction_pipe=-15.0)) == {}

    def test_one_value_alone_is_no_failure_and_no_value(self):
        stretch = judged(minutes=20, suction_pipe=lambda m: 150.0 if m == 10 else 8.0)
        assert kinds(stretch, "suction_pipe").count("spike") == 1
        assert failed(stretch) == {}
        assert said(stretch, RETURN, 20) == FAILED
        assert text(stretch, RETURN, 20) == "suction_pipe has just jumped"

    def test_it_is_told_at_standstill_too(self):
        stretch = judged(minutes=20, mode=CODE["off"], compressor_1_speed=0.0, compressor_inlet=-60.0)
        assert failed(stretch)["compressor_inlet"] == {"open_or_short"}


class TestFrozen:
    def test_one_that_stands_still_while_others_move(self):
        stretch = judged(suction_pipe=lambda m: 8.3 if m >= 0 else 8.3 + 0.1 * (m % 2))
        found = kinds(stretch, "suction_pipe")
        assert set(found[:119]) == {""}
        assert found[-1] == "frozen"
        assert "8.3 degC" in evidence(stretch, "suction_pipe")
        assert failed(stretch) == {"suction_pipe": {"frozen"}}

    def test_a_transducer_too(self):
        assert failed(judged(suction_pressure=lambda m: 800e3 + (m < -100))) == {
            "suction_pressure": {"frozen"}
        }

    def test_not_where_all_stand_still(self):
        assert failed(judged(flickers=False)) == {}

    def test_liquid_only_where_condensing_has_moved_as_well(self):
        """Fans that hold the condensing pressure hold the liquid behind it; common practice, no source."""
        of = equipped(Layout.from_mapping(shipped("two-pipe-single-late-subcooler")))
        probe = of.layout.liquid_probes[0]
        held = {probe: lambda m: 31.1, "discharge_1": 75.0}
        assert probe not in failed(judged(of, discharge_pressure=lambda m: 2.3e6 + 1e3 * (m % 2), **held))
        stepped = failed(judged(of, discharge_pressure=lambda m: 2.3e6 + 1.2e3 * m, **held))
        assert stepped[probe] == {"frozen"}  # 2.3 to 2.37 MPa in an hour: 1.2 K of R-410A's dew temperature

    def test_not_where_it_comes_on_change_or_in_coarse_steps(self):
        for other in (replace(THERMISTOR, on_change=True), replace(THERMISTOR, step=1.0)):
            of = module(signals=MORE | {"suction_pipe": other})
            assert failed(judged(of, suction_pipe=lambda m: 8.0)) == {}

    def test_where_the_step_is_not_stated_a_whole_degree_tells_nothing(self):
        of = module(signals=MORE | {"suction_pipe": replace(THERMISTOR, step=0.0)})
        for degrees in (8.0, 7.5, 46 / 1.8 - 32 / 1.8):  # and 46 degF
            assert failed(judged(of, suction_pipe=lambda m, d=degrees: d)) == {}
        assert failed(judged(of, suction_pipe=lambda m: 8.3)) == {"suction_pipe": {"frozen"}}

    def test_not_where_nothing_flows(self):
        off = {"mode": CODE["off"], "compressor_1_speed": 0.0}
        assert failed(judged(suction_pipe=lambda m: 8.3, **off)) == {}
        assert failed(judged(discharge_2=lambda m: 20.3)) == {}  # of the compressor that stands


class TestJump:
    def test_a_step_that_nothing_explains(self):
        stretch = judged(minutes=60, suction_pipe=after(10, 8.0, 33.0))
        found = kinds(stretch, "suction_pipe")
        assert set(found[:20]) == {""}
        assert set(found[20:30]) == {"spike"}
        assert set(found[30:80]) == {"jump"}
        assert set(found[80:]) == {""}  # believed again after half an hour
        assert "by +25 K" in evidence(stretch, "suction_pipe", 40)
        assert said(stretch, RETURN, 40) == FAILED

    def test_a_spike_is_no_failure(self):
        stretch = judged(minutes=60, suction_pipe=lambda m: 34.0 if 10 <= m < 12 else after(99, 8.0, 0)(m))
        assert kinds(stretch, "suction_pipe")[20:24] == ["spike"] * 4
        assert failed(stretch) == {}

    def test_a_loose_contact_comes_and_goes(self):
        stretch = judged(minutes=60, suction_pipe=lambda m: 34.0 if 10 <= m < 30 and m % 6 < 3 else 8.0)
        assert kinds(stretch, "suction_pipe")[60] == "jump"

    @pytest.mark.parametrize(
        "meanwhile",
        [
            {"bypass_valve": lambda m: float(m >= 9)},
            {"mode": lambda m: CODE["heating"] if m < 9 else CODE["cooling"]},
            {"compressor_2_speed": lambda m: 40.0 * (m >= 9)},
            {"compressor_inlet": after(10, 20.0, 28.0)},
            {"compressor_inlet": after(12, 20.0, 28.0)},  # polled a little later
            {"suction_pressure": after(11, 800e3, 600e3)},
        ],
    )
    def test_not_where_something_else_moves(self, meanwhile):
        assert failed(judged(minutes=60, suction_pipe=after(10, 8.0, 33.0), **meanwhile)) == {}

    def test_a_slug_of_liquid_is_none(self):
        assert failed(judged(minutes=60, suction_pipe=after(10, 18.0, 0.5))) == {}

    def test_a_slug_that_takes_a_large_superheat_between_two_slow_readings_is_none(self):
        """Gas of 25 K superheat that liquid takes away at once; common practice, no source.

        R-410A at 800 kPa has its dew at 0.1 degC (CoolProp 6).
        """
        assert failed(judged(minutes=60, suction_pipe=after(10, 25.0, 0.0))) == {}
        assert failed(judged(minutes=60, suction_pipe=after(10, 28.0, 2.9))) == {}
        beside = failed(judged(minutes=60, suction_pipe=after(10, 28.0, 5.0)))
        assert beside == {"suction_pipe": {"jump"}}
        upwards = failed(judged(minutes=60, suction_pipe=after(10, -22.0, 0.0)))
        assert "jump" in upwards["suction_pipe"]

    def test_a_transducer_that_steps(self):
        stretch = judged(minutes=60, suction_pressure=after(10, 800e3, 300e3))
        assert "jump" in failed(stretch)["suction_pressure"]


class TestImpossible:
    def test_far_below_dew(self):
        stretch = judged(suction_pipe=-14.0)
        assert failed(stretch) == {"suction_pipe": {"impossible"}}
        words = "suction_pipe reads 14 K below saturation at suction_pressure in settled running"
        assert evidence(stretch, "suction_pipe").startswith(words)
        assert "or suction_pressure is wrong" in evidence(stretch, "suction_pipe")

    def test_the_one_at_odds_with_more(self):
        of = module(EARLY, signals={"discharge_1": THERMISTOR, "discharge_pressure": TRANSDUCER})
        stretch = judged(of, suction_pipe=-14.0, accumulator_outlet=-15.0)
        assert failed(stretch) == {"suction_pressure": {"impossible"}}
        assert "at odds with others too" in evidence(stretch, "suction_pressure")
        assert said(stretch, RETURN) == FAILED

    def test_it_falls_to_the_next_best_and_says_why(self):
        of = module(EARLY, signals={"discharge_1": THERMISTOR, "discharge_pressure": TRANSDUCER})
        stretch = judged(of, suction_pipe=-14.0)
        assert said(stretch, RETURN) == DECIDED
        phrase = stretch.phrases[stretch.tracks[RETURN].said[-1]]
        assert (phrase.probes, str(phrase.standing)) == (("accumulator_outlet",), "after_accumulator")
        assert phrase.text.startswith(
            "suction_pipe has failed: it cannot be true; taken after the accumulator"
        )

    def test_hotter_than_condensing_on_the_suction_side(self):
        assert failed(judged(suction_pipe=58.0)) == {"suction_pipe": {"impossible"}}
        assert failed(judged(suction_pipe=44.0)) == {}  # a contradiction already, by too little for a failure

    def test_discharge_colder_than_condensing(self):
        assert failed(judged(discharge_1=20.0)) == {"discharge_1": {"impossible"}}
        assert failed(judged(discharge_1=39.0)) == {}  # wet: at saturation

    def test_suction_above_discharge(self):
        stretch = judged(discharge_pressure=600e3)
        assert set(failed(stretch)) in ({"suction_pressure"}, {"discharge_pressure"})

    def test_not_for_a_defrost_that_nobody_told_of(self):
        hidden = judged(
            mode=CODE["heating"],
            outdoor_coil_gas=lambda m: 60.0 if 30 <= m < 42 else 4.0 + 0.1 * (round(2 * m) % 20 == 13),
            compressor_inlet=lambda m: 5.0 if 30 <= m < 42 else 20.0 + 0.1 * (round(2 * m) % 20 == 13),
            suction_pipe=40.0,
        )
        assert failed(hidden) == {}


def equipped(layout, step_k=0.1, step_pa=1e3, every_s=30, on_change=False):
    age_us = (300 if every_s > 60 else 120) * SECOND
    habits = {"max_age_us": age_us, "interval_us": every_s * SECOND}
    probe = replace(THERMISTOR, step=step_k, on_change=on_change, **habits)
    pressure = replace(TRANSDUCER, step=step_pa, **habits)
    probes = (*layout.suction_probes, *layout.discharge_probes, *layout.liquid_probes)
    signals = dict.fromkeys((*probes, "liquid_line", "outdoor_air"), probe)
    signals |= dict.fromkeys((layout.suction_transducer, layout.discharge_transducer), pressure)
    states = ("mode", *layout.valves, *(f"compressor_{name}_speed" for name in layout.compressors))
    return module(layout, signals=signals | dict.fromkeys(states, replace(STATE, **habits)))


GATEWAYS = {
    "fine": {},
    "coarse and slow": {"step_k": 1.0, "step_pa": 10e3, "every_s": 120},
    "slow": {"every_s": 120},
    "on change": {"step_k": 1.0, "on_change": True},
    "steps not stated": {"step_k": 0.0, "step_pa": 0.0},
}


@pytest.mark.parametrize("gateway", GATEWAYS)
@pytest.mark.parametrize("name", LAYOUTS)
def test_a_healthy_day_has_no_failed_instrument(name, gateway):
    of = equipped(Layout.from_mapping(shipped(name)), **GATEWAYS[gateway])
    for seed in range(3):
        rng = np.random.default_rng(seed)
        readings = healthy.day(of, rng, every_s=GATEWAYS[gateway].get("every_s", 30))
        _, last_us = healthy.span_us(readings)
        stretch = assess(of, np.arange(START_US, last_us, STEP_US), readings, STEP_US)
        assert failed(stretch) == {}
        decided = np.array([phrase.status == "decided" for phrase in stretch.phrases])
        assert decided[stretch.tracks[RETURN].said].any() or gateway != "slow"


def test_a_restless_day_stays_within_what_its_figures_can_be():
    """Nothing in it is open, short, frozen or a jump, however odd its figures are."""
    for seed in range(4):
        for of in (module(), module(EARLY), module(signals={"discharge_pressure": TRANSDUCER})):
            stretch = assess(of, grid(360), random_day(of, np.random.default_rng(seed), 360), STEP_US)
            found = failed(stretch)
            assert all(each <= {"impossible"} for each in found.values()), (seed, found)


def test_signals_of_a_failed_probe_do_not_count_as_values():
    stretch = judged(minutes=20, suction_pipe=-60.0)
    assert np.isnan(stretch.signals["suction_pipe"]).all()
    assert not np.isnan(stretch.signals["compressor_inlet"]).any()


def test_the_basis_keeps_what_failed():
    stretch = judged(minutes=20, suction_pipe=-60.0)
    grid_us, basis, figures = list(stretch.records({}, ()))[-1]
    kept = load_assessment(grid_us, 1, basis, figures)
    words = "it reads -60 degC, below all that there is at its place: an open or short circuit"
    assert kept.failed == {"suction_pipe": ("open_or_short", words)}
    stretch = judged(minutes=20)
    assert load_assessment(1, 1, *list(stretch.records({}, ()))[-1][1:]).failed == {}


@pytest.mark.parametrize("seed", range(6))
def test_any_cutting_of_the_time_gives_the_same_with_failures(seed):
    """A day on which failures come and go, in pieces with the readings of the lookback only."""
    of = equipped(LATE)
    rng = np.random.default_rng(seed)
    readings = healthy.day(of, rng)
    for name in ("suction_pipe", "compressor_inlet", "discharge_1", "suction_pressure"):
        time_us, value = readings[name]
        for _ in range(3):
            start = int(rng.integers(0, len(value) - 300))
            part = slice(start, start + int(rng.integers(1, 300)))
            value = value.copy()
            value[part] = rng.choice([value[start], value[start] * 0.3 + 20.0, value[start] - 25.0, -99.0])
        readings[name] = Samples(time_us, value)
    last_us = healthy.span_us(readings)[1]
    times_us = np.arange(START_US, last_us, STEP_US)
    cuts = np.sort(rng.choice(np.arange(1, len(times_us)), 6, replace=False))
    assert in_pieces(of, readings, times_us, cuts) == list(
        assess(of, times_us, readings, STEP_US).records({}, ())
    )


@pytest.mark.parametrize("stands_c", [8.0, 8.3])
def test_any_cutting_of_the_time_gives_the_same_where_no_step_is_stated(stands_c):
    """A probe moves in tenths and then stands for hours: what it showed before lies beyond the lookback."""
    of = module(signals=MORE | {"suction_pipe": replace(THERMISTOR, step=0.0)})
    times_us = grid(360)
    pipe = {"suction_pipe": lambda m: stands_c if m >= 0 else stands_c + 0.1 * (m % 2)}
    readings = samples(of, int(times_us[-1]), **(HOT | pipe))
    stretch = assess(of, times_us, readings, STEP_US)
    cuts = np.arange(10, len(times_us), 97)
    assert in_pieces(of, readings, times_us, cuts) == list(stretch.records({}, ()))
    assert failed(stretch) == ({} if stands_c == 8.0 else {"suction_pipe": {"frozen"}})


def in_pieces(of, readings, times_us, cuts):
    """The records of grid times that are assessed piece by piece, from the readings of the lookback only."""
    pieces = []
    for piece in np.split(times_us, cuts):
        first = piece[0] - of.lookback_us
        known = {
            name: Samples(*(column[(t >= first) & (t <= piece[-1])] for column in (t, v)))
            for name, (t, v) in readings.items()
        }
        pieces += list(assess(of, piece, known, STEP_US).records({}, ()))
    return pieces
