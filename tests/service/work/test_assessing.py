"""Assessing on a real store with a stated now: the order of arrival must not show in what is kept."""

import sqlite3
from contextlib import closing
from math import nan
from pathlib import Path
from tempfile import TemporaryDirectory

import orjson
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from agent.service.work import to_do as works
from agent.service.work.assessing import Assessor
from agent.store import StoreError
from tests.service.site import (
    GRACE_US,
    HEALTHY_K,
    MINUTE_US,
    SECOND_US,
    SIGNALS,
    STEP_US,
    WET_K,
    World,
    minute,
    plan,
    told,
    world,
)

END = 160
LOW = "superheat-low"


def eventful(now):
    """Wet from 40 to 75, no answer from 110 to 113."""
    if 110 <= now < 113:
        return nan
    return WET_K if 40 <= now < 75 else HEALTHY_K


def stops(now):
    return 0 if 92 <= now < 98 else 1


STORY = list(told(0, END, eventful, mode=stops))


def wet_between(first, last):
    return lambda now: WET_K if first <= now < last else HEALTHY_K


def kept(of: World):
    return of.assessed, of.detected


@pytest.fixture(scope="module")
def in_order(tmp_path_factory):
    """What is kept where everything arrives in order and is assessed at once."""
    with world(tmp_path_factory.mktemp("in-order")) as one:
        one.receive(STORY)
        one.work(END)
        return kept(one)


@pytest.fixture
def one(tmp_path):
    with world(tmp_path) as made:
        yield made


def test_the_story_has_what_the_other_tests_shuffle(in_order):
    assessed, detected = in_order
    assert len(assessed) == END * 2
    assert sorted(assessed) == [minute(0.5 + n / 2) for n in range(END * 2)]
    modes = {orjson.loads(basis)["mode"] for basis, _ in assessed.values()}
    assert modes == {"off", "starting", "cooling", "unknown"}
    statuses = {orjson.loads(basis)["said"]["return_superheat"][0] for basis, _ in assessed.values()}
    assert statuses == {"decided", "not_settled", "not_decidable", "missing"}
    assert [orjson.loads(change.state)["active"] for change in detected if change.alarm == LOW].count(True)


