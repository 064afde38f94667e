"""Figures and times as a site reads them.

Exact by definition: 1 degF = 5/9 K, 0 degC = 32 degF, 1 bar = 100 kPa; 1 psi = 6.894757 kPa (NIST SP 811,
appendix B.8).
"""

from zoneinfo import ZoneInfo

import pytest

from agent.outlets.shown import SI, Display
from agent.settings.model import DisplaySettings

IMPERIAL = Display("degF", "psi", ZoneInfo("America/Denver"))
NOON_US = 1_795_867_200_000_000  # 2026-11-28 12:00 UTC


def test_a_difference_converts_without_the_zero():
    assert IMPERIAL.difference(10.0) == pytest.approx(18.0)
    assert IMPERIAL.temperature(10.0) == pytest.approx(50.0)
    assert IMPERIAL.pressure(689_475.7) == pytest.approx(100.0, abs=1e-4)


@pytest.mark.parametrize(
    ("ours", "theirs"),
    [
        ("return superheat is 10.0 K", "return superheat is 18.0 degF"),
        ("10.0 K (-1.7 +0.7) at suction_pipe", "18.0 degF (-3.1 +1.3) at suction_pipe"),
        ("reads 5 to 10 K above", "reads 9 to 18 degF above"),
        ("discharge 100 degC, limit 105 degC", "discharge 212 degF, limit 221 degF"),
        ("at -40.0 degC ±0.5", "at -40.0 degF ±0.9"),
        ("by +5.0 K, U 1.0 K", "by +9.0 degF, U 1.8 degF"),
        ("at 944 kPa absolute", "at 137 psi absolute"),
        ("probe_1 K of it, 3 Kings, R-410A 12 months", "probe_1 K of it, 3 Kings, R-410A 12 months"),
    ],
)
def test_sentences_are_told_in_the_sites_units(ours, theirs):
    assert IMPERIAL.words(ours) == theirs
    assert SI.words(ours) == ours


def test_a_pressure_alone_can_be_told_otherwise():
    assert Display(pressure_unit="bar").words("at 944 kPa, 3.0 K") == "at 9.44 bar, 3.0 K"


def test_times_are_of_the_sites_clock_and_say_its_offset():
    assert Display(zone=ZoneInfo("Europe/Berlin")).when(NOON_US) == "2026-11-28 13:00 +01:00"
    assert IMPERIAL.when(NOON_US) == "2026-11-28 05:00 -07:00"
    assert SI.when(NOON_US) == "2026-11-28 12:00 UTC"


def test_the_hour_that_comes_twice_is_told_apart():
    berlin = Display(zone=ZoneInfo("Europe/Berlin"))
    first_us = 1_792_886_400_000_000  # 2026-10-25 00:00 UTC; clocks go back at 01:00 UTC
    assert berlin.when(first_us) == "2026-10-25 02:00 +02:00"
    assert berlin.when(first_us + 3_600_000_000) == "2026-10-25 02:00 +01:00"


def test_as_a_configuration_has_it():
    settings = DisplaySettings(temperature="degF", pressure="bar", zone="America/Denver")
    assert Display.of(settings) == Display("degF", "bar", ZoneInfo("America/Denver"))
    assert Display.of(DisplaySettings()) == SI
