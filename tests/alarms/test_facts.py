"""What an alarm has to show for itself, and how soon to look."""

from dataclasses import replace

import pytest

from agent.alarms import (
    CATALOGUE,
    Condition,
    Detection,
    Facts,
    Finding,
    active,
    cannot_prove_dry,
    facts,
    priority,
)
from agent.assess import AT_PROBE, SWING, Assessment, Cause, Quantity, Said, Status
from agent.piping import COMPRESSOR_INLET, RETURN, Fitness, Standing

LOW, HIGH, UNFIT = (CATALOGUE[name] for name in ("superheat-low", "superheat-high", "probe-unfit"))
HUNTING, BLIND = (CATALOGUE[name] for name in ("superheat-hunting", "watch-blind"))


def quantity(
    value, below=0.5, above=0.7, status="decided", standing="fit", probe="suction_pipe", text="as set"
):
    words = Said(Status(status), Cause.NONE, text, Standing(standing), (probe,) if probe else ())
    return Quantity(words, value, *((below, above) if value is not None else (None, None)))


def assessment(returned, shown=None, late=None, swing=None):
    absent = quantity(None, status="not_measurable", standing="not_measurable", probe=None)
    quantities = {RETURN: returned, COMPRESSOR_INLET: late or absent, SWING: swing or absent} | (
        {AT_PROBE + "compressor_inlet": shown} if shown else {}
    )
    fitness = {"compressor_inlet": (Fitness.MIXED, "oil_return (warms) joins upstream")}
    return Assessment(0, 1, "cooling", fitness, None, quantities, {})


def test_superheat_with_its_uncertainty_probe_and_limit():
    found = facts(LOW, assessment(quantity(1.24)), None)
    assert found[1:] == ("suction_pipe", 1.24, 0.5, 0.7, 2.0, None)
    assert (
        found.text
        == "liquid cannot be excluded: return superheat 1.2 K (-0.5 +0.7) at suction_pipe, limit 2 K"
    )


def test_what_is_beyond_doubt_says_so_by_its_figures_or_without_them():
    sure = {LOW.name: Condition.BEYOND_DOUBT}
    found = facts(LOW, replace(assessment(quantity(0.2)), conditions=sure), None).text
    assert found == (
        "liquid is very likely coming back: return superheat 0.2 K (-0.5 +0.7) at suction_pipe, "
        "even with all uncertainty under 2 K"
    )
    found = facts(LOW, replace(assessment(quantity(1.6)), conditions=sure), None).text
    assert found.startswith("liquid is very likely coming back: ") and found.endswith("limit 2 K")


def test_second_best_has_its_own_limit():
    found = facts(HIGH, assessment(quantity(21.0, standing="second_best")), None)
    assert found.limit_k == 20.0
    assert found.text.endswith("limit 20 K")


def test_what_is_not_known_is_none_and_said():
    returned = quantity(None, status="missing", text="suction_pipe is missing")
    found = facts(LOW, assessment(returned), None)
    assert found[1:] == (None, None, None, None, 2.0, None)
    assert found.text == "return superheat: suction_pipe is missing"
    without = quantity(None, status="not_measurable", standing="not_measurable", probe=None)
    assert facts(LOW, assessment(without), None).probe is None


def test_covering_probes_are_all_named():
    words = Said(Status.DECIDED, Cause.NONE, "", Standing.COVERING, ("a", "b"))
    found = facts(LOW, assessment(Quantity(words, 1.0, 0.5, 0.5)), None)
    assert found.probe == "a, b"
    assert "at a, the lowest of a, b" in found.text  # which one carries the verdict


@pytest.mark.parametrize(
    ("shown", "by", "words"),
    [
        (20.0, 12.0, "it shows 12.0 K more than return superheat"),
        (5.0, -3.0, "it shows 3.0 K less than return superheat"),
        (8.0, 0.0, "it shows 0.0 K more than return superheat"),
    ],
)
def test_an_unfit_probe_says_by_how_much_it_misleads(shown, by, words):
    found = facts(UNFIT, assessment(quantity(8.0), quantity(shown)), "compressor_inlet")
    assert found[1:] == ("compressor_inlet", shown, 0.5, 0.7, None, by)
    assert found.text == f"compressor_inlet is mixed: oil_return (warms) joins upstream; {words}"


def test_or_that_it_cannot_tell():
    for pair in ((quantity(8.0), quantity(None)), (quantity(None), quantity(8.0)), (quantity(8.0), None)):
        found = facts(UNFIT, assessment(*pair), "compressor_inlet")
        assert found.misleads_k is None
        assert found.text.endswith("; by how much it misleads cannot be told now")


