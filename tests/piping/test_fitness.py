"""What a probe is worth: every verdict with its cause; the laws are in test_fitness_laws."""

import pytest
from hypothesis import settings

from tests.piping.layouts import (
    BYPASS,
    OIL,
    layout,
)

law = settings(max_examples=150, deadline=None)
SHUT, OPEN, UNKNOWN = {"bypass_valve": False}, {"bypass_valve": True}, {"bypass_valve": None}


def verdicts(drawn, mode="cooling", valves=None, running=None):
    return {probe: str(f.verdict) for probe, f in drawn.fitness(mode, valves, running).items()}


def reason(drawn, probe, mode="cooling", valves=None, running=None):
    return drawn.fitness(mode, valves, running)[probe].reason


class TestShippedLayouts:
    """The verdicts that the design page states in words for the two arrangements."""

    @pytest.mark.parametrize("valves", [SHUT, OPEN, UNKNOWN, None])
    @pytest.mark.parametrize("running", [None, ["1"], ["2"], ["1", "2"]])
    def test_late_in_cooling(self, late, valves, running):
        assert verdicts(late, "cooling", valves, running) == {
            "suction_pipe": "fit",
            "outdoor_coil_gas": "high_side",
            "compressor_inlet": "mixed",
            "discharge_1": "high_side",
            "discharge_2": "high_side",
        }

    def test_late_in_heating(self, late):
        found = verdicts(late, "heating", SHUT)
        assert (found["suction_pipe"], found["outdoor_coil_gas"]) == ("high_side", "fit")
        assert found["compressor_inlet"] == "mixed"

    def test_early(self, early):
        cooling, heating = verdicts(early, "cooling", OPEN), verdicts(early, "heating", OPEN)
        assert (cooling["suction_pipe"], cooling["outdoor_coil_gas"]) == ("fit", "high_side")
        assert (heating["suction_pipe"], heating["outdoor_coil_gas"]) == ("high_side", "fit")
        assert cooling["accumulator_outlet"] == heating["accumulator_outlet"] == "fit"

    @pytest.mark.parametrize(
        "mode", ["off", "starting", "defrost", "oil_recovery", "unknown", "simultaneous"]
    )
    def test_in_a_transient_or_undescribed_mode_nothing_is_fit(self, late, early, mode):
        for drawn in (late, early):
            found = drawn.fitness(mode, SHUT, ["1"])
            for probe in drawn.suction_probes:
                assert found[probe].verdict == "idle"
                assert found[probe].reason == f"no settled stream of vapour in mode {mode}"
                assert not found[probe].streams | found[probe].joined
            assert {str(found[p].verdict) for p in drawn.discharge_probes} == {"high_side"}

    def test_reasons(self, late):
        assert reason(late, "suction_pipe") == "all returning vapour, before anything is mixed in"
        assert reason(late, "suction_pipe", "heating") == "gas_pipe carries high-pressure gas in heating"
        assert reason(late, "discharge_1") == "it sits on the discharge side"
        joins = "hot_gas_bypass (warms) and oil_return (warms) join upstream"
        assert reason(late, "compressor_inlet", valves=OPEN) == joins
        assert reason(late, "compressor_inlet", valves=SHUT) == "oil_return (warms) joins upstream"
        joins = "hot_gas_bypass (warms, not known shut) and oil_return (warms) join upstream"
        assert reason(late, "compressor_inlet", valves=UNKNOWN) == joins
        assert reason(late, "compressor_inlet") == joins


class TestMixed:
    TRUNK = "evaporator:coil probe:ahead inlet:hot_gas_bypass probe:behind transducer:p compressor:1"

    @pytest.mark.parametrize(
        ("valves", "verdict"), [(SHUT, "fit"), (OPEN, "mixed"), (UNKNOWN, "mixed"), ({}, "mixed")]
    )
    def test_a_valve_that_is_not_known_shut_counts_as_open(self, valves, verdict):
        found = verdicts(layout(self.TRUNK, inlets=BYPASS), valves=valves)
        assert found == {"ahead": "fit", "behind": verdict}

    def test_without_a_valve_an_inlet_is_always_open(self):
        drawn = layout(self.TRUNK, inlets={"hot_gas_bypass": {"effect": "warms"}})
        assert verdicts(drawn, valves=SHUT)["behind"] == "mixed"

    @pytest.mark.parametrize(
        ("effect", "words"), [("warms", "warms"), ("cools", "cools"), ("either", "may warm or cool")]
    )
    def test_its_effect_is_said(self, effect, words):
        drawn = layout(self.TRUNK, inlets={"hot_gas_bypass": {"effect": effect}})
        assert reason(drawn, "behind") == f"hot_gas_bypass ({words}) joins upstream"

    def test_it_says_what_joined_and_which_streams_pass(self):
        found = layout(self.TRUNK, inlets=BYPASS).fitness("cooling", OPEN)
        assert found["behind"].joined == {"hot_gas_bypass"}
        assert found["behind"].streams == found["ahead"].streams == {"coil"}
        assert not found["ahead"].joined


