"""From what is detected through the state of an alarm to the outbox, on a real store; with kills in between.

States after ISA-18.2-2016 and IEC 62682:2014 (names read second-hand, in OPC 10000-9 version 1.05).
"""

from dataclasses import replace

import orjson
import pytest

from agent.alarms import Deed, Event, Life, StateName
from agent.assess import SECOND
from agent.outlets import Lives
from agent.service.commands.commanding import work_off_commands
from agent.service.commands.giving import give
from agent.service.look.looking import look
from agent.service.tell.announcing import Announcer
from agent.service.work.alarming import Alarms
from agent.service.work.order import Kind
from agent.store import JournalEntry, Store, StoreError
from tests.service.site import (
    GRACE_US,
    HEALTHY_K,
    WET_K,
    WatchedStore,
    World,
    configuration,
    minute,
    plan,
    told,
)

LOW, STALE = "superheat-low", "feed-stale"
S = StateName
SENT_AT_ONCE = {"shadow_days": 0}
ONE_ROUTE = {"routes": [{"name": "crew", "url_env": "CREW_URL"}], "repeat": {"most": 0}}
DAY_MINUTES = 24 * 60


class Living(World):
    """A module with its alarms, one route, commands, and a feed that is judged when told to."""

    def restart(self):
        super().restart()
        self.alarms = Alarms(self.store, Announcer(self.store, self.plan))
        self.assessor.alarms = self.alarms

    def work(self, now_minute):
        found = super().work(now_minute)
        self.settle(now_minute)
        return found

    def settle(self, now_minute):
        self.alarms.settle(self.watched, minute(now_minute) + GRACE_US)

    def say(self, now_minute, kind, alarm=LOW, by="A. Fitter", **more):
        """A command, given and worked off; its outcome."""
        now_us = minute(now_minute) + GRACE_US
        command_id = give(self.store, self.plan.modules[0], kind, by, now_us, alarm, **more)
        work_off_commands(self.store, self.alarms, [self.watched], now_us)
        return self.store.command(command_id)

    def state(self, alarm=LOW, now_minute=0):
        """As another process sees it."""
        (view,) = look(self.store, self.plan, minute(now_minute) + GRACE_US)
        return view.lives.standing(alarm)

    def life(self, alarm=LOW):
        kept = {each.alarm: Life.load(each.state) for each in self.store.alarm_states(1)}
        assert kept.get(alarm, Life()) == self.watched.lives.get(alarm, Life())
        return kept.get(alarm, Life())

    @property
    def sent(self):
        """First word and alarm of every notice, in order."""
        with self.store._reading() as connection:
            found = connection.exec_driver_sql("SELECT subject FROM outbox ORDER BY id")
            return [" ".join(row.subject.split()[:2]) for row in found]

    @property
    def bodies(self):
        with self.store._reading() as connection:
            return [row.body for row in connection.exec_driver_sql("SELECT body FROM outbox ORDER BY id")]


@pytest.fixture
def make(tmp_path):
    opened = []

    def made(**changes):
        site = plan(tmp_path, **{"alarms": SENT_AT_ONCE, "notices": ONE_ROUTE, **changes})
        store = WatchedStore.open(site.store_url)
        opened.append(store)
        return Living(site, store)

    yield made
    for store in opened:
        store.close()


@pytest.fixture
def one(make):
    return make()


def wet(one, until=60, since=20):
    one.receive(told(0, until, lambda now: WET_K if now >= since else HEALTHY_K))
    one.work(until)


def dry(one, from_minute, to_minute, **more):
    one.receive(told(from_minute, to_minute, **more))
    one.work(to_minute)


def test_it_comes_is_acknowledged_and_goes(one):
    wet(one)
    assert one.state() is S.UNACKNOWLEDGED and one.sent == ["HIGH superheat-low"]
    done = one.say(61, Kind.ACKNOWLEDGE, why="on my way")
    assert done.outcome == "superheat-low at hill-house/one/m1 is acknowledged by A. Fitter."
    assert not done.refused and done.done_us == minute(61) + GRACE_US
    assert one.state() is S.ACKNOWLEDGED
    assert (one.life().acknowledged_by, one.life().note) == ("A. Fitter", "on my way")
    dry(one, 60, 100)
    assert one.state() is S.NORMAL
    assert one.sent == ["HIGH superheat-low", "OVER superheat-low"]
    assert one.transitions(LOW) == ["raised", "acknowledged", "cleared"]
    written = one.lines(LOW)[1]
    assert (written.event_us, written.known_us) == (minute(61) + GRACE_US, minute(61) + GRACE_US)
    assert orjson.loads(written.body)["who"] == "A. Fitter"


