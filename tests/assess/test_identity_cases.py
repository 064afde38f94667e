"""What evidence may say where something hides the piping. Bench data of a day or two, payload to hours.

Expectations are from the piping: what joins ahead of a probe warms it, what does not leaves it alone. Two
causes that show the same are both to be offered. Common practice, no source.
"""

import re
from dataclasses import replace

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
)
from tests.bench.configuration import library
from tests.bench.hours import DAY_US, START_US, Spell, known
from tests.identity.cases import EVERY_S

identity = pytest.importorskip("agent.assess.identity")
Conclusion, Explains = identity.Conclusion, identity.Explains

EARLY = Unit(ARRANGEMENTS["two-pipe-single-early"], own_shells=True)
LATE = Unit(ARRANGEMENTS["two-pipe-twin-late"], own_shells=True)
BYPASS = {"bypass_every_s": EVERY_S}  # it opens in settled running
AS_LATE = Renaming({"accumulator_outlet": "compressor_inlet"})  # the early probe under a late one's name
TWINS_AHEAD = (
    "two-pipe-twin-both-injection",
    "two-pipe-twin-branches",
)  # two compressors, a probe ahead of oil
ON_SITE = re.compile(r"on site|thin pipe|clamp|see (where|on which)|look|hand", re.IGNORECASE)


@pytest.fixture(scope="module")
def asked():
    """The identity of a unit, each played once."""
    answers = {}

    def ask(unit, layout=None, days=1, **gateway):
        key = repr((unit, layout, days, gateway))
        if key not in answers:
            layout = layout or unit.arrangement.name
            told = known([Spell(unit, days)], Gateway(**gateway), layout)
            answers[key] = identity.identity(told.module, library(), told.hours)
        return answers[key]

    return ask


def of(found, layout):
    (one,) = [each for each in found.weighed if each.layout == layout]
    return one


def best(found):
    least = min(each.points for each in found.weighed)
    return {each.layout for each in found.weighed if each.points == pytest.approx(least)}


def faults(weighed):
    return " ".join(reason.fault for reason in weighed.reasons.values()).lower()


def words(found):
    """All that is said."""
    told = [found.text, *found.seen, *found.tell_apart]
    for each in found.weighed:
        told += [f"{reason.text} {reason.fault}" for reason in each.reasons.values()]
    return " ".join(told)


def test_one_compressor_with_the_probe_ahead_is_believed(asked):
    found = asked(replace(EARLY, **BYPASS))
    assert found.conclusion is not Conclusion.DOUBTED
    assert of(found, "two-pipe-single-early").explains is Explains.EXPLAINS
    assert found.configured.layout == "two-pipe-single-early"
    assert found.configured.explains is Explains.EXPLAINS
    assert "two-pipe-single-early" in best(found)


@pytest.mark.parametrize("bypass", [True, False])
def test_an_early_probe_that_is_configured_as_late_is_not_believed(asked, bypass):
    """No rise: the oil return is blocked, or nothing joins ahead. Hot gas that leaves no step says which."""
    unit = replace(EARLY, **BYPASS) if bypass else EARLY
    found = asked(unit, "two-pipe-twin-late", renamed=(AS_LATE,))
    assert found.conclusion is not Conclusion.SUPPORTED
    assert of(found, "two-pipe-single-early").explains is Explains.EXPLAINS
    assert found.configured.explains is not Explains.EXPLAINS
    if found.conclusion is not Conclusion.DOUBTED:
        assert found.configured.explains is Explains.WITH_A_FAULT
        assert "oil" in faults(found.configured)
        assert ON_SITE.search(" ".join(found.tell_apart))
    if bypass:
        assert found.conclusion is Conclusion.DOUBTED


@pytest.mark.parametrize("layout", ["two-pipe-twin-late", "unknown"])
def test_a_twin_of_which_one_never_runs_is_not_taken_for_a_single(asked, layout):
    """Whether there is a second one, no reading shows: nobody can tell."""
    found = asked(replace(LATE, locked_out=frozenset({2}), **BYPASS), layout)
    twin = of(found, "two-pipe-twin-late")
    assert twin.explains is not Explains.CONTRADICTED
    assert twin.points <= of(found, "two-pipe-single-common").points
    assert "compressor" in words(found)
    assert found.conclusion is Conclusion.CANNOT_TELL


