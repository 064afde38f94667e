"""Another unit under the same name: in shadow anew, its layout unconfirmed, all that was known kept."""

from io import StringIO

import pytest
from rich.console import Console

from agent.outlets import no_hours_mapping, render_alarms, render_no_hours
from agent.outlets.alarm_words import unit_words
from agent.outlets.terminal.by_hand import NOTHING_BY_HAND
from agent.service.look.evidence import evidence, first_hour_us
from agent.service.look.looking import look
from agent.service.work.order import Kind
from agent.store import ModuleService
from tests.outlets.terminal.test_status import text
from tests.service.site import GRACE_US, minute
from tests.service.work.test_alarming import LOW, S, dry, make, wet

__all__ = ["make"]
DAYS = {"shadow_days": 0.05}  # 72 min


def replaced(one, at, now=None, **more):
    stated = {} if now is None else {"more": {"at_us": minute(at) + GRACE_US}}
    return one.say(at if now is None else now, Kind.REPLACED, None, why="burnt out", **stated, **more)


@pytest.fixture
def one(make):
    made = make(alarms=DAYS)
    dry(made, 0, 100)
    return made


def test_it_is_said_kept_and_in_the_journal(one):
    done = replaced(one, 100)
    assert not done.refused
    assert done.outcome == (
        "Another unit stands at hill-house/one/m1 since 2025-11-25 09:40 UTC: what is usual of it is "
        "learnt anew from then on, and its layout is not confirmed. Its alarms are shown and not sent until "
        "2025-11-25 10:52 UTC, or until it is confirmed."
    )
    at_us = minute(100) + GRACE_US
    assert one.store.module_service(1).replaced_us == one.watched.service.replaced_us == at_us
    (line,) = [entry for entry in one.journal if entry.transition == "replaced"]
    assert (line.alarm, line.event_us) == ("module", at_us) and "burnt out" in line.body


def test_its_shadow_counts_from_then_and_an_earlier_confirmation_does_not_count(one):
    one.watched.service = ModuleService(confirmed_us=minute(5))
    assert not one.watched.in_shadow(minute(100))
    replaced(one, 100)
    assert one.watched.shadow_ends_us == minute(100 + 72) + GRACE_US
    assert one.watched.in_shadow(minute(171)) and not one.watched.in_shadow(minute(174))
    (view,) = look(one.store, one.plan, minute(171))
    assert view.lives.shadow


def test_nobody_is_told_of_its_alarms_until_it_is_confirmed(make):
    one = make(alarms=DAYS)
    dry(one, 0, 80)  # its own shadow is over
    replaced(one, 80)
    wet(one, until=140, since=90)
    assert one.state() is S.UNACKNOWLEDGED and one.sent == []
    one.say(141, Kind.CONFIRM, None)
    assert one.sent == ["HIGH superheat-low"]


def test_an_alarm_that_stands_stays_as_it_is(make):
    one = make()
    wet(one)
    one.say(61, Kind.ACKNOWLEDGE)
    before = one.life()
    replaced(one, 62)
    one.work(62)
    assert one.life() == before and one.transitions(LOW) == ["raised", "acknowledged"]


def test_until_somebody_has_seen_it_status_says_so(make):
    one = make()  # without shadow
    dry(one, 0, 100)
    assert one.say(100, Kind.CONFIRM, None).refused  # nothing to confirm
    replaced(one, 100)
    (view,) = look(one.store, one.plan, minute(101))
    words = " ".join(text(200, view, now_us=minute(101)).split())
    assert (
        "another unit stands here since 25 Nov 09:40 UTC; its layout is not confirmed: `dewline "
        "service one/m1 confirm` once somebody has seen it"
    ) in words
    assert not one.say(102, Kind.CONFIRM, None).refused
    (view,) = look(one.store, one.plan, minute(103))
    assert view.lives.unconfirmed_us is None and unit_words(None, "one/m1") == ""


def test_what_cannot_be_is_refused(one):
    assert replaced(one, 101, now=100).outcome == "No unit can have been replaced in the future."
    assert not replaced(one, 90, now=100).refused
    done = replaced(one, 80, now=101)
    assert done.refused and done.outcome == "It was replaced after that already, at 2025-11-25 09:30 UTC."
    done = replaced(one, 90, now=101)
    assert done.refused and done.outcome == "It was already replaced at 2025-11-25 09:30 UTC by A. Fitter."
    assert not replaced(one, 100, now=101).refused  # once more, by another
    assert one.say(102, Kind.REPLACED, None, more={"at_us": "soon"}).refused


def test_before_the_first_reading_there_was_no_unit_to_replace(one):
    done = replaced(one, -60, now=100)
    assert done.refused
    assert done.outcome.startswith("There is no reading of hill-house/one/m1 before 2025-11-25 07:00 UTC")
    assert one.store.module_service(1).replaced_us is None


def test_without_shadow_its_answer_says_that_alarms_are_sent_at_once(make):
    one = make()
    dry(one, 0, 100)
    assert replaced(one, 100).outcome.endswith("Its alarms are sent at once (shadow_days: 0).")


def test_an_alarm_of_the_unit_before_says_so(make):
    one = make()
    wet(one)
    (before,) = look(one.store, one.plan, minute(61))
    assert "of the unit that stood here before" not in text(200, before, now_us=minute(61))
    replaced(one, 61)
    (view,) = look(one.store, one.plan, minute(62))
    assert "of the unit that stood here before" in " ".join(text(200, view, now_us=minute(62)).split())
    listed = StringIO()
    Console(file=listed, width=200).print(render_alarms([view], minute(62)))
    assert "of the unit that stood here before" in listed.getvalue()


def test_before_its_first_whole_hour_there_is_what_there_is(make):
    """Replaced at 09:40: the first whole hour is from 10:00 to 11:00."""
    one = make()
    wet(one)
    replaced(one, 100)
    module = one.plan.modules[0]
    assert evidence(one.store, one.plan, module, minute(101)) is None
    first_us = first_hour_us(one.store, module, minute(101))
    (view,) = look(one.store, one.plan, minute(101))
    shown = StringIO()
    Console(file=shown, width=200).print(render_no_hours(module.path, view, NOTHING_BY_HAND, "", first_us))
    assert "first whole hour: 11:00 UTC" in shown.getvalue() and "superheat-low" in shown.getvalue()
    body = no_hours_mapping(module.path, view, NOTHING_BY_HAND, first_us)
    assert body["first_whole_hour"] == "2025-11-25T11:00:00Z"
    assert [each["alarm"] for each in body["alarms"]] == ["superheat-low"]


def test_assessments_and_journal_of_the_unit_before_are_kept(one):
    assessed, journal = one.assessed, one.journal
    replaced(one, 50, now=100)
    one.work(100)
    assert one.assessed == assessed
    assert one.journal[: len(journal)] == journal