def test_unacknowledged_it_stays_in_the_list_when_it_is_over(one):
    wet(one)
    dry(one, 60, 100)
    assert one.state() is S.RETURNED_UNACKNOWLEDGED
    one.say(101, Kind.ACKNOWLEDGE)
    assert one.state() is S.NORMAL


def test_the_past_changes_no_state_and_tells_nobody_twice(one):
    one.receive(told(0, 240, lambda now: WET_K if 30 <= now < 60 else HEALTHY_K))
    one.work(240)
    assert one.transitions(LOW) == ["found_late"]
    assert one.life() == Life() and one.state() is S.NORMAL
    assert one.sent == ["PAST alarms"]


class TestShelved:
    def test_nobody_is_told_before_the_end_and_then_how_it_stands(self, one):
        dry(one, 0, 19)
        done = one.say(19, Kind.SHELVE, why="part ordered", until_us=minute(90))
        assert done.outcome == (
            "superheat-low at hill-house/one/m1 is shelved by A. Fitter until 2025-11-25 09:30 UTC; "
            "before that nobody is told."
        )
        wet(one)
        assert (one.state(now_minute=60), one.sent) == (S.SHELVED, [])
        assert one.life().shelved_why == "part ordered"
        one.settle(89)
        assert one.sent == []
        one.settle(90)
        assert one.state(now_minute=90) is S.UNACKNOWLEDGED
        assert one.sent == ["HIGH superheat-low"]
        assert "Told now: its shelving is over." in one.bodies[0]
        assert one.transitions(LOW) == ["shelved", "raised", "unshelved"]
        last = one.lines(LOW)[-1]
        assert (last.event_us, orjson.loads(last.body)["who"]) == (minute(90), "time")
        one.restart()
        one.settle(91)
        assert one.sent == ["HIGH superheat-low"]

    def test_taken_off_by_a_person_it_is_told_again(self, one):
        wet(one)
        one.say(61, Kind.SHELVE, why="seen", until_us=minute(600))
        done = one.say(62, Kind.UNSHELVE, by="B. Night")
        what = "superheat-low at hill-house/one/m1 is no longer shelved"
        assert done.outcome == f"{what}, stands, and waits to be acknowledged."
        assert one.sent == ["HIGH superheat-low"] * 2
        assert "Told now: B. Night ended what held it back." in one.bodies[1]

    def test_a_second_shelf_says_which_end_it_replaces(self, one):
        wet(one)
        first = one.say(61, Kind.SHELVE, why="seen", until_us=minute(600))
        assert "was to end" not in first.outcome
        second = one.say(62, Kind.SHELVE, by="B. Night", why="seen", until_us=minute(120))
        assert "; it was to end at 2025-11-25 " in second.outcome
        assert second.outcome.endswith(" UTC, by A. Fitter.")

    def test_over_on_the_shelf_it_is_said_afterwards(self, one):
        wet(one)
        one.say(61, Kind.SHELVE, why="seen", until_us=minute(120))
        dry(one, 60, 100)
        assert one.sent == ["HIGH superheat-low"]
        one.settle(120)
        assert one.sent == ["HIGH superheat-low", "OVER superheat-low"]
        assert "Told now: its shelving is over." in one.bodies[1]

    @pytest.mark.parametrize(
        ("minutes", "why"),
        [(-1, "an end that lies ahead"), (0, "an end that lies ahead"), (32 * DAY_MINUTES, "out of service")],
    )
    def test_an_end_that_is_past_or_far_is_refused(self, one, minutes, why):
        wet(one)
        done = one.say(61, Kind.SHELVE, why="x", until_us=minute(61 + minutes) + GRACE_US)
        assert done.refused and why in done.outcome
        assert done.outcome.startswith("superheat-low at hill-house/one/m1 cannot be shelved: ")
        assert one.state() is S.UNACKNOWLEDGED


