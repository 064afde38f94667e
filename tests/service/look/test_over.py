"""The alarms of the last day that are over: from the journal, and what late readings brought to light."""

import re

import pytest

from agent.alarms import Transition
from agent.assess import DAY_US
from agent.service.look.over import over
from agent.service.look.pages import Pages
from tests.service.site import GRACE_US, MINUTE_US, WET_K, minute, plan, told, world

NAME = "superheat-low"


def wet_between(first, last):
    return lambda now: WET_K if first <= now < last else 6.0


@pytest.fixture
def here(tmp_path):
    with world(tmp_path, site=plan(tmp_path, alarms={"shadow_days": 0})) as working:
        yield working


def of(here, now_minute):
    found = over(here.store, minute(now_minute) - DAY_US, minute(now_minute))
    return [each for each in found.get(here.watched.module_id, []) if each.alarm == NAME]


def test_an_alarm_that_stood_and_is_over_says_from_when_to_when(here):
    here.receive(told(0, 120, wet_between(30, 60)))
    for until in range(5, 121, 5):
        here.work(until)
    assert here.transitions(NAME) == [Transition.RAISED, Transition.CLEARED]
    (found,) = of(here, 120)
    assert abs(found.from_us - minute(30)) <= 2 * MINUTE_US
    assert found.to_us == here.lines(NAME)[-1].event_us > minute(60)
    page = Pages(here.store, here.plan, lambda: minute(120) + GRACE_US).status()
    assert re.search(r"Over, of the last 24 h: superheat-low 25 Nov 08:3\d to 25 Nov 09:\d\d", page)


def test_what_still_stands_is_not_over(here):
    here.receive(told(0, 60, wet_between(30, 99)))
    here.work(60)
    assert here.transitions(NAME) == [Transition.RAISED] and of(here, 60) == []


def test_what_was_found_late_says_to_when_as_well(here):
    here.receive(told(0, 120, wet_between(30, 60)))
    here.work(120)
    assert here.transitions(NAME) == [Transition.FOUND_LATE]
    (late,) = of(here, 120)
    assert abs(late.from_us - minute(30)) <= 2 * MINUTE_US
    assert minute(60) < late.to_us < minute(90)


def test_what_is_withdrawn_never_was(here):
    """Wet once a minute; then it comes out that the module stood in between, so nothing was settled."""
    here.receive(told(0, 120, wet_between(30, 60), every_s=60))
    for until in range(5, 121, 5):
        here.work(until)
    assert len(of(here, 120)) == 1
    late = told(0, 120, every_s=60, mode=lambda _: 0)
    here.receive((sample_us + 30_000_000, name, value) for sample_us, name, value in late)
    here.work(120)
    assert here.transitions(NAME)[-1] == Transition.WITHDRAWN and of(here, 120) == []


def test_what_was_over_more_than_a_day_ago_is_left_out(here):
    here.receive(told(0, 120, wet_between(30, 60)))
    here.work(120)
    assert of(here, 120 + 24 * 60) == []
