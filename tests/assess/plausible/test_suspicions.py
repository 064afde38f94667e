"""Swapped probes, wrong units and references and a wrong refrigerant show over hours.

An ordinary module shows none, and what cannot be told says so.

Saturation of R-410A and R-32 at the pressures used is from a table that CoolProp 8.0.0 and teqp 0.23.2 agree
on (see tests/assess/ordinary.py).
"""

from dataclasses import replace

import pytest

from agent.assess import CODE, SECOND, assess
from agent.assess.byhour.hours import HOUR_US, Hour, Part, Stats
from agent.assess.byhour.summing import hours_of
from agent.assess.plausible.suspicions import FEWEST_AT_REST, FEWEST_SETTLED, RESTED_HOURS, suspicions
from tests.assess.ordinary import (
    PRESSURES,
    SIGNALS,
    TEMPERATURES,
    changed,
    every_situation,
    only,
    running,
    standing,
    swapped,
)
from tests.assess.world import LATE, START_US, STEP_US, grid, module, samples

ATMOSPHERE_KPA = 101.325  # US Standard Atmosphere 1976


def this(refrigerant="R-410A", **changes):
    return replace(module(LATE, **changes), refrigerant=refrigerant, signals=SIGNALS)


def hour(number, values):
    """An hour in which every signal had one value; pressures come in kPa."""
    mode = {"off": "off", "cool": "cooling", "heat": "heating"}[values["mode"]]
    si = {
        name: value * (1e3 if name in PRESSURES else 1.0) for name, value in values.items() if name != "mode"
    }
    part = Part(120, 120, {}, {name: Stats(120, v, v, v, 0.0) for name, v in si.items()})
    ran = {"1": 120 * (mode != "off"), "2": 120 * (mode != "off")}
    return Hour(START_US + number * HOUR_US, STEP_US, {mode: part}, {}, ran, {"1": 120, "2": 120}, {})


def hours(*several, each=8):
    return [hour(each * place + n, values) for place, values in enumerate(several) for n in range(each)]


@pytest.mark.parametrize(
    ("refrigerant", "values"),
    [(r, v) for r, _, v in every_situation()],
    ids=[f"{r} {name}" for r, name, _ in every_situation()],
)
def test_an_ordinary_module_gives_no_suspicion(refrigerant, values):
    assert suspicions(this(refrigerant), hours(values)).suspicions == ()


class TestSwapped:
    @pytest.mark.parametrize("mode", ["cool", "heat"])
    def test_a_gas_pipe_and_the_coils_pipe(self, mode):
        values = swapped(running(mode=mode), "suction_pipe", "outdoor_coil_gas")
        found = only(suspicions(this(), hours(values)))
        assert "if outdoor_coil_gas and suction_pipe were swapped" in found.would

    def test_a_late_probe_that_reads_colder_than_the_one_ahead_of_the_warm_inlets(self):
        """Oil and hot gas only warm what they join: common practice, no source."""
        values = running() | {"suction_pipe": 19.0, "compressor_inlet": 10.0}
        found = only(suspicions(this(), hours(values)))
        assert (found.kind, found.signals) == ("order", ("suction_pipe", "compressor_inlet"))
        assert "9.0 K below suction_pipe over 8 settled hours" in found.seen
        assert "if suction_pipe and compressor_inlet were swapped" in found.would
        assert "liquid boiled off" in found.would  # the accumulator stands between them

    def test_what_errors_and_loss_may_do_is_no_suspicion(self):
        values = running() | {"suction_pipe": 14.0, "compressor_inlet": 11.0}
        assert suspicions(this(), hours(values)).suspicions == ()

    def test_most_of_the_hours_must_show_it(self):
        wrong = running() | {"suction_pipe": 19.0, "compressor_inlet": 10.0}
        assert suspicions(this(), hours(running(), wrong)).suspicions == ()

    def test_a_pipe_that_holds_hot_gas_is_not_held_against_the_inlet(self):
        assert suspicions(this(), hours(running(mode="heat"))).suspicions == ()


class TestUnits:
    @pytest.mark.parametrize("mode", ["cool", "heat"])
    def test_fahrenheit_taken_for_celsius(self, mode):
        values = changed(running(mode=mode), TEMPERATURES, lambda c: c * 1.8 + 32)
        found = only(suspicions(this(), hours(values)))
        assert "if every temperature came in degF" in found.would

    def test_celsius_taken_for_fahrenheit(self):
        values = changed(running(), TEMPERATURES, lambda c: (c - 32) / 1.8)
        assert "if every temperature came in degC" in only(suspicions(this(), hours(values))).would

    def test_one_probe_alone(self):
        values = changed(running(), ["suction_pipe"], lambda c: c * 1.8 + 32)
        found = only(suspicions(this(), hours(values)))
        assert "if suction_pipe came in degF" in found.would
        assert found.signals == ("suction_pipe",)