@settings(max_examples=8, deadline=None, suppress_health_check=list(HealthCheck))
@given(
    chance=st.randoms(use_true_random=False),
    together=st.sampled_from([7, 70, 300]),
    size=st.sampled_from([60, 250, 2000]),
    piece=st.sampled_from([17, 2880]),
)
def test_late_shuffled_repeated_and_differently_batched_readings_leave_the_same(
    in_order, chance, together, size, piece
):
    groups = [STORY[at : at + together] for at in range(0, len(STORY), together)]
    chance.shuffle(groups)
    arriving = [reading for group in groups for reading in group]
    arriving += chance.sample(arriving, len(arriving) // 5)
    with (
        TemporaryDirectory() as directory,
        world(Path(directory)) as shuffled,
        pytest.MonkeyPatch.context() as patch,
    ):
        patch.setattr(works, "PIECE", piece)
        newest = 0.0
        for at in range(0, len(arriving), size):
            batch = arriving[at : at + size]
            shuffled.receive(batch)
            newest = max(newest, *((sample_us - minute(0)) / MINUTE_US for sample_us, _, _ in batch))
            if chance.random() < 0.6:
                shuffled.work(newest)
        shuffled.work(END)
        assert kept(shuffled) == in_order


def test_as_it_comes_or_all_at_once_is_the_same(one, in_order):
    for now in range(END):
        one.receive(reading for reading in STORY if minute(now) <= reading[0] < minute(now + 1))
        one.work(now + 1)
    assert kept(one) == in_order


def test_assessed_again_nothing_changes(one, in_order):
    one.receive(STORY)
    one.work(END)
    journal = one.journal
    one.receive(STORY)
    assert one.work(END) == []
    one.receive([(minute(END) - 1, "bypass_valve", 0), (minute(0) + 700_000, "bypass_valve", 0)])
    before = len(one.store.written)
    assert one.work(END) == []
    assert len(one.store.written) - before == END * 2  # all of it was gone over again
    assert kept(one) == in_order
    assert one.journal == journal


@pytest.mark.parametrize("restarts", [False, True])
@pytest.mark.parametrize("fail_at", [1, 2, 3])
def test_a_failure_between_two_pieces_leaves_no_trace(one, in_order, monkeypatch, fail_at, restarts):
    monkeypatch.setattr(works, "PIECE", 45)
    one.store.fail_at = fail_at
    one.receive(STORY)
    with pytest.raises(StoreError):
        one.work(END)
    assert one.store.progress(one.watched.module_id) is None
    assert one.journal == []
    if restarts:
        one.restart()
    one.work(END)
    assert kept(one) == in_order
    assert one.store.progress(one.watched.module_id) == minute(END)


def test_what_failed_to_be_stored_is_neither_shown_nor_left_out_afterwards(one, monkeypatch):
    monkeypatch.setattr(works, "PIECE", 45)
    one.store.fail_at = 3
    one.receive(STORY)
    with pytest.raises(StoreError):
        one.work(END)
    assert one.watched.latest is None
    assert [each.grid_us for each in one.work(END)] == sorted(one.assessed)


def test_the_live_edge_only_goes_forward(one):
    one.receive(told(0, 30))
    one.work(30)
    edge_us = one.store.progress(one.watched.module_id)
    assert edge_us == minute(30)
    before = kept(one)
    assert one.work(20) == []
    assert one.store.progress(one.watched.module_id) == edge_us
    assert kept(one) == before


def test_a_clock_that_steps_an_hour_ahead_and_back_leaves_no_trace(one, in_order):
    """What was assessed ahead of time is assessed again as its readings come, up to where the story ends."""
    step = END // 4
    for now, ahead in ((step, 0), (2 * step, 60), (3 * step, 0), (END, 0)):
        one.receive(reading for reading in STORY if reading[0] < minute(now))
        one.work(now + ahead)
    upto = {key: value for key, value in one.assessed.items() if key <= minute(END)}
    assert upto == in_order[0]
    assert one.watched.latest.grid_us <= minute(END)


def test_readings_that_came_while_the_clock_was_set_back_count_like_any(one, in_order):
    """A clock ten minutes ahead at first; the readings carry the gateway's time, which is right."""
    one.receive(reading for reading in STORY if reading[0] < minute(20))
    one.work(30)
    for now in range(20, END):
        one.receive(reading for reading in STORY if minute(now) <= reading[0] < minute(now + 1))
        one.work(now + 1 - GRACE_US / MINUTE_US)
    one.work(END)
    assert kept(one) == in_order


def test_a_late_batch_is_assessed_where_it_reaches_and_nowhere_else(one):
    story = list(told(0, 120))
    late = [reading for reading in story if minute(40) <= reading[0] < minute(50)]
    one.receive(reading for reading in story if reading not in late)
    one.work(120)
    before = one.assessed
    already = len(one.store.written)
    one.receive(late)
    assert one.work(120) == []  # nothing of it is at the live edge
    first_us, last_us = late[0][0], late[-1][0] + one.watched.plan.module.lookback_us
    reached = [grid_us for grid_us in before if first_us <= grid_us <= last_us]
    assert sorted(one.store.written[already:]) == reached
    after = one.assessed
    assert after.keys() == before.keys()
    changed = {grid_us for grid_us in before if before[grid_us] != after[grid_us]}
    assert changed and changed <= set(reached)


def test_an_alarm_that_stands_at_the_end_of_a_backlog_is_raised_with_its_own_time(one):
    one.receive(told(0, 120, wet_between(60, 999)))
    one.work(120)
    (raised,) = one.lines(LOW)
    body = orjson.loads(raised.body)
    assert (raised.alarm, raised.transition) == (LOW, "raised")
    assert minute(60) <= body["since_us"] <= minute(71)
    assert raised.event_us == body["since_us"] + 600 * SECOND_US
    assert raised.known_us == minute(120) + GRACE_US
    assert body["value_k"] == pytest.approx(WET_K, abs=0.15)
    assert body["probe"] == "suction_pipe" and body["limit_k"] == 2.0


def test_an_alarm_that_was_over_at_the_end_of_a_backlog_is_found_late_and_not_raised(one):
    one.receive(told(0, 150, wet_between(30, 70)))
    one.work(150)
    assert one.transitions(LOW) == ["found_late"]
    one.receive(told(150, 160))
    one.work(160)
    assert one.transitions(LOW) == ["found_late"]


def test_an_alarm_comes_and_goes_at_the_live_edge(one):
    for now in range(0, 130, 5):
        one.receive(told(now, now + 5, wet_between(30, 70)))
        one.work(now + 5)
    assert one.transitions(LOW) == ["raised", "cleared"]
    raised, cleared = one.lines(LOW)
    assert raised.event_us < cleared.event_us
    assert orjson.loads(cleared.body)["since_us"] == orjson.loads(raised.body)["since_us"]
    assert all(0 <= each.known_us - each.event_us - GRACE_US <= 5 * MINUTE_US for each in one.lines(LOW))


def withdrawn(one):
    """Wet once a minute; then it comes out that the module stood in between, so nothing was settled."""
    one.receive(told(0, 60, wet_between(20, 999), every_s=60))
    one.work(60)
    assert one.transitions(LOW) == ["raised"]
    late = told(0, 60, every_s=60, mode=lambda _: 0)
    one.receive((sample_us + 30 * SECOND_US, name, value) for sample_us, name, value in late)
    one.work(60)


def test_late_readings_that_take_an_alarm_away_withdraw_it(one):
    withdrawn(one)
    assert one.transitions(LOW) == ["raised", "withdrawn"]
    one.receive(told(60, 70))
    one.work(70)
    assert len(one.lines(LOW)) == 2


def test_an_alarm_after_a_withdrawn_one_and_a_restart_is_raised(one):
    withdrawn(one)
    one.restart()
    for now in range(60, 130, 5):
        one.receive(told(now, now + 5, wet_between(80, 999)))
        one.work(now + 5)
    assert one.transitions(LOW) == ["raised", "withdrawn", "raised"]


def test_an_alarm_that_stood_in_a_gap_and_was_over_after_it_is_in_the_journal(one):
    """The gateway falls silent while superheat is low; what it kept arrives in one go, with the end of it."""
    one.receive(told(0, 60, wet_between(20, 999)))
    one.work(90)
    assert one.lines(LOW) == []  # only the gap keeps it standing
    one.receive(told(60, 120))
    one.work(120)
    assert one.transitions(LOW) == ["found_late"]


def test_a_restart_keeps_alarms_and_says_nothing_twice(one):
    one.receive(told(0, 60, wet_between(20, 999)))
    one.work(60)
    one.restart()
    assert one.watched.states[LOW].active
    assert one.watched.latest.grid_us == minute(60)
    one.receive(told(60, 90, wet_between(20, 70)))
    one.work(90)
    assert one.transitions(LOW) == ["raised", "cleared"]


def other_limits(directory):
    return plan(directory, limits={"superheat-high": {"limit_k": 13.0}})


def test_a_new_revision_keeps_the_old_assessments_and_takes_over_what_stands(one, tmp_path):
    one.receive(told(0, 60, wet_between(20, 999)))
    one.work(60)
    before, first = one.assessed, one.watched.revision_id
    one.plan = other_limits(tmp_path)
    one.restart()
    second = one.watched.revision_id
    assert second != first
    assert one.watched.states[LOW].active
    one.receive(told(60, 70, wet_between(20, 999)))
    one.work(70)
    under_first = one.store.assessments(one.watched.module_id, 0, 2**62, first)
    assert {each.grid_us: (each.basis, each.figures) for each in under_first} == before
    under_second = one.store.assessments(one.watched.module_id, 0, 2**62, second)
    assert [each.grid_us for each in under_second] == [minute(60.5 + n / 2) for n in range(20)]
    assert one.transitions(LOW) == ["raised"]
    one.receive(told(70, 110))
    one.work(110)
    assert one.transitions(LOW) == ["raised", "cleared"]
    raised, cleared = one.lines(LOW)
    assert orjson.loads(cleared.body)["since_us"] == orjson.loads(raised.body)["since_us"]


def test_a_late_batch_after_a_new_revision_does_not_take_a_standing_alarm_away(one, tmp_path):
    story = list(told(0, 60, wet_between(20, 999)))
    late = [reading for reading in story if minute(55) <= reading[0] < minute(56)]
    one.receive(reading for reading in story if reading not in late)
    one.work(60)
    assert one.transitions(LOW) == ["raised"]
    one.plan = other_limits(tmp_path)
    one.restart()
    one.receive(late)
    one.receive(told(60, 63, wet_between(20, 999)))
    one.work(63)
    assert one.watched.states[LOW].active
    one.receive(told(63, 80, wet_between(20, 999)))
    one.work(80)
    assert one.transitions(LOW) == ["raised"]


def test_an_occurrence_that_was_told_before_a_new_revision_is_not_told_again(one, tmp_path):
    for now in range(0, 100, 10):
        one.receive(told(now, now + 10, wet_between(20, 50)))
        one.work(now + 10)
    assert one.transitions(LOW) == ["raised", "cleared"]
    one.plan = other_limits(tmp_path)
    one.restart()
    one.receive([(minute(15) + 1, "bypass_valve", 0)])
    one.receive(told(100, 101))
    one.work(101)
    assert one.transitions(LOW) == ["raised", "cleared"]


def test_a_long_gap_is_the_same_whatever_came_first(tmp_path):
    """No reading touches its middle."""
    wet = wet_between(0, 999)
    early, recent = list(told(0, 24, wet)), list(told(120, 137, wet))
    with world(tmp_path, "in-order") as ordered, world(tmp_path, "late") as late:
        ordered.receive([*early, *recent])
        ordered.work(137)
        late.receive(recent)
        late.work(137)
        late.receive(early)
        late.work(137)
        assert kept(late) == kept(ordered)


def test_a_start_after_a_lost_poll_is_judged_alike_in_one_piece_and_in_many(tmp_path):
    """A slow gateway: ten polls are more than the quiet time, and the poll before the start is lost."""
    slow = {"every_s": 120, "max_age_s": 300, "signals": SIGNALS}
    site = plan(tmp_path, signal_sets={"polled": slow})
    story = list(
        told(
            0,
            90,
            lambda now: nan if now == 38 else HEALTHY_K,
            every_s=120,
            mode=lambda now: 0 if now < 40 else 1,
        )
    )
    with world(tmp_path, "whole", site) as whole, world(tmp_path, "pieces", site) as pieces:
        whole.receive(story)
        whole.work(90)
        for now in range(0, 90, 2):
            pieces.receive(reading for reading in story if minute(now) <= reading[0] < minute(now + 2))
            pieces.work(now + 2)
        different = [
            (grid_us - minute(0)) / MINUTE_US
            for grid_us in whole.assessed
            if whole.assessed[grid_us] != pieces.assessed[grid_us]
        ]
        assert different == []


def test_two_stores_with_the_same_input_hold_the_same(tmp_path):
    with world(tmp_path, "a") as first, world(tmp_path, "b") as second:
        for each in (first, second):
            each.receive(STORY[500:])
            each.work(110)
            each.receive(STORY)
            each.work(END)
        paths = [first.store.path, second.store.path]
        dumps = []
        for path in paths:
            with closing(sqlite3.connect(path)) as connection:
                dumps.append([line for line in connection.iterdump() if line.startswith("INSERT")])
    assert dumps[0] == dumps[1]
    assert any("alarm_journal" in line for line in dumps[0])


def test_readings_that_reach_the_newest_grid_time_late_are_shown(one):
    story = list(told(0, 60))
    one.receive(reading for reading in story if reading[0] < minute(40))
    one.work(60)
    assert one.watched.latest.quantities["return_superheat"].said.status == "missing"
    one.receive(story)
    one.work(60)
    assert one.watched.latest.grid_us == minute(60)
    assert one.watched.latest.quantities["return_superheat"].decided


def test_a_module_that_never_spoke_has_nothing_assessed(one):
    assert one.work(60) == []
    assert one.assessed == {} and one.store.progress(one.watched.module_id) is None


def test_a_silent_module_goes_on_being_assessed_as_missing(one):
    one.receive(told(0, 30))
    one.work(30)
    live = one.work(60)
    assert [each.grid_us for each in live] == [minute(30) + n * STEP_US for n in range(1, 61)]
    assert live[-1].mode == "unknown"
    assert live[-1].quantities["return_superheat"].said.status == "missing"
    assert live[-1].quantities["return_superheat"].value is None


def test_a_longer_step_begins_on_its_own_grid(one):
    """Also where the live edge had come to a time that is not on it."""
    one.receive(told(0, 30))
    one.work(10.5)
    one.assessor = Assessor(one.store, 2 * STEP_US, GRACE_US)
    one.work(20)
    one.work(21)
    assert [grid_us for grid_us in one.assessed if grid_us > minute(10.5)] == [
        minute(n) for n in range(11, 22)
    ]
