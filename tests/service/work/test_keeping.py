"""Readings that are no longer kept are not missing: what was assessed of their time stays as it is."""

import sqlite3
import threading
from contextlib import closing

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.alarms import RefusedError
from agent.assess import Hour
from agent.assess.by_hand.handheld import Verdict
from agent.outlets.shown import SI
from agent.readings import Reading
from agent.service.by_hand.handhelds import measured
from agent.service.commands.reassessing import reassess
from agent.service.commands.replacing import replace_unit
from agent.service.replay.comparing import compared
from agent.service.replay.replaying import NothingToReplayError, Replay
from agent.service.work import keeping
from agent.service.work.alarming import Alarms
from agent.service.work.keeping import Keeping, assessable_from_us, conversions
from agent.service.work.order import Order
from agent.store import Command, Handheld, Store, StoreError
from tests.service.site import (
    GRACE_US,
    SECOND_US,
    WET_K,
    World,
    configuration,
    minute,
    plan,
    told,
    world,
)

END = 360  # minutes that are received and assessed
GONE = 120  # of which the readings are removed


def superheat(now):
    return WET_K if now < 50 or 200 < now < 240 else 6.0


def thin(world, before_minute):
    """Remove the readings of before a minute, however dirty it is."""
    read = conversions(world.watched.plan, world.watched.signal_ids)
    while world.store.thin(
        minute(before_minute), 500, lambda i, value, unit: read[i].number_of(value, unit), {}
    ):
        pass


def from_us(world):
    return assessable_from_us(world.store, world.watched.plan)


@pytest.fixture
def kept(tmp_path):
    with world(tmp_path) as made:
        made.receive(told(0, END, superheat))
        made.work(END)
        yield made


def hours(world, until_us=2**62):
    return world.store.hours(world.watched.module_id, 0, until_us)


def recorded(world, until_us=2**62):
    """All that is kept of a time beside readings."""
    return (
        {at: found for at, found in world.assessed.items() if at < until_us},
        hours(world, until_us - 3600 * SECOND_US),
        [each for each in world.detected if each.grid_us < until_us],
    )


def test_late_readings_of_a_time_that_is_no_longer_kept_change_nothing_of_it(kept):
    before, journal = recorded(kept), kept.journal
    thin(kept, GONE)
    kept.receive(told(20, 40, lambda _: 9.0, every_s=7))
    kept.work(END + 1)
    after = {at: found for at, found in kept.assessed.items() if at <= minute(END)}
    assert (after, hours(kept, minute(END - 60))) == (before[0], before[1])
    assert kept.journal == journal
    assert kept.store.dirty(kept.watched.module_id) == []


def test_a_correction_is_made_as_far_back_as_readings_are_kept(kept, tmp_path):
    before = recorded(kept, minute(GONE))
    first_revision = kept.watched.revision_id
    thin(kept, GONE)
    other = configuration()
    other["systems"]["one"]["refrigerant"] = "R-32"
    put_right = World(plan(tmp_path, systems=other["systems"]), kept.store, minute(END))
    put_right.work(END + 1)
    begins_us = from_us(kept)
    assert begins_us > minute(GONE)
    of = {each.grid_us: each for each in kept.store.assessments(kept.watched.module_id, 0, 2**62)}
    assert {each.revision_id for at, each in of.items() if at < begins_us} == {first_revision}
    assert {each.revision_id for at, each in of.items() if at >= begins_us} == {put_right.watched.revision_id}
    assert recorded(put_right, minute(GONE))[:2] == before[:2]
    assert not any('"missing"' in each.basis for at, each in of.items() if begins_us <= at <= minute(END))
    lines = [line for line in put_right.journal if line.known_us > minute(END) + 45 * SECOND_US]
    assert not [line for line in lines if line.event_us < minute(GONE)]