class TestAtRest:
    """What an atmosphere makes at 944 kPa of R-410A, 5.4 degC dew: 3.4 K of saturation (computed)."""

    def test_gauge_taken_for_absolute(self):
        values = changed(standing(), PRESSURES, lambda p: p - ATMOSPHERE_KPA)
        found = only(suspicions(this(), hours(values)))
        assert (found.kind, found.signals) == ("rest", PRESSURES)
        assert "the pressures came as gauge" in found.would

    def test_absolute_taken_for_gauge(self):
        values = changed(standing(), PRESSURES, lambda p: p + ATMOSPHERE_KPA)
        assert "the pressures came as absolute" in only(suspicions(this(), hours(values))).would

    def test_another_refrigerant(self):
        found = only(suspicions(this("R-410A"), hours(standing("R-407C", liquid=True))))
        assert "if the circuit held R-407C and not R-410A" in found.would
        assert "this alone proves nothing" in found.look

    def test_two_that_saturate_alike_cannot_be_told_apart(self):
        """R-32 taken for R-410A is about 1 degF (computed)."""
        found = suspicions(this("R-410A"), hours(standing("R-32")))
        assert found.suspicions == ()
        (words,) = [each for each in found.cannot_tell if each.startswith("R-410A from")]
        assert "R-32 (-0" in words
        assert "R-407C" not in words and "R-134a" not in words

    def test_the_first_hours_after_a_stop_do_not_count(self):
        """Pipes still warm, pressures high: nothing is at rest."""
        warm = changed(standing(), PRESSURES, lambda p: 1.6 * p)
        few = [hour(n, warm) for n in range(RESTED_HOURS - 1)]
        rest = [hour(len(few) + n, standing()) for n in range(FEWEST_AT_REST)]
        found = suspicions(this(), few + rest)
        assert found.suspicions == ()
        assert not any("hours at rest" in each for each in found.cannot_tell)

    def test_a_module_beside_it_that_runs_keeps_it_from_rest(self):
        values = changed(standing(), PRESSURES, lambda p: p - ATMOSPHERE_KPA)
        stood, ran = hours(standing()), hours(running())
        assert suspicions(this(), hours(values), [stood]).suspicions
        found = suspicions(this(), hours(values), [stood, ran])
        assert found.suspicions == ()
        assert any("0 of 3 hours at rest" in each for each in found.cannot_tell)
        assert suspicions(this(), hours(values), [[]]).suspicions == ()


class TestCannotTell:
    def test_too_few_hours(self):
        found = suspicions(this(), hours(swapped(running(), "suction_pipe", "outdoor_coil_gas"), each=5))
        assert found.suspicions == ()
        assert any(f"5 of {FEWEST_SETTLED} settled hours" in each for each in found.cannot_tell)
        assert suspicions(this(), []).cannot_tell

    def test_what_is_suspected_is_not_said_to_be_hidden(self):
        values = changed(standing(), PRESSURES, lambda p: p - ATMOSPHERE_KPA)
        found = suspicions(this(), hours(values))
        assert found.suspicions and not any("gauge" in each for each in found.cannot_tell)

    def test_without_a_pressure_at_rest(self):
        values = {name: value for name, value in standing().items() if name not in PRESSURES}
        found = suspicions(this(), hours(values))
        assert found.suspicions == ()
        assert any("no suction pressure at rest" in each for each in found.cannot_tell)

    def test_gauge_or_absolute_while_it_only_runs(self):
        found = suspicions(this(), hours(running()))
        assert any(each.startswith("gauge or absolute") for each in found.cannot_tell)

    def test_a_glide_wider_than_one_atmosphere(self):
        """The glide of R-407C is 6.27 K at 0 degC (CoolProp 8.0.0)."""
        found = suspicions(this("R-407C"), hours(running("R-407C"), standing("R-407C", liquid=True)))
        assert not any("swapped" in each for each in found.cannot_tell)
        assert any("one atmosphere makes less than" in each for each in found.cannot_tell)


def test_real_hours_of_a_module_whose_pressure_is_read_as_absolute():
    """Eight hours of standing through the whole judgement: dew of R-410A at 944 kPa is 5.4 degC."""
    of = this()
    still = dict.fromkeys(TEMPERATURES, 5.4) | {f"compressor_{n}_speed": 0.0 for n in (1, 2)}
    for shift_kpa, suspected in ((0.0, False), (ATMOSPHERE_KPA, True)):
        pressures = dict.fromkeys(PRESSURES, (944 - shift_kpa) * 1e3)
        given = samples(of, START_US + 8 * HOUR_US, mode=CODE["off"], **still, **pressures)
        found = hours_of(assess(of, grid(480), given, STEP_US), STEP_US)
        assert len(found) == 8
        assert bool(suspicions(of, found).suspicions) is suspected
    assert STEP_US == 30 * SECOND
