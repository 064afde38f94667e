"""Lengths of time: one unit for an age, two for a length. Symbols: SI Brochure, table 8, from memory."""

import pytest

from agent.outlets.times import age, iso, length

SECOND = 1_000_000


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (119, "119 s"), (120, "2 min"), (7199, "119 min"), (7200, "2 h"), (86_400, "24 h"),
     (172_799, "47 h"), (172_800, "2 d"), (-3, "0 s")],
)  # fmt: skip
def test_an_age_has_one_unit(seconds, words):
    assert age(seconds * SECOND) == words


@pytest.mark.parametrize(
    ("seconds", "words"),
    [(0, "0 s"), (59, "59 s"), (60, "1 min"), (3599, "59 min"), (3600, "1 h"), (7260, "2 h 1 min"),
     (172_799, "47 h 59 min"), (172_800, "2 d"), (608_400, "7 d 1 h"), (-5, "0 s")],
)  # fmt: skip
def test_a_length_has_at_most_two(seconds, words):
    assert length(seconds * SECOND) == words


def test_programs_get_utc_to_the_second():
    assert iso(1_764_072_000_999_999) == "2025-11-25T12:00:00Z"
