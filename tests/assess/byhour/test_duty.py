"""What ran, how often it started, how often oil was recovered: sums of whole hours."""

import pytest

from agent.assess.byhour.duty import duty
from agent.assess.byhour.hours import HOUR_US, Hour, Part

STEP_US = 30_000_000


def hour(number, parts, entered=None, running=None, known=None, starts=None):
    kept = {mode: Part(count, 0) for mode, count in parts.items()}
    return Hour(number * HOUR_US, STEP_US, kept, entered or {}, running or {}, known or {}, starts or {})


def test_it_sums_up_what_ran_and_started():
    found = duty(
        [
            hour(0, {"cooling": 120}, {}, {"1": 120, "2": 30}, {"1": 120, "2": 120}, {"1": 0, "2": 2}),
            hour(1, {"cooling": 60, "off": 60}, {}, {"1": 60, "2": 0}, {"1": 120, "2": 60}, {"1": 1, "2": 0}),
        ]
    )
    assert found.hours == 2
    assert found.compressors["1"].running_share == pytest.approx(180 / 240)
    assert found.compressors["2"].running_share == pytest.approx(30 / 180)  # of what is known
    assert (found.compressors["2"].starts, found.compressors["2"].most_starts_per_hour) == (2, 2)
    assert found.seconds == {"cooling": 5400.0, "off": 1800.0}


def test_oil_recoveries_are_counted_and_timed():
    found = duty(
        [
            hour(0, {"cooling": 112, "oil_recovery": 8}, {"oil_recovery": 1, "cooling": 1}),
            hour(1, {"cooling": 104, "oil_recovery": 16}, {"oil_recovery": 2, "cooling": 2}),
        ]
    )
    assert found.entered["oil_recovery"] == 3
    assert found.seconds["oil_recovery"] == 720.0


def test_a_compressor_of_which_nothing_is_told_is_not_one_that_stood():
    found = duty([hour(0, {"cooling": 120}, {}, {"1": 0}, {"1": 0}, {"1": 0})])
    assert found.compressors["1"].running_share is None
    assert found.compressors["1"].starts is None


def test_nothing_is_no_duty():
    assert duty([]).hours == 0