class TestPartial:
    PATHS = (
        "evaporator:a probe:of_a junction:j",
        "evaporator:b probe:of_b junction:j",
        "junction:j probe:of_both transducer:p compressor:1",
    )

    def test_some_of_the_active_streams(self):
        drawn = layout(*self.PATHS, modes={"cooling": {"evaporators": ["a", "b"]}})
        assert verdicts(drawn) == {"of_a": "partial", "of_b": "partial", "of_both": "fit"}
        assert reason(drawn, "of_a") == "it sees a but not b"
        assert drawn.fitness("cooling")["of_b"].streams == {"b"}

    def test_a_stream_that_is_not_active_is_not_missed(self):
        drawn = layout(*self.PATHS, modes={"cooling": {"evaporators": ["a"]}})
        assert verdicts(drawn) == {"of_a": "fit", "of_b": "idle", "of_both": "fit"}

    @pytest.mark.parametrize(
        ("valve", "ahead", "behind"),
        [(False, "fit", "fit"), (True, "partial", "mixed"), (None, "partial", "mixed")],
    )
    def test_a_subcooler_bypass_is_a_stream_of_its_own(self, valve, ahead, behind):
        drawn = layout(
            "evaporator:coil probe:ahead junction:j",
            "inlet:subcooler_bypass junction:j",
            "junction:j probe:behind transducer:p compressor:1",
            inlets={"subcooler_bypass": {"effect": "cools", "valve": "subcooler_valve"}},
        )
        found = drawn.fitness("cooling", {"subcooler_valve": valve})
        assert (found["ahead"].verdict, found["behind"].verdict) == (ahead, behind)
        assert found["behind"].streams == ({"coil"} if valve is False else {"coil", "subcooler_bypass"})
        if valve is not False:
            assert found["ahead"].reason == "it sees coil but not subcooler_bypass"

    @pytest.mark.parametrize("kind", ["oil_return", "hot_gas_bypass", "accumulator_bleed"])
    def test_what_only_joins_is_no_stream(self, kind):
        inlets = {"extra": {"effect": "warms", "kind": kind}}
        drawn = layout("evaporator:coil probe:ahead inlet:extra transducer:p compressor:1", inlets=inlets)
        assert verdicts(drawn) == {"ahead": "fit"}


class TestIdle:
    BRANCHES = (
        "evaporator:coil probe:common transducer:p split:s",
        "split:s probe:at_1 compressor:1",
        "split:s inlet:oil_return probe:at_2 compressor:2",
    )

    def test_a_stopped_compressors_branch(self):
        drawn = layout(*self.BRANCHES, inlets=OIL)
        assert verdicts(drawn, running=["1"]) == {"common": "fit", "at_1": "fit", "at_2": "idle"}
        assert verdicts(drawn, running=["2"]) == {"common": "fit", "at_1": "idle", "at_2": "mixed"}
        assert verdicts(drawn, running=["1", "2"]) == {"common": "fit", "at_1": "fit", "at_2": "mixed"}
        words = "no returning vapour passes here in cooling: compressor 2 stands"
        assert reason(drawn, "at_2", running=["1"]) == words

    def test_nothing_flows_where_all_stand(self):
        drawn = layout(*self.BRANCHES, inlets=OIL)
        assert set(verdicts(drawn, running=[]).values()) == {"idle"}
        words = "no returning vapour passes here in cooling: compressor 1 and 2 stands"
        assert reason(drawn, "common", running=[]) == words

    def test_where_it_is_not_known_what_runs_the_worst_holds(self):
        drawn = layout(*self.BRANCHES, inlets=OIL)
        assert verdicts(drawn) == {"common": "fit", "at_1": "idle", "at_2": "idle"}
        assert reason(drawn, "at_1") == (
            "no returning vapour passes here in cooling: compressor 1 stands "
            "(which compressors run is not known)"
        )
        assert reason(drawn, "common") == "all returning vapour, before anything is mixed in"

    def test_a_dead_leg(self):
        drawn = layout(
            "evaporator:coil junction:j",
            "evaporator:other probe:dead junction:j",
            "junction:j transducer:p compressor:1",
        )
        assert reason(drawn, "dead") == "no returning vapour passes here in cooling"

    def test_a_stopped_compressors_own_evaporator_is_no_active_stream(self):
        drawn = layout(
            "evaporator:a probe:of_a transducer:p compressor:1",
            "evaporator:b probe:of_b compressor:2",
            modes={"cooling": {"evaporators": ["a", "b"]}},
        )
        assert verdicts(drawn, running=["1"]) == {"of_a": "fit", "of_b": "idle"}
        assert verdicts(drawn, running=["1", "2"]) == {"of_a": "partial", "of_b": "partial"}


