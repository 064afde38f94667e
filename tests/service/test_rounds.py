"""Rounds of the running agent over several modules, on a real store with a stated now, without a broker."""

import threading
from contextlib import contextmanager
from functools import partial
from math import nan

import numpy as np
import pytest

from agent.assess import SECOND
from agent.outlets import Metrics
from agent.readings import EVER_US, Reading, Span
from agent.service.rounds import Rounds
from agent.service.work import to_do as works
from agent.service.work.alarming import DETECTED, Alarms
from agent.service.work.assessing import Assessor
from agent.service.work.registering import register
from agent.settings import load
from agent.store import Store, StoreError
from tests.service.site import (
    GRACE_US,
    HEALTHY_K,
    MINUTE_US,
    STEP_US,
    WET_K,
    configuration,
    minute,
    told,
    write,
)

END = 150
LOW, STALE = "superheat-low", "feed-stale"


def site(directory, number=5):
    """Modules that are alike, one of them on a topic of its own, and two that are not like those."""
    of_one = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    modules = {
        f"m[1..{number}]": of_one,
        "alone": of_one | {"topic": "plant/alone"},
        "other[1..2]": of_one | {"unknown_loss_kpa": 60},
    }
    body = configuration(systems={"one": {"refrigerant": "R-410A", "modules": modules}})
    return load(write(directory, body))


class Running:
    """What a round works on; `clock_us` is now."""

    def __init__(self, store, plan, announcer=None):
        self.store, self.plan, self.clock_us = store, plan, minute(0)
        self.watched = register(store, plan, minute(0))
        self.alarms = Alarms(store, announcer)
        self.assessor = Assessor(store, STEP_US, GRACE_US, self.alarms)
        self.published = []
        self.unconnected_us = None
        self.metrics = Metrics(lambda: self.clock_us, EVER_US, {})
        self.rounds = Rounds(
            plan,
            store,
            self.assessor,
            self.alarms,
            self.watched,
            self.metrics,
            None,
            lambda topic, payload: self.published.append(topic),
            lambda: self.unconnected_us,
            lambda: self.clock_us,
        )

    def receive(self, each, batch):
        batch = list(batch)
        readings = [
            Reading(sample_us, each.signal_ids[name], value, None, sample_us, 1)
            for sample_us, name, value in batch
        ]
        times = [reading.sample_us for reading in readings]
        if times:
            self.store.add_batch(readings, [], [Span(each.module_id, min(times), max(times))])
            for sample_us, name, value in batch:
                each.feed.hear(self.clock_us, name, sample_us, value)

    def round(self, now_us):
        self.clock_us = now_us
        self.rounds.work_off(threading.Event())

    @property
    def kept(self):
        return [
            (
                [each[:1] + each[2:] for each in self.store.assessments(one.module_id, 0, EVER_US)],
                self.store.detections(one.module_id, one.revision_id, 0, EVER_US),
                [
                    (e.alarm, e.event_us, e.transition, e.body)
                    for e in self.store.journal(one.module_id, 0, EVER_US)
                    if e.transition in DETECTED and e.alarm != STALE
                ],
                self.store.hours(one.module_id, 0, EVER_US),
            )
            for one in self.watched
        ]


@contextmanager
def running(directory, plan, name, **more):
    with Store.open(f"sqlite:///{directory / name}.db") as store:
        yield Running(store, plan, **more)


def superheat_k(wet, gap, now):
    return nan if gap <= now < gap + 4 else WET_K if wet <= now < wet + 30 else HEALTHY_K


def runs(stop, now):
    return 0 if stop <= now < stop + 6 else 1


def stories(number):
    """What each module sends: wet at times of its own, stopped at times of its own, silent for some."""
    chance = np.random.default_rng(11)
    found = []
    for _ in range(number):
        wet, stop, gap = chance.integers(20, END - 20, 3)
        found.append(list(told(0, END, partial(superheat_k, wet, gap), mode=partial(runs, stop))))
    return found


def test_together_as_each_alone(tmp_path):
    """With a batch that comes late for some, and a module that begins later than the others."""
    plan = site(tmp_path)
    with running(tmp_path, plan, "rounds") as many, running(tmp_path, plan, "alone") as alone:
        many.store.keep_at_hand(4 * 60 * MINUTE_US)
        told_by = stories(len(plan.modules))
        for now in range(0, END, 2):
            for number, story in enumerate(told_by):
                here = [each for each in story if minute(now) <= each[0] < minute(now + 2)]
                if number == 2 and now < 30:
                    continue
                if number == 3 and 60 <= now < 90:  # comes half an hour late
                    here = []
                if number == 3 and now == 90:
                    here = [each for each in story if minute(60) <= each[0] < minute(92)]
                for one in (many, alone):
                    one.receive(one.watched[number], here)
            now_us = minute(now + 2) + GRACE_US
            many.round(now_us)
            for each in alone.watched:
                alone.assessor.work_off(each, now_us)
        assert many.kept == alone.kept
        assert all(assessed for assessed, *_ in many.kept)
        assert {alarm for _, _, journal, _ in many.kept for alarm, *_ in journal} >= {LOW}
        assert any(hours for *_, hours in many.kept)


