"""The last hours in bins: what is there, what is not and why not, and that a gap stays one."""

import pytest

from agent.assess import Cause, Quantity, Said, Status
from agent.outlets.shown import Display
from agent.outlets.web.drawn import LEAST_K, TREND_WIDTH, Limits, band, drawn, verdict
from agent.outlets.web.trend import Bin, Kind, Point, Run, Trend, binned, point, runs, trend_words
from tests.outlets.views import MISSING, NOT_DECIDABLE, NOT_MEASURABLE, NOT_SETTLED, decided

BIN_US = 240_000_000
LIMITS = Limits(2.0, 14.0)


def trend(points, number=10):
    return Trend(0, BIN_US, number, binned(points, 0, BIN_US))


def at(number, kind=Kind.DECIDED, value=6.0):
    return Point(number * BIN_US + 1, kind, value if kind is Kind.DECIDED else None)


@pytest.mark.parametrize(
    ("mode", "quantity", "kind"),
    [
        ("cooling", decided(6.0), Kind.DECIDED),
        ("cooling", NOT_SETTLED, Kind.UNDECIDED),  # though it has a value
        ("defrost", NOT_DECIDABLE, Kind.UNDECIDED),
        ("cooling", NOT_MEASURABLE, Kind.UNDECIDED),
        ("cooling", MISSING, Kind.MISSING),
        ("off", NOT_DECIDABLE, Kind.OFF),
        ("off", MISSING, Kind.OFF),
    ],
)
def test_what_a_time_has_to_say(mode, quantity, kind):
    assert point(7, mode, quantity) == Point(7, kind, 6.0 if kind is Kind.DECIDED else None)


def test_what_is_decided_without_a_value_is_no_zero():
    nothing = Quantity(Said(Status.DECIDED, Cause.NONE, "", None, ()), None, None, None)
    assert point(7, "cooling", nothing) == Point(7, Kind.UNDECIDED, None)


def test_a_bin_keeps_the_lowest_and_the_highest_and_counts_what_it_holds():
    found = binned([at(0, value=5.0), at(0, value=7.0), at(0, Kind.UNDECIDED)], 0, BIN_US)
    assert found == {0: Bin((2, 1, 0, 0), 5.0, 7.0)} and found[0].kind is Kind.DECIDED


def test_without_a_value_a_bin_is_what_most_of_it_is():
    found = binned([at(0, Kind.MISSING), at(0, Kind.MISSING), at(0, Kind.OFF)], 0, BIN_US)
    assert found[0] == Bin((0, 0, 2, 1), None, None) and found[0].kind is Kind.MISSING


def test_runs_end_where_the_kind_changes_and_where_nothing_was_assessed():
    kinds = {0: Kind.DECIDED, 1: Kind.DECIDED, 3: Kind.DECIDED, 4: Kind.OFF, 9: Kind.MISSING}
    assert list(runs(trend([at(number, kind) for number, kind in kinds.items()]))) == [
        Run(Kind.DECIDED, 0, 2),
        Run(Kind.DECIDED, 3, 4),
        Run(Kind.OFF, 4, 5),
        Run(Kind.MISSING, 9, 10),
    ]


def test_the_line_has_a_gap_where_there_is_no_value():
    points = [at(0), at(1), at(3), at(4, Kind.UNDECIDED), at(5, Kind.MISSING), at(6, Kind.OFF), at(8), at(9)]
    shown = drawn(trend(points), LIMITS)
    assert shown.course.count("M") == 3 and shown.course.endswith("228.0 " + shown.course.rsplit(" ", 1)[1])
    assert "h.1" in shown.course  # one bin alone is a dot and no line of no length
    assert shown.undecided.startswith("M96.0 ") and shown.missing.startswith("M120.0 ")
    assert shown.off.startswith("M144.0 ") and "z" not in shown.off


def test_what_lies_beyond_the_drawing_is_drawn_at_its_edge():
    shown = drawn(trend([at(0, value=-300.0), at(1, value=400.0)]), LIMITS)
    numbers = [float(each) for each in shown.course.removeprefix("M").split()]
    assert numbers[1] == 34.0 and numbers[3] == 2.0 and max(numbers[::2]) <= TREND_WIDTH


def test_in_words():
    points = [
        *[at(0)] * 6,
        *[at(1, value=8.0)] * 6,
        *[at(2, Kind.UNDECIDED)] * 5,
        at(3, Kind.MISSING),
        *[at(5, Kind.OFF)] * 2,
    ]
    assert trend_words(trend(points, 15)) == (
        "return superheat over the last 1 h: decided 60 %, between 6.0 and 8.0 K; undecided 25 %; "
        "missing 5 %; off 10 %; nothing assessed for 40 min of it"
    )
    assert "between 10.8 and 14.4 degF" in trend_words(trend(points, 15), Display("degF"))
    assert trend_words(trend([], 15)) == "the last 1 h: nothing was assessed"


def test_a_little_is_not_told_as_nothing_nor_all_but_a_little_as_all():
    points = [*[at(0)] * 999, at(1, Kind.MISSING)]
    assert "decided 99 %" in trend_words(trend(points, 2)) and "missing 1 %" in trend_words(trend(points, 2))


@pytest.mark.parametrize(
    ("value", "below", "above", "said"),
    [
        (6.0, 1.7, 0.7, "between the limits"),
        (3.0, 1.7, 0.7, "between the limits, though not with all its uncertainty"),
        (13.5, 1.7, 0.7, "between the limits, though not with all its uncertainty"),
        (1.8, 1.7, 0.7, "under the low limit"),
        (1.8, 1.8, 0.7, "under the low limit, and liquid cannot be excluded"),
        (0.1, 1.7, 0.7, "with all its uncertainty under the low limit, and liquid cannot be excluded"),
        (15.0, 1.7, 0.7, "above the high limit"),
        (20.0, 1.7, 0.7, "with all its uncertainty above the high limit"),
    ],
)
def test_a_figure_against_its_limits_in_words(value, below, above, said):
    assert verdict(value, below, above, LIMITS) == said


def test_the_drawing_of_a_figure_has_it_between_its_limits_where_it_is():
    shown = band(6.0, 1.7, 0.7, LIMITS)
    assert shown.zero_x < shown.from_x < shown.least_x < shown.x < shown.most_x < shown.to_x
    assert shown.words == "6.0 K, with its uncertainty 4.3 to 6.7 K; limits 2 to 14 K; between the limits"
    assert [mark.label for mark in shown.marks] == ["0", "2", "14"]
    assert [mark.label for mark in band(6.0, 1.7, 0.7, LIMITS, Display("degF")).marks] == ["0", "3.6", "25.2"]


def test_a_figure_far_off_stays_within_the_drawing():
    for value in (LEAST_K - 100, 1e6):
        shown = band(value, 1.0, 1.0, LIMITS)
        assert 8 <= shown.least_x <= shown.x <= shown.most_x <= 152


def test_without_limits_there_is_no_verdict_on_them():
    shown = band(6.0, 1.7, 0.7, Limits(None, None))
    assert "limit" not in shown.words and [mark.label for mark in shown.marks] == ["0"]
