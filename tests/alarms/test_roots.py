"""A root alarm holds back what follows from it and nothing else; that one alarm names the others' cause is
the advice of ISA-18.2 against floods, common practice, no source for the table itself."""

from dataclasses import replace

import pytest

from agent.alarms import CATALOGUE, FEED_STALE, PROBE_FAILED, Root, held_back
from agent.assess import AT_PROBE, DISCHARGE_MARGIN, Cause, Status
from agent.piping import COMPRESSOR_INLET, RETURN
from tests.outlets.views import assessment, decided, without

PRESSURES = frozenset({"suction_pressure", "discharge_pressure"})
OF_THE_RISE = {"oil-return-absent", "oil-return-excess"}  # between compressor_inlet and suction_pipe
ALL_BUT_THE_ROOT = {name for name, entry in CATALOGUE.items() if not entry.never_suppressed}


def held(*roots, of=None):
    return held_back(CATALOGUE.values(), roots, of, PRESSURES)


def failed(*signals):
    return Root(PROBE_FAILED.name, frozenset(signals))


def unread(cause=Cause.READING):
    return without(Status.MISSING, cause, "a reading is missing")


def test_without_a_root_nothing_is_held_back():
    assert held(of=assessment()) == {}


@pytest.mark.parametrize("of", [None, assessment()])
def test_a_feed_that_is_stale_as_a_whole_holds_back_everything_but_itself(of):
    assert held(Root(FEED_STALE.name), of=of) == dict.fromkeys(ALL_BUT_THE_ROOT, FEED_STALE.name)


def test_the_first_root_is_named():
    found = held(Root(FEED_STALE.name), failed("suction_pipe"), of=assessment())
    assert set(found.values()) == {FEED_STALE.name}


def test_a_failed_probe_holds_back_what_rests_on_it():
    of = assessment(inlet=unread())
    assert held(failed("suction_pipe"), of=of).keys() == {
        "superheat-low",
        "superheat-high",
        "superheat-hunting",
        "watch-blind",
        *OF_THE_RISE,
    }
    assert held(failed("compressor_inlet"), of=of).keys() == OF_THE_RISE


@pytest.mark.parametrize("transducer", sorted(PRESSURES)[1:])
def test_superheat_rests_on_the_suction_transducer_too(transducer):
    assert "superheat-low" in held(failed(transducer), of=assessment())


def test_liquid_that_another_probe_shows_is_told_whatever_has_failed():
    """Return superheat from the failed probe, and an inlet that is low by a probe that works."""
    of = assessment(inlet=decided(0.2, 0.7, 0.7, "compressor_inlet"))
    found = held(failed("suction_pipe"), of=of)
    assert "superheat-low" not in found and "superheat-high" in found


def test_a_signal_that_superheat_does_not_use_holds_nothing_back():
    assert held(Root(FEED_STALE.name, frozenset({"outdoor_air"})), of=assessment()) == {}
    assert held(Root(FEED_STALE.name, frozenset({"outdoor_air"})), of=assessment(returned=unread())) == {}


def test_a_blind_watch_follows_from_a_silent_probe_and_not_from_a_mode():
    silent = Root(FEED_STALE.name, frozenset({"suction_pipe"}))
    assert held(silent, of=assessment(returned=unread(), inlet=unread()))["watch-blind"] == FEED_STALE.name
    by_mode = without(Status.NOT_DECIDABLE, Cause.MODE, "in mode defrost values are kept, not judged")
    assert held(silent, of=assessment(returned=by_mode, inlet=by_mode)).keys() == OF_THE_RISE


def test_values_that_do_not_settle_are_held_back_only_by_their_own_probe():
    moving = without(Status.NOT_SETTLED, Cause.SPREAD, "swinging", "suction_pipe", value=3.0)
    of = assessment(returned=moving, inlet=unread())
    assert "superheat-hunting" in held(failed("suction_pipe"), of=of)
    assert held(failed("outdoor_coil_gas"), of=of) == {}


def test_what_is_never_suppressed_is_told_always():
    always = replace(CATALOGUE["superheat-low"], never_suppressed=True)
    assert held_back([always], [Root(FEED_STALE.name)], assessment()) == {}


def test_the_view_that_these_tests_rest_on():
    of = assessment()
    assert of.quantities[RETURN].said.probes == ("suction_pipe",)
    assert of.quantities[COMPRESSOR_INLET].said.probes == ("compressor_inlet",)
    assert AT_PROBE + "suction_pipe" in of.quantities


def test_without_an_assessment_only_the_whole_feed_holds_back():
    assert held(failed("suction_pipe"), of=None) == {}


def test_a_wet_discharge_is_held_back_only_where_every_compressor_that_speaks_has_failed():
    """It rests on the margins of all compressors, and on both pressures; common practice, no source."""
    wet = "discharge-superheat-low"
    both = {f"{DISCHARGE_MARGIN}{n}": decided(-20.0, 5.0, 5.0, f"discharge_{n}") for n in "12"}
    of = replace(assessment(), quantities={**assessment().quantities, **both})
    assert wet not in held(failed("discharge_1"), of=of)
    assert wet in held(failed("discharge_1", "discharge_2"), of=of)
    assert wet in held(failed("discharge_pressure"), of=of)
    one = both | {f"{DISCHARGE_MARGIN}2": unread()}
    of = replace(assessment(), quantities={**assessment().quantities, **one})
    assert wet in held(failed("discharge_1"), of=of)