class TestHighSide:
    def drawn(self, *paths):
        modes = {
            "cooling": {"evaporators": ["coil"]},
            "heating": {"evaporators": ["coil"], "high_side": ["pipe"]},
        }
        return layout(*paths, modes=modes)

    def test_it_ends_with_the_pipe_run(self):
        for end in ("junction:j", "vessel:accumulator", "split:j", "segment:next"):
            drawn = self.drawn(
                f"evaporator:coil probe:before segment:pipe probe:on {end} probe:past "
                "transducer:p compressor:1"
            )
            assert verdicts(drawn, "cooling") == {"before": "fit", "on": "fit", "past": "fit"}
            assert verdicts(drawn, "heating") == {"before": "fit", "on": "high_side", "past": "fit"}

    def test_it_outweighs_all_else(self):
        inlets = OIL | BYPASS
        drawn = layout(
            "evaporator:coil segment:pipe inlet:oil_return probe:on transducer:p compressor:1",
            "inlet:hot_gas_bypass compressor:1",
            inlets=inlets,
            unproven={"on": ["hot_gas_bypass"]},
            modes={"cooling": {"evaporators": ["coil"], "high_side": ["pipe"]}},
        )
        assert verdicts(drawn) == {"on": "high_side"}
        assert reason(drawn, "on") == "pipe carries high-pressure gas in cooling"

    def test_a_pipe_run_goes_on_where_its_path_is_written_in_two(self):
        drawn = self.drawn(
            "evaporator:coil segment:pipe probe:first", "probe:first probe:second transducer:p compressor:1"
        )
        assert verdicts(drawn, "heating") == {"first": "high_side", "second": "high_side"}


class TestUnproven:
    def drawn(self, path):
        return layout(
            path, inlets=OIL | BYPASS if "oil_return" in path else BYPASS, unproven={"x": ["hot_gas_bypass"]}
        )

    @pytest.mark.parametrize("valves", [OPEN, UNKNOWN])
    @pytest.mark.parametrize("order", ["probe:x inlet:hot_gas_bypass", "inlet:hot_gas_bypass probe:x"])
    def test_either_side_of_the_inlet_as_drawn(self, valves, order):
        drawn = self.drawn(f"evaporator:coil {order} transducer:p compressor:1")
        assert verdicts(drawn, valves=valves) == {"x": "unproven"}
        words = "the layout does not say on which side of hot_gas_bypass it sits"
        assert reason(drawn, "x", valves=valves) == words
        assert drawn.fitness("cooling", valves)["x"].streams == {"coil"}
        assert not drawn.fitness("cooling", valves)["x"].joined

    @pytest.mark.parametrize("order", ["probe:x inlet:hot_gas_bypass", "inlet:hot_gas_bypass probe:x"])
    def test_an_inlet_known_shut_makes_the_side_not_matter(self, order):
        drawn = self.drawn(f"evaporator:coil {order} transducer:p compressor:1")
        assert verdicts(drawn, valves=SHUT) == {"x": "fit"}

    def test_another_inlet_that_has_joined_outweighs_the_doubt(self):
        drawn = self.drawn(
            "evaporator:coil inlet:oil_return probe:x inlet:hot_gas_bypass transducer:p compressor:1"
        )
        assert verdicts(drawn, valves=OPEN) == {"x": "mixed"}

    def test_a_stopped_branch_is_idle_and_not_in_doubt(self):
        drawn = layout(
            "evaporator:coil transducer:p split:s",
            "split:s probe:x inlet:hot_gas_bypass compressor:1",
            "split:s compressor:2",
            inlets=BYPASS,
            unproven={"x": ["hot_gas_bypass"]},
        )
        assert verdicts(drawn, valves=OPEN, running=["2"]) == {"x": "idle"}
        assert verdicts(drawn, valves=OPEN, running=["1"]) == {"x": "unproven"}


