"""Where one more probe would help: checked by putting it there, and on the shipped layouts by hand."""

from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Layout,
    Place,
    advise,
)
from agent.piping.cases import base_case, described
from tests.piping.layouts import OIL, layout, mappings, shipped

PLACES = (RETURN, ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RISE, ACCUMULATOR_CHANGE)
WEAK = ("second_best", "after_accumulator")
BOTH = ("cooling", "heating")


def told(drawn, place, **more):
    return [(advice.modes, str(advice.standing), advice.where) for advice in advise(drawn, place, **more)]


class TestShippedLayouts:
    def test_early_lacks_a_probe_after_the_oil_return(self, early):
        """Ahead of the bypass rather than after it: there it holds with the bypass open too."""
        assert told(early, RISE) == [(BOTH, "fit", "a probe between oil_return and hot_gas_bypass")]
        where = "a probe after hot_gas_bypass, ahead of compressor 1"
        assert told(early, COMPRESSOR_INLET) == [(BOTH, "upper_bound", where)]

    def test_late_lacks_a_probe_after_the_accumulator(self, late):
        for place in (ACCUMULATOR_OUTLET, ACCUMULATOR_CHANGE):
            assert told(late, place) == [(BOTH, "fit", "a probe between the accumulator and oil_return")]

    def test_what_is_measured_lacks_nothing(self, late, early):
        assert [told(late, place) for place in (RETURN, COMPRESSOR_INLET, RISE)] == [[]] * 3
        assert [told(early, place) for place in (RETURN, ACCUMULATOR_OUTLET, ACCUMULATOR_CHANGE)] == [[]] * 3

    def test_a_probe_that_is_there_and_silent_comes_before_a_new_one(self, late):
        heard = ["suction_pipe", "compressor_inlet"]
        words = "readings of outdoor_coil_gas"
        assert told(late, RETURN, available=heard) == [(("heating",), "fit", words)]
        assert told(late, RISE, available=heard) == [(("heating",), "fit", words)]
        assert advise(late, RETURN, available=heard)[0].probe == "outdoor_coil_gas"

    def test_without_return_probes_one_on_the_common_pipe_serves_both_modes(self):
        given = shipped("two-pipe-twin-late")
        for path in given["suction_side"]:
            path[:] = [p for p in path if p not in ({"probe": "suction_pipe"}, {"probe": "outdoor_coil_gas"})]
        words = "a probe between junction low_side and the accumulator"
        assert told(Layout.from_mapping(given), RETURN) == [(BOTH, "fit", words)]

    def test_only_the_modes_asked_for(self, late):
        assert told(late, ACCUMULATOR_OUTLET, modes=["heating"])[0][0] == ("heating",)


class TestPositions:
    def test_a_named_run_is_named_and_tried_behind_its_name(self):
        drawn = layout(
            "evaporator:coil segment:gas_pipe vessel:accumulator probe:out transducer:p compressor:1"
        )
        (advice,) = advise(drawn, RETURN)
        assert advice.where == "a probe on gas_pipe, between coil and the accumulator"
        assert advice.position == (Place("evaporator", "coil"), Place("vessel", "accumulator"), {"gas_pipe"})

    def test_two_probes_for_two_modes(self):
        """Each pipe reverses in the other mode, and the accumulator is split: no common pipe."""
        drawn = layout(
            "evaporator:a segment:pipe_a vessel:one transducer:p compressor:1",
            "evaporator:b segment:pipe_b vessel:two compressor:2",
            modes={
                "cooling": {"evaporators": ["a"], "high_side": ["pipe_b"]},
                "heating": {"evaporators": ["b"]},
            },
        )
        words = [advice.where for advice in advise(drawn, RETURN)]
        assert words == [
            "a probe on pipe_a, between a and vessel one",
            "a probe on pipe_b, between b and vessel two",
        ]

    def test_a_weak_value_can_be_bettered(self):
        drawn = layout(
            "evaporator:coil vessel:accumulator probe:out inlet:oil_return transducer:p compressor:1",
            inlets=OIL,
        )
        assert told(drawn, RETURN) == [(("cooling",), "fit", "a probe between coil and the accumulator")]

    def test_nothing_helps_where_the_pressure_is_not_suction_pressure(self):
        drawn = layout(
            "evaporator:coil segment:pipe transducer:p probe:t compressor:1",
            modes={"heating": {"evaporators": ["coil"], "high_side": ["pipe"]}},
        )
        assert [told(drawn, place) for place in PLACES] == [[]] * 5

    def test_several_vessels_and_splits_are_told_apart_by_name(self):
        drawn = layout(
            "evaporator:coil probe:t vessel:one vessel:two split:s",
            "split:s inlet:oil_return split:more transducer:p compressor:1",
            "split:more compressor:2",
            "split:s compressor:3",
            inlets=OIL,
        )
        assert told(drawn, ACCUMULATOR_OUTLET) == [
            (("cooling",), "fit", "a probe after vessel two, ahead of split s")
        ]


class TestLaws:
    @settings(max_examples=60, deadline=None)
    @given(mappings(), st.sampled_from(PLACES), st.data())
    def test_what_is_advised_does_help(self, given, place, data):
        """Written into the layout's own mapping, the probe makes the place measurable as promised."""
        drawn = Layout.from_mapping(given)
        heard = data.draw(st.sets(st.sampled_from(drawn.suction_probes))) if drawn.suction_probes else set()
        for advice in advise(drawn, place, available=heard):
            for mode in advice.modes:
                case = base_case(drawn, mode)
                before = drawn.choose(mode, dict(case.valves), case.running, heard).places[place]
                assert not before.probes or before.standing in WEAK
                if advice.probe:
                    assert advice.probe not in heard
                    after = drawn.choose(mode, dict(case.valves), case.running, {*heard, advice.probe})
                    assert after.places[place].probes
                else:
                    changed = with_probe(given, advice.position)
                    after = changed.choose(mode, dict(case.valves), case.running, {*heard, "added"})
                    assert after.places[place].probes

    @settings(max_examples=60, deadline=None)
    @given(mappings(), st.sampled_from(PLACES))
    def test_no_mode_is_advised_on_twice_or_where_nothing_lacks(self, given, place):
        drawn = Layout.from_mapping(given)
        modes = [mode for advice in advise(drawn, place) for mode in advice.modes]
        assert len(set(modes)) == len(modes) and set(modes) <= set(described(drawn))


def with_probe(given, position):
    """The mapping's layout with a probe called added on that stretch of pipe, behind its pipe's name."""
    after, ahead_of, runs = position
    paths, done = [], False
    for path in given["suction_side"]:
        places = [Place(kind, str(name)) for place in path for kind, name in place.items()]
        if not done and after in places and ahead_of in places[places.index(after) :]:
            first = places.index(after)
            last = places.index(ahead_of, first)
            named = [n for n in range(first, last) if places[n].kind == "segment" and places[n].name in runs]
            at = named[-1] + 1 if named else first + 1
            path = [*path[:at], {"probe": "added"}, *path[at:]]
            done = True
        paths.append(path)
    assert done, position
    return Layout.from_mapping({**given, "suction_side": paths})
