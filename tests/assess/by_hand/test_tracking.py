"""On which side of the inlets a probe sits, told from how it answers to a valve.

That a probe after the hot-gas bypass warms by kelvins when that opens, and one ahead of it does not: common
practice, no source. The sizes follow an energy balance: 10 % of hot gas at 75 degC lift R-410A by 3.9 K.
"""

import pytest

from agent.assess import assess
from agent.assess.by_hand.tracking import Side, track
from agent.piping import Layout, with_side
from tests.assess.world import grid, module, samples
from tests.piping.layouts import shipped

DATA = shipped("two-pipe-twin-unproven")
UNPROVEN = Layout.from_mapping(DATA)
OF = module(UNPROVEN)
SHUT = {"oil_valve": 0.0, "bypass_valve": 0.0}


def opens(minutes):
    """Open for the last 20 of every 60 minutes."""
    return float(minutes % 60 >= 40)


def tracked(hours=4, of=OF, **signals):
    grid_us = grid(hours * 60)
    given = samples(of, int(grid_us[-1]), **{"suction_pipe": 8.0, **SHUT, **signals})
    (found,) = track(of, assess(of, grid_us, given, int(grid_us[1] - grid_us[0])))
    return found


def answering(to, by_k, rise_k=0.0):
    return lambda m: 8.0 + rise_k + by_k * to(m)


def test_one_that_answers_to_the_bypass_sits_after_it():
    found = tracked(bypass_valve=opens, oil_valve=opens, second_suction=answering(opens, 3.9))
    assert found.side is Side.CANNOT_TELL  # both open at once: nobody knows which it answers to
    found = tracked(bypass_valve=opens, second_suction=answering(opens, 3.9))
    assert found.side is Side.AFTER
    assert found.text == "it moves by +3.9 K when hot_gas_bypass opens: it sits after it"
    assert found.opened_k == pytest.approx(3.9, abs=0.2)


def test_one_that_goes_on_tracking_while_both_open_in_turn_sits_ahead():
    def other(minutes):
        return float(minutes % 60 < 20)

    found = tracked(bypass_valve=opens, oil_valve=other, second_suction=8.2)
    assert found.side is Side.AHEAD
    assert found.text == "hot_gas_bypass and oil_return opened and it went on tracking suction_pipe"


def test_agreement_with_shut_valves_proves_nothing():
    found = tracked(second_suction=8.0)
    assert found.side is Side.CANNOT_TELL
    assert "was not seen open for long enough" in found.text


def test_one_valve_that_never_opened_leaves_it_open():
    assert tracked(bypass_valve=opens, second_suction=8.0).side is Side.CANNOT_TELL


def test_nothing_is_told_without_a_reference():
    found = tracked(of=module(UNPROVEN, without=("suction_pipe",)), second_suction=8.0)
    assert found.side is Side.CANNOT_TELL


def test_unknown_valves_tell_nothing():
    found = tracked(bypass_valve=None, second_suction=12.0)
    assert found.side is Side.CANNOT_TELL


def test_a_wet_reference_tells_nothing():
    """Hot gas then only boils liquid away, and the temperature stays where it is."""
    found = tracked(bypass_valve=opens, suction_pipe=1.0, second_suction=1.0)
    assert found.side is Side.CANNOT_TELL
    assert found.text == "suction_pipe is near saturation, where a warm inlet only boils liquid away"


def test_a_warm_inlet_that_cools_is_no_evidence():
    found = tracked(bypass_valve=opens, second_suction=answering(opens, -3.0))
    assert found.side is Side.CANNOT_TELL
    assert "the other way than that works" in found.text


@pytest.mark.parametrize(("side", "verdict"), [("ahead", "fit"), ("after", "mixed")])
def test_the_side_that_was_found_settles_the_fitness(side, verdict):
    settled = Layout.from_mapping(with_side(DATA, "second_suction", side))
    open_ = {"oil_valve": True, "bypass_valve": True}
    assert UNPROVEN.fitness("cooling", open_, ["1"])["second_suction"].verdict == "unproven"
    assert settled.fitness("cooling", open_, ["1"])["second_suction"].verdict == verdict


def test_a_side_is_settled_only_where_it_is_open():
    with pytest.raises(ValueError, match="leaves no side open for compressor_inlet"):
        with_side(shipped("two-pipe-twin-late"), "compressor_inlet", "after")
