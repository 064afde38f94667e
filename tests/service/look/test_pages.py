"""The status page of a real store: what was assessed, what has come since, and what it takes to ask often."""

import re
import threading
import time
from dataclasses import replace

import pytest

from agent.assess import load_assessment, load_quantity
from agent.outlets.web.trend import Kind, runs
from agent.service.look import pages as module
from agent.service.look.looking import FRESH_US, look
from agent.service.look.pages import Pages
from agent.service.look.recent import BIN_US, NUMBER, WHOLE_US, Recent
from agent.service.machine.lock import only_agent
from agent.store import Store
from tests.service.site import GRACE_US, MINUTE_US, START_US, WET_K, minute, plan, told, world

MODES = {"off": 0, "cooling": 1}


def page_of(here, now_minute, **more):
    return Pages(here.store, here.plan, lambda: minute(now_minute) + GRACE_US, **more)


def text(page):
    return " ".join(re.sub(r"<style>.*?</style>|<[^>]*>", " ", page, flags=re.S).split())


@pytest.fixture
def wet(tmp_path):
    """Healthy for half an hour, then wet for half an hour."""
    with world(tmp_path, site=plan(tmp_path, alarms={"shadow_days": 0})) as here:
        here.receive(told(0, 60, lambda now: 6.0 if now < 30 else WET_K))
        here.work(60)
        yield here


def test_shows_what_the_store_holds(wet):
    with only_agent(wet.store.path):
        found = text(page_of(wet, 60).status())
    assert "1 of 1 module needs somebody now" in found
    assert "superheat-low high unacknowledged , began 25 Nov 08:30" in found
    assert "liquid is very likely coming back; began 25 Nov 08:30" in found
    assert re.search(r"return superheat 0\.[345] K between -1\.\d and 1\.\d K", found)
    assert "suction_pipe: " in found
    assert "assessed 45 s ago" in found


def test_says_that_no_agent_works_on_the_store(wet):
    assert "Not known: no agent runs on this store; last assessed 45 s ago" in text(page_of(wet, 60).status())


def test_shows_what_the_agent_holds_once_it_holds_every_module(wet):
    (seen,) = look(wet.store, wet.plan, minute(60) + GRACE_US)
    heating = replace(seen, assessment=replace(seen.assessment, mode="heating"))
    assert "one/m1 heating" in text(page_of(wet, 60, held={seen.path: heating}.get).status())
    assert "one/m1 cooling" in text(page_of(wet, 60, held={}.get).status())


def test_before_anything_is_there_every_module_is_named(tmp_path):
    with Store.open(f"sqlite:///{tmp_path / 'store.db'}") as store:
        found = text(Pages(store, plan(tmp_path), lambda: START_US).status())
    assert "one/m1 not known not assessed" in found and "no reading of late" in found


def test_the_last_hours_tell_decided_off_missing_and_not_assessed_apart(tmp_path):
    with world(tmp_path) as here:
        here.receive(told(0, 60, mode=lambda now: MODES["cooling" if now < 40 else "off"]))
        here.receive(each for each in told(60, 120) if each[1] != "suction_pipe")
        here.work(120)
        trend = Recent(here.store).trend(here.watched.module_id, minute(120))
    assert (trend.number, trend.bin_us) == (NUMBER, BIN_US)
    kinds = [run.kind for run in runs(trend)]
    assert kinds[-1] is Kind.MISSING and Kind.OFF in kinds and Kind.DECIDED in kinds
    assert kinds.index(Kind.DECIDED) < kinds.index(Kind.OFF)
    assert min(trend.bins) > NUMBER / 2  # four hours before the first reading nothing was assessed


def test_what_was_read_in_pieces_is_what_is_read_at_once(tmp_path):
    with world(tmp_path) as here:
        recent = Recent(here.store)
        for until in range(4, 60, 3):
            here.receive(told(until - 4 if until == 4 else until - 3, until, lambda now: 5 + now % 7 / 2))
            here.work(until)
            trend = recent.trend(here.watched.module_id, minute(until) + GRACE_US)
            assert trend == Recent(here.store).trend(here.watched.module_id, minute(until) + GRACE_US)
        assert len(trend.bins) > 10


def test_late_readings_show_after_a_while(tmp_path):
    with world(tmp_path) as here:
        recent, asked = Recent(here.store), minute(20) + GRACE_US
        here.receive(each for each in told(0, 20) if each[1] != "suction_pipe")
        here.work(20)
        assert recent.trend(here.watched.module_id, asked).bins[NUMBER - 3].kind is Kind.MISSING
        here.receive(each for each in told(0, 20) if each[1] == "suction_pipe")
        here.work(20)
        later = recent.trend(here.watched.module_id, asked + WHOLE_US)
        assert [run.kind for run in runs(later)][-1] is Kind.DECIDED


def test_asked_by_many_at_once_it_is_made_once(wet, monkeypatch):
    made = []

    def slowly(*arguments, **more):
        made.append(1)
        time.sleep(0.2)
        return "a page"

    monkeypatch.setattr(module, "render_page", slowly)
    pages = page_of(wet, 60)
    asking = [threading.Thread(target=pages.status) for _ in range(8)]
    for each in asking:
        each.start()
    for each in asking:
        each.join()
    assert len(made) == 1
    assert pages.status(still=True) == "a page" and len(made) == 2


def test_a_page_that_is_to_stay_still_is_another(wet):
    pages = page_of(wet, 60)
    assert 'http-equiv="refresh"' in pages.status()
    assert 'http-equiv="refresh"' not in pages.status(still=True)


def test_a_store_that_is_read_beside_stays_as_it_is(wet, tmp_path):
    with Store.open_readonly(f"sqlite:///{tmp_path / 'store.db'}") as store:
        assert "one/m1" in Pages(store, wet.plan, lambda: minute(60)).status()


def test_of_the_newest_readings_only_those_that_still_count_are_told(wet):
    newest = wet.store.newest_samples(0)
    assert set(newest) == set(wet.watched.signal_ids.values())
    assert max(newest.values()) == START_US + 60 * MINUTE_US - 30_000_000 + 600_000
    assert wet.store.newest_samples(max(newest.values()) + 1) == {}
    assert wet.store.newest_samples(0, {1: {}}) == {}


def test_a_silent_modules_newest_reading_is_searched_only_where_that_is_asked_for(wet):
    later_us = minute(60) + FRESH_US
    (found,) = look(wet.store, wet.plan, later_us)
    assert found.newest_us == max(wet.store.newest_samples(0).values())
    assert look(wet.store, wet.plan, later_us, search=False)[0].newest_us is None
    for search in (True, False):
        assert look(wet.store, wet.plan, minute(60), search=search)[0].newest_us == found.newest_us


def test_one_quantity_read_alone_is_what_it_is_among_all(wet):
    kept = wet.store.latest_assessment(wet.watched.module_id)
    whole = load_assessment(*kept)
    for name, quantity in whole.quantities.items():
        assert load_quantity(name, kept.basis, kept.figures) == (whole.mode, quantity)
