"""The list of alarms as a person reads it. State names of ISA-18.2 and IEC 62682 (read second-hand)."""

from dataclasses import replace

import pytest
from rich.console import Console

from agent.alarms import CATALOGUE, Life, Load, Priority, State
from agent.outlets import (
    Happened,
    Lives,
    alarms_mapping,
    is_unacknowledged,
    render,
    render_alarms,
    render_happened,
    render_rates,
)
from tests.outlets.views import ALARM, MINUTE_US, NOON_US, PATH, shown

STANDS = State(active=True, acknowledged=False)
SINCE_US = NOON_US - 30 * MINUTE_US


def text(shown_as):
    console = Console(width=150, force_terminal=False)
    with console.capture() as captured:
        console.print(shown_as)
    return " ".join(captured.get().split())


def view(lives, alarms=(ALARM,), shadow_ends_us=None):
    return replace(shown(alarms=alarms), lives=Lives(lives, shadow_ends_us, NOON_US))


def life(state=STANDS, **more):
    return Life(state, SINCE_US, SINCE_US, **more)


@pytest.mark.parametrize(
    ("of", "said"),
    [
        (life(), "unacknowledged, since 25 Nov 11:30 UTC: return superheat 0.5 K"),
        (
            life(
                STANDS._replace(acknowledged=True),
                acknowledged_by="A. Fitter",
                note="on my way",
                acknowledged_us=NOON_US,
            ),
            "acknowledged by A. Fitter at 25 Nov 12:00 UTC (on my way), since 25 Nov 11:30 UTC: ",
        ),
        (life(STANDS._replace(acknowledged=True), acknowledged_by="A"), "acknowledged by A, since"),
        (
            life(STANDS._replace(shelved_until_us=NOON_US + 1), shelved_by="B", shelved_why="part ordered"),
            "shelved until 25 Nov 12:00 UTC by B (part ordered), since 25 Nov 11:30 UTC: ",
        ),
        (
            life(STANDS._replace(suppressed=True), held_by="feed-stale"),
            "suppressed by design, held back by feed-stale, since 25 Nov 11:30 UTC: ",
        ),
        (
            life(STANDS._replace(out_of_service=True), removed_by="C", removed_why="no gauge"),
            "out of service by C (no gauge), since 25 Nov 11:30 UTC: ",
        ),
    ],
)
def test_what_stands_is_said_with_its_state_and_who_brought_it_about(of, said):
    found = text(render_alarms([view({ALARM.name: of})], NOON_US))
    assert f"one/m1 superheat-low high {said}" in found
    assert f"1 alarm, {int(said.startswith('una'))} unacknowledged" in found


@pytest.mark.parametrize(("condition", "weaker"), [("beyond_doubt", False), ("beyond", True)])
def test_a_high_priority_whose_evidence_is_weaker_now_says_so(condition, weaker):
    of = view({ALARM.name: life()})
    of = replace(of, assessment=replace(of.assessment, conditions={ALARM.name: condition}))
    said = text(render_alarms([of], NOON_US))
    assert ("without doubt before, now weaker: return superheat 0.5 K" in said) == weaker
    assert ("without doubt before, now weaker: " in text(render([of], NOON_US))) == weaker


@pytest.mark.parametrize(
    ("state", "said"),
    [
        (State(acknowledged=False), "returned to normal unacknowledged"),
        (State(acknowledged=False, latched=True), "latched unacknowledged"),
    ],
)
def test_what_is_over_waits_to_be_acknowledged(state, said):
    views = [view({ALARM.name: life(state)}, alarms=())]
    found = text(render_alarms(views, NOON_US))
    assert f"superheat-low medium {said}, stood from 25 Nov 11:30 UTC, over now" in found
    assert is_unacknowledged(views)


def test_a_module_out_of_service_is_one_line_and_what_stands_its_own():
    out = State(out_of_service=True)
    lives = {name: Life(out, removed_by="C", removed_why="coil out") for name in CATALOGUE}
    lives[ALARM.name] = life(STANDS._replace(out_of_service=True), removed_by="C", removed_why="coil out")
    found = text(render_alarms([view(lives)], NOON_US))
    assert "superheat-low high out of service by C (coil out), since 25 Nov 11:30 UTC" in found
    assert found.startswith("25 Nov 12:00 UTC 1 alarm, 0 unacknowledged, 1 module out of service ")
    assert found.endswith("all other alarms out of service by C (coil out), none of them stands")
    assert not is_unacknowledged([view(lives)])


def test_two_alarms_out_of_service_are_named_and_the_module_is_not_called_out():
    out = Life(State(out_of_service=True), removed_by="C", removed_why="no gauge")
    found = text(render_alarms([view({"feed-stale": out, "watch-blind": out}, alarms=())], NOON_US))
    said = "2 alarms out of service by C (no gauge), none of them stands: feed-stale, watch-blind"
    assert said in found and "no alarm" in found and "1 module" not in found


def test_a_shelved_alarm_that_does_not_stand_has_its_priority():
    shelved = Life(State(shelved_until_us=NOON_US + 1), shelved_by="B", shelved_why="x")
    found = text(render_alarms([view({ALARM.name: shelved}, alarms=())], NOON_US))
    assert "superheat-low medium shelved until 25 Nov 12:00 UTC by B (x), does not stand" in found


