"""When an alarm is active: delays, deadband and gaps, against a step-by-step telling of the rules."""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.alarms import CONDITIONS, ChangePoint, Detection, Limits, Occurrence, detect, occurrences
from agent.assess import SECOND
from tests.alarms.stretches import START_US, codes, times

law = settings(max_examples=200, deadline=None)
STEP_S = 60
# Three steps until it is raised, two until it is cleared
LIMITS = Limits(limit_k=2.0, second_best_k=None, deadband_k=1.0, on_delay_s=180, off_delay_s=120)
WORDS = {"?": "unknown", ".": "clear", "i": "inside", "p": "possible", "b": "beyond", "B": "beyond_doubt"}
SHOWN = {"possible": "p", "beyond": "a", "beyond_doubt": "A"}


def at(step):
    return START_US + STEP_S * step * SECOND


def run(drawn, start=Detection(), limits=LIMITS):  # noqa: B008 - an immutable tuple
    grid_us = times(len(drawn), STEP_S * SECOND)
    return detect(start, grid_us, codes(WORDS[letter] for letter in drawn), limits, STEP_S * SECOND)


def states(drawn, limits=LIMITS):
    """The state at every grid time."""
    found, state, points = [], Detection(), run(drawn, limits=limits)
    for step in range(len(drawn)):
        for point in points:
            if point.grid_us == at(step):
                state = point.state
        found.append(state)
    return found


def shown(drawn, limits=LIMITS):
    """Per grid time '-' not active, 'p' active and possible, 'a' active, 'A' active without doubt."""
    return "".join(SHOWN[s.level] if s.active else "-" for s in states(drawn, limits))


@pytest.mark.parametrize(
    ("drawn", "expected"),
    [
        ("....", "----"),
        ("bbbb", "---a"),  # beyond for the whole delay
        ("bbb.", "----"),
        ("bbb.bbb.", "--------"),
        ("bbb.bbbb", "-------a"),  # a moment inside begins the delay anew
        ("bbbibbbb", "----aaaa"),  # within the deadband the count halts
        ("bibibib", "------a"),
        ("biiiiibbbb", "---------a"),  # longer than the delay: it begins anew
        ("bbbb..", "---aaa"),
        ("bbbb...", "---aaa-"),
        ("bbbb..b...", "---aaaaaa-"),  # a brief dip does not clear it
        ("bbbb..i...", "---aaaaaa-"),  # neither does a value within the deadband
        ("bbbbiiii", "---aaaaa"),
        ("bbbbB", "---aA"),
        ("bbbB", "---A"),  # raised by one without doubt
        ("Bbbb", "---a"),
        ("bbbBb", "---AA"),  # the strongest evidence is remembered
        ("pppp", "---p"),
        ("ppppb", "---pa"),
        ("bbbp", "---p"),
        ("bbbbp", "---aa"),
        ("bbbBi..", "---AAAA"),
        ("BBBB...b", "---AAA--"),
    ],
)
def test_delays_and_deadband(drawn, expected):
    assert shown(drawn) == expected


@pytest.mark.parametrize(
    ("drawn", "expected"),
    [
        ("bbb????", "-------"),  # a gap does not raise
        ("bbb?b", "----a"),  # what follows it does; the gap does not count
        ("b??bbb", "-----a"),
        ("bb???bb", "------a"),  # as long as the delay
        ("bb????bbb", "---------"),  # longer than the delay: it begins anew
        ("bb????bbbb", "---------a"),
        ("b??.??bbb", "---------"),
        ("bbbb????????", "---aaaaaaaaa"),  # nor does it clear
        ("bbbb.?????", "---aaaaaaa"),
        ("bbbb.?..", "---aaaa-"),
        ("bbbb.??..", "---aaaaa-"),
        ("bbbb.???.", "---aaaaaa"),
        ("bbbb.???...", "---aaaaaaa-"),
        ("bbbb????...", "---aaaaaaa-"),
        ("????bbbb", "-------a"),
    ],
)
def test_gaps(drawn, expected):
    assert shown(drawn) == expected