def test_a_late_probe_whose_oil_return_was_always_blocked_may_be_an_early_one(asked):
    """Nothing has ever warmed it: both are so."""
    unit = replace(LATE, faults=(Fault(FaultKind.OIL_RETURN_BLOCKED, 1.0, 0),))
    found = asked(unit)
    assert found.conclusion is not Conclusion.SUPPORTED
    assert found.configured.explains is Explains.WITH_A_FAULT
    assert "oil" in faults(found.configured)
    for layout in TWINS_AHEAD:
        assert of(found, layout).explains is not Explains.CONTRADICTED
    assert any(layout in found.text for layout in TWINS_AHEAD)
    assert "oil" in found.text
    assert ON_SITE.search(" ".join(found.tell_apart))


def test_a_rise_that_was_there_before_speaks_for_the_fault(asked):
    """A probe that oil has warmed sits after the oil return, whatever it shows later."""
    blocked = Fault(FaultKind.OIL_RETURN_BLOCKED, 1.0, START_US + DAY_US, grows_s=3600.0)
    found = asked(replace(LATE, faults=(blocked,)), days=2)
    assert found.conclusion is not Conclusion.DOUBTED
    assert of(found, "two-pipe-twin-late").explains is not Explains.CONTRADICTED
    assert found.configured.explains is not Explains.CONTRADICTED
    assert best(found) & {"two-pipe-twin-late", "two-pipe-split-coil", "two-pipe-twin-unproven"}
    assert of(found, "two-pipe-single-early").points > found.configured.points
    assert "oil" in words(found)


LOOSE = SensorFault(SensorFaultKind.LOOSE, "accumulator_outlet", 0.15)  # 2.5 K where the air is 17 K warmer


def test_an_early_probe_in_warm_air_is_loose_or_a_late_one(asked):
    found = asked(EARLY, faults=(LOOSE,))
    assert found.configured.explains is Explains.WITH_A_FAULT
    assert re.search("loose|strap|air|insulat", faults(found.configured))
    assert of(found, "two-pipe-single-early").explains is not Explains.CONTRADICTED
    assert of(found, "two-pipe-single-common").explains is not Explains.CONTRADICTED
    assert found.conclusion is not Conclusion.SUPPORTED


def test_an_early_probe_in_warm_air_is_never_supported_as_late(asked):
    late = "two-pipe-single-late-subcooler"
    found = asked(EARLY, late, faults=(LOOSE,), renamed=(AS_LATE,))
    assert found.conclusion is not Conclusion.SUPPORTED
    assert of(found, "two-pipe-single-early").explains is not Explains.CONTRADICTED


@pytest.mark.parametrize(
    ("layout", "season"),
    [
        ("two-pipe-single-early", "cooling"),
        ("two-pipe-twin-late", "cooling"),
        ("two-pipe-twin-branches", "heating"),
        ("three-pipe-single-early-injection", "simultaneous"),
    ],
)
def test_steps_of_a_degree_raise_no_doubt(asked, layout, season):
    piping = ARRANGEMENTS[layout]
    unit = Unit(piping, season, "R32" if piping.injection else "R410A", own_shells=True, **BYPASS)
    found = asked(unit, temperature_step=1.0)
    assert found.conclusion is not Conclusion.DOUBTED
    assert found.configured.explains is not Explains.CONTRADICTED
    assert of(found, layout).explains is not Explains.CONTRADICTED


@pytest.mark.parametrize(
    "pair", [("suction_pipe", "compressor_inlet"), ("suction_pipe", "outdoor_coil_gas")], ids=" and ".join
)
def test_a_board_that_exchanges_two_names_is_the_same_layout_with_these_exchanged(asked, pair):
    one, other = pair
    found = asked(replace(LATE, **BYPASS), renamed=(Renaming({one: other, other: one}),))
    true = of(found, "two-pipe-twin-late")
    assert true.explains is not Explains.CONTRADICTED
    assert (true.places[one], true.places[other]) == (other, one)
    assert "two-pipe-twin-late" in best(found)
    assert found.conclusion is Conclusion.DOUBTED
    assert found.configured.explains is not Explains.EXPLAINS
    assert one in found.text and other in found.text


def test_a_board_that_is_swapped_on_the_second_day_is_no_other_layout(asked):
    swap = Renaming(
        {"suction_pipe": "outdoor_coil_gas", "outdoor_coil_gas": "suction_pipe"}, START_US + DAY_US
    )
    found = asked(replace(LATE, **BYPASS), days=2, renamed=(swap,))
    assert of(found, "two-pipe-twin-late").explains is not Explains.CONTRADICTED
    assert "two-pipe-twin-late" in best(found)
    assert "suction_pipe" in words(found) and "outdoor_coil_gas" in words(found)
