"""A configuration that is mended: what was received before is read by what it means now, and stays."""

import sqlite3
from contextlib import closing

import orjson
import pytest

from agent.assess import load_assessment
from agent.intake import Message
from agent.piping import RETURN
from agent.readings import Span
from agent.service.look.looking import look, received
from agent.service.work.decoding import ToDecode, point_map
from agent.store import Store
from tests.service.site import (
    GRACE_US,
    HEALTHY_K,
    PRESSURE_KPA,
    SECOND_US,
    SIGNALS,
    World,
    configuration,
    minute,
    plan,
    told,
)

END = 60
POINTS = {"suction_pipe": "T1", "compressor_inlet": "T2"}  # as they are on the gateway
SWAPPED = {"suction_pipe": "T2", "compressor_inlet": "T1"}
AT_INLET_K = HEALTHY_K + 3.0  # see `told`


def site(directory, points=POINTS, **signals):
    """The invented site with these points, and other keys of its signals."""
    described = {name: {**keys, **signals.get(name, {})} for name, keys in SIGNALS.items()}
    for name, point in points.items():
        described[name]["point"] = point
    polled = configuration()["signal_sets"]["polled"] | {"signals": described}
    return plan(directory, signal_sets={"polled": polled})


@pytest.fixture
def begin(tmp_path):
    """Starts an agent on the same store, with another configuration each time."""
    with Store.open(f"sqlite:///{tmp_path / 'store.db'}") as store:
        yield lambda configured: World(configured, store)


def send(world, batch, touched=(), unlike=lambda name, value: value):
    """What is true of the module, as its gateway names it, comes in; `touched`: spans in place of its own."""
    watched = world.watched
    users = dict.fromkeys(watched.signal_ids, (watched.module_id,))
    mapped = [ToDecode(watched.plan, watched.signal_ids, users)]
    mapping_id = world.store.register_mapping(world.plan.mapping, 0)
    pack = [
        {"n": POINTS.get(name, name), "t": sample_us / SECOND_US, "v": unlike(name, value)}
        for sample_us, name, value in batch
    ]
    arrival_us = minute(END) + 2 * GRACE_US
    message = Message(1, 1, 1, watched.plan.topic, orjson.dumps(pack), False, arrival_us)
    decoded = point_map(mapped, mapping_id, 0).read(message)
    assert not decoded.counts
    world.store.add_batch(decoded.readings, [], touched or decoded.spans)


def work_anew(world):
    """All of the past is dirty, by one late reading."""
    late = (minute(END) + SECOND_US, "mode", 1)
    send(world, [late], [Span(world.watched.module_id, minute(0) + 1, minute(END))])
    world.work(END)


def returned(world, at_minute=END - 1):
    basis, figures = world.assessed[minute(at_minute)]
    return load_assessment(minute(at_minute), 0, basis, figures).quantities[RETURN]


def rows(world):
    with closing(sqlite3.connect(world.store.path)) as connection:
        return set(connection.execute("SELECT * FROM reading"))


def test_two_points_that_were_swapped(tmp_path, begin):
    wrong = begin(site(tmp_path, SWAPPED))
    send(wrong, told(0, END))
    wrong.work(END)
    assert returned(wrong).value == pytest.approx(AT_INLET_K, abs=0.2)
    before = rows(wrong)

    mended = begin(site(tmp_path))
    work_anew(mended)
    assert mended.watched.revision_id != wrong.watched.revision_id
    assert returned(mended).decided
    assert returned(mended).value == pytest.approx(HEALTHY_K, abs=0.2)
    assert before < rows(mended)
    assert len(rows(mended)) == len(before) + 1
    kept = mended.store.assessments(
        mended.watched.module_id, minute(END - 1), minute(END - 1), wrong.watched.revision_id
    )
    assert load_assessment(*kept[0]).quantities[RETURN].value == pytest.approx(AT_INLET_K, abs=0.2)