@pytest.fixture
def one(tmp_path):
    plan = site(tmp_path)
    with running(tmp_path, plan, "store") as made:
        for number, story in enumerate(stories(len(plan.modules))):
            made.receive(made.watched[number], [each for each in story if each[0] < minute(20)])
        made.round(minute(20) + GRACE_US)
        yield made


def last(one):
    return [each.latest.grid_us if each.latest else None for each in one.watched]


def test_where_nothing_is_due_the_store_is_not_asked_module_by_module(one, monkeypatch):
    asked = []
    for name in ("dirty_of", "readings", "finish", "assessments", "progress", "first_assessed"):
        real = getattr(Store, name)
        monkeypatch.setattr(
            Store,
            name,
            lambda self, *a, real=real, name=name, **k: (asked.append(name), real(self, *a, **k))[1],
        )
    one.round(minute(20) + GRACE_US + 2 * SECOND)
    assert asked == []
    one.receive(one.watched[1], told(20, 20.5))
    one.round(minute(20.5) + GRACE_US)
    assert asked.count("dirty_of") == 1
    assert last(one) == [minute(20.5)] * len(one.watched)


def test_one_that_fails_takes_no_other_along(one, monkeypatch, caplog):
    real, broken = Store.finish, one.watched[2].module_id

    def finish(self, module_id, *more, **named):
        if module_id == broken and named.get("assessed_us"):
            raise StoreError("the disk is full")
        real(self, module_id, *more, **named)

    monkeypatch.setattr(Store, "finish", finish)
    one.round(minute(25) + GRACE_US)
    assert last(one) == [minute(20 if number == 2 else 25) for number in range(len(one.watched))]
    assert "could not be assessed" in caplog.text
    monkeypatch.undo()
    one.round(minute(25) + GRACE_US + SECOND)
    assert last(one) == [minute(25)] * len(one.watched)


def test_where_they_cannot_be_assessed_together_each_is_alone(one, monkeypatch, caplog):
    def fails(*_):
        raise ValueError("of different length")

    monkeypatch.setattr(works, "assess_together", fails)
    one.round(minute(25) + GRACE_US)
    assert last(one) == [minute(25)] * len(one.watched)
    assert "assessed one by one: of different length" in caplog.text


def test_where_the_store_cannot_be_asked_what_is_dirty_each_says_so(one, monkeypatch, caplog):
    def fails(*_):
        raise StoreError("locked")

    for name in ("earliest_dirty", "dirty_of"):
        monkeypatch.setattr(Store, name, fails)
    one.round(minute(25) + GRACE_US)
    assert caplog.text.count("could not be assessed and stays dirty: locked") == len(one.watched)
    monkeypatch.undo()
    one.round(minute(25) + GRACE_US + SECOND)
    assert last(one) == [minute(25)] * len(one.watched)


def test_feeds_are_judged_and_alarms_settled_where_nothing_is_due(one):
    """The clock goes on without a grid time: what follows from time alone still comes."""
    one.unconnected_us = minute(20)
    one.round(minute(20) + GRACE_US + 20 * SECOND)
    one.round(minute(21) + GRACE_US + 10 * SECOND)
    one.round(minute(21) + GRACE_US + 25 * SECOND)
    assert last(one) == [minute(21)] * len(one.watched)
    entries = [each for each in one.store.journal(None, 0, EVER_US) if each.alarm == STALE]
    assert [each.transition for each in entries] == ["raised"] * len(one.watched)
    one.unconnected_us = None
    for each in one.watched:
        each.feed.heard_us = one.clock_us
    one.round(one.clock_us + SECOND)
    states = [each.lives[STALE].state.active for each in one.watched]
    assert states == [False] * len(one.watched)


def test_an_end_is_looked_for_between_modules(one):
    stopping = threading.Event()
    stopping.set()
    one.clock_us = minute(25) + GRACE_US
    one.rounds.work_off(stopping)
    assert last(one) == [minute(20)] * len(one.watched)
