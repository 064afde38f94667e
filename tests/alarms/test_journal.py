"""What is written into the journal when detection has gone over a stretch of time once more."""

from collections import Counter

from hypothesis import example, given, settings
from hypothesis import strategies as st

from agent.alarms import (
    Detection,
    Limits,
    Line,
    Occurrence,
    Transition,
    detect,
    next_announced,
    occurrences,
    reconcile,
)
from agent.assess import SECOND
from tests.alarms.stretches import START_US, codes, times

law = settings(max_examples=300, deadline=None)
RAISED, CLEARED, AMENDED = Transition.RAISED, Transition.CLEARED, Transition.AMENDED
FOUND_LATE, WITHDRAWN = Transition.FOUND_LATE, Transition.WITHDRAWN


def lines(before, after, announced=None, decided=True):
    told = reconcile(
        [Occurrence(*each) for each in before],
        [Occurrence(*each) for each in after],
        announced_us=announced,
        decided_now=decided,
    )
    assert all(isinstance(line, Line) for line in told)
    return [tuple(line) for line in told]


class TestAtTheLiveEdge:
    def test_raised(self):
        assert lines([], [(10, 20, None)]) == [(RAISED, 20, 10)]

    def test_standing_on_is_no_line(self):
        assert lines([(10, 20, None)], [(10, 20, None)], announced=10) == []

    def test_cleared(self):
        assert lines([(10, 20, None)], [(10, 20, 50)], announced=10) == [(CLEARED, 50, 10)]

    def test_cleared_and_raised_anew(self):
        after = [(10, 20, 50), (60, 70, None)]
        assert lines([(10, 20, None)], after, announced=10) == [(CLEARED, 50, 10), (RAISED, 70, 60)]

    def test_what_only_a_gap_keeps_standing_is_not_raised(self):
        assert lines([], [(10, 20, None)], decided=False) == []
        assert lines([(10, 20, None)], [(10, 20, None)], decided=False) == []

    def test_it_is_raised_once_something_is_decided(self):
        assert lines([(10, 20, None)], [(10, 20, None)]) == [(RAISED, 20, 10)]

    def test_a_gap_does_not_clear_what_was_raised(self):
        assert lines([(10, 20, None)], [(10, 20, None)], announced=10, decided=False) == []

    def test_quiet(self):
        assert lines([], []) == []