def test_times_of_an_occurrence():
    raised = Detection(active=True, level="beyond", since_us=at(0))
    assert states("?bbbb")[-1] == raised._replace(since_us=at(1))
    assert states("?bbb")[-1] == Detection(since_us=at(1), beyond_us=at(1))
    assert states("bi")[-1] == Detection(since_us=at(0), beyond_us=at(0), halted_us=at(1))
    assert states("bib")[-1] == Detection(since_us=at(0), beyond_us=at(1))
    assert states("bbbb.")[-1] == raised._replace(clear_us=at(4))
    assert states("bbbb.?")[-1] == raised._replace(clear_us=at(4), halted_us=at(5))
    assert states("bbbb...")[-1] == Detection()
    assert states("..??")[-1] == Detection()


def test_evidence_without_doubt_may_have_a_delay_of_its_own():
    limits = replace(LIMITS, urgent_on_delay_s=0)
    assert shown("B", limits) == "A"
    assert shown("bbbb", limits) == "---a"
    assert shown("bB", limits) == "-A"


def test_without_delays():
    assert shown(".b.b", Limits(2.0, None, 1.0, 0, 0)) == "-a-a"


def test_nothing_comes_of_no_time():
    assert run("") == []


@pytest.mark.parametrize("drawn", ["b??b", "bbbb.?.", "bbbb???."])
def test_there_is_one_change_at_a_time(drawn):
    """The store keeps one state of an alarm per grid time."""
    off_at_once = LIMITS if drawn != "bbbb???." else Limits(2.0, None, 1.0, 180, 0)
    moments = [point.grid_us for point in run(drawn, limits=off_at_once)]
    assert len(moments) == len(set(moments))


BEYOND = ("possible", "beyond", "beyond_doubt")


class Told(NamedTuple):
    """The rules in words, one grid time after another, counting steps."""

    active: bool = False
    level: str | None = None
    since: int | None = None
    counted: int | None = (
        None  # steps towards being raised, or cleared where it is active; None: not counting
    )
    halted: int = 0  # steps since the count halted


def tell(state, word, step, on, off):
    halts = word == "unknown" or (word == "inside" and not state.active)
    if halts:
        return (
            state._replace(halted=state.halted + 1) if state.active or state.counted is not None else Told()
        )
    beyond = word in BEYOND
    towards = beyond != state.active and word != "inside"  # what the count runs towards
    limit = off if state.active else on
    kept = state.counted if towards and state.counted is not None and state.halted <= limit else None
    if not towards:
        counted, since = None, state.since
    elif kept is None:
        counted, since = 0, state.since if state.active else step
    else:
        counted, since = kept + 1, state.since
    if state.active:
        level = max(state.level, word, key=BEYOND.index) if beyond else state.level
        return Told() if counted is not None and counted >= off else Told(True, level, since, counted)
    if counted is None:
        return Told()
    return Told(True, word, since) if counted >= on else Told(False, None, since, counted)


sequences = st.lists(
    st.tuples(st.sampled_from("?.ipbB"), st.integers(1, 5)).map(lambda run: run[0] * run[1]), max_size=14
).map("".join)
delays = st.integers(0, 4).map(lambda steps: steps * STEP_S)


