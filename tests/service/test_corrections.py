"""What is known of a module is corrected: the past is gone over again, once, and pages nobody."""

import orjson
import pytest

from agent.outlets.shown import SI
from agent.piping import NOT_KNOWN
from agent.settings import correction
from agent.store import StoreError
from tests.service.site import HEALTHY_K, SIGNALS, minute, plan, told, world

LOW = "superheat-low"
END = 150
SPELL_K = 0.5
DOUBTFUL_K = 1.9  # too low only where 40 kPa are wrongly taken off


def two_spells(now):
    if 30 <= now < 60:
        return DOUBTFUL_K
    return SPELL_K if 90 <= now < 120 else HEALTHY_K


STORY = list(told(0, END, two_spells))
BASE = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
RIGHT = {**BASE, "pressure_loss_kpa": {"suction_pipe": 0.0}}
WRONG = {**BASE, "pressure_loss_kpa": {"suction_pipe": 40.0}}


def of_module(tmp_path, module, **changes):
    systems = {"one": {"refrigerant": "R-410A", "modules": {"m1": module}}}
    return plan(tmp_path, systems=systems, **changes)


def lived_through(one):
    for now in range(0, END, 10):
        one.receive([each for each in STORY if minute(now) <= each[0] < minute(now + 10)])
        one.work(now + 10)


def revisions(one):
    kept = one.store.assessments(one.watched.module_id, 0, 2**62)
    return [(each.grid_us, each.revision_id) for each in kept]


@pytest.fixture
def wrongly(tmp_path):
    with world(tmp_path, site=of_module(tmp_path, WRONG)) as one:
        lived_through(one)
        assert one.transitions(LOW) == ["raised", "cleared", "raised", "cleared"]
        yield one


def test_the_past_is_withdrawn_or_confirmed_and_nothing_is_raised_again(wrongly, tmp_path):
    wrongly.plan = of_module(tmp_path, RIGHT)
    wrongly.opened_us = minute(END)
    wrongly.restart()
    wrongly.work(END)
    lines = [(line.transition, orjson.loads(line.body)["since_us"]) for line in wrongly.lines(LOW)[4:]]
    assert sorted(transition for transition, _ in lines) == ["confirmed", "withdrawn"]
    withdrawn, confirmed = sorted(lines, key=lambda line: line[1])
    assert withdrawn[0] == "withdrawn"
    assert minute(30) <= withdrawn[1] < minute(60)
    assert minute(90) <= confirmed[1] < minute(120)


def test_every_grid_time_of_the_span_has_the_new_revision_and_the_old_one_is_kept(wrongly, tmp_path):
    before = dict(revisions(wrongly))
    old = set(before.values())
    wrongly.plan = of_module(tmp_path, RIGHT)
    wrongly.opened_us = minute(END)
    wrongly.restart()
    wrongly.work(END)
    after = dict(revisions(wrongly))
    assert set(before) <= set(after)
    assert not old & set(after.values())
    (first,) = old
    kept = wrongly.store.assessments(wrongly.watched.module_id, 0, 2**62, first)
    assert {each.grid_us for each in kept} == set(before)


def test_broken_off_on_the_way_it_is_told_all_the_same(wrongly, tmp_path):
    wrongly.plan = of_module(tmp_path, RIGHT)
    wrongly.opened_us = minute(END)
    wrongly.restart()
    wrongly.store.fail_at = wrongly.store.finished + 1
    with pytest.raises(StoreError):
        wrongly.work(END)
    wrongly.restart()
    wrongly.work(END)
    assert sorted(wrongly.transitions(LOW)[4:]) == ["confirmed", "withdrawn"]


def test_it_is_gone_over_once(wrongly, tmp_path):
    wrongly.plan = of_module(tmp_path, RIGHT)
    wrongly.opened_us = minute(END)
    for _ in range(3):
        wrongly.restart()
        wrongly.work(END)
    assert len(wrongly.transitions(LOW)) == 6


def test_other_limits_hold_from_now_on_only(wrongly, tmp_path):
    before = revisions(wrongly)
    wrongly.plan = of_module(tmp_path, WRONG, limits={LOW: {"limit_k": 3.0}})
    wrongly.opened_us = minute(END)
    wrongly.restart()
    wrongly.work(END)
    assert revisions(wrongly)[: len(before)] == before


