"""Alarm states and transitions of ISA-18.2-2016 and IEC 62682:2014.

The names and transitions were read second-hand, in OPC 10000-9 version 1.05; the latched states are from
memory.
"""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.alarms.lifecycle import Event, RefusedError, State, StateName, after

S, E = StateName, Event
NOW, LATER = 1_000, 2_000


def played(events, latching=False):
    state = State()
    for event in events:
        state = after(state, event, NOW, latching=latching, until_us=LATER)
    return state


@pytest.mark.parametrize(
    ("events", "standing"),
    [
        ([], S.NORMAL),
        ([E.OCCURS], S.UNACKNOWLEDGED),
        ([E.OCCURS, E.ACKNOWLEDGED], S.ACKNOWLEDGED),
        ([E.OCCURS, E.ACKNOWLEDGED, E.CLEARS], S.NORMAL),
        ([E.OCCURS, E.CLEARS], S.RETURNED_UNACKNOWLEDGED),
        ([E.OCCURS, E.CLEARS, E.ACKNOWLEDGED], S.NORMAL),
        ([E.OCCURS, E.CLEARS, E.OCCURS], S.UNACKNOWLEDGED),
        ([E.SHELVED], S.SHELVED),
        ([E.SHELVED, E.OCCURS], S.SHELVED),
        ([E.SHELVED, E.OCCURS, E.UNSHELVED], S.UNACKNOWLEDGED),
        ([E.OCCURS, E.SHELVED, E.CLEARS, E.UNSHELVED], S.NORMAL),
        ([E.SUPPRESSED, E.OCCURS], S.SUPPRESSED),
        ([E.SUPPRESSED, E.OCCURS, E.UNSUPPRESSED], S.UNACKNOWLEDGED),
        ([E.OCCURS, E.SUPPRESSED, E.CLEARS, E.UNSUPPRESSED], S.NORMAL),
        ([E.REMOVED], S.OUT_OF_SERVICE),
        ([E.REMOVED, E.OCCURS, E.RETURNED], S.UNACKNOWLEDGED),
        ([E.REMOVED, E.SHELVED, E.SUPPRESSED], S.OUT_OF_SERVICE),
    ],
)
def test_transitions(events, standing):
    assert played(events).standing(NOW) is standing


@pytest.mark.parametrize(
    ("events", "standing"),
    [
        ([E.OCCURS, E.CLEARS], S.LATCHED_UNACKNOWLEDGED),
        ([E.OCCURS, E.ACKNOWLEDGED, E.CLEARS], S.LATCHED_ACKNOWLEDGED),
        ([E.OCCURS, E.CLEARS, E.ACKNOWLEDGED], S.LATCHED_ACKNOWLEDGED),
        ([E.OCCURS, E.CLEARS, E.RESET], S.NORMAL),
        ([E.OCCURS, E.ACKNOWLEDGED, E.CLEARS, E.OCCURS], S.UNACKNOWLEDGED),
    ],
)
def test_a_latching_alarm_stays_until_it_is_reset(events, standing):
    assert played(events, latching=True).standing(NOW) is standing


def test_shelving_ends_by_itself_and_the_alarm_is_as_its_condition_says():
    shelved = played([E.OCCURS, E.ACKNOWLEDGED, E.SHELVED])
    assert shelved.standing(LATER - 1) is S.SHELVED
    assert shelved.standing(LATER) is S.UNACKNOWLEDGED
    assert after(shelved, E.CLEARS, LATER - 1).standing(LATER) is S.NORMAL
    still = after(played([E.SHELVED]), E.OCCURS, LATER)
    assert still.standing(LATER) is S.UNACKNOWLEDGED


@pytest.mark.parametrize("event", [E.ACKNOWLEDGED, E.RESET, E.UNSHELVED, E.RETURNED])
def test_what_makes_no_sense_is_refused(event):
    with pytest.raises(RefusedError):
        after(State(), event, NOW)


def test_shelving_without_an_end_ahead_is_refused():
    for until_us in (None, NOW):
        with pytest.raises(RefusedError, match="an end that lies ahead"):
            after(State(), E.SHELVED, NOW, until_us=until_us)


EVENTS = st.lists(st.sampled_from(list(Event)), max_size=12)


@given(EVENTS, st.booleans())
def test_whatever_happens_a_held_back_alarm_is_still_evaluated(events, latching):
    """What holds an alarm back never changes whether its condition holds."""
    state, active = State(), False
    for event in events:
        try:
            state = after(state, event, NOW, latching=latching, until_us=LATER)
        except RefusedError:
            continue
        active = {E.OCCURS: True, E.CLEARS: False}.get(event, active)
        assert state.active is active
        told = state.standing(NOW) not in (S.SHELVED, S.SUPPRESSED, S.OUT_OF_SERVICE)
        assert state.is_told(NOW) is told


def test_what_is_out_of_service_cannot_be_taken_out_again():
    with pytest.raises(RefusedError, match="out of service already"):
        played([E.REMOVED, E.REMOVED])


def test_an_alarm_does_not_latch_unless_it_is_made_to():
    """ISA-18.2-2016 knows latching as an option of single alarms."""
    assert not after(State(), E.OCCURS, NOW).latched