@law
@given(sequences, delays, delays)
def test_it_is_what_the_rules_tell_step_by_step(drawn, on_delay_s, off_delay_s):
    told, expected = Told(), []
    for step, letter in enumerate(drawn):
        told = tell(told, WORDS[letter], step, on_delay_s // STEP_S, off_delay_s // STEP_S)
        expected.append((told.active, told.level, None if told.since is None else at(told.since)))
    found = states(drawn, Limits(2.0, None, 1.0, on_delay_s, off_delay_s))
    assert [state[:3] for state in found] == expected


@law
@given(sequences, delays, delays, st.data())
def test_it_can_be_taken_up_again_at_any_time(drawn, on_delay_s, off_delay_s, data):
    limits = Limits(2.0, None, 1.0, on_delay_s, off_delay_s)
    whole = run(drawn, limits=limits)
    grid_us = times(len(drawn), STEP_S * SECOND)
    conditions = codes(WORDS[letter] for letter in drawn)
    cuts = sorted(data.draw(st.sets(st.integers(0, len(drawn)), max_size=5)))
    points, state = [], Detection()
    for piece, part in zip(np.split(grid_us, cuts), np.split(conditions, cuts), strict=True):
        points += detect(state, piece, part, limits, STEP_S * SECOND)
        state = points[-1].state if points else state
    assert points == whole
    cut = data.draw(st.integers(0, len(drawn)))
    before = [point for point in whole if point.grid_us < at(cut)]
    start = before[-1].state if before else Detection()
    assert before + detect(start, grid_us[cut:], conditions[cut:], limits, STEP_S * SECOND) == whole


@law
@given(sequences, st.data())
def test_only_changes_are_kept(drawn, data):
    points = run(drawn)
    state = Detection()
    for point in points:
        assert point.state != state
        state = point.state
    assert [point.grid_us for point in points] == sorted(point.grid_us for point in points)
    assert all(point.grid_us in times(len(drawn), STEP_S * SECOND) for point in points)


@law
@given(sequences)
def test_an_alarm_was_beyond_its_limit_for_the_delay_before_it_was_raised(drawn):
    for since_us, raised_us, cleared_us in occurrences(Detection(), run(drawn)):
        first, raised = (round((t - START_US) / (STEP_S * SECOND)) for t in (since_us, raised_us))
        stretch = drawn[first : raised + 1]
        assert sum(letter in "pbB" for letter in stretch) > LIMITS.on_delay_s / STEP_S
        assert "." not in stretch
        assert drawn[first] in "pbB"
        assert drawn[raised] in "pbB"
        if cleared_us is not None:
            cleared = round((cleared_us - START_US) / (STEP_S * SECOND))
            assert cleared > raised
            assert drawn[cleared] == "."


@law
@given(sequences.filter(bool), st.data())
def test_a_hole_in_time_is_a_gap(drawn, data):
    """Grid times that were never assessed count as little as those of which nothing is known."""
    gone = data.draw(st.sets(st.integers(1, len(drawn)))) & set(range(1, len(drawn) - 1))
    grid_us = times(len(drawn), STEP_S * SECOND)
    with_gaps = "".join("?" if step in gone else letter for step, letter in enumerate(drawn))
    kept = [step for step in range(len(drawn)) if step not in gone]
    conditions = codes(WORDS[letter] for letter in drawn)
    found = detect(Detection(), grid_us[kept], conditions[kept], LIMITS, STEP_S * SECOND)
    assert found == run(with_gaps)


class TestOccurrences:
    def test_one_after_another_the_last_standing(self):
        assert occurrences(Detection(), run("bbbb...bbbb...bbbbb")) == [
            Occurrence(at(0), at(3), at(6)),
            Occurrence(at(7), at(10), at(13)),
            Occurrence(at(14), at(17), None),
        ]

    def test_none(self):
        assert occurrences(Detection(), run("bbb.??..")) == []
        assert occurrences(Detection(), []) == []

    def test_one_that_stood_before_the_first_change(self):
        stood = Detection(active=True, level="beyond", since_us=at(-9))
        assert occurrences(stood, run("...", stood)) == [Occurrence(at(-9), at(-9), at(2))]
        assert occurrences(stood, run("bbb", stood)) == [Occurrence(at(-9), at(-9), None)]

    def test_a_change_of_urgency_is_no_new_occurrence(self):
        assert occurrences(Detection(), run("bbbbBbB")) == [Occurrence(at(0), at(3), None)]

    @law
    @given(sequences, st.data())
    def test_they_are_the_same_from_any_time_on(self, drawn, data):
        points = run(drawn)
        cut = data.draw(st.integers(0, len(drawn)))
        before = [p for p in points if p.grid_us < at(cut)]
        after = [p for p in points if p.grid_us >= at(cut)]
        start = before[-1].state if before else Detection()
        whole = occurrences(Detection(), points)
        touching = [o for o in whole if o.cleared_us is None or o.cleared_us >= at(cut)]
        found = occurrences(start, after)
        assert [(o.since_us, o.cleared_us) for o in found] == [(o.since_us, o.cleared_us) for o in touching]


def test_a_change_point_names_its_grid_time():
    assert run("?b") == [ChangePoint(at(1), Detection(since_us=at(1), beyond_us=at(1)))]


def test_the_conditions_are_all_drawn():
    assert sorted(WORDS.values()) == sorted(CONDITIONS)