class TestDatedLayouts:
    def dated(self, at_minute, **more):
        moment = f"2025-11-25T{8 + at_minute // 60:02}:{at_minute % 60:02}+00:00"
        entry = {
            "layout": "two-pipe-twin-late",
            "valid_from": moment,
            "by": "A. Fitter",
            "why": "seen on the roof",
        }
        return {**BASE, "layout": [{"layout": "unknown"}, entry | more]}

    def statuses(self, one):
        return {
            grid_us: orjson.loads(basis)["said"]["return_superheat"]
            for grid_us, (basis, _) in one.assessed.items()
        }

    def test_each_layout_holds_for_its_own_time(self, tmp_path):
        with world(tmp_path, site=of_module(tmp_path, {**BASE, "layout": "unknown"})) as one:
            lived_through(one)
            assert {said[2] for said in self.statuses(one).values()} == {"the layout is not known"}
            one.plan = of_module(tmp_path, self.dated(80))
            one.opened_us = minute(END)
            one.restart()
            one.work(END)
            said = self.statuses(one)
            assert {said[at][2] for at in said if at < minute(80)} == {"the layout is not known"}
            decided = [at for at in said if said[at][0] == "decided"]
            assert min(decided) >= minute(80)
            assert one.transitions(LOW) == ["found_late"]
            revision = one.store.current_revision(one.watched.module_id)
            assert revision.reason == "layout changed: seen on the roof (A. Fitter)"

    def test_only_the_span_that_differs_is_assessed_anew(self, tmp_path):
        with world(tmp_path, site=of_module(tmp_path, {**BASE, "layout": "unknown"})) as one:
            lived_through(one)
            before = dict(revisions(one))
            one.plan = of_module(tmp_path, self.dated(100))
            one.opened_us = minute(END)
            one.restart()
            one.work(END)
            after = dict(revisions(one))
            changed = [at for at in before if after[at] != before[at]]
            assert min(changed) == minute(100)

    def test_cut_anywhere_the_assessments_are_the_same(self, tmp_path):
        site = of_module(tmp_path, self.dated(80))
        with world(tmp_path, "pieces", site) as pieces, world(tmp_path, "whole", site) as whole:
            lived_through(pieces)
            whole.receive(STORY)
            whole.work(END)
            assert whole.assessed == pieces.assessed


class TestCorrection:
    def body(self, tmp_path, module, **changes):
        return of_module(tmp_path, module, **changes).modules[0].revision

    def test_the_same_is_none(self, tmp_path):
        body = self.body(tmp_path, BASE)
        assert correction(body, body).from_us is None

    @pytest.mark.parametrize(
        ("signals", "why"),
        [
            ({"suction_pipe": {**SIGNALS["suction_pipe"], "unit": "degF"}}, "signals changed"),
            ({"suction_pipe": {**SIGNALS["suction_pipe"], "point": "T7"}}, "signals changed"),
        ],
    )
    def test_a_mended_unit_or_point_reaches_back_to_the_beginning(self, tmp_path, signals, why):
        mended = {"polled": {"every_s": 30, "max_age_s": 120, "signals": SIGNALS | signals}}
        found = correction(self.body(tmp_path, BASE), self.body(tmp_path, BASE, signal_sets=mended))
        assert found == (0, why)

    def test_of_a_version_without_dates_it_is_none(self, tmp_path):
        old = orjson.dumps({"layout": {}, "refrigerant": "R-32"}).decode()
        assert correction(old, self.body(tmp_path, BASE)).from_us is None


def test_a_layout_changed_without_a_date_says_in_the_log_from_when_on_the_past_is_assessed_anew(
    wrongly, tmp_path, caplog
):
    wrongly.plan = of_module(tmp_path, {"layout": NOT_KNOWN, "signal_set": "polled"})
    with caplog.at_level("WARNING"):
        wrongly.restart()
    since = SI.when(minute(0))[:10]
    (said,) = [each for each in caplog.messages if "assessed anew" in each]
    assert said.startswith(f"m1: layout changed without a date: the past since {since}")
    assert said.endswith(" is assessed anew")
    caplog.clear()
    wrongly.restart()
    assert not caplog.messages
