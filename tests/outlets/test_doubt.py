"""Figures that are decided and still doubtful, as a terminal, the list of alarms and a program see them."""

import json
from dataclasses import replace

import pytest

from agent.alarms import Facts, Life, Priority, State
from agent.outlets import Lives, StandingAlarm, assessment_message, render, render_alarms
from agent.outlets.doubt import BELOW_ZERO, OR_LIQUID
from agent.piping import Layout
from tests.outlets.terminal.test_alarm_list import text
from tests.outlets.views import ALARM, NOON_US, assessment, decided, shown
from tests.piping.layouts import shipped

SEEN = "accumulator_outlet reads like a probe after the oil return"
DOUBT = StandingAlarm(
    "layout-doubt",
    Priority.MEDIUM,
    NOON_US,
    Facts(f"{SEEN}; either it reads wrong, or it sits after oil_return, as on two-pipe-twin-late"),
)
IN_DOUBT = f"IN DOUBT (layout-doubt): {SEEN}"


def quantities(view):
    return json.loads(assessment_message("dewline", view).payload)["quantities"]


def test_what_rests_on_a_disputed_probe_says_so_first():
    view = shown(alarms=[DOUBT])
    found = text(render([view], NOON_US))
    assert f"return superheat 6.0 K -1.7 +0.7 {IN_DOUBT}; suction_pipe: all" in found
    assert f"oil-return rise 3.0 K ±0.8 {IN_DOUBT}; compressor_inlet" in found
    body = quantities(view)
    assert body["return_superheat"]["in_doubt"] == body["oil_return_rise"]["in_doubt"] == IN_DOUBT
    assert body["saturated_suction"]["in_doubt"] is None  # of the transducer alone


def test_an_alarm_on_its_figure_says_so_too():
    standing = Life(State(active=True, acknowledged=False), NOON_US, NOON_US)
    lives = Lives({ALARM.name: standing, DOUBT.name: standing}, None, NOON_US)
    view = replace(shown(alarms=[ALARM, DOUBT]), lives=lives)
    for found in (text(render_alarms([view], NOON_US)), text(render([view], NOON_US))):
        assert "IN DOUBT (layout-doubt): return superheat 0.5 K at suction_pipe, limit 2 K" in found


def test_without_the_alarm_nothing_is_in_doubt():
    view = shown(alarms=[ALARM])
    assert "DOUBT" not in text(render([view], NOON_US))
    assert {body["in_doubt"] for body in quantities(view).values()} == {None}


@pytest.mark.parametrize(
    ("value", "ahead", "said"),
    [
        (-2.0, "accumulator_outlet", BELOW_ZERO),
        (-2.0, "suction_pipe", OR_LIQUID),
        (-0.5, "accumulator_outlet", None),  # within its uncertainty
    ],
)
def test_a_rise_below_zero_where_only_what_warms_joins(value, ahead, said):
    """Oil from the separator is about as hot as discharge gas: common practice, no source."""
    layout = Layout.from_mapping(shipped("three-pipe-split-coil"))
    rise = decided(value, 0.8, 0.8, "compressor_inlet", ahead)
    view = replace(shown(assessment(rise=rise)), layout=layout)
    found = text(render([view], NOON_US))
    assert f"{said}; compressor_inlet - {ahead}" in found if said else BELOW_ZERO not in found
    assert quantities(view)["oil_return_rise"]["in_doubt"] == said


def test_a_rise_below_zero_where_liquid_may_join_is_no_wonder():
    layout = Layout.from_mapping(shipped("three-pipe-twin-late"))  # with a bleed from the accumulator
    rise = decided(-2.0, 0.8, 0.8, "compressor_inlet", "suction_pipe")
    view = replace(shown(assessment(rise=rise)), layout=layout)
    assert BELOW_ZERO not in text(render([view], NOON_US))