class TestOutOfService:
    def test_every_alarm_of_the_module_and_back(self, one):
        wet(one)
        done = one.say(61, Kind.REMOVE, None, why="compressor out")
        assert done.outcome == "Every alarm at hill-house/one/m1 is out of service until it is put back."
        assert {one.state(name) for name in one.watched.plan.catalogue} == {S.OUT_OF_SERVICE}
        refused = one.say(62, Kind.REMOVE, None, why="again")
        assert refused.refused and "all are out of service already" in refused.outcome
        one.restart()
        back = one.say(63, Kind.RETURN, None)
        assert back.outcome == (
            "Every alarm at hill-house/one/m1 is back in service; of these stand, and wait to be "
            "acknowledged: superheat-low."
        )
        assert one.sent == ["HIGH superheat-low"] * 2

    def test_one_alarm_alone(self, one):
        wet(one)
        one.say(61, Kind.REMOVE, LOW, why="no gauge")
        assert one.state() is S.OUT_OF_SERVICE and one.state("probe-unfit") is S.NORMAL


class TestHeldBack:
    def stale(self, one, now_minute, unconnected_minute=None):
        """Judge the feed as the agent does."""
        now_us = minute(now_minute) + GRACE_US
        unconnected_us = None if unconnected_minute is None else minute(unconnected_minute)
        line = one.watched.feed.judge(now_us, unconnected_us, one.watched.latest)
        if line is None:
            return
        body = {"since_us": line.since_us, "priority": "medium", "text": one.watched.feed.text}
        entry = JournalEntry(1, STALE, now_us, now_us, line.transition, orjson.dumps(body).decode())
        step = one.alarms.step(one.watched, now_us, one.watched.latest, lambda _: None, journal=[entry])
        one.store.finish(
            1,
            one.watched.revision_id,
            [],
            journal=step.journal,
            notices=step.notices,
            alarm_states=step.alarm_states,
        )
        one.watched.lives |= step.lives

    def hear(self, one, now_minute):
        feed = one.watched.feed
        feed.heard_us = minute(now_minute) + GRACE_US
        feed.signals_us = dict.fromkeys(feed.plan.module.signals, feed.heard_us)

    def test_the_root_is_told_and_named_and_what_still_stands_is_told_after_it(self, one):
        dry(one, 0, 19)
        self.hear(one, 18)
        self.stale(one, 18, unconnected_minute=10)
        self.stale(one, 20, unconnected_minute=10)
        assert (one.state(STALE), one.sent) == (S.UNACKNOWLEDGED, ["MEDIUM feed-stale"])
        wet(one)
        assert (one.state(), one.life().held_by) == (S.SUPPRESSED, STALE)
        assert one.sent == ["MEDIUM feed-stale"]
        self.hear(one, 60)
        self.stale(one, 60)
        one.settle(60)
        assert one.state(STALE) is S.RETURNED_UNACKNOWLEDGED
        assert one.state() is S.UNACKNOWLEDGED
        assert one.sent == ["MEDIUM feed-stale", "OVER feed-stale", "HIGH superheat-low"]
        assert "Told now: feed-stale no longer holds it back." in one.bodies[-1]
        assert one.transitions(LOW) == ["raised", "suppressed", "unsuppressed"]

    def test_what_is_over_before_the_root_is_not_told(self, one):
        dry(one, 0, 19)
        self.hear(one, 18)
        self.stale(one, 18, unconnected_minute=10)
        self.stale(one, 20, unconnected_minute=10)
        wet(one)
        dry(one, 60, 100)
        self.hear(one, 100)
        self.stale(one, 100)
        one.settle(100)
        assert one.state() is S.NORMAL
        assert one.sent == ["MEDIUM feed-stale", "OVER feed-stale"]

    def test_a_signal_that_superheat_does_not_use_hides_no_liquid(self, one):
        dry(one, 0, 19)
        self.hear(one, 17)
        one.watched.feed.signals_us["compressor_2_speed"] = minute(0)
        self.stale(one, 18)
        one.watched.feed.heard_us = minute(20)
        self.stale(one, 20)
        assert one.watched.feed.about == {"compressor_2_speed"}
        wet(one)
        assert one.state() is S.UNACKNOWLEDGED
        assert one.sent == ["MEDIUM feed-stale", "HIGH superheat-low"]


