"""The last hours in bins: what is there, what is not and why not, and that a gap stays one."""

import re
from zoneinfo import ZoneInfo

import pytest

from agent.assess import Cause, Quantity, Said, Status
from agent.outlets.shown import Display
from agent.outlets.web.drawn import FLOOR, LEAST_K, TOP, TREND_WIDTH, band, drawn, verdict
from agent.outlets.web.trend import (
    Bin,
    Kind,
    Limits,
    Point,
    Run,
    Trend,
    binned,
    passing,
    point,
    runs,
    trend_words,
)
from tests.outlets.views import MISSING, NOT_DECIDABLE, NOT_MEASURABLE, NOT_SETTLED, decided

BIN_US = 240_000_000
LIMITS = Limits(2.0, 14.0)


def trend(points, number=10):
    return Trend(0, BIN_US, number, binned(points, 0, BIN_US))


def at(number, kind=Kind.DECIDED, value=6.0):
    return Point(number * BIN_US + 1, kind, value if kind in (Kind.DECIDED, Kind.UNSETTLED) else None)


def places(path):
    """The corners of a path, as (x, y)."""
    numbers = [float(each) for each in re.findall(r"(?<!h)(?<![\d.])\d+\.?\d*", path.replace("h.1", ""))]
    return list(zip(numbers[::2], numbers[1::2], strict=True))


@pytest.mark.parametrize(
    ("mode", "quantity", "kind"),
    [
        ("cooling", decided(6.0), Kind.DECIDED),
        ("cooling", NOT_SETTLED, Kind.UNSETTLED),
        ("cooling", NOT_SETTLED._replace(value=None), Kind.UNDECIDED),
        ("defrost", NOT_DECIDABLE, Kind.PASSING),
        ("oil_recovery", NOT_SETTLED, Kind.PASSING),
        ("starting", NOT_DECIDABLE, Kind.PASSING),
        ("defrost", MISSING, Kind.MISSING),  # lost, though nothing would be judged
        ("unknown", NOT_DECIDABLE, Kind.UNDECIDED),
        ("cooling", NOT_MEASURABLE, Kind.UNDECIDED),
        ("cooling", MISSING, Kind.MISSING),
        ("off", NOT_DECIDABLE, Kind.OFF),
        ("off", MISSING, Kind.OFF),
    ],
)
def test_what_a_time_has_to_say(mode, quantity, kind):
    value = quantity.value if kind in (Kind.DECIDED, Kind.UNSETTLED) else None
    assert point(7, mode, quantity) == Point(7, kind, value)


def test_what_is_decided_without_a_value_is_no_zero():
    nothing = Quantity(Said(Status.DECIDED, Cause.NONE, "", None, ()), None, None, None)
    assert point(7, "cooling", nothing) == Point(7, Kind.UNDECIDED, None)


def test_a_bin_keeps_the_lowest_and_the_highest_and_counts_what_it_holds():
    several = [at(0, value=5.0), at(0, value=7.0), at(0, Kind.UNSETTLED, 1.0), at(0, Kind.UNDECIDED)]
    found = binned(several, 0, BIN_US)
    assert found == {0: Bin((2, 1, 0, 1, 0, 0), 5.0, 7.0, 1.0)} and found[0].kind is Kind.DECIDED


def test_without_a_value_a_bin_is_what_most_of_it_is():
    found = binned([at(0, Kind.MISSING), at(0, Kind.MISSING), at(0, Kind.OFF)], 0, BIN_US)
    assert found[0] == Bin((0, 0, 0, 0, 2, 1), None, None) and found[0].kind is Kind.MISSING


@pytest.mark.parametrize(
    ("least", "most", "drawn_as"), [(3.0, 13.0, 3.0), (3.0, 15.0, 15.0), (1.0, 15.0, 1.0), (None, None, None)]
)
def test_of_a_bin_the_lowest_is_drawn_unless_only_the_highest_is_beyond_its_limit(least, most, drawn_as):
    assert Bin((1, 0, 0, 0, 0, 0), least, most).extreme(LIMITS) == drawn_as


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
    assert (
        shown.undecided.startswith("M96.0 ")
        and shown.moving == shown.passing == ""
        and shown.missing.startswith("M120.0 ")
    )
    assert shown.off.startswith("M144.0 ") and "z" not in shown.off


def test_what_lies_beyond_the_drawing_is_drawn_at_its_edge():
    shown = drawn(trend([at(0, value=-300.0), at(1, value=400.0)]), LIMITS)
    (_, low), (right, high) = places(shown.course)
    assert (low, high) == (FLOOR, TOP) and right <= TREND_WIDTH


