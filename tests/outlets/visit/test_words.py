"""Lengths of time, shares and ranges in words: none by rounding alone, and nothing is no zero."""

import pytest

from agent.outlets.visit.words import age, least_to_most, share

SECOND = 1_000_000


@pytest.mark.parametrize(
    ("seconds", "words"),
    [
        (0, "0 s"),
        (59, "59 s"),
        (60, "1 min"),
        (3599, "59 min"),
        (3600, "1 h"),
        (7260, "2 h 1 min"),
        (172_799, "47 h 59 min"),
        (172_800, "2 d"),
        (608_400, "7 d 1 h"),
        (-5, "0 s"),
    ],
)
def test_lengths_of_time(seconds, words):
    assert age(seconds * SECOND) == words


@pytest.mark.parametrize(
    ("part", "words"),
    [(0, "0 %"), (1, "under 1 %"), (500, "50 %"), (999_999, "over 99 %"), (1_000_000, "100 %")],
)
def test_none_and_all_are_told_only_where_it_is_so(part, words):
    assert share(part, 1000 if part == 500 else 1_000_000) == words


def test_a_share_of_nothing_is_no_share():
    assert share(0, 0) == "-"


def test_ranges():
    assert least_to_most(1.04, 2.06) == "1.0 to 2.1"
    assert least_to_most(-0.04, 0.0) == "0.0"
    assert least_to_most(None, None) == "–"
