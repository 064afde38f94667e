"""The past by column: nothing is smoothed away, gaps stay gaps, and lengths of time add up."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.assess import AT_PROBE, Cause, Said, Status
from agent.assess.assessment import Basis
from agent.assess.mode_codes import CODE
from agent.outlets.visit import Kept, collect
from agent.outlets.visit.course import Course, envelope, happens, pixels, runs
from agent.piping import RETURN, Fitness

STEP_US = 30_000_000
START_US = 1_764_057_600_000_000

values = st.one_of(st.floats(-50, 150), st.just(np.nan))


def said(status=Status.DECIDED, text="all vapour passes here"):
    cause = Cause.NONE if status is Status.DECIDED else Cause.SPREAD
    return Said(status, cause, text, None, ("suction_pipe",))


def basis(mode="cooling", returned=None, verdict=Fitness.MIXED):
    phrases = {RETURN: returned or said(), f"{AT_PROBE}compressor_inlet": said()}
    return Basis(mode, "", {"compressor_inlet": (verdict, "why")}, None, phrases, {}).dump()


def kept(number, value=6.0, words=None, late=9.0):
    shown = "null" if value is None else value
    return Kept(START_US + number * STEP_US, words or basis(), f"[{shown},1.7,0.7,{late},0.7,0.7]")


def course(pieces, steps=100):
    return collect(pieces, START_US, START_US + steps * STEP_US, STEP_US)


def bare(grid, length):
    grid_us = START_US + np.array(grid, np.int64) * STEP_US
    nothing = np.zeros(len(grid_us), np.int64)
    return Course(START_US, START_US + length * STEP_US, STEP_US, grid_us, nothing, nothing, {}, ())


@settings(max_examples=200, deadline=None)
@given(st.data(), st.integers(1, 400), st.integers(1, 90))
def test_every_pixel_holds_the_least_and_the_most_of_its_time(data, length, most):
    grid = sorted(data.draw(st.sets(st.integers(0, length), min_size=1)))  # both ends are part of it
    column = np.array(data.draw(st.lists(values, min_size=len(grid), max_size=len(grid))))
    one = bare(grid, length)
    edges = pixels(one, most)
    found = envelope(one, column, column, edges)
    assert len(edges) - 1 <= most + 2 and (np.diff(edges) >= STEP_US).all()
    for number, (begin, end) in enumerate(zip(edges, edges[1:], strict=False)):
        inside = [v for us, v in zip(one.grid_us, column, strict=True) if begin <= us < end and v == v]
        shown = (found.least[number], found.most[number])
        assert shown == (min(inside), max(inside)) if inside else np.isnan(shown).all()


def test_a_dip_of_one_grid_time_in_thirty_days_is_there():
    grid = np.arange(86_400)
    column = np.full(len(grid), 6.0)
    column[40_123] = -1.5
    one = bare(grid, len(grid))
    found = envelope(one, column, column, pixels(one, 720))
    assert np.nanmin(found.least) == -1.5 and (found.least == -1.5).sum() == 1
    assert np.nanmax(found.most) == 6.0


def test_a_lane_is_filled_where_something_was_so_however_short():
    one = bare(range(1000), 1000)
    where = np.zeros(1000, bool)
    where[777] = True
    filled = happens(one, where, pixels(one, 10))
    assert list(runs(filled)) == [(7, 8)]


def test_a_row_stands_for_its_step_and_a_gap_for_nothing():
    found = course([[kept(0), kept(1), kept(2)], [kept(50), kept(51)]])
    assert found.us(np.ones(5, bool)) == 5 * STEP_US
    assert found.unassessed_us == 95 * STEP_US


def test_a_slower_grid_of_before_is_counted_by_its_own_steps():
    rows = [kept(4 * number) for number in range(6)]  # every two minutes
    assert course([rows], steps=21).us(np.ones(6, bool)) == 21 * STEP_US


def test_pieces_may_be_cut_anywhere():
    moving = basis(returned=said(Status.NOT_SETTLED, "suction_pipe is swinging"))
    rows = [kept(n, 5.0 + n, moving if n % 3 else None) for n in range(20)]
    whole, cut = course([rows]), course([rows[:7], [], rows[7:8], rows[8:]])
    for name, curve in whole.curves.items():
        for one, other in zip(vars(curve).values(), vars(cut.curves[name]).values(), strict=True):
            np.testing.assert_array_equal(one, other)
    assert whole.undecided == cut.undecided
    np.testing.assert_array_equal(whole.lasted_us, cut.lasted_us)


def test_a_value_that_is_not_decided_is_kept_and_not_taken_for_decided():
    moving = basis(returned=said(Status.NOT_SETTLED, "suction_pipe is swinging"))
    without = basis(returned=said(Status.MISSING, "suction_pipe is missing"))
    curve = course([[kept(0), kept(1, 3.0, moving), kept(2, None, without)]]).curves[RETURN]
    assert curve.decided.tolist() == [True, False, False]
    np.testing.assert_array_equal(curve.value, [6.0, 3.0, np.nan])


@pytest.mark.parametrize(
    ("verdict", "drawn"),
    [(Fitness.MIXED, True), (Fitness.PARTIAL, True), (Fitness.FIT, False), (Fitness.HIGH_SIDE, False)],
)
def test_apparent_is_what_a_probe_on_the_suction_side_shows_that_is_not_fit(verdict, drawn):
    found = course([[kept(0, words=basis(verdict=verdict))]])
    assert (f"{AT_PROBE}compressor_inlet" in found.curves) is drawn


def test_reasons_are_told_with_how_long_and_the_words_that_held_longest():
    swings = basis(returned=said(Status.NOT_SETTLED, "it swings"))
    drifts = basis(returned=said(Status.NOT_SETTLED, "it swings widely"))
    rows = [kept(n, 5.0, swings if n < 6 else drifts) for n in range(10)]
    (one,) = course([rows]).undecided
    assert (one.quantity, one.mode, one.said.text, one.us) == (RETURN, "cooling", "it swings", 10 * STEP_US)


def test_standing_still_is_no_running():
    found = course([[kept(0), kept(1, words=basis("off")), kept(2, words=basis("unknown"))]])
    assert found.is_running.tolist() == [True, False, False]
    assert found.mode.tolist() == [CODE["cooling"], CODE["off"], CODE["unknown"]]


def test_nothing_is_nothing():
    found = course([])
    assert not len(found.grid_us) and not found.curves and found.unassessed_us == 100 * STEP_US
    assert len(pixels(replace(found, to_us=found.from_us), 700)) >= 2
