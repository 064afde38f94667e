"""An alarm's life: states after ISA-18.2-2016 and IEC 62682:2014 (names and transitions read second-hand, in
OPC 10000-9 version 1.05; the latched ones from memory), who brought them about, and what is told once."""

import orjson
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from agent.alarms import (
    LATE_READINGS,
    Deed,
    Event,
    Life,
    Line,
    Moment,
    Priority,
    RefusedError,
    Repeat,
    State,
    StateName,
    Telling,
    Transition,
)

T, E, S = Transition, Event, StateName
NOW, LATER, END = 1_000, 2_000, 5_000


def raised(life=None, since_us=100, at_us=NOW, *, latching=False):
    return (life or Life()).after_line(Line(T.RAISED, since_us + 50, since_us), at_us, latching=latching)


def over(life, at_us=LATER, transition=T.CLEARED):
    return life.after_line(Line(transition, at_us, life.since_us), at_us, latching=False)


def deed(event, who="A. Fitter", why="", until_us=None, since_us=None):
    return Deed(event, who, why, until_us, since_us)


def told(life, at_us=NOW, *, shadow=False, day=1):
    """What one receiver is told, without quiet hours and repeats."""
    life, tellings = life.after_telling(
        Priority.MEDIUM, {"crew": Moment(at_us, day)}, Repeat(0, 0), shadow=shadow
    )
    return life, tellings.get("crew")


def test_it_comes_is_told_goes_and_is_told_once_each():
    life, telling = told(raised())
    assert (telling, life.standing(NOW), life.since_us) == (Telling.STANDS, S.UNACKNOWLEDGED, 100)
    assert told(life) == (life, None)
    life, telling = told(over(life))
    assert (telling, life.standing(NOW), life.changed_us) == (Telling.OVER, S.RETURNED_UNACKNOWLEDGED, LATER)
    assert told(life) == (life, None)


@pytest.mark.parametrize("transition", [T.FOUND_LATE, T.CONFIRMED, T.WITHDRAWN, T.AMENDED, T.CLEARED])
def test_the_past_changes_no_life(transition):
    normal = Life()
    assert normal.after_line(Line(transition, 60, 50), NOW, latching=True) == normal
    standing = raised()
    if transition is not T.AMENDED:  # of the one that stands
        assert standing.after_line(Line(transition, 60, 50), NOW, latching=True) == standing


def test_the_one_that_stands_may_be_withdrawn_or_begin_at_another_time():
    life, _ = told(raised())
    gone, telling = told(
        life.after_line(Line(T.WITHDRAWN, 100, 100), LATER, latching=False, why="layout changed")
    )
    assert (gone.standing(NOW), gone.withdrawn) == (S.NORMAL, "layout changed")
    assert telling is Telling.OVER  # whoever was told that it stands is told that it does not
    moved = life.after_line(Line(T.AMENDED, 70, 70), NOW, latching=False)
    assert moved.since_us == 70
    assert told(moved) == (moved, None)  # the same alarm: it has been told


@pytest.mark.parametrize("latching", [False, True])
def test_one_that_is_over_and_then_withdrawn_waits_for_nobody(latching):
    life = over(raised(latching=latching))
    gone = life.after_line(Line(T.WITHDRAWN, 150, 100), END, latching=latching)
    assert gone.standing(END) is S.NORMAL and gone.withdrawn == LATE_READINGS
    with pytest.raises(RefusedError):
        gone.after_deed(deed(E.ACKNOWLEDGED), END)
    assert life.after_line(Line(T.WITHDRAWN, 60, 50), END, latching=latching) == life  # an older one
    assert raised(gone, since_us=200).withdrawn == ""
    assert Life.load(gone.dump()) == gone


def test_who_was_told_hears_that_it_is_over_though_it_was_held_back_meanwhile():
    life, _ = told(raised())
    life = life.after_deed(deed(E.SHELVED, until_us=END), NOW).after_hold("feed-stale", NOW)
    life = over(life.after_deed(deed(E.UNSHELVED), NOW))
    assert told(life.after_hold("", LATER), LATER)[1] is Telling.OVER