class TestShadow:
    def test_a_new_module_is_shown_and_not_sent_until_it_is_confirmed(self, make):
        one = make(alarms={"shadow_days": 7})
        wet(one)
        (view,) = look(one.store, one.plan, minute(60))
        assert view.lives.shadow and [alarm.name for alarm in view.alarms] == [LOW]
        assert (one.state(), one.sent) == (S.UNACKNOWLEDGED, [])
        done = one.say(61, Kind.CONFIRM, None, by="B. Night")
        assert done.outcome == (
            "hill-house/one/m1 is confirmed by B. Night: its alarms are sent from now on."
        )
        assert one.sent == ["HIGH superheat-low"]
        assert [entry.transition for entry in one.lines("module")] == ["confirm"]
        (view,) = look(one.store, one.plan, minute(62))
        assert not view.lives.shadow
        one.restart()
        again = one.say(63, Kind.CONFIRM, None)
        assert again.refused and "needs no confirmation" in again.outcome
        one.settle(64)
        assert one.sent == ["HIGH superheat-low"]

    def test_it_ends_with_time_counted_from_when_it_is_watched(self, make):
        """A backlog of the days before does not shorten it."""
        one = make(alarms={"shadow_days": 0.05})  # 72 min
        one.opened_us = minute(0)
        one.receive(told(-120, 60, lambda now: WET_K if now >= 20 else HEALTHY_K))
        one.work(60)
        assert one.watched.first_us < minute(-100)
        one.settle(71)
        assert one.sent == []
        one.restart()
        one.settle(72)
        assert one.sent == ["HIGH superheat-low"]

    def test_without_days_there_is_none(self, one):
        wet(one)
        assert not look(one.store, one.plan, minute(60))[0].lives.shadow

    def test_what_was_over_in_shadow_is_not_told(self, make):
        one = make(alarms={"shadow_days": 7})
        wet(one)
        dry(one, 60, 100)
        one.say(101, Kind.CONFIRM, None)
        assert one.sent == []


def test_a_latching_alarm_is_reset_by_a_person(make):
    one = make(limits={LOW: {"latching": True}})
    wet(one)
    dry(one, 60, 100)
    assert one.state() is S.LATCHED_UNACKNOWLEDGED
    assert "It is latched: it stays in the list until somebody resets it." in one.bodies[1]
    assert one.say(101, Kind.ACKNOWLEDGE).refused is False
    assert one.state() is S.LATCHED_ACKNOWLEDGED
    assert one.say(102, Kind.RESET).outcome == "superheat-low at hill-house/one/m1 is reset by A. Fitter."
    assert one.state() is S.NORMAL


class TestCommands:
    @pytest.mark.parametrize(
        ("kind", "alarm", "outcome"),
        [
            (
                Kind.ACKNOWLEDGE,
                LOW,
                "cannot be acknowledged: it does not stand, and there is nothing to acknowledge.",
            ),
            (Kind.UNSHELVE, LOW, "cannot be taken off the shelf: it is not shelved."),
            (Kind.RETURN, LOW, "cannot be put back into service: it is in service."),
            (Kind.RESET, LOW, "cannot be reset: only a latched alarm whose condition is over can be reset."),
            (Kind.REMOVE, "oil-on-fire", "hill-house/one/m1 has no alarm 'oil-on-fire'."),
            (Kind.SHELVE, None, "Every alarm at hill-house/one/m1 cannot be shelved: name the alarm."),
            ("dance", LOW, "The command 'dance' is not understood by this version of the agent."),
        ],
    )
    def test_what_makes_no_sense_is_refused_in_a_sentence(self, one, kind, alarm, outcome):
        dry(one, 0, 30)
        done = one.say(31, kind, alarm)
        assert done.refused and outcome in done.outcome and done.outcome.endswith(".")
        assert one.store.waiting_commands() == [] and one.store.journal(None, 0, 2**62) == []

    def test_one_for_a_module_that_is_not_watched_any_more(self, one):
        dry(one, 0, 30)
        give(one.store, one.plan.modules[0], Kind.REMOVE, "A", minute(30), LOW)
        work_off_commands(one.store, one.alarms, [], minute(31))
        with one.store._reading() as connection:
            (row,) = connection.exec_driver_sql("SELECT outcome, refused FROM command")
        assert tuple(row) == ("Its module is not in the running agent's configuration.", 1)

    def test_what_is_usual_is_learnt_anew_from_when_it_was_said(self, one):
        dry(one, 0, 30)
        done = one.say(31, Kind.RELEARN, None, why="new coil")
        assert (
            done.outcome == "What is usual of hill-house/one/m1 is learnt anew from 2025-11-25 08:31 UTC on."
        )
        assert (
            one.store.module_service(1).relearn_us == one.watched.service.relearn_us == minute(31) + GRACE_US
        )
        one.restart()
        assert one.watched.service.relearn_us == minute(31) + GRACE_US

    def test_an_acknowledgement_that_waited_does_not_hit_what_came_after_it(self, one):
        wet(one)
        give(one.store, one.plan.modules[0], Kind.ACKNOWLEDGE, "A", minute(61), LOW)
        dry(one, 60, 100)
        one.receive(told(100, 130, lambda _: WET_K))
        one.work(130)
        work_off_commands(one.store, one.alarms, [one.watched], minute(131))
        assert one.state() is S.UNACKNOWLEDGED