def test_an_unfit_probe_that_is_configured_no_more():
    """Its last line, withdrawn, is written after the configuration changed."""
    assert facts(UNFIT, assessment(quantity(8.0)), None).misleads_k is None


def test_an_unfit_probe_that_an_older_assessment_does_not_know():
    assert facts(UNFIT, assessment(quantity(8.0)), "accumulator_outlet").misleads_k is None


def test_a_late_probe_that_shows_liquid_is_named():
    late = quantity(0.3, standing="upper_bound", probe="compressor_inlet")
    found = facts(LOW, assessment(quantity(None, status="missing"), late=late), None)
    assert (found.probe, found.value_k) == ("compressor_inlet", 0.3)
    assert "although only warmer streams have joined" in found.text
    assert found.text.endswith("which is ordinary; the discharge tells them apart")


def test_after_the_accumulator_the_watch_says_what_it_cannot_tell():
    found = facts(BLIND, assessment(quantity(0.3, standing="after_accumulator")), None)
    assert found.text.startswith("wet return cannot be told on this module")


def test_an_unsettled_value_says_so():
    returned = quantity(0.3, status="not_settled", text="superheat at suction_pipe is swinging")
    assert facts(LOW, assessment(returned), None).text.endswith(
        "limit 2 K; not settled: superheat at suction_pipe is swinging"
    )


def test_a_swing_and_a_blind_watch():
    found = facts(HUNTING, assessment(quantity(5.0), swing=quantity(7.25)), None)
    assert (found.value_k, found.limit_k) == (7.25, 5.0)
    assert found.text == "return superheat swings by 7.2 K, limit 5 K"
    assert facts(HUNTING, assessment(quantity(5.0)), None).text == "the swing cannot be told now: as set"
    missing = quantity(None, status="missing", text="suction_pipe is missing")
    assert facts(BLIND, assessment(missing), None).text == (
        "return superheat is missing: suction_pipe is missing"
    )


class TestPriority:
    SURE, UNSURE = Detection(active=True, level="beyond_doubt"), Detection(active=True, level="beyond")

    def test_without_doubt_it_is_urgent(self):
        assert priority(LOW, self.SURE, assessment(quantity(1.0))) == "high"
        assert priority(LOW, self.UNSURE, assessment(quantity(1.0))) == "medium"

    def test_only_where_the_entry_has_an_urgency(self):
        assert priority(HIGH, self.SURE, assessment(quantity(20.0))) == "medium"

    def test_what_is_only_possible_is_low(self):
        possible = Detection(active=True, level="possible")
        assert priority(LOW, possible, assessment(quantity(1.0))) == "low"

    def test_second_best_is_low(self):
        assert priority(LOW, self.SURE, assessment(quantity(1.0, standing="second_best"))) == "low"


def test_active_alarms():
    states = {"a": Detection(), "b": Detection(active=True), "c": Detection(beyond_us=5)}
    assert active(states) == {"b": Detection(active=True)}


@pytest.mark.parametrize(("below", "is_said"), [(1.9, False), (2.0, False), (2.1, True)])
def test_instruments_that_cannot_prove_dry_suction(below, is_said):
    words = cannot_prove_dry(CATALOGUE, assessment(quantity(8.0, below=below)))
    expected = (
        "these instruments cannot prove dry suction near the limit of 2 K: the uncertainty downward is 2.1 K"
        ", for a probe that sits tight and is insulated"
    )
    assert words == (expected if is_said else None)


def test_nothing_is_said_without_a_value():
    assert cannot_prove_dry(CATALOGUE, assessment(quantity(None, status="missing"))) is None


def test_of_what_is_judged_by_the_hour_the_finding_speaks():
    oil = CATALOGUE["oil-return-absent"]
    assert facts(oil, assessment(quantity(5.0)), None).text == "no whole hour has been judged yet"
    found = Facts("as found", "compressor_inlet", 0.2)
    findings = {oil.name: Finding(Condition.BEYOND, found)}
    assert facts(oil, assessment(quantity(5.0)), None, findings) == found


def test_a_blind_watch_says_what_is_lacking():
    behind = quantity(0.2, standing="after_accumulator")
    assert "taken after the accumulator" in facts(BLIND, assessment(behind), None).text
    moving = quantity(0.2, standing="after_accumulator", status="not_settled", text="it swings")
    assert facts(BLIND, assessment(moving), None).text == "return superheat is not settled: it swings"


def test_a_probe_that_is_configured_no_more_has_nothing_to_show():
    assert facts(UNFIT, assessment(quantity(5.0)), None).text.startswith("the site's configuration names no")


def test_without_a_limit_none_is_told():
    none = LOW.with_limits()
    none = replace(none, limits=replace(none.limits, limit_k=None))
    assert facts(none, assessment(quantity(1.2)), None).text.endswith("at suction_pipe")
