"""Where liquid truly leaves a condenser: every verdict with its cause; the laws are in test_liquid_laws."""

import pytest

from agent.piping import Situation, subcooling_probes
from tests.piping.layouts import layout, places

SUCTION = (
    "evaporator:rooms junction:j",
    "evaporator:coil segment:coil_pipe junction:j",
    "evaporator:other segment:other_pipe junction:j",
    "junction:j transducer:p compressor:1",
)
COOLING = {
    "cooling": {
        "evaporators": ["rooms"],
        "high_side": ["coil_pipe", "other_pipe"],
        "condensers": ["coil"],
        "expands": ["indoor"],
    }
}
BOTH = {"cooling": COOLING["cooling"] | {"condensers": ["coil", "other"]}}
BY_VALVE = {
    "simultaneous": {"evaporators": ["rooms"], "condensers": ["rooms", "coil"], "expands": ["indoor"]}
}
COIL = {"coil": {"valve": "coil_valve", "pipe": "coil_pipe"}}


def drawn(*paths, modes=COOLING, **more):
    return layout(*SUCTION, liquid_side=[places(path) for path in paths], modes=modes, **more)


def told(of, mode="cooling", valves=None, available=None):
    found = subcooling_probes(of, Situation.of(mode, valves, ["1"]), available)
    return {probe: f"{f.verdict}: {f.reason}" for probe, f in found.items()}


def test_the_last_one_ahead_of_the_expansion_is_taken():
    of = drawn("coil:coil probe:a expansion:outdoor exchanger:subcooler probe:b expansion:indoor coil:rooms")
    assert told(of) == {
        "a": "earlier: b sits later, nearer the expansion",
        "b": "fit: all liquid of coil, after subcooler, ahead of indoor",
    }
    only = told(of, available=["a"])
    assert only["a"] == "fit: all liquid of coil, ahead of indoor"
    assert only["b"].startswith("fit: ")


def test_the_flow_reverses_with_the_mode():
    """In heating the rooms condense; what their valves do to the liquid decides."""
    heating = {"evaporators": ["coil"], "condensers": ["rooms"], "expands": ["outdoor"]}
    path = "coil:coil probe:a expansion:outdoor probe:b expansion:indoor probe:c coil:rooms"
    wide_open = drawn(path, modes={"heating": heating})
    assert told(wide_open, "heating") == {
        "a": "expanded: outdoor expands between what condenses and it",
        "b": "fit: all liquid of rooms, ahead of outdoor",
        "c": "earlier: b sits later, nearer the expansion",
    }
    throttling = drawn(path, modes={"heating": heating | {"expands": ["outdoor", "indoor"]}})
    assert told(throttling, "heating") == {
        "a": "expanded: outdoor expands between what condenses and it",
        "b": "expanded: indoor expands between what condenses and it",
        "c": "fit: all liquid of rooms, ahead of indoor",
    }


def test_of_several_later_ones_the_last_is_named():
    of = drawn("coil:coil probe:c probe:z probe:a probe:b expansion:indoor coil:rooms")
    last = "earlier: b sits later, nearer the expansion"
    assert told(of) | {"b": ""} == {"c": last, "z": last, "a": last, "b": ""}


def test_exchangers_and_vessels_that_all_of_it_has_passed_are_named():
    of = drawn(
        "coil:coil vessel:receiver exchanger:subcooler filter:dryer probe:a expansion:indoor coil:rooms"
    )
    assert told(of) == {"a": "fit: all liquid of coil, after receiver and subcooler, ahead of indoor"}


def test_a_coil_that_evaporates_takes_liquid_where_no_expansion_is_drawn():
    modes = {"cooling": {"evaporators": ["rooms"], "condensers": ["coil"]}}
    assert told(drawn("coil:coil probe:a coil:rooms", modes=modes)) == {
        "a": "fit: all liquid of coil, ahead of rooms"
    }
    assert told(drawn("coil:coil probe:a coil:other", "coil:other expansion:x coil:rooms", modes=modes)) == {
        "a": "idle: nothing beyond it takes liquid in cooling"
    }


def test_every_expansion_that_lies_between_is_named():
    of = drawn(
        "coil:coil expansion:one junction:l",
        "coil:other expansion:two junction:l",
        "junction:l probe:a expansion:indoor coil:rooms",
        modes={"cooling": BOTH["cooling"] | {"expands": ["one", "two", "indoor"]}},
    )
    assert told(of) == {"a": "expanded: one and two expand between what condenses and it"}