@settings(max_examples=5, deadline=None)
@given(
    gone=st.integers(30, 280),
    late=st.lists(st.tuples(st.integers(0, END - 5), st.integers(1, 30)), min_size=1, max_size=4),
    cut_between=st.booleans(),
)
def test_beside_a_store_that_keeps_all(tmp_path_factory, gone, late, cut_between):
    """From the first time on that can be assessed anew the same, before it as it was."""
    folder = tmp_path_factory.mktemp("twins")
    with world(folder / "all") as all_kept, world(folder / "thinned") as thinned:
        for each in (all_kept, thinned):
            each.receive(one for one in told(0, END, superheat) if not in_any(one[0], late))
            each.work(END)
        before = recorded(thinned)
        if not cut_between:
            thin(thinned, gone)
        for begin, length in late:
            batch = list(told(begin, begin + length, superheat))
            all_kept.receive(batch)
            thinned.receive(batch)
            if cut_between:
                thin(thinned, gone)
            thinned.work(END)
        all_kept.work(END)
        begins_us = from_us(thinned)
        for at, found in thinned.assessed.items():
            assert found == (all_kept.assessed if at >= begins_us else before[0])[at]
        assert hours(thinned, begins_us - 1) == hour_bodies(before[1], begins_us)
        begun = len(hours(thinned, begins_us - 1))
        assert hours(thinned)[begun:] == hours(all_kept)[len(hours(all_kept, begins_us - 1)) :]


def in_any(at_us, late):
    return any(minute(begin) <= at_us < minute(begin + length) for begin, length in late)


def hour_bodies(bodies, until_us):
    return [body for body in bodies if Hour.load(body).from_us < until_us]


def order(world, command, body):
    return Order(world.store, Alarms(world.store), world.watched, command, body, minute(END), SI)


def said(world, since_minute, until_minute):
    span = {"from_us": minute(since_minute), "until_us": minute(until_minute)}
    command = Command(minute(END), "erin", "reassess", world.watched.module_id, None, "{}")
    command = command._replace(id=world.store.give(command))
    reassess(order(world, command, {**span, "why": "seen"}))
    return world.store.command(command.id).outcome


def test_a_past_is_assessed_anew_as_far_back_as_readings_are_kept(kept):
    before = kept.assessed
    thin(kept, GONE)
    with pytest.raises(RefusedError, match=r"no longer kept\.$"):
        said(kept, 0, GONE)
    outcome = said(kept, 0, END)
    clock = SI.when(from_us(kept))
    assert f"is assessed anew from {clock} to" in outcome
    assert outcome.endswith(f"can be told since {clock}: older ones are no longer kept.")
    kept.work(END + 1)
    assert {at: found for at, found in kept.assessed.items() if at <= minute(END)} == before
    of = {each.grid_us: each.revision_id for each in kept.store.assessments(kept.watched.module_id, 0, 2**62)}
    assert {at for at, revision in of.items() if revision == kept.watched.revision_id} == {
        at for at in of if at >= from_us(kept)
    }
    assert "are no longer kept" not in said(kept, END - 30, END)


def test_a_replay_begins_where_readings_are_kept_and_says_so(kept):
    module = kept.plan.modules[0]
    thin(kept, GONE)
    report = compared(kept.store, kept.plan, module, module, minute(0), minute(END))
    assert (report.from_us, report.differs) == (from_us(kept), False)
    assert [note for note in report.notes if "no longer kept" in note]
    later = compared(kept.store, kept.plan, module, module, minute(END - 60), minute(END))
    assert not [note for note in later.notes if "no longer kept" in note]
    with pytest.raises(NothingToReplayError, match="older readings are no longer kept"):
        Replay(kept.store, kept.plan, module, minute(0), minute(GONE))


def test_readings_that_go_while_they_are_gone_over_end_a_replay(kept):
    module = kept.plan.modules[0]
    replay = Replay(kept.store, kept.plan, module, minute(0), minute(END))
    thin(kept, GONE)
    with pytest.raises(StoreError, match="were removed while it was gone over: try again"):
        replay.run()


