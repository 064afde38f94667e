"""Where liquid leaves a condenser: what holds whatever the layout, on liquid sides drawn at random."""

from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import Layout, Situation, subcooling_probes
from tests.piping.layouts import places, shipped

law = settings(max_examples=150, deadline=None)


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