def test_what_is_beyond_a_limit_is_drawn_once_more_in_stretches():
    values = [6.0, 1.0, 0.5, 6.0, 6.0, 15.0, 6.0]
    shown = drawn(trend([at(number, value=value) for number, value in enumerate(values)]), LIMITS)
    course = places(shown.course)
    assert len(course) == 7 and shown.beyond.count("M") == 2
    assert places(shown.beyond) == [course[1], course[2], course[5]]
    assert drawn(trend([at(0), at(1)]), LIMITS).beyond == ""


def test_a_fall_that_has_not_settled_joins_what_is_known_before_and_after():
    points = [at(0), at(1, Kind.UNSETTLED, 3.0), at(2, Kind.UNSETTLED, 1.0), at(3, value=0.1), at(4)]
    shown = drawn(trend(points), LIMITS)
    known, moving = places(shown.course), places(shown.moving)
    assert moving[0] == known[0] and moving[-1] == known[1] and len(moving) == 4
    assert moving[1][1] < moving[2][1]  # downwards


def test_zero_is_above_the_floor_so_that_what_is_saturated_is_no_part_of_the_frame():
    shown = drawn(trend([at(0, value=0.0), at(1)]), LIMITS)
    assert shown.zero < FLOOR - 2 and places(shown.course)[0][1] == shown.zero


def test_a_defrost_shorter_than_a_bin_has_its_sign():
    points = [at(0), at(1), *[at(2, Kind.UNSETTLED)] * 5, at(2, Kind.PASSING), at(3)]
    assert list(passing(trend(points))) == [Run(Kind.PASSING, 2, 3)]
    shown = drawn(trend(points), LIMITS)
    assert shown.passing.startswith("M48.0 ") and shown.moving
    assert list(passing(trend([at(0)]))) == []


def test_the_clock_of_the_site_stands_at_both_ends_with_a_line_at_each_full_hour():
    from_us = 1_764_070_200_000_000  # 2025-11-25 11:30 UTC
    six_hours = Trend(from_us, BIN_US, 90, {})
    shown = drawn(six_hours, LIMITS)
    assert (shown.from_time, shown.to_time) == ("11:30", "17:26")  # the last of its bins begins then
    assert [x for x, _ in places(re.sub(r"v\d+", "", shown.hours))] == [
        20.0,
        60.0,
        100.0,
        140.0,
        180.0,
        220.0,
    ]
    india = drawn(six_hours, LIMITS, Display(zone=ZoneInfo("Asia/Kolkata")))  # +05:30
    assert india.from_time == "17:00" and india.hours.count("M") == 5


def test_since_when_an_alarm_stands_is_marked_and_at_the_edge_where_it_was_before():
    whole = trend([at(0), at(9)])
    assert drawn(whole, LIMITS).since == ""
    assert drawn(whole, LIMITS, since_us=5 * BIN_US).since.startswith("M120.0 ")
    assert drawn(whole, LIMITS, since_us=-1).since.startswith("M1 4.5L8")
    assert "an alarm stands since 00:20" in drawn(whole, LIMITS, since_us=5 * BIN_US).words
    assert "an alarm stands since before" in drawn(whole, LIMITS, since_us=-1).words


def test_in_words():
    points = [
        *[at(0)] * 6,
        *[at(1, value=8.0)] * 6,
        *[at(2, Kind.UNDECIDED)] * 5,
        at(3, Kind.MISSING),
        *[at(5, Kind.OFF)] * 2,
    ]
    assert trend_words(trend(points, 15), LIMITS) == (
        "return superheat from 00:00 to 00:56: known 60 %, between 6.0 and 8.0 K; not decided 25 %; "
        "missing 5 %; off 10 %; nothing assessed for 40 min of it"
    )
    assert "between 10.8 and 14.4 degF" in trend_words(trend(points, 15), LIMITS, Display("degF"))
    assert trend_words(trend([], 15), LIMITS) == "from 00:00 to 00:56: nothing was assessed"


def test_in_words_for_how_long_it_was_beyond_its_limits():
    points = [at(0, value=1.0), at(1, value=0.0), at(2), at(3, value=15.0), at(4, Kind.UNSETTLED, 1.0)]
    assert (
        "known 80 %, between 0.0 and 15.0 K, under the low limit in 8 min of it, "
        "above the high limit in 4 min of it; not settled 20 %"
    ) in trend_words(trend(points), LIMITS)
    assert "limit" not in trend_words(trend(points), Limits(None, None))


def test_a_little_is_not_told_as_nothing_nor_all_but_a_little_as_all():
    points = [*[at(0)] * 999, at(1, Kind.MISSING)]
    found = trend_words(trend(points, 2), LIMITS)
    assert "known over 99 %" in found and "missing under 1 %" in found


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