def test_swapped_points_give_what_right_ones_would_have_given(tmp_path, begin):
    right = begin(site(tmp_path))
    send(right, told(0, END))
    right.work(END)
    expected = right.assessed
    with Store.open(f"sqlite:///{tmp_path / 'other.db'}") as store:
        wrong = World(site(tmp_path, SWAPPED), store)
        send(wrong, told(0, END))
        wrong.work(END)
        assert wrong.assessed != expected
        mended = World(site(tmp_path), store)
        work_anew(mended)
        assert mended.assessed == expected


def test_what_came_in_before_and_after_is_one_course(tmp_path, begin):
    wrong = begin(site(tmp_path, SWAPPED))
    send(wrong, told(0, END / 2))
    wrong.work(END / 2)
    mended = begin(site(tmp_path))
    send(mended, told(END / 2, END))
    work_anew(mended)
    for at_minute in (END / 2 - 1, END / 2, END / 2 + 1, END - 1):
        assert returned(mended, at_minute).value == pytest.approx(HEALTHY_K, abs=0.2)


def test_history_status_and_feed_read_by_the_mended_points_too(tmp_path, begin):
    wrong = begin(site(tmp_path, SWAPPED))
    batch = list(told(0, 1))
    send(wrong, batch)
    pipe_c, inlet_c = (next(v for _, n, v in batch if n == name) for name in POINTS)

    def first(configured):
        shown = received(wrong.store, configured, configured.modules[0], minute(0), minute(0.5))
        return {name: value for _, name, value, _ in shown}

    assert first(wrong.plan)["suction_pipe"] == inlet_c
    mended = site(tmp_path)
    assert first(mended) | {"suction_pipe": pipe_c, "compressor_inlet": inlet_c} == first(mended)
    (seen,) = look(wrong.store, mended, minute(1))
    assert seen.newest_us == max(sample_us for sample_us, _, _ in batch)
    half = begin(site(tmp_path, {"suction_pipe": "T1", "compressor_inlet": "T3"}))
    assert "suction_pipe" in half.watched.feed.signals_us
    assert "compressor_inlet" not in half.watched.feed.signals_us  # T1 is the pipe's, and T3 never came


def test_a_gateway_that_renamed_its_points_keeps_its_past(tmp_path, begin):
    before = begin(site(tmp_path))
    send(before, told(0, END))
    before.work(END)
    expected = before.assessed
    renamed = begin(site(tmp_path, {"suction_pipe": "pipe", "compressor_inlet": "inlet"}))
    assert renamed.watched.moved == {}
    work_anew(renamed)
    assert renamed.watched.revision_id != before.watched.revision_id
    assert renamed.assessed == expected


def test_a_mended_unit(tmp_path, begin):
    """The gateway counts in bar; 944 kPa is 9.44 bar by definition."""

    def in_bar(name, value):
        return value / 100 if name == "suction_pressure" else value

    wrong = begin(site(tmp_path))
    send(wrong, told(0, END), unlike=in_bar)
    wrong.work(END)
    assert not returned(wrong).decided
    before = rows(wrong)
    mended = begin(site(tmp_path, suction_pressure={"unit": "bar", "accuracy": 0.1, "step": 0.01}))
    work_anew(mended)
    assert returned(mended).value == pytest.approx(HEALTHY_K, abs=0.2)
    assert before < rows(mended)
    assert {row[2] for row in before if row[2] == PRESSURE_KPA / 100}


def test_a_mended_sentinel_is_missing_with_its_cause(tmp_path, begin):
    def without_pipe(name, value):
        return -40 if name == "suction_pipe" else value

    wrong = begin(site(tmp_path))
    send(wrong, told(0, END), unlike=without_pipe)
    wrong.work(END)
    assert (returned(wrong).said.status, returned(wrong).said.cause) == ("not_decidable", "failed")
    mended = begin(site(tmp_path, suction_pipe={"sentinels": [-40]}))
    work_anew(mended)
    said = returned(mended).said
    assert (said.status, said.cause) == ("missing", "reading")
    assert said.text == "suction_pipe is missing: what came for it has no meaning"
    assert returned(mended).value is None