class TestThePast:
    def test_found_late(self):
        assert lines([], [(10, 20, 50)]) == [(FOUND_LATE, 20, 10)]

    def test_found_late_while_another_stands(self):
        after = [(10, 20, 50), (60, 70, None)]
        assert lines([(60, 70, None)], after, announced=60) == [(FOUND_LATE, 20, 10)]

    def test_withdrawn(self):
        assert lines([(10, 20, 50)], []) == [(WITHDRAWN, 20, 10)]
        assert lines([(10, 20, 50), (60, 70, None)], [(60, 70, None)], announced=60) == [(WITHDRAWN, 20, 10)]

    def test_a_correction_confirms_what_stands_as_it_did_from_then_on(self):
        """Raised at 20 and at 70; the other layout holds from 70 on, and the last of them is gone with it."""
        before = [Occurrence(10, 20, 50), Occurrence(60, 70, 90), Occurrence(100, 110, 120)]
        told = reconcile(before, before[:2], announced_us=None, decided_now=True, corrected_from_us=70)
        assert [tuple(line) for line in told] == [
            (WITHDRAWN, 110, 100),
            (Transition.CONFIRMED, 70, 60),
        ]
        assert lines([tuple(each) for each in before], [tuple(each) for each in before]) == []

    def test_another_end_of_one_that_is_over_is_no_line(self):
        assert lines([(10, 20, 50)], [(10, 25, 55)]) == []

    def test_another_beginning_of_one_that_is_over_is_another_one(self):
        assert lines([(10, 20, 50)], [(12, 22, 50)]) == [(FOUND_LATE, 22, 12), (WITHDRAWN, 20, 10)]

    def test_the_announced_one_was_none(self):
        assert lines([(10, 20, None)], [], announced=10) == [(WITHDRAWN, 10, 10)]

    def test_the_announced_one_began_elsewhere_and_stands(self):
        for moved in (5, 12):
            assert lines([(10, 20, None)], [(moved, 22, None)], announced=10) == [(AMENDED, moved, moved)]

    def test_the_announced_one_began_elsewhere_and_is_over(self):
        told = lines([(10, 20, None)], [(12, 22, 50)], announced=10)
        assert told == [(AMENDED, 12, 12), (CLEARED, 50, 12)]

    def test_what_was_not_raised_and_is_over_is_found_late(self):
        assert lines([], [(10, 20, None)], decided=False) == []
        assert lines([(10, 20, None)], [(10, 20, 50)]) == [(FOUND_LATE, 20, 10)]

    def test_an_announced_alarm_that_fell_apart_is_its_standing_part(self):
        parts = [(12, 22, 50), (60, 70, None)]
        assert lines([(10, 20, None)], parts, announced=10) == [(FOUND_LATE, 22, 12), (AMENDED, 60, 60)]
        assert lines(parts, parts, announced=60) == []

    def test_two_that_turn_out_to_be_one(self):
        apart = [(10, 20, 50), (60, 70, None)]
        assert lines(apart, [(10, 20, None)], announced=60) == [(WITHDRAWN, 20, 10), (AMENDED, 10, 10)]

    def test_one_that_was_over_and_is_not(self):
        assert lines([(10, 20, 50)], [(10, 20, None)]) == [(WITHDRAWN, 20, 10), (RAISED, 20, 10)]


STEP_S = 60
LIMITS = Limits(limit_k=2.0, second_best_k=None, deadband_k=1.0, on_delay_s=120, off_delay_s=120)
WORDS = {"?": "unknown", ".": "clear", "i": "inside", "b": "beyond", "B": "beyond_doubt"}


class Kept:
    """What is known of one alarm, and what was announced of it; readings may come in any order."""

    def __init__(self):
        self.known = []
        self.points = []
        self.announced_us = None
        self.journal = []

    def learn(self, letters):
        """``letters``: by grid step; the last step known so far is the live edge."""
        self.known += "?" * (max(letters) + 1 - len(self.known))
        for step, letter in letters.items():
            self.known[step] = letter
        first = min(letters)
        grid_us = times(len(self.known), STEP_S * SECOND)
        earlier = [point for point in self.points if point.grid_us < grid_us[first]]
        start = earlier[-1].state if earlier else Detection()
        conditions = codes(WORDS[letter] for letter in self.known)
        found = detect(start, grid_us[first:], conditions[first:], LIMITS, STEP_S * SECOND)
        before = occurrences(start, self.points[len(earlier) :])
        after = occurrences(start, found)
        self.points = earlier + found
        self.write(before, after)

    def write(self, before, after):
        told = reconcile(before, after, announced_us=self.announced_us, decided_now=self.known[-1] != "?")
        self.journal += told
        for line in told:
            assert line.transition is not RAISED or self.announced_us is None
            assert line.transition is not FOUND_LATE or line.since_us != self.announced_us
            self.announced_us = next_announced(self.announced_us, line)
        return told

    def occurrences(self):
        return occurrences(Detection(), self.points)