def test_the_first_response_is_told_where_one_module_is_asked():
    said = f"First response: {CATALOGUE[ALARM.name].first_response}"
    of = [view({ALARM.name: life()})]
    advised = text(render_alarms(of, NOON_US, advice=True))
    assert said in advised and advised.endswith("An aid, no permission to work.")
    assert said not in text(render_alarms(of, NOON_US))


def test_nothing_to_list():
    views = [view({ALARM.name: Life()}, alarms=())]
    assert text(render_alarms(views, NOON_US)) == "25 Nov 12:00 UTC no alarm"
    assert alarms_mapping(views) == {"alarms": []} and not is_unacknowledged(views)


def test_while_a_day_is_caught_up_the_list_and_the_status_say_the_same():
    now_us = NOON_US + 12 * 60 * MINUTE_US
    found, shown_too = (text(of([view({})], now_us)) for of in (render_alarms, render))
    said = "nothing assessed up to now yet: the newest assessment is 12 h old"
    assert f"no alarm known {said}" in found and said in shown_too
    assert "superheat-low high stood when last assessed, not raised yet, since 25 Nov 11:30 UTC" in found


def test_that_no_agent_runs_is_said_first():
    for of in (render_alarms, render):
        said = text(of([view({})], NOON_US + 92_000_000, runs=False))
        assert "no agent runs on this store; last assessed 92 s ago" in said.partition("one/m1")[0]
        assert "no agent runs" not in text(of([view({})], NOON_US))


def test_shadow_is_said_of_the_module_and_of_the_alarm():
    found = text(render_alarms([view({ALARM.name: life()}, shadow_ends_us=NOON_US + 1)], NOON_US))
    assert "one/m1 in shadow until 25 Nov 12:00 UTC: its alarms are shown and not sent" in found
    assert "unacknowledged, in shadow, since" in found
    over = view({ALARM.name: life()}, shadow_ends_us=NOON_US)
    assert "shadow" not in text(render_alarms([over], NOON_US))


def test_what_happened_and_when_it_was_known():
    late = Happened(PATH, "superheat-low", SINCE_US, NOON_US, "found_late", "return superheat 0.5 K", "")
    done = Happened(PATH, "superheat-low", NOON_US, NOON_US, "removed", "coil out", "C")
    found = text(render_happened([late, done]))
    assert (
        "25 Nov 12:00 UTC one/m1 superheat-low found late, of 25 Nov 11:30 UTC return superheat 0.5 K"
        in found
    )
    assert "12:00 UTC one/m1 superheat-low out of service C: coil out" in found
    every = [done._replace(alarm=name) for name in CATALOGUE]
    assert text(render_happened(every)).endswith("12:00 UTC one/m1 all alarms out of service C: coil out")
    shelved = done._replace(what="shelved", until_us=NOON_US + 60 * MINUTE_US)
    assert "superheat-low shelved until 25 Nov 13:00 UTC C: coil out" in text(render_happened([shelved]))
    assert text(render_happened([])) == "nothing happened to any alarm in that time"


@pytest.mark.parametrize(
    ("per_hour", "said"),
    [(6, "acceptable"), (6.1, "more than acceptable"), (12, "more than acceptable"), (12.1, "too many")],
)
def test_the_rates_against_the_published_figures(per_hour, said):
    """About 6 an hour are acceptable and 12 the most: ISA-18.2 and IEC 62682, read second-hand."""
    by_priority = {Priority.LOW: 8, Priority.MEDIUM: 1, Priority.HIGH: 1}
    load = Load(10, per_hour, by_priority, 11, NOON_US, ("superheat-low at one/m1", 7))
    found = text(render_rates({"crew": load}, 3_600_000_000))
    assert f"crew: 10 alarms, {per_hour:.2g} an hour ({said}); low 80%, medium 10%, high 10%; " in found
    assert (
        "worst 10 minutes 11 (a flood), from 25 Nov 12:00 UTC; most often superheat-low at one/m1, 7 times"
        in found
    )
    assert "(ISA-18.2, IEC 62682; read second-hand)" in found


def test_a_withdrawn_alarm_says_why_and_waits_for_nobody():
    gone = life(State(), withdrawn="layout changed: pipes followed (A. Fitter)")
    views = [view({ALARM.name: gone}, alarms=())]
    found = text(render_alarms(views, NOON_US))
    assert "no alarm, 1 withdrawn of late" in found
    assert (
        "superheat-low medium withdrawn: layout changed: pipes followed (A. Fitter), "
        "was taken to stand from 25 Nov 11:30 UTC" in found
    )
    assert "unacknowledged" not in found and not is_unacknowledged(views)
    (listed,) = alarms_mapping(views)["alarms"]
    assert listed["state"] == "normal" and listed["withdrawn"] == gone.withdrawn
    old = gone._replace(changed_us=NOON_US - 8 * 86_400 * 1_000_000)
    assert "withdrawn" not in text(render_alarms([view({ALARM.name: old}, alarms=())], NOON_US))


@pytest.mark.parametrize(
    ("known_us", "late"), [(SINCE_US + 59 * MINUTE_US, False), (SINCE_US + 61 * MINUTE_US, True)]
)
def test_an_alarm_that_was_known_late_says_when(known_us, late):
    of = view({ALARM.name: life(known_us=known_us)})
    for found in (text(render_alarms([of], NOON_US)), text(render([of], NOON_US))):
        assert "since 25 Nov 11:30 UTC" in found
        assert ("since 25 Nov 11:30 UTC, known 25 Nov 12:31 UTC: return" in found) is late