def test_one_kept_by_a_version_that_told_everybody_the_same_is_read():
    body = orjson.loads(told(raised())[0].dump())
    del body["said"]
    for told_us, knows in ((100, True), (-1, False), (None, False)):  # as it had it: since, anew, of nothing
        life = Life.load(orjson.dumps({**body, "told_us": told_us}).decode())
        assert told(life)[1] is (None if knows else Telling.STANDS)
        expected = None if told_us is None else Telling.OVER
        assert told(over(life))[1] is expected


def test_one_kept_by_a_version_that_knew_no_withdrawal_is_read():
    kept = raised().dump().replace(',"withdrawn":""', "")
    assert "withdrawn" not in kept and Life.load(kept) == raised()


def test_one_kept_by_a_version_that_kept_no_time_of_acknowledgement_is_read():
    life = raised().after_deed(deed(E.ACKNOWLEDGED), LATER)
    kept = life.dump().replace(f',"acknowledged_us":{LATER}', "")
    assert "acknowledged_us" not in kept and Life.load(kept) == life._replace(acknowledged_us=None)


def test_who_acknowledged_it_is_kept_until_it_is_over():
    life = raised().after_deed(deed(E.ACKNOWLEDGED, why="on my way"), LATER)
    assert (life.standing(LATER), life.acknowledged_by, life.note) == (
        S.ACKNOWLEDGED,
        "A. Fitter",
        "on my way",
    )
    assert life.acknowledged_us == LATER and Life.load(life.dump()) == life
    said = raised().after_deed(deed(E.ACKNOWLEDGED)._replace(said_us=LATER - 5), LATER)
    assert said.acknowledged_us == LATER - 5
    assert over(life).standing(LATER) is S.NORMAL
    assert (over(life).acknowledged_by, over(life).acknowledged_us) == ("", None)
    assert raised(over(life), since_us=300).acknowledged_by == ""


def test_what_came_anew_after_somebody_looked_is_not_acknowledged_unseen():
    life = raised(over(raised()), since_us=300)
    with pytest.raises(RefusedError, match="come anew"):
        life.after_deed(deed(E.ACKNOWLEDGED, since_us=100), NOW)
    assert life.after_deed(deed(E.ACKNOWLEDGED, since_us=300), NOW).state.acknowledged


def test_a_latched_one_stays_until_it_is_reset():
    life = over(raised(latching=True))
    assert life.standing(LATER) is S.LATCHED_UNACKNOWLEDGED
    seen = life.after_deed(deed(E.ACKNOWLEDGED), LATER)
    assert (seen.standing(LATER), seen.acknowledged_by) == (S.LATCHED_ACKNOWLEDGED, "A. Fitter")
    assert seen.after_deed(deed(E.RESET), LATER).standing(LATER) is S.NORMAL
    with pytest.raises(RefusedError):
        raised(latching=True).after_deed(deed(E.RESET), LATER)


def shelved(life, until_us=END):
    return life.after_deed(deed(E.SHELVED, why="part ordered", until_us=until_us), NOW)


def test_what_comes_on_the_shelf_is_told_when_the_shelf_ends():
    life = raised(shelved(Life()))
    assert life.standing(END - 1) is S.SHELVED
    assert told(life, END - 1) == (life, None)
    assert life.after_time(END - 1) == life
    back = life.after_time(END)
    assert (back.standing(END), back.shelved_by, back.shelved_why) == (S.UNACKNOWLEDGED, "", "")
    assert told(back, END)[1] is Telling.STANDS


def test_what_was_told_before_is_told_again_after_the_shelf():
    life = shelved(told(raised())[0])
    assert (life.shelved_by, life.shelved_why) == ("A. Fitter", "part ordered")
    for back in (life.after_time(END), life.after_deed(deed(E.UNSHELVED), LATER)):
        assert told(back, END)[1] is Telling.STANDS


def test_what_went_on_the_shelf_is_said_to_be_over_when_the_shelf_ends():
    life = over(shelved(told(raised())[0]))
    assert told(life, LATER) == (life, None)
    assert told(life.after_time(END), END)[1] is Telling.OVER


def test_what_came_and_went_on_the_shelf_is_not_told_at_all():
    life = over(raised(shelved(Life()))).after_time(END)
    assert told(life, END) == (life, None)


