"""Where liquid truly leaves a condenser: every verdict with its cause, and what holds whatever the layout."""

from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import Layout, Situation, subcooling_probes
from tests.piping.layouts import layout, places, shipped

law = settings(max_examples=150, deadline=None)
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


@st.composite
def trees(draw):
    """A liquid side without ways that meet again: condensers, junctions, probes, and one expansion."""
    count = draw(st.integers(1, 3))
    names = [f"c{n}" for n in range(count)]
    suction = [f"evaporator:{name} segment:pipe_of_{name} junction:j" for name in names]
    paths = []
    for n, name in enumerate(names):
        spots = [f"probe:p{n}_{k}" for k in range(draw(st.integers(0, 2)))]
        joins = draw(st.integers(n + 1, count)) if n + 1 < count else count
        paths.append(" ".join([f"coil:{name}", f"junction:l{n}", *spots, f"junction:l{joins}"]))
    trunk = [f"probe:t_{k}" for k in range(draw(st.integers(0, 2)))]
    paths.append(" ".join([f"junction:l{count}", *trunk, "expansion:indoor", "coil:rooms"]))
    condensers = draw(st.lists(st.sampled_from(names), min_size=1, unique=True))
    modes = {
        "cooling": {
            "evaporators": ["rooms"],
            "high_side": [f"pipe_of_{name}" for name in names],
            "condensers": condensers,
            "expands": ["indoor"],
        }
    }
    return {
        "layout": "tree",
        "suction_side": [
            places(path)
            for path in (*suction, "evaporator:rooms junction:j", "junction:j transducer:p compressor:1")
        ],
        "liquid_side": [places(path) for path in paths],
        "modes": modes,
    }


def passing(given, probe):
    """Which condensers' liquid runs past a probe, by following each down its only way."""
    paths, found = given["liquid_side"], set()
    for name in given["modes"]["cooling"]["condensers"]:
        path = paths[int(name.removeprefix("c"))]
        while True:
            if {"probe": probe} in path:
                found.add(name)
            if path[-1] == {"coil": "rooms"}:
                break
            path = paths[int(path[-1]["junction"].removeprefix("l"))]
    return found


@law
@given(trees())
def test_following_the_liquid_down_finds_the_same(given):
    of = Layout.from_mapping(given)
    condensers = set(given["modes"]["cooling"]["condensers"])
    for probe, found in subcooling_probes(of, Situation.of("cooling")).items():
        seen = passing(given, probe)
        if not seen:
            assert found.verdict == "idle"
        elif seen < condensers:
            assert found.verdict == "partial"
        else:
            assert found.verdict in ("fit", "earlier")
        assert found.condensers == seen


@law
@given(trees(), st.data())
def test_paths_have_no_direction_and_their_order_means_nothing(given, data):
    other = deepcopy(given)
    other["liquid_side"] = [
        path[::-1] if data.draw(st.booleans()) else path
        for path in data.draw(st.permutations(given["liquid_side"]))
    ]
    now = Situation.of("cooling")
    assert subcooling_probes(Layout.from_mapping(other), now) == subcooling_probes(
        Layout.from_mapping(given), now
    )


@law
@given(trees(), st.data())
def test_one_more_condenser_never_makes_a_partial_probe_fit(given, data):
    of = Layout.from_mapping(given)
    more = deepcopy(given)
    names = sorted(of.modes["cooling"].high_side)
    listed = set(given["modes"]["cooling"]["condensers"])
    more["modes"]["cooling"]["condensers"] = sorted(
        listed | {data.draw(st.sampled_from(names)).removeprefix("pipe_of_")}
    )
    before = subcooling_probes(of, Situation.of("cooling"))
    after = subcooling_probes(Layout.from_mapping(more), Situation.of("cooling"))
    for probe, found in before.items():
        if found.verdict == "partial":
            assert after[probe].verdict == "partial"


@pytest.mark.parametrize("name", ["three-pipe-split-coil", "two-pipe-split-coil"])
def test_knowing_less_of_the_coils_is_never_better(name):
    of = Layout.from_mapping(shipped(name))
    order = ["fit", "earlier", "partial", "unproven", "expanded", "idle"]
    for mode in set(of.modes) - {"cooling"}:
        for upper in (True, False):
            for lower in (True, False):
                if mode == "heating" and not (upper or lower):
                    continue  # nothing would feed the line: no possibility where roles are not known
                valves = {"upper_coil_valve": upper, "lower_coil_valve": lower}
                known = subcooling_probes(of, Situation.of(mode, valves))
                for valve in valves:
                    less = subcooling_probes(of, Situation.of(mode, valves | {valve: None}))
                    for probe in known:
                        assert order.index(less[probe].verdict) >= order.index(known[probe].verdict)
