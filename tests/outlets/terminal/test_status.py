"""The status as a terminal shows it, at two widths: plain text, read as a person would."""

import io
from dataclasses import replace

import pytest
from rich.console import Console

from agent.alarms import Life, State
from agent.outlets import Lives, ModuleView, render, stale_alarm
from agent.settings import ModulePath
from tests.outlets.views import (
    ALARM,
    MINUTE_US,
    NOON_US,
    NOT_SETTLED,
    PATH,
    UNDECIDED,
    assessment,
    decided,
    shown,
)

SILENT = ModuleView(ModulePath("hill-house", "two", "m9"), None)


def text(width, *views, now_us=NOON_US + MINUTE_US, notes=()):
    out = io.StringIO()
    Console(width=width, file=out).print(render(views, now_us, notes))
    lines = out.getvalue().splitlines()
    assert all(len(line) <= width for line in lines)
    return out.getvalue()


def words(shown_text):
    """Without the line breaks that a narrow terminal makes."""
    return " ".join(shown_text.split())


@pytest.fixture(params=[80, 120])
def width(request):
    return request.param


def test_a_healthy_module(width):
    found = words(text(width, shown(), notes=["metrics at http://127.0.0.1:9464/metrics"]))
    assert "2025-11-25 12:01:00 UTC" in found and "1 module, no alarm" in found
    assert "metrics at http://127.0.0.1:9464/metrics" in found
    assert "one/m1 cooling assessed 60 s ago, newest reading 60 s old" in found
    assert "return superheat 6.0 K -1.7 +0.7" in found
    assert "suction_pipe" in found
    assert "oil-return rise 3.0 K ±0.8" in found


def test_the_probe_that_is_not_fit_is_called_apparent_with_the_reason(width):
    shown_text = text(width, shown())
    found = words(shown_text)
    assert "apparent superheat 9.0 K ±0.7" in found
    line = next(line for line in shown_text.splitlines() if "apparent" in line)
    assert "compressor_inlet" in line and "mixed" in line
    assert "oil_return (warms)" in found


@pytest.mark.parametrize("status", UNDECIDED)
def test_each_reason_for_no_value_is_said_in_words(width, status):
    odd = UNDECIDED[status]
    shown_text = text(width, shown(assessment(returned=odd, rise=odd)))
    for name in ("return superheat", "oil-return rise"):
        line = next(line for line in shown_text.splitlines() if name in line)
        assert status in line
        assert " K " not in line or odd is NOT_SETTLED
    assert odd.said.text.split()[0] in words(shown_text)
    assert ("now 3.3 K" in words(shown_text)) is (odd is NOT_SETTLED)


def test_zero_superheat_is_a_figure(width):
    found = words(text(width, shown(assessment(returned=decided(0.0, 1.7, 0.7, "suction_pipe")))))
    assert "return superheat 0.0 K -1.7 +0.7" in found


def test_an_alarm_stands_out_with_priority_time_and_evidence_and_comes_first(width):
    calm = shown(path=ModulePath("hill-house", "one", "m0"))
    shown_text = text(width, calm, shown(alarms=[ALARM]))
    found = words(shown_text)
    assert "2 modules, 1 alarm" in found
    assert "ALARM superheat-low" in found and "high" in found
    assert "25 Nov 11:30" in found
    assert "return superheat 0.5 K at suction_pipe, limit 2 K" in found
    assert shown_text.index("one/m1") < shown_text.index("one/m0")


def test_a_module_without_data_is_shown_without_a_figure(width):
    shown_text = text(width, SILENT)
    (line,) = [line for line in shown_text.splitlines() if "two/m9" in line]
    assert "nothing assessed yet" in line
    assert " K" not in shown_text


def test_what_the_instruments_cannot_do_is_noted(width):
    note = "these instruments cannot prove dry suction"
    found = words(text(width, ModuleView(PATH, assessment(), (), NOON_US, (note,))))
    assert note in found


def test_ages_are_told_in_the_unit_that_a_person_would_use():
    for age_us, told in [
        (0, "0 s"),
        (119 * 10**6, "119 s"),
        (59 * MINUTE_US, "59 min"),
        (50 * 3600 * 10**6, "2 d"),
    ]:
        assert f"newest reading {told} old" in words(text(120, shown(), now_us=NOON_US + age_us))
    assert "newest reading 0 s old" in words(text(120, shown(), now_us=NOON_US - MINUTE_US))


def test_figures_stand_with_their_decimals_one_below_the_other():
    far = assessment(returned=decided(-16.0, 1.7, 0.7, "suction_pipe"), rise=decided(3.0))
    lines = text(160, shown(far)).splitlines()
    told = [line for line in lines if line.strip().startswith(("return superheat", "oil-return"))]
    points = {line.index(".") for line in told}
    assert len(told) == 2 and len(points) == 1


def test_an_alarm_says_its_state_and_a_module_that_it_is_in_shadow():
    standing = Life(State(active=True, acknowledged=True), NOON_US, acknowledged_by="A. Fitter")
    lives = Lives({ALARM.name: standing}, NOON_US + 1, NOON_US)
    found = words(text(160, replace(shown(alarms=[ALARM]), lives=lives)))
    assert (
        "superheat-low priority high, acknowledged by A. Fitter, in shadow, since 25 Nov 11:30 UTC:" in found
    )
    assert "note in shadow until 25 Nov 12:00 UTC: its alarms are shown and not sent" in found


def test_a_module_that_was_never_heard_shows_its_alarm():
    alarm = stale_alarm("the gateway has sent nothing for 20 min", NOON_US)
    found = words(text(160, replace(SILENT, alarms=(alarm,))))
    assert (
        "1 alarm" in found and "two/m9 nothing assessed yet ALARM feed-stale priority medium, since" in found
    )
    assert "the gateway has sent nothing for 20 min" in found
