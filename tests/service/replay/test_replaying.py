"""A module's past gone over again: the same with nothing changed, and what another configuration makes."""

import pytest
import yaml

from agent.alarms import CONDITIONS, Fate
from agent.service.replay.comparing import compared
from agent.service.replay.replaying import NothingToReplayError, Replay, recorded_occurrences
from agent.settings import Changes, load_changed
from tests.bench_site import Bench
from tests.corrected import RENAMED, RIGHT, WRONG, configurations, payloads
from tests.scenarios.scenario import DAY_US, HOUR_US, START_US

DAYS = 4
STEP_S = 120
END_US = START_US + DAYS * DAY_US
HIGH = "superheat-high"
TO_RIGHT = Changes(RIGHT, RENAMED)


@pytest.fixture(scope="module")
def story():
    return payloads(DAYS)


@pytest.fixture(scope="module")
def wrong(tmp_path_factory, story):
    """Watched for days under the wrong layout."""
    body, _ = configurations(story[0][1], STEP_S)
    with Bench(tmp_path_factory.mktemp("wrong"), body) as bench:
        bench.live(story)
        yield bench


def rows(replay):
    return {
        grid_us: (basis, figures)
        for piece in replay.pieces()
        for grid_us, basis, figures in piece.stretch.records(piece.codes, CONDITIONS)
    }


def kept(bench, replay):
    found = bench.store.assessments(bench.watched.module_id, replay.from_us, replay.to_us)
    return {each.grid_us: (each.basis, each.figures) for each in found}


def to_right(bench, since_us=START_US):
    return load_changed(bench.file, bench.plan, bench.module.path, TO_RIGHT, since_us)


SPANS = [
    (0, 2**61),
    (START_US + 1.37 * DAY_US, 2**61),
    (START_US + 2 * DAY_US, START_US + 3 * DAY_US),
    (START_US + 2.51 * DAY_US, START_US + 2.53 * DAY_US),
    (START_US + 3 * DAY_US + 14 * HOUR_US, END_US),  # an alarm stands where it begins
]


@pytest.mark.parametrize(("since_us", "until_us"), SPANS)
def test_with_nothing_changed_it_is_what_is_recorded_value_for_value(wrong, since_us, until_us):
    replay = Replay(wrong.store, wrong.plan, wrong.module, int(since_us), int(until_us))
    found = rows(replay)
    assert found == kept(wrong, replay)
    assert len(found) == (replay.to_us - replay.from_us) // wrong.step_us + 1
    done = Replay(wrong.store, wrong.plan, wrong.module, int(since_us), int(until_us)).run()
    assert done.occurrences == recorded_occurrences(wrong.store, replay)
    report = compared(wrong.store, wrong.plan, wrong.module, wrong.module, int(since_us), int(until_us))
    assert not report.differs and report.compared.unrecorded == 0


def test_what_a_day_teaches_counts_for_the_next_though_both_are_taken_together(wrong, monkeypatch):
    changed = to_right(wrong)

    def replay(first_day):
        return Replay(wrong.store, changed.plan, changed.module, START_US + int(first_day * DAY_US), 2**61)

    def lengths(first_day):
        return [len(piece.stretch.grid_us) for piece in replay(first_day).pieces()]

    day = DAY_US // (STEP_S * 1_000_000)
    assert lengths(2) == [day, day, 1]  # the second day completes it: what follows rests on that
    together = [rows(replay(first_day)) for first_day in (2, 2.5)]
    monkeypatch.setattr("agent.service.replay.replaying.TOGETHER", 1)
    assert [rows(replay(first_day)) for first_day in (2, 2.5)] == together


def test_with_the_right_layout_it_is_what_an_agent_configured_rightly_from_the_start_records(
    wrong, story, tmp_path
):
    """The same signals, named as they are."""
    body = yaml.safe_load(wrong.file.read_text())
    signals = body["signal_sets"]["bench"]["signals"]
    for name, new in RENAMED.items():
        signals[new] = signals.pop(name) | {"point": new}
    body["systems"]["one"]["modules"]["m1"]["layout"] = RIGHT
    changed = to_right(wrong)
    replay = Replay(wrong.store, changed.plan, changed.module, 0, 2**61)
    found = rows(replay)
    with Bench(tmp_path, body) as rightly:
        rightly.live(story)
        assert found == kept(rightly, replay)
        done = Replay(wrong.store, changed.plan, changed.module, 0, 2**61).run()
        assert done.occurrences == recorded_occurrences(rightly.store, replay)
        assert done.occurrences["watch-blind"]