def test_an_expansion_without_a_condenser_behind_it_does_not_lie_between():
    of = drawn(
        "coil:coil expansion:one junction:l",
        "coil:other expansion:two junction:l",
        "junction:l probe:a expansion:indoor coil:rooms",
        modes={"cooling": COOLING["cooling"] | {"expands": ["one", "two", "indoor"]}},
    )
    assert told(of) == {"a": "expanded: one expands between what condenses and it"}


def test_what_is_open_and_does_not_expand_is_passed():
    of = drawn("coil:coil probe:a expansion:outdoor filter:dryer expansion:indoor coil:rooms")
    assert told(of) == {"a": "fit: all liquid of coil, ahead of indoor"}


def test_where_the_liquids_of_two_condensers_join():
    paths = (
        "coil:coil probe:of_coil junction:l",
        "coil:other probe:of_other junction:l",
        "junction:l probe:line expansion:indoor coil:rooms",
    )
    assert told(drawn(*paths, modes=BOTH)) == {
        "of_coil": "partial: it sees liquid of coil but not of other",
        "of_other": "partial: it sees liquid of other but not of coil",
        "line": "fit: all liquid of coil and other, ahead of indoor",
    }
    assert told(drawn(*paths)) == {
        "of_coil": "earlier: line sits later, nearer the expansion",
        "of_other": "idle: nothing beyond it takes liquid in cooling",
        "line": "fit: all liquid of coil, ahead of indoor",
    }


def test_which_way_liquid_flows_between_two_condensers_is_not_told():
    of = drawn(
        "coil:coil junction:l probe:between junction:m coil:other",
        "junction:l expansion:indoor coil:rooms",
        "junction:m expansion:indoor_2 coil:rooms",
        modes={"cooling": BOTH["cooling"] | {"expands": ["indoor", "indoor_2"]}},
    )
    assert told(of) == {"between": "unproven: which way liquid flows here is not told"}


def test_on_one_of_two_ways_that_meet_again():
    of = drawn(
        "coil:coil junction:l probe:one junction:m expansion:indoor coil:rooms",
        "junction:l filter:dryer junction:m",
    )
    assert told(of) == {"one": "unproven: it sits on one of several ways that meet again"}


def test_behind_another_coil_is_not_ahead_of_an_expansion():
    of = drawn("coil:coil expansion:indoor coil:rooms probe:beyond coil:other")
    assert told(of) == {"beyond": "idle: no condensed liquid comes here in cooling"}


def test_nothing_expands():
    of = drawn(
        "coil:coil probe:a expansion:indoor coil:other",
        modes={"cooling": {"evaporators": ["rooms"], "condensers": ["coil"]}},
    )
    assert told(of) == {"a": "idle: nothing beyond it takes liquid in cooling"}


def test_no_condenser_is_named():
    of = drawn("coil:coil probe:a expansion:indoor coil:rooms", modes={"cooling": {"evaporators": ["rooms"]}})
    assert told(of) == {"a": "unproven: what condenses in cooling is not told"}


@pytest.mark.parametrize("mode", ["off", "defrost", "heating"])
def test_a_transient_or_undescribed_mode(mode):
    of = drawn("coil:coil probe:a expansion:indoor coil:rooms")
    assert told(of, mode) == {"a": f"idle: no settled stream of liquid in mode {mode}"}


def test_a_layout_without_a_liquid_side():
    assert told(layout("evaporator:coil transducer:p compressor:1")) == {}