@st.composite
def learnings(draw):
    """A history, and the order in which it becomes known: edges that advance, and late pieces.

    Until its late readings have come a grid time is a gap, or says what older readings made of it.
    """
    runs = st.tuples(st.sampled_from("?.ibB"), st.integers(1, 6)).map(lambda run: run[0] * run[1])
    history = "".join(draw(st.lists(runs, min_size=1, max_size=12))) + draw(st.sampled_from(".ib"))
    late = draw(st.sets(st.integers(0, len(history) - 2)))
    first_told = {s: draw(st.sampled_from("??.ibB")) for s in late}
    order, step = [], 0
    while step < len(history):
        following = min(len(history), step + draw(st.integers(1, 8)))
        order.append({s: first_told.get(s, history[s]) for s in range(step, following)})
        step = following
        known_late = sorted(s for s in late if s < step)
        if known_late and draw(st.booleans()):
            come = draw(st.sets(st.sampled_from(known_late)))
            late -= come
            if come:
                order.append({s: history[s] for s in sorted(come)})
    if late:
        order.append({s: history[s] for s in sorted(late)})
    return history, order


@law
@given(learnings())
def test_what_is_announced_is_what_stands(learnt):
    history, order = learnt
    kept = Kept()
    for letters in order:
        kept.learn(letters)
        standing = [each for each in kept.occurrences() if each.cleared_us is None]
        if kept.announced_us is not None or kept.known[-1] != "?":
            assert (kept.announced_us is not None) == bool(standing)
    in_one_go = Kept()
    in_one_go.learn(dict(enumerate(history)))
    assert kept.occurrences() == in_one_go.occurrences()
    assert (kept.announced_us is None) == (in_one_go.announced_us is None)


@law
@given(learnings())
def test_an_alarm_is_raised_once_until_it_is_closed(learnt):
    kept = Kept()
    for letters in learnt[1]:
        kept.learn(letters)
    openings = [line for line in kept.journal if line.transition is RAISED]
    closings = [line for line in kept.journal if line.transition is CLEARED]
    assert len(closings) <= len(openings)
    assert all(line.event_us >= START_US for line in kept.journal)


@law
@given(learnings())
@example(
    (
        ".......bbbbbb..???.",
        [
            dict(enumerate("???????bbbbb...bbb.")),
            {12: "b", 15: "?", 16: "?", 17: "?"},
        ],
    )
)
def test_the_journal_adds_up_to_the_occurrences(learnt):
    kept = Kept()
    for letters in learnt[1]:
        kept.learn(letters)
        count = dict.fromkeys(Transition, 0)
        for line in kept.journal:
            count[line.transition] += 1
        found = kept.occurrences()
        waits = bool(found) and found[-1].cleared_us is None and kept.announced_us is None
        assert count[RAISED] + count[FOUND_LATE] - count[WITHDRAWN] == len(found) - waits


@law
@given(learnings())
@example((".bbb...bbbb", [dict(enumerate("bbbbbbbbbbb")), {0: ".", 4: ".", 5: ".", 6: "."}]))
def test_a_second_look_has_nothing_to_tell(learnt):
    kept = Kept()
    for letters in learnt[1]:
        kept.learn(letters)
        assert kept.write(kept.occurrences(), kept.occurrences()) == []


@law
@given(learnings())
@example(
    (
        ".bbbbb......",
        [
            dict(enumerate("bbbbbb")),
            dict.fromkeys(range(6, 12), "?"),
            {0: ".", **dict.fromkeys(range(6, 12), ".")},
        ],
    )
)
def test_the_journal_names_each_occurrence_by_its_beginning(learnt):
    kept = Kept()
    for letters in learnt[1]:
        kept.learn(letters)
        told, announced_us = Counter(), None
        for line in kept.journal:
            if line.transition is AMENDED:
                told[announced_us] -= 1
            if line.transition in (RAISED, AMENDED, FOUND_LATE):
                told[line.since_us] += 1
            if line.transition is WITHDRAWN:
                told[line.since_us] -= 1
            announced_us = next_announced(announced_us, line)
        waits_us = {o.since_us for o in kept.occurrences() if o.cleared_us is None} - {kept.announced_us}
        there = Counter(o.since_us for o in kept.occurrences() if o.since_us not in waits_us)
        assert {since: n for since, n in told.items() if n} == there