def test_a_reading_by_hand_of_a_time_that_is_no_longer_kept(kept):
    at = {"inlet": minute(60), "later": minute(END - 20)}
    for at_us in at.values():
        body = '{"given": "11.4 degC", "assumed": [], "note": ""}'
        clamp = Handheld(at_us, at_us, "erin", "probe", "suction_pipe", None, 11.4, 0.5, body)
        command = Command(at_us, "erin", "measure", kept.watched.module_id, None, "{}")
        command = command._replace(id=kept.store.give(command))
        kept.store.finish_command(command, at_us, "kept", handheld=clamp)
    module = kept.plan.modules[0]
    before = [each.found for each in measured(kept.store, kept.plan, module).readings]
    assert [each.verdict for each in before] == [before[1].verdict] * 2 != [Verdict.CANNOT_TELL] * 2
    thin(kept, GONE)
    first, last = (each.found for each in measured(kept.store, kept.plan, module).readings)
    assert first.verdict == Verdict.CANNOT_TELL
    assert first.text == "11.4 degC by hand: the readings of that time are no longer kept"
    assert last == before[1]


def test_another_unit_since_before_what_is_kept(kept):
    thin(kept, GONE)
    command = Command(minute(END), "erin", "replaced", kept.watched.module_id, None, "{}")
    command = command._replace(id=kept.store.give(command))
    before = recorded(kept, from_us(kept))
    replace_unit(order(kept, command, {"at_us": minute(60)}))
    kept.work(END + 1)
    assert kept.store.module_service(kept.watched.module_id).replaced_us == minute(60)
    assert recorded(kept, from_us(kept)) == before


DAY = 24 * 60  # minutes


class Kept:
    """A store with a few readings a day for 100 days, and what the agent does with them."""

    def __init__(self, directory, **store):
        site = plan(directory, store={"url": "sqlite:///store.db", **store})
        self.world = World(site, Store.open(site.store_url))
        self.now_us = minute(100 * DAY)
        self.add(range(101))
        self.keeping = self.over(self.world.store)

    def add(self, days):
        """A reading a day, nothing of it dirty."""
        signal_id = self.world.watched.signal_ids["suction_pipe"]
        times = [minute(DAY * day) for day in days]
        self.world.store.add_batch([Reading(at, signal_id, 11.4, None, at, 1) for at in times])

    def over(self, store, failed=None):
        """What removes, over a store; what it counts as failed goes into a list."""
        count_failed = [].append if failed is None else failed.append
        return Keeping(store, self.world.plan, [self.world.watched], lambda: self.now_us, count_failed)

    def turn(self):
        return self.keeping.turn(threading.Event())

    def work_off(self):
        """What is dirty is assessed; of so long a time that takes half a minute, and is left out here."""
        world = self.world
        cleared = [(dirty_id, None) for dirty_id, _ in world.store.dirty(world.watched.module_id)]
        world.store.finish(world.watched.module_id, world.watched.revision_id, [], cleared=cleared)

    def again(self):
        return Store.open_beside(self.world.plan.store_url)


@pytest.fixture
def kept_62(tmp_path):
    made = Kept(tmp_path, keep_readings_days=62)
    yield made
    made.world.store.close()


def test_without_being_told_to_nothing_is_removed(tmp_path):
    made = Kept(tmp_path)
    assert (made.turn(), made.keeping.kept_from_us) == (0, minute(0))
    made.world.store.close()


def test_what_is_older_is_removed_and_it_is_shown_since_when_all_is_kept(kept_62):
    assert kept_62.turn() == 38
    assert kept_62.keeping.kept_from_us == minute(38 * DAY)
    assert kept_62.turn() == 0


def test_a_clock_ahead_and_a_silent_gateway_remove_nothing_more(kept_62):
    kept_62.turn()
    kept_62.now_us = minute(10_000 * DAY)
    assert kept_62.turn() == 0
    kept_62.now_us = minute(50 * DAY)  # behind
    assert kept_62.turn() == 0