class TestByValve:
    """A coil with a valve: what evaporates has been expanded by the valve nearest to it."""

    PATH = "coil:coil probe:a expansion:outdoor probe:b expansion:indoor coil:rooms"

    def test_it_evaporates(self):
        of = drawn(self.PATH, modes=BY_VALVE, coils=COIL)
        assert told(of, "simultaneous", {"coil_valve": True}) == {
            "a": "expanded: outdoor expands between what condenses and it",
            "b": "expanded: indoor expands between what condenses and it",
        }

    def test_that_it_does_not_leaves_open_whether_it_condenses(self):
        of = drawn(self.PATH, modes=BY_VALVE, coils=COIL)
        doubt = "(whether coil condenses or stands is not known)"
        assert told(of, "simultaneous", {"coil_valve": False}) == {
            "a": f"expanded: indoor expands between what condenses and it {doubt}",
            "b": f"expanded: indoor expands between what condenses and it {doubt}",
        }

    def test_nobody_knows(self):
        of = drawn(self.PATH, modes=BY_VALVE, coils=COIL)
        assert told(of, "simultaneous")["b"].endswith("(what coil does is not known)")

    def test_where_it_alone_can_condense_it_does(self):
        alone = {"simultaneous": BY_VALVE["simultaneous"] | {"condensers": ["coil"]}}
        of = drawn(self.PATH, modes=alone, coils=COIL)
        assert told(of, "simultaneous", {"coil_valve": False}) == {
            "a": "earlier: b sits later, nearer the expansion",
            "b": "fit: all liquid of coil, ahead of indoor",
        }

    def test_a_coil_that_the_mode_never_lets_condense(self):
        never = {"simultaneous": BY_VALVE["simultaneous"] | {"condensers": ["rooms"]}}
        of = drawn(self.PATH, modes=never, coils=COIL)
        assert told(of, "simultaneous", {"coil_valve": False})["a"] == (
            "expanded: indoor expands between what condenses and it"
        )

    def test_one_that_evaporates_takes_liquid(self):
        """Ahead of its own valve, the liquid of the rooms is whole."""
        of = drawn(
            "coil:coil expansion:outdoor probe:a coil:rooms",
            modes={"simultaneous": {"evaporators": ["rooms"], "condensers": ["rooms"]}},
            coils=COIL,
        )
        assert told(of, "simultaneous", {"coil_valve": True}) == {
            "a": "fit: all liquid of rooms, ahead of outdoor"
        }
        assert told(of, "simultaneous", {"coil_valve": False}) == {
            "a": "idle: nothing beyond it takes liquid in simultaneous"
        }

    def test_only_the_valve_nearest_to_what_evaporates_expands(self):
        of = drawn(
            "coil:coil probe:a expansion:near probe:b expansion:far probe:c coil:rooms",
            modes={"simultaneous": {"evaporators": ["rooms"], "condensers": ["rooms"]}},
            coils=COIL,
        )
        assert told(of, "simultaneous", {"coil_valve": True}) == {
            "a": "expanded: near expands between what condenses and it",
            "b": "fit: all liquid of rooms, ahead of near",
            "c": "earlier: b sits later, nearer the expansion",
        }

    def test_one_that_evaporates_without_a_valve_on_the_way_takes_liquid_itself(self):
        of = drawn(
            "coil:coil probe:a coil:rooms",
            modes={"simultaneous": {"evaporators": ["rooms"], "condensers": ["rooms"]}},
            coils=COIL,
        )
        assert told(of, "simultaneous", {"coil_valve": True}) == {
            "a": "fit: all liquid of rooms, ahead of coil"
        }

    def test_of_two_unknown_coils_only_the_one_that_matters_is_named(self):
        """Where the liquid of one alone runs by, what the other does is no matter."""
        of = drawn(
            "coil:coil probe:a expansion:indoor coil:rooms",
            "coil:other probe:b expansion:indoor",
            modes={
                "simultaneous": {
                    "evaporators": ["rooms"],
                    "condensers": ["coil", "rooms"],
                    "expands": ["indoor"],
                }
            },
            coils=COIL | {"other": {"valve": "other_valve", "pipe": "other_pipe"}},
        )
        found = told(of, "simultaneous", {"other_valve": False})
        assert found["a"].endswith("(what coil does is not known)")
        assert "other" not in found["a"]

    def test_two_coils_that_both_matter_are_named_in_their_order(self):
        of = drawn(
            "coil:coil probe:a junction:l",
            "coil:other junction:l",
            "junction:l expansion:indoor coil:rooms",
            modes={
                "simultaneous": {
                    "evaporators": ["rooms"],
                    "condensers": ["coil", "other"],
                    "expands": ["indoor"],
                }
            },
            coils=COIL | {"other": {"valve": "other_valve", "pipe": "other_pipe"}},
        )
        assert told(of, "simultaneous")["a"].endswith(
            "(what coil does is not known and what other does is not known)"
        )