class TestSentences:
    """What is said of a probe: every name, in its order, and none that does not belong."""

    def test_several_streams(self):
        of = layout(
            "evaporator:d junction:j",
            "evaporator:b probe:own junction:j",
            "evaporator:a junction:j",
            "evaporator:c junction:k",
            "junction:j probe:seen junction:k",
            "junction:k transducer:p compressor:1",
            modes={"cooling": {"evaporators": ["d", "b", "a", "c"]}},
        )
        assert reason(of, "own") == "it sees b but not a and c and d"
        assert reason(of, "seen") == "it sees a and b and d but not c"

    def test_several_pipes_that_turned(self):
        of = layout(
            "evaporator:coil segment:d probe:x transducer:p compressor:1",
            *(f"evaporator:{name}_coil segment:{name} probe:x" for name in ("b", "c", "a")),
            modes={"heating": {"evaporators": ["coil"], "high_side": ["d", "b", "c", "a"]}},
        )
        assert reason(of, "x", "heating") == "a, b, c, d carries high-pressure gas in heating"

    def test_several_inlets_in_doubt(self):
        names = ("inlet_c", "inlet_a", "inlet_d", "inlet_b")
        of = layout(
            "evaporator:coil inlet:inlet_c inlet:inlet_a probe:x inlet:inlet_d inlet:inlet_b transducer:p",
            "transducer:p compressor:1",
            inlets={name: {"effect": "warms", "kind": "oil_return"} for name in names},
            unproven={"x": list(names)},
        )
        sides = "inlet_a and inlet_b and inlet_c and inlet_d"
        assert reason(of, "x") == f"the layout does not say on which side of {sides} it sits"

    def test_only_the_coil_ahead_of_the_probe_is_told_to_stand(self):
        of = layout(
            "evaporator:rooms junction:j",
            "evaporator:one segment:one_pipe probe:x junction:j",
            "evaporator:two segment:two_pipe probe:y junction:j",
            "junction:j transducer:p compressor:1",
            modes={"simultaneous": {"evaporators": ["rooms"]}},
            coils={name: {"valve": f"{name}_valve", "pipe": f"{name}_pipe"} for name in ("one", "two")},
        )
        found = of.fitness("simultaneous", {"one_valve": False, "two_valve": False})
        idle = "no returning vapour passes here in simultaneous"
        for probe, coil in (("x", "one"), ("y", "two")):
            assert found[probe].reason == f"{idle}: {coil} does not evaporate now, the pipe may be hot"


class TestDividedVessel:
    """Common practice, no source: two accumulators side by side hold back unlike amounts of liquid."""

    def test_a_branch_without_a_vessel_counts_as_one_too(self):
        of = layout(
            "evaporator:coil transducer:p split:s",
            "split:s vessel:accumulator probe:x compressor:1",
            "split:s compressor:2",
        )
        both, alone = (of.fitness("cooling", {}, running)["x"] for running in (["1", "2"], ["1"]))
        assert str(both.verdict) == "partial"
        assert both.reason == "it sees one of several branches, each with a vessel of its own"
        assert str(alone.verdict) == "fit"

    def test_a_vessel_ahead_of_the_split_is_everybodys(self):
        of = layout(
            "evaporator:coil transducer:p vessel:accumulator split:s",
            "split:s probe:x compressor:1",
            "split:s compressor:2",
        )
        assert verdicts(of, running=["1", "2"])["x"] == "fit"

    def test_another_branchs_vessel_is_not_its_own(self):
        of = layout(
            "evaporator:coil transducer:p split:s",
            "split:s probe:x compressor:1",
            "split:s vessel:accumulator compressor:2",
        )
        assert verdicts(of, running=["1", "2"])["x"] == "fit"

    def test_what_sees_only_some_of_the_streams_says_so(self):
        of = layout(
            "evaporator:coil transducer:p split:s",
            "split:s vessel:accumulator probe:x compressor:1",
            "split:s vessel:second junction:j",
            "evaporator:other junction:j",
            "junction:j compressor:2",
            modes={"cooling": {"evaporators": ["coil", "other"]}},
        )
        assert reason(of, "x", running=["1", "2"]) == "it sees coil but not other"


def test_hot_oil_alone_is_no_returning_vapour():
    """Where nothing evaporates, what an inlet brings is all that passes: idle, and not mixed."""
    of = layout(
        "evaporator:coil segment:coil_pipe junction:j",
        "junction:j inlet:oil_return probe:x transducer:p compressor:1",
        inlets=OIL,
        modes={"simultaneous": {"evaporators": []}},
        coils={"coil": {"valve": "coil_valve", "pipe": "coil_pipe"}},
    )
    assert verdicts(of, "simultaneous", {"coil_valve": True}) == {"x": "mixed"}
    assert verdicts(of, "simultaneous", {"coil_valve": False}) == {"x": "idle"}


def test_only_the_possibilities_that_are_as_bad_tell_what_passes():
    """With compressor 1 running it is mixed; with 2 alone nothing passes, and that is the worse."""
    of = layout(
        "evaporator:coil transducer:p split:s",
        "split:s inlet:oil_return probe:x compressor:1",
        "split:s compressor:2",
        inlets=OIL,
    )
    found = of.fitness("cooling")["x"]
    assert (str(found.verdict), found.streams, found.joined) == ("idle", frozenset(), frozenset())
