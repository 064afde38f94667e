"""The report itself: its cases, what it takes the piping to show, and the worth it gives an answer."""

from dataclasses import dataclass, field, replace

import pytest

from agent.settings import load_layout
from demo_feed.bench import ARRANGEMENTS
from tests.bench.configuration import LAYOUTS, library
from tests.identity.__main__ import record, summary, table
from tests.identity.cases import Kind, cases
from tests.identity.run import Outcome, judged, run_with

DAY = {(each.truth.name, each.seasons, each.kind): each for each in cases(1)}
LATE = DAY["two-pipe-twin-late", ("cooling",), Kind.UNKNOWN]
WRONG = DAY["two-pipe-twin-late", ("cooling",), Kind.MISLABELLED]
RIGHT = DAY["two-pipe-twin-late", ("cooling",), Kind.RIGHT]


@dataclass(frozen=True)
class Weight:
    layout: str
    points: float
    explains: str = "explains"
    reasons: dict = field(default_factory=dict)


@dataclass(frozen=True)
class Found:
    weighed: tuple
    conclusion: str = "cannot_tell"
    text: str = "Said so."
    seen: tuple = ()
    tell_apart: tuple = ()


def test_every_arrangement_has_its_three_cases_in_each_season_and_a_week_turns():
    assert {name for name, _, _ in DAY} == set(ARRANGEMENTS) == {layout.name for layout in library()}
    assert all((name, seasons, kind) in DAY for name, seasons, _ in DAY for kind in Kind)
    turning = [each for each in cases(7) if len(each.seasons) > 1]
    assert {each.truth.name for each in turning} == {n for n, a in ARRANGEMENTS.items() if len(a.modes) > 1}
    assert all(sum(spell.days for spell in each.spells) == 7 for each in turning)


def test_labels_are_scrambled_and_those_of_another_layout():
    unknown = [each for each in DAY.values() if each.kind is Kind.UNKNOWN]
    assert len({tuple(each.names[name] for name in each.truth.suction_probes) for each in unknown}) > 6
    for each in DAY.values():
        assert set(each.names) == set(each.truth.suction_probes)
        if each.kind is Kind.MISLABELLED:
            layout = load_layout(LAYOUTS / f"{each.configured}.yaml")
            assert each.configured != each.truth.name
            assert set(each.names.values()) <= set(layout.suction_probes)


# By hand, from the layouts' own paths: what two of them differ in, and whether it shows.
@pytest.mark.parametrize(
    ("truth", "season", "other", "same"),
    [
        # Which half of a coil is which shows in no season that is cooled all through.
        ("two-pipe-twin-late", "cooling", "two-pipe-split-coil", True),
        # Ahead of the oil's inlet or after it: the rise tells.
        ("two-pipe-twin-late", "cooling", "two-pipe-single-early", False),
        # Two compressors that run together are not one.
        ("two-pipe-twin-late", "cooling", "two-pipe-single-common", False),
        # One of two may never have run.
        ("two-pipe-single-common", "cooling", "two-pipe-twin-late", True),
        # The rooms' pipe turns hot in heating; the pipe ahead of the accumulator does not.
        ("two-pipe-single-common", "heating", "two-pipe-twin-late", False),
        # Nobody has said on which side the probe sits, so that both sides fit.
        ("two-pipe-single-early", "cooling", "two-pipe-twin-unproven", True),
        # The suction gas pipe of three is dead in heating and never hot.
        ("three-pipe-twin-late", "heating", "two-pipe-twin-late", False),
        ("three-pipe-twin-late", "cooling", "two-pipe-twin-late", True),
        # Injection that is sent is injection.
        ("two-pipe-twin-both-injection", "cooling", "three-pipe-split-coil", False),
    ],
)
def test_what_telemetry_cannot_tell_apart_follows_from_the_piping(truth, season, other, same):
    case = DAY[truth, (season,), Kind.UNKNOWN]
    assert truth in case.equals
    assert (other in case.equals) is same


def test_a_branch_that_never_stood_looks_like_the_common_line_for_a_day():
    one = DAY["three-pipe-twin-late", ("cooling",), Kind.UNKNOWN]
    assert "two-pipe-twin-branches" in one.equals
    assert "two-pipe-twin-branches" not in replace(one, days=7).equals


@pytest.mark.parametrize(
    ("weights", "place"),
    [
        ((("two-pipe-twin-late", 0.0), ("two-pipe-single-early", 3.0)), "alone on top"),
        ((("two-pipe-twin-late", 0.0), ("two-pipe-split-coil", 0.0)), "among equals"),
        (
            (("two-pipe-twin-late", 0.0), ("two-pipe-single-early", 0.0)),
            "among equals, more than the piping has",
        ),
        ((("two-pipe-single-early", 0.0), ("two-pipe-twin-late", 1.0)), "below another"),
    ],
)
def test_where_the_truth_stands(weights, place):
    found = Found(tuple(Weight(*each) for each in weights))
    assert judged(LATE, found).verdict == place
    against = Weight("two-pipe-twin-late", 0.0, "contradicted")
    assert judged(LATE, replace(found, weighed=(against,))).verdict == "truth CONTRADICTED"


def test_what_a_conclusion_is_worth():
    names = {name: name for name in RIGHT.truth.suction_probes} | {"compressor_inlet": "second_suction"}
    swapped = names | {"suction_pipe": "outdoor_coil_gas", "outdoor_coil_gas": "suction_pipe"}
    undecidable = replace(WRONG, configured="two-pipe-twin-unproven", names=names)
    scrambled = replace(undecidable, names=swapped)
    found = Found((Weight("two-pipe-twin-late", 0.0),))

    def said(case, conclusion):
        return judged(case, replace(found, conclusion=conclusion)).concluded

    assert said(RIGHT, "doubted") == "doubted FALSELY"
    assert said(RIGHT, "supported") == "supported"
    assert said(undecidable, "cannot_tell") == "rightly not doubted: cannot tell"
    assert said(undecidable, "doubted") == "doubted, though the piping shows nothing"
    assert said(scrambled, "doubted") == "doubted rightly"
    assert said(scrambled, "cannot_tell") == "not doubted: cannot tell"
    assert said(scrambled, "supported") == "SUPPORTED, though wrong"


def test_a_case_goes_from_payloads_to_hours_and_into_the_table():
    """The answer here is made up; what it is asked with is not."""
    asked = []

    def judging(known):
        asked.append(known)
        return Found((Weight("two-pipe-twin-late", 0.0),))

    outcome = run_with(LATE, judging)
    assert outcome.broke == ""
    assert outcome.verdict == "alone on top"
    (known,) = asked
    assert known.module.layout.name == "unknown"
    assert len(known.hours) >= 23
    assert {hour.settled_mode for hour in known.hours} >= {"cooling", "off"}
    signals = {name for hour in known.hours for part in hour.parts.values() for name in part.signals}
    assert {"t1", "t2", "t3", "discharge_2", "bypass_valve"} <= signals
    assert not signals & set(LATE.truth.suction_probes)
    assert table([outcome]).row_count == 1
    assert "unknown, the true layout: alone on top 1" in summary([outcome])
    assert record(outcome)["verdict"] == "alone on top"


def test_what_breaks_is_told():
    def judging(known):
        raise RuntimeError("no answer")

    outcome = run_with(replace(LATE, days=1), judging)
    assert isinstance(outcome, Outcome)
    assert "no answer" in outcome.broke and outcome.verdict == "BROKE"