def test_a_replay_writes_nothing(wrong):
    before = wrong.store.path.read_bytes(), wrong.store.signals(), wrong.store.mappings()
    changed = to_right(wrong)
    Replay(wrong.store, changed.plan, changed.module, 0, 2**61).run()
    assert (wrong.store.path.read_bytes(), wrong.store.signals(), wrong.store.mappings()) == before


def test_the_report_says_what_would_not_have_been_raised_and_who_was_told(wrong):
    changed = to_right(wrong)
    shares = []
    report = compared(
        wrong.store, changed.plan, changed.module, wrong.module, START_US, END_US, progress=shares.append
    )
    assert report.changes[0] == f"Layout {RIGHT} in place of {WRONG}."
    (high,) = report.alarms[HIGH]
    assert high.fate is Fate.WITHDRAWN and high.replayed is None
    assert report.notices == {(HIGH, high.recorded.since_us): 2}  # that it came, and that it was over
    assert {each.fate for each in report.alarms["watch-blind"]} == {Fate.FOUND}
    was, now = (side[0] for side in report.compared.quantities["return_superheat"][:2])
    assert was.mode == now.mode == "cooling"
    assert was.decided > 0.8 * was.times and now.decided == 0
    assert was.probes[0][0] == "accumulator_outlet"
    assert shares == sorted(shares) and shares[-1] == 1.0


def test_limits_are_tried_on_the_same_figures(wrong, tmp_path):
    file = tmp_path / "limits.yaml"
    file.write_text("superheat-high: {limit_k: 22.5}\n")
    changes = Changes(limits=file)
    changed = load_changed(wrong.file, wrong.plan, wrong.module.path, changes, START_US)
    report = compared(wrong.store, changed.plan, changed.module, wrong.module, START_US, END_US)
    (high,) = report.limits
    assert high.alarm == HIGH
    assert high.changes == (("limit_k", 14.0, 22.5), ("second_best_k", 20.0, 22.5))  # stays the wider
    assert (high.now.raised, high.proposed.raised) == (1, 1)
    assert high.now.per_week == pytest.approx(7 / DAYS, rel=0.01)
    assert high.now.stands_us > 8 * HOUR_US > 4 * HOUR_US > high.proposed.stands_us > 0
    assert [each.fate for each in report.alarms[HIGH]] == [Fate.ALIKE]
    within, decided = high.within
    assert 0 < within < decided
    report = compared(wrong.store, wrong.plan, wrong.module, wrong.module, START_US, END_US)
    assert report.limits == ()


@pytest.fixture(scope="module")
def righted(tmp_path_factory, story):
    """The same agent goes on with the file put right; and what had been told before."""
    before, after = configurations(story[0][1], STEP_S)
    with Bench(tmp_path_factory.mktemp("righted"), before) as bench:
        bench.live(story)
        told = list(bench.notices)
        bench.restart(after, END_US)
        bench.assessor.work_off(bench.watched, END_US + bench.grace_us)
        yield bench, told


class TestPutRight:
    def test_what_was_wrongly_raised_is_withdrawn_in_the_journal(self, righted):
        bench, _ = righted
        lines = bench.store.journal(bench.watched.module_id, 0, 2**62)
        assert sorted(e.transition for e in lines if e.alarm == HIGH) == ["cleared", "raised", "withdrawn"]
        assert {e.transition for e in lines if e.alarm == "watch-blind"} == {"found_late"}

    def test_people_get_one_summary_and_nothing_else(self, righted):
        bench, told = righted
        assert [subject.split()[0] for _, _, subject in told] == ["LOW", "OVER"]
        assert [subject for _, _, subject in bench.notices[len(told) :]] == ["PAST alarms at bench/one/m1"]

    def test_then_a_replay_finds_nothing_that_differs(self, righted):
        bench, _ = righted
        report = compared(bench.store, bench.plan, bench.module, bench.module, START_US, END_US)
        assert not report.differs and report.alarms.keys() == {"watch-blind"}


def test_what_cannot_be_replayed_is_said(wrong, tmp_path):
    with pytest.raises(NothingToReplayError, match="nothing of bench/one/m1 in that time"):
        Replay(wrong.store, wrong.plan, wrong.module, END_US + DAY_US, END_US + 2 * DAY_US)
    body, _ = configurations(payloads(1)[0][1], STEP_S)
    with Bench(tmp_path, body) as empty, pytest.raises(NothingToReplayError, match="no reading of bench/one"):
        Replay(empty.store, empty.plan, empty.module, 0, END_US)