def test_readings_stamped_by_a_clock_that_jumped_ahead_remove_nothing(kept_62):
    kept_62.turn()
    kept_62.now_us = minute(4_000 * DAY)
    kept_62.world.receive([(kept_62.now_us, "suction_pipe", 11.4)])
    kept_62.work_off()
    assert kept_62.turn() == 0
    for day in range(4_000, 4_062, 5):
        kept_62.world.receive([(minute(day * DAY) + 1, "suction_pipe", 11.4)])
    kept_62.now_us = minute(4_061 * DAY)
    kept_62.work_off()
    assert kept_62.turn() == 63  # it was no jump: days have gone by


def test_what_is_not_assessed_yet_is_kept(kept_62):
    world = kept_62.world
    world.receive([(minute(20 * DAY) + 1, "suction_pipe", 11.4)])
    assert kept_62.turn() == 20  # a day and a half before, at most
    kept_62.work_off()
    assert kept_62.turn() == 19


def test_what_cannot_be_assessed_any_more_is_let_go(kept):
    """Where nothing else is due, as with a clock that was set back."""
    kept.work(END)
    world_us = minute(END) + GRACE_US
    for since_minute in (0, GONE - 10):  # long before what is kept, and where its hour still reaches into it
        thin(kept, GONE)
        kept.receive(told(since_minute, since_minute + 5, superheat, every_s=7))
        begins_us = kept.store.earliest_dirty()[kept.watched.module_id]
        assert kept.assessor.works.is_due(kept.watched, begins_us, world_us)
        before = recorded(kept)
        assert kept.work(END) == []
        assert kept.store.earliest_dirty() == {}
        assert not kept.assessor.works.is_due(kept.watched, None, world_us)
        assert recorded(kept) == before


def test_what_is_not_due_yet_is_not_let_go(kept):
    thin(kept, GONE)
    kept.receive(told(END + 10, END + 12, superheat))
    kept.work(END)
    assert kept.store.earliest_dirty() != {}


def test_what_can_be_assessed_no_more_holds_up_nothing(kept_62):
    assert kept_62.turn() == 38
    world = kept_62.world
    world.receive([(minute(38 * DAY) + 1, "suction_pipe", 11.4)])
    kept_62.add(range(101, 111))
    kept_62.now_us = minute(110 * DAY)
    assert kept_62.turn() == 0  # it is not known yet that nothing comes of it
    world.work(110 * DAY)
    assert kept_62.turn() == 11


def test_a_turn_is_some_steps_and_ends_when_the_agent_does(kept_62, monkeypatch):
    monkeypatch.setattr(keeping, "ROWS", 3)
    monkeypatch.setattr(keeping, "STEPS", 4)
    assert kept_62.turn() == 12
    stopping = threading.Event()
    stopping.set()
    assert kept_62.keeping.turn(stopping) == 3
    assert [kept_62.turn() for _ in range(3)] == [12, 11, 0]


def test_a_store_that_cannot_be_written_waits(kept_62, monkeypatch, caplog):
    monkeypatch.setattr("agent.store.engine.BUSY_SECONDS", 0)
    with closing(sqlite3.connect(kept_62.world.store.path, isolation_level=None)) as holder:
        holder.execute("BEGIN IMMEDIATE")
        with closing(kept_62.again()) as store:
            failed = []
            held = kept_62.over(store, failed)
            assert [held.turn(threading.Event()) for _ in range(3)] == [0, 0, 0]
            assert failed == ["keeping"] * 3
            assert caplog.text.count("old readings wait to be summed up and removed") == 1
            holder.rollback()
            with caplog.at_level("INFO"):
                assert [held.turn(threading.Event()) for _ in range(2)] == [38, 0]
    assert failed == ["keeping"] * 3
    assert caplog.text.count("old readings are summed up and removed again") == 1
