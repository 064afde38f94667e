"""Figures with their uncertainty, ranges and shares: none by rounding alone, and nothing is no zero."""

from zoneinfo import ZoneInfo

import pytest

from agent.outlets.figures import between, difference, in_sentence, least_to_most, share, told, valued
from agent.outlets.shown import Display
from tests.outlets.views import NOT_SETTLED, UNDECIDED, decided

FAHRENHEIT = Display("degF", "psi", ZoneInfo("UTC"))


def test_a_figure_in_a_table():
    assert told(decided(6.0, 1.7, 0.7)) == "6.0 K -1.7 +0.7"
    assert told(decided(6.0, 0.72, 0.7)) == "6.0 K ±0.7"
    assert told(decided(6.0, None, None)) == "6.0 K"
    assert told(decided(5.0, 1.0, 1.0), FAHRENHEIT) == "9.0 degF ±1.8"
    assert told(decided(5.0, 1.0, 1.0), FAHRENHEIT, is_temperature=True) == "41.0 degF ±1.8"


@pytest.mark.parametrize(("words", "quantity"), UNDECIDED.items())
def test_what_is_not_decided_is_a_word(words, quantity):
    assert told(quantity) == words


def test_a_value_that_still_moves_is_told_where_it_is_asked_for():
    assert valued(NOT_SETTLED) == "3.3 K ±0.7"
    assert valued(UNDECIDED["missing"]) == "-"


def test_a_figure_in_a_sentence_is_what_the_site_units_are_put_into():
    assert in_sentence(6.0, 1.7, 0.7) == "6.0 K (-1.7 +0.7)"
    assert in_sentence(6.0, None, 0.7) == "6.0 K"
    assert FAHRENHEIT.words(in_sentence(5.0, 1.0, 0.5)) == "9.0 degF (-1.8 +0.9)"


def test_a_figure_on_the_page():
    assert between(decided(6.0, 1.7, 0.7)) == "between 4.3 and 6.7 K"
    assert between(decided(0.0, 5.0, 5.0), FAHRENHEIT, is_temperature=True) == "between 23.0 and 41.0 degF"
    assert between(decided(6.0, None, None)) == "uncertainty not known"
    assert between(UNDECIDED["missing"]) == ""


def test_no_minus_stands_before_a_zero():
    assert difference(-0.04) == "0.0 K" and least_to_most(-0.04, 0.0) == "0.0"


@pytest.mark.parametrize(
    ("part", "words"),
    [(0, "0 %"), (1, "under 1 %"), (500_000, "50 %"), (999_999, "over 99 %"), (1_000_000, "100 %")],
)
def test_none_and_all_are_told_only_where_it_is_so(part, words):
    assert share(part, 1_000_000) == words


def test_a_share_of_nothing_is_no_share():
    assert share(0, 0) == "-"


def test_ranges():
    assert least_to_most(1.04, 2.06) == "1.0 to 2.1"
    assert least_to_most(None, None) == "–"