class TestKilled:
    """Between two transactions: what was not committed is done once more, what was is not told twice."""

    @pytest.fixture
    def failing(self, tmp_path):
        site = plan(tmp_path, alarms=SENT_AT_ONCE, notices=ONE_ROUTE)
        with Failing.open(site.store_url) as store:
            yield Living(site, store)

    def again(self, one, work):
        """Fail in the transaction, start again, and do it once more."""
        one.store.fails = True
        with pytest.raises(StoreError):
            work()
        one.store.fails = False
        one.restart()
        work()
        one.restart()
        one.settle(500)

    def test_while_it_is_raised(self, failing):
        self.again(failing, lambda: wet(failing))
        assert failing.sent == ["HIGH superheat-low"] and failing.state() is S.UNACKNOWLEDGED

    def test_while_its_shelf_ends(self, failing):
        dry(failing, 0, 19)
        failing.say(19, Kind.SHELVE, why="x", until_us=minute(90))
        wet(failing)
        self.again(failing, lambda: failing.settle(90))
        assert failing.sent == ["HIGH superheat-low"]
        assert failing.transitions(LOW) == ["shelved", "raised", "unshelved"]

    def test_while_a_command_is_worked_off(self, failing):
        wet(failing)
        failing.say(61, Kind.SHELVE, why="x", until_us=minute(400))
        give(failing.store, failing.plan.modules[0], Kind.UNSHELVE, "A", minute(62), LOW)

        def work():
            work_off_commands(failing.store, failing.alarms, [failing.watched], minute(63))

        self.again(failing, work)
        assert failing.sent == ["HIGH superheat-low"] * 2
        assert failing.transitions(LOW) == ["raised", "shelved", "unshelved"]
        assert failing.store.waiting_commands() == []


class Failing(Store):
    """A real store whose transactions fail at their very end where it is told to."""

    fails = False

    def finish(self, *args, notices=(), **more):
        super().finish(*args, notices=self._spoilt(notices), **more)

    def finish_command(self, *args, notices=(), **more):
        super().finish_command(*args, notices=self._spoilt(notices), **more)

    def _spoilt(self, notices):
        return [each._replace(subject=None) for each in notices] if self.fails else notices


def test_an_alarm_that_an_older_version_raised_stands_and_is_not_told_again(one):
    wet(one)
    with one.store._writing() as connection:
        connection.exec_driver_sql("DELETE FROM alarm_state")
    one.restart()
    assert one.state() is S.UNACKNOWLEDGED
    one.settle(61)
    assert one.sent == ["HIGH superheat-low"]
    dry(one, 60, 100)
    assert one.sent == ["HIGH superheat-low", "OVER superheat-low"]


def test_a_mode_in_which_it_is_meant_to_stand_holds_it_back(one):
    known = one.watched.plan.catalogue
    by_design = {**known, LOW: replace(known[LOW], suppressed_in=frozenset({"cooling"}))}
    one.watched.plan = replace(one.watched.plan, catalogue=by_design)
    wet(one)
    assert (one.state(), one.life().held_by, one.sent) == (S.SUPPRESSED, "mode cooling", [])


def test_the_configuration_says_how_long_and_what_latches(tmp_path):
    assert plan(tmp_path).modules[0].shadow_us == 7 * 86_400 * SECOND
    body = configuration(alarms={"shadow_days": 0}, limits={LOW: {"latching": True}})
    module = plan(tmp_path, **{key: body[key] for key in ("alarms", "limits")}).modules[0]
    assert module.shadow_us == 0 and module.catalogue[LOW].latching
    assert not module.catalogue[STALE].latching
    assert module.revision == plan(tmp_path).modules[0].revision  # it changes no figure


def test_lives_seen_later_have_left_the_shelf():
    life = Life().after_deed(shelving(), 1)
    assert Lives({LOW: life}, None, 5).standing(LOW) is S.SHELVED
    assert Lives({LOW: life}, None, 10).standing(LOW) is S.NORMAL


def shelving():
    return Deed(Event.SHELVED, "A", "x", 10)