def test_out_of_service_and_back():
    life = told(raised())[0].after_deed(deed(E.REMOVED, why="compressor out"), NOW)
    assert (life.standing(NOW), life.removed_by) == (S.OUT_OF_SERVICE, "A. Fitter")
    assert told(life) == (life, None)
    back = life.after_deed(deed(E.RETURNED), LATER)
    assert (back.standing(LATER), back.removed_by) == (S.UNACKNOWLEDGED, "")
    assert told(back)[1] is Telling.STANDS


def test_only_what_stands_is_held_back_and_what_comes_free_is_told_if_it_still_stands():
    assert Life().after_hold("feed-stale", NOW) == Life()
    held = raised().after_hold("feed-stale", NOW)
    assert (held.standing(NOW), held.held_by) == (S.SUPPRESSED, "feed-stale")
    assert told(held) == (held, None)
    assert held.after_hold("probe-failed", NOW).held_by == "probe-failed"
    free = held.after_hold("", LATER)
    assert (free.standing(LATER), told(free)[1]) == (S.UNACKNOWLEDGED, Telling.STANDS)
    gone = over(held).after_hold("feed-stale", LATER)
    assert gone.standing(LATER) is S.NORMAL and told(gone) == (gone, None)


def test_a_short_hold_of_what_has_been_told_makes_no_second_notice():
    life = told(raised())[0].after_hold("feed-stale", NOW).after_hold("", LATER)
    assert told(life) == (life, None)


def test_in_shadow_nothing_is_told_and_afterwards_what_stands():
    life = raised()
    assert told(life, shadow=True) == (life, None)
    assert told(life)[1] is Telling.STANDS
    assert told(over(life))[1] is None


def test_it_is_kept_as_text():
    life = shelved(raised()).after_hold("feed-stale", NOW)
    assert Life.load(life.dump()) == life


HAPPENS = st.lists(
    st.sampled_from(
        [T.RAISED, T.CLEARED, E.SHELVED, E.UNSHELVED, E.REMOVED, E.RETURNED, E.ACKNOWLEDGED, "hold", "free"]
    ),
    max_size=25,
)


@given(HAPPENS, st.booleans())
@example([T.RAISED, T.CLEARED, T.RAISED, E.ACKNOWLEDGED], False)
def test_once_nothing_holds_it_back_people_know_the_next_day_how_it_stands(happens, shadow):
    """Whatever happened, and in whichever order: nothing is lost, and nothing is told that is not so."""
    life, known, number = Life(), None, 0
    for what in happens:
        number += 1
        try:
            if what is T.RAISED and not life.state.active:
                life = raised(life, since_us=number)
            elif what is T.CLEARED and life.state.active:
                life = over(life)
            elif what in ("hold", "free"):
                life = life.after_hold("feed-stale" if what == "hold" else "", NOW)
            elif isinstance(what, E):
                life = life.after_deed(deed(what, until_us=END), NOW)
        except RefusedError:
            continue
        life, telling = told(life, shadow=shadow)
        assert telling is None or (not shadow and life.state.is_told(NOW))
        assert telling is not Telling.OVER or known is not None
        known = {Telling.STANDS: life.since_us, Telling.OVER: None}.get(telling, known)
    life = life.after_time(END).after_hold("", END)
    if life.state.out_of_service:
        life = life.after_deed(deed(E.RETURNED), END)
    life, telling = told(life, END, day=2)
    known = {Telling.STANDS: life.since_us, Telling.OVER: None}.get(telling, known)
    # Acknowledged is what nobody need be told of any more: it came again on the day of which they were told.
    assert (known is not None) == life.state.active or (known is None and life.state.acknowledged)
    assert life.state.is_told(END)


def test_the_state_of_nothing_is_normal():
    assert Life().state == State() and Life().standing(NOW) is S.NORMAL


def test_a_state_that_stays_as_it_is_was_not_changed():
    """Said once more, it is not younger."""
    life = raised()
    assert raised(life, at_us=LATER).changed_us == life.changed_us == NOW


@pytest.mark.parametrize(("told_us", "at_us"), [(100, 100), (-1, 0)])
def test_what_an_earlier_version_kept_holds_for_every_receiver(told_us, at_us):
    """-1: a person's hold had ended, and it was to be told anew; nothing was said before there was time."""
    body = orjson.loads(raised().dump())
    del body["said"]
    life = Life.load(orjson.dumps({**body, "told_us": told_us}).decode())
    said = life.said_to("crew")
    assert (said.since_us, said.at_us) == (told_us, at_us)
