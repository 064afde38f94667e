"""Which probe speaks for which place, why, and what is said where none does."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Layout,
    loss_side,
)
from tests.piping.layouts import BYPASS, OIL, layout, mappings, situations

law = settings(max_examples=150, deadline=None)
PLACES = (RETURN, ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RISE, ACCUMULATOR_CHANGE)
SHUT, OPEN, UNKNOWN = {"bypass_valve": False}, {"bypass_valve": True}, {"bypass_valve": None}
TWO_STREAMS = {"cooling": {"evaporators": ["a", "b"]}}
THREE_STREAMS = {"cooling": {"evaporators": ["a", "b", "c"]}}


def chosen(drawn, place, *situation, **more):
    choice = drawn.choose(*(situation or ("cooling",)), **more).places[place]
    return (str(choice.standing), *choice.probes)


def why(drawn, place, *situation, **more):
    return drawn.choose(*(situation or ("cooling",)), **more).places[place].reason


class TestShippedLayouts:
    def test_late_with_the_bypass_shut(self, late):
        for mode, probe in (("cooling", "suction_pipe"), ("heating", "outdoor_coil_gas")):
            assert chosen(late, RETURN, mode, SHUT) == ("fit", probe)
            assert chosen(late, ACCUMULATOR_OUTLET, mode, SHUT) == ("not_measurable",)
            assert chosen(late, COMPRESSOR_INLET, mode, SHUT) == ("upper_bound", "compressor_inlet")
            assert chosen(late, RISE, mode, SHUT) == ("fit", "compressor_inlet", probe)
            assert chosen(late, ACCUMULATOR_CHANGE, mode, SHUT) == ("not_measurable",)

    def test_late_with_the_bypass_open_or_not_known(self, late):
        for valves, words in ((OPEN, "open"), (UNKNOWN, "not known shut"), ({}, "not known shut")):
            assert chosen(late, RETURN, "cooling", valves) == ("fit", "suction_pipe")
            assert chosen(late, RISE, "cooling", valves) == ("not_decidable",)
            assert why(late, RISE, "cooling", valves) == f"not attributable: hot_gas_bypass is {words}"
            assert chosen(late, COMPRESSOR_INLET, "cooling", valves) == ("upper_bound", "compressor_inlet")

    def test_early(self, early):
        for mode, probe in (("cooling", "suction_pipe"), ("heating", "outdoor_coil_gas")):
            for valves in (SHUT, OPEN, UNKNOWN):
                assert chosen(early, RETURN, mode, valves) == ("fit", probe)
                assert chosen(early, ACCUMULATOR_OUTLET, mode, valves) == ("fit", "accumulator_outlet")
                assert chosen(early, COMPRESSOR_INLET, mode, valves) == ("not_measurable",)
                assert chosen(early, RISE, mode, valves) == ("not_measurable",)
                assert chosen(early, ACCUMULATOR_CHANGE, mode, valves) == ("fit", "accumulator_outlet", probe)

    def test_reasons(self, late, early):
        assert why(late, RETURN) == "all returning vapour, before anything is mixed in"
        assert why(early, ACCUMULATOR_OUTLET) == "ahead of every open inlet"
        assert why(early, ACCUMULATOR_CHANGE) == "fit probes on both sides of the accumulator"
        assert why(late, RISE, "cooling", SHUT) == (
            "only oil_return joins between them (hot_gas_bypass: bypass_valve told shut)"
        )
        assert why(late, COMPRESSOR_INLET, "cooling", SHUT) == (
            "oil_return (warms) joins upstream; good for gas density, not for vapour quality"
        )
        nothing = "no probe sits between the accumulator and the first inlet"
        assert why(late, ACCUMULATOR_OUTLET) == nothing
        assert why(early, COMPRESSOR_INLET) == "no probe sits after the inlets"
        assert why(early, RISE) == "no probe sits after the oil return"
        words = "it takes a fit probe on each side of the accumulator in cooling"
        assert why(late, ACCUMULATOR_CHANGE) == words

    @pytest.mark.parametrize("mode", ["off", "starting", "defrost", "oil_recovery", "unknown"])
    def test_transient_modes(self, late, mode):
        for place in PLACES:
            assert chosen(late, place, mode, SHUT, ["1"]) == ("not_decidable",)
            assert why(late, place, mode) == f"in mode {mode} values are kept, not judged"

    def test_a_mode_that_the_layout_does_not_describe(self, late):
        for place in PLACES:
            assert chosen(late, place, "simultaneous", SHUT) == ("not_decidable",)
            words = "layout two-pipe-twin-late does not describe simultaneous"
            assert why(late, place, "simultaneous") == words

    def test_probes_that_give_no_readings_are_not_chosen(self, late, early):
        assert chosen(late, RETURN, available=["compressor_inlet"]) == ("not_measurable",)
        assert why(late, RETURN, available=["compressor_inlet"]) == (
            "no probe is fit in cooling: compressor_inlet is mixed"
        )
        assert why(late, RETURN, available=[]) == "no probe is fit in cooling: none gives readings"
        assert why(late, RISE, "cooling", SHUT, available=["compressor_inlet"]) == (
            "no fit reference ahead of compressor_inlet in cooling"
        )
        assert chosen(late, COMPRESSOR_INLET, available=["suction_pipe"]) == ("not_measurable",)
        assert chosen(early, RETURN, available=["accumulator_outlet"]) == (
            "after_accumulator",
            "accumulator_outlet",
        )
        assert chosen(early, ACCUMULATOR_CHANGE, available=["accumulator_outlet"]) == ("not_measurable",)


class TestReturn:
    def test_the_fit_probe_nearest_the_accumulator(self):
        drawn = layout(
            "evaporator:coil probe:z_far probe:middle probe:a_near vessel:accumulator probe:outlet "
            "transducer:p compressor:1"
        )
        assert chosen(drawn, RETURN) == ("fit", "a_near")
        assert chosen(drawn, RETURN, available=["middle", "z_far", "outlet"]) == ("fit", "middle")
        assert chosen(drawn, ACCUMULATOR_CHANGE) == ("fit", "outlet", "a_near")

    def test_without_an_accumulator_ahead_of_every_inlet(self):
        drawn = layout(
            "evaporator:coil probe:ahead inlet:hot_gas_bypass probe:behind transducer:p compressor:1",
            inlets=BYPASS,
        )
        assert chosen(drawn, RETURN, "cooling", SHUT) == ("fit", "ahead")
        assert chosen(drawn, ACCUMULATOR_OUTLET, "cooling", SHUT) == ("not_measurable",)
        assert chosen(drawn, COMPRESSOR_INLET, "cooling", SHUT) == ("fit", "behind")

    STREAMS = (
        "evaporator:a probe:of_a junction:j",
        "evaporator:b probe:of_b junction:j",
        "evaporator:c probe:of_c junction:k",
        "junction:j probe:of_a_and_b junction:k",
        "junction:k vessel:accumulator transducer:p compressor:1",
    )

    def test_the_smallest_set_that_covers_every_stream(self):
        drawn = layout(*self.STREAMS, modes=THREE_STREAMS)
        assert chosen(drawn, RETURN) == ("covering", "of_c", "of_a_and_b")
        assert why(drawn, RETURN) == (
            "together they see every stream of returning vapour; the lowest carries the verdict"
        )
        all_single = ["of_a", "of_b", "of_c"]
        assert chosen(drawn, RETURN, available=all_single) == ("covering", "of_a", "of_b", "of_c")

    def test_without_a_covering_set_the_lowest_of_all_partial_probes_is_second_best(self):
        drawn = layout(*self.STREAMS, modes=THREE_STREAMS)
        some = ["of_a", "of_a_and_b"]
        assert chosen(drawn, RETURN, available=some) == ("second_best", *some)
        words = "no probe sees c; the lowest carries the verdict"
        assert why(drawn, RETURN, available=some) == words
        assert why(drawn, RETURN, available=["of_a"]) == "no probe sees b or c"

    def test_a_bypass_stream_must_be_covered_too(self):
        drawn = layout(
            "evaporator:coil probe:ahead junction:j",
            "inlet:subcooler_bypass junction:j",
            "junction:j vessel:accumulator transducer:p compressor:1",
            inlets={"subcooler_bypass": {"effect": "cools", "valve": "subcooler_valve"}},
        )
        assert chosen(drawn, RETURN, "cooling", {"subcooler_valve": False}) == ("fit", "ahead")
        for valve in (True, None):
            assert chosen(drawn, RETURN, "cooling", {"subcooler_valve": valve}) == ("second_best", "ahead")

    def test_the_accumulator_outlet_is_second_best(self):
        drawn = layout(
            "evaporator:a probe:of_a junction:j",
            "evaporator:b junction:j",
            "junction:j vessel:accumulator probe:first probe:second transducer:p compressor:1",
            modes=TWO_STREAMS,
        )
        assert chosen(drawn, RETURN) == ("after_accumulator", "first")
        words = "taken after the accumulator, where near zero is normal while it holds liquid"
        assert why(drawn, RETURN) == words
        assert chosen(drawn, ACCUMULATOR_OUTLET) == ("fit", "first")
        assert chosen(drawn, ACCUMULATOR_CHANGE) == ("not_measurable",)
        assert chosen(drawn, RETURN, available=["of_a"]) == ("second_best", "of_a")

    def test_a_mixed_idle_or_unproven_probe_never_speaks_for_it(self):
        mixed = layout("evaporator:coil inlet:oil_return probe:x transducer:p compressor:1", inlets=OIL)
        assert chosen(mixed, RETURN) == ("not_measurable",)
        idle = layout(
            "evaporator:coil junction:j",
            "evaporator:b probe:x junction:j",
            "junction:j transducer:p compressor:1",
        )
        assert chosen(idle, RETURN) == ("not_measurable",)
        assert why(idle, RETURN) == "no probe is fit in cooling: x is idle"
        unproven = layout(
            "evaporator:coil probe:x inlet:hot_gas_bypass transducer:p compressor:1",
            inlets=BYPASS,
            unproven={"x": ["hot_gas_bypass"]},
        )
        assert chosen(unproven, RETURN, "cooling", OPEN) == ("not_decidable",)
        words = "not attributable: hot_gas_bypass is not known shut"
        assert why(unproven, RETURN, "cooling", UNKNOWN) == words
        assert chosen(unproven, RETURN, "cooling", SHUT) == ("fit", "x")

    def test_only_what_flows_must_be_covered(self):
        drawn = layout(
            "evaporator:a probe:of_a junction:j",
            "evaporator:b probe:of_b junction:j",
            "junction:j vessel:accumulator transducer:p compressor:1",
            "evaporator:c vessel:accumulator_2 compressor:2",
            modes=THREE_STREAMS,
        )
        assert chosen(drawn, RETURN, "cooling", {}, ["1"]) == ("covering", "of_a", "of_b")

    def test_a_bypass_that_joins_after_the_accumulator_does_not_return_ahead_of_it(self):
        drawn = layout(
            "evaporator:coil probe:ahead vessel:accumulator junction:j",
            "inlet:subcooler_bypass junction:j",
            "junction:j transducer:p compressor:1",
            inlets={"subcooler_bypass": {"effect": "cools"}},
        )
        assert chosen(drawn, RETURN) == ("covering", "ahead")
        assert why(drawn, RETURN) == (
            "ahead of the accumulator all passes here; it sees coil but not subcooler_bypass"
        )

    def test_a_bypass_with_a_probe_of_its_own_is_covered(self):
        drawn = layout(
            "evaporator:coil probe:ahead junction:j",
            "inlet:subcooler_bypass probe:of_bypass junction:j",
            "junction:j vessel:accumulator transducer:p compressor:1",
            inlets={"subcooler_bypass": {"effect": "cools"}},
        )
        assert chosen(drawn, RETURN) == ("covering", "ahead", "of_bypass")
        assert chosen(drawn, COMPRESSOR_INLET) == ("not_measurable",)

    def test_a_second_accumulator_does_not_make_a_return_probe_of_an_outlet(self):
        drawn = layout(
            "evaporator:coil probe:ahead vessel:accumulator probe:outlet vessel:accumulator_2 "
            "transducer:p compressor:1"
        )
        assert chosen(drawn, RETURN) == ("fit", "ahead")
        assert chosen(drawn, ACCUMULATOR_OUTLET) == ("fit", "outlet")
        assert chosen(drawn, ACCUMULATOR_CHANGE) == ("fit", "outlet", "ahead")

    def test_a_filter_is_no_accumulator(self):
        drawn = layout("evaporator:coil filter:f probe:behind transducer:p compressor:1")
        assert chosen(drawn, RETURN) == ("fit", "behind")

    def test_parallel_accumulators_each_hold_back_their_own(self):
        drawn = layout(
            "evaporator:coil transducer:p split:s",
            "split:s vessel:accumulator_1 probe:out_1 compressor:1",
            "split:s vessel:accumulator_2 probe:out_2 compressor:2",
        )
        both = ("second_best", "out_1", "out_2")
        assert chosen(drawn, ACCUMULATOR_OUTLET, "cooling", {}, ["1", "2"]) == both
        assert chosen(drawn, ACCUMULATOR_OUTLET, "cooling", {}, ["1"]) == ("fit", "out_1")

    def test_a_transducer_on_a_pipe_that_turns_high_side_measures_nothing(self):
        drawn = layout(
            "evaporator:indoor_units segment:gas_pipe transducer:p junction:j",
            "evaporator:coil probe:of_coil junction:j",
            "junction:j compressor:1",
            modes={
                "cooling": {"evaporators": ["indoor_units"]},
                "heating": {"evaporators": ["coil"], "high_side": ["gas_pipe"]},
            },
        )
        assert chosen(drawn, RETURN, "heating") == ("not_measurable",)
        assert why(drawn, RETURN, "heating") == "p sits on gas_pipe, high-pressure gas in heating"


class TestAccumulatorOutlet:
    def test_partial_after_the_accumulator_is_second_best(self):
        drawn = layout(
            "evaporator:coil vessel:accumulator probe:outlet junction:j",
            "inlet:subcooler_bypass junction:j",
            "junction:j transducer:p compressor:1",
            inlets={"subcooler_bypass": {"effect": "cools", "valve": "subcooler_valve"}},
        )
        open_valve = {"subcooler_valve": True}
        assert chosen(drawn, ACCUMULATOR_OUTLET, "cooling", open_valve) == ("second_best", "outlet")
        assert (
            why(drawn, ACCUMULATOR_OUTLET, "cooling", open_valve) == "it sees coil but not subcooler_bypass"
        )
        assert chosen(drawn, RETURN, "cooling", open_valve) == ("not_decidable",)
        assert chosen(drawn, RETURN, "cooling", {"subcooler_valve": False}) == ("after_accumulator", "outlet")

    def test_not_decidable_while_an_open_inlet_spoils_it(self):
        drawn = layout(
            "evaporator:coil inlet:hot_gas_bypass vessel:accumulator probe:outlet transducer:p compressor:1",
            inlets=BYPASS,
        )
        assert chosen(drawn, ACCUMULATOR_OUTLET, "cooling", OPEN) == ("not_decidable",)
        assert why(drawn, ACCUMULATOR_OUTLET, "cooling", OPEN) == "not attributable: hot_gas_bypass is open"
        assert chosen(drawn, ACCUMULATOR_OUTLET, "cooling", SHUT) == ("fit", "outlet")


class TestCompressorInlet:
    def test_only_where_every_inlet_warms_is_it_an_upper_bound(self):
        path = "evaporator:coil inlet:oil_return inlet:other probe:late transducer:p compressor:1"
        for effect, standing in (("warms", "upper_bound"), ("cools", "mixed"), ("either", "mixed")):
            inlets = OIL | {"other": {"kind": "accumulator_bleed", "effect": effect, "valve": "other_valve"}}
            drawn = layout(path, inlets=inlets)
            assert chosen(drawn, COMPRESSOR_INLET, "cooling", {"other_valve": True}) == (standing, "late")
            assert chosen(drawn, COMPRESSOR_INLET, "cooling", {"other_valve": False}) == (
                "upper_bound",
                "late",
            )

    def test_the_last_one_in_flow_order(self):
        drawn = layout(
            "evaporator:coil inlet:oil_return probe:z_first probe:a_last transducer:p compressor:1",
            inlets=OIL,
        )
        assert chosen(drawn, COMPRESSOR_INLET) == ("upper_bound", "a_last")

    def test_an_idle_branch_does_not_count(self):
        drawn = layout(
            "evaporator:coil inlet:oil_return transducer:p split:s",
            "split:s probe:at_1 compressor:1",
            "split:s probe:at_2 compressor:2",
            inlets=OIL,
        )
        assert chosen(drawn, COMPRESSOR_INLET, "cooling", {}, ["1"]) == ("upper_bound", "at_1")
        assert chosen(drawn, COMPRESSOR_INLET, "cooling", {}, ["2"]) == ("upper_bound", "at_2")

    @pytest.mark.parametrize("running", [["2"], None])
    def test_a_stopped_compressor_is_a_matter_of_the_situation(self, running):
        drawn = layout(
            "evaporator:coil inlet:oil_return transducer:p split:s",
            "split:s probe:at_1 compressor:1",
            "split:s compressor:2",
            inlets=OIL,
        )
        assert chosen(drawn, COMPRESSOR_INLET, "cooling", {}, ["1"]) == ("upper_bound", "at_1")
        assert chosen(drawn, COMPRESSOR_INLET, "cooling", {}, running) == ("not_decidable",)


class TestRise:
    def test_the_probe_is_the_one_with_exactly_the_oil_return(self):
        drawn = layout(
            "evaporator:coil probe:ahead inlet:oil_return probe:after_oil inlet:hot_gas_bypass probe:last "
            "transducer:p compressor:1",
            inlets=OIL | BYPASS,
        )
        for valves in (OPEN, UNKNOWN):
            assert chosen(drawn, RISE, "cooling", valves) == ("fit", "after_oil", "ahead")
        assert chosen(drawn, RISE, "cooling", OPEN, available=["ahead", "last"]) == ("not_decidable",)
        assert chosen(drawn, RISE, "cooling", SHUT, available=["ahead", "last"]) == ("fit", "last", "ahead")

    @pytest.mark.parametrize("kind", ["hot_gas_bypass", "accumulator_bleed", "subcooler_bypass"])
    def test_another_kind_of_inlet_is_no_oil_return(self, kind):
        drawn = layout(
            "evaporator:coil probe:ahead inlet:other probe:late transducer:p compressor:1",
            inlets={"other": {"kind": kind, "effect": "warms"}},
        )
        assert chosen(drawn, RISE)[0] == "not_measurable"

    def test_the_accumulator_outlet_is_the_nearer_reference(self):
        drawn = layout(
            "evaporator:coil probe:ahead vessel:accumulator probe:outlet inlet:oil_return probe:late "
            "transducer:p compressor:1",
            inlets=OIL,
        )
        assert chosen(drawn, RISE) == ("fit", "late", "outlet")
        assert chosen(drawn, RISE, available=["ahead", "late"]) == ("fit", "late", "ahead")
        assert chosen(drawn, RISE, available=["late"]) == ("not_measurable",)

    def test_partial_probes_are_no_reference(self):
        drawn = layout(
            "evaporator:a probe:of_a junction:j",
            "evaporator:b probe:of_b junction:j",
            "junction:j vessel:accumulator inlet:oil_return probe:late transducer:p compressor:1",
            inlets=OIL,
            modes=TWO_STREAMS,
        )
        assert chosen(drawn, RISE) == ("not_measurable",)
        assert why(drawn, RISE) == "no fit reference ahead of late in cooling"

    def test_doubt_about_a_bypass_makes_it_not_attributable(self):
        drawn = layout(
            "evaporator:coil probe:ahead inlet:oil_return probe:late inlet:hot_gas_bypass "
            "transducer:p compressor:1",
            inlets=OIL | {"hot_gas_bypass": {"effect": "either", "valve": "bypass_valve"}},
            unproven={"late": ["hot_gas_bypass"]},
        )
        assert chosen(drawn, RISE, "cooling", SHUT) == ("fit", "late", "ahead")
        assert chosen(drawn, RISE, "cooling", OPEN) == ("not_decidable",)
        assert chosen(drawn, COMPRESSOR_INLET, "cooling", OPEN) == ("mixed", "late")

    def test_an_inlet_without_a_valve_is_named_as_what_spoils_it(self):
        drawn = layout(
            "evaporator:coil probe:ahead inlet:oil_return inlet:hot_gas_bypass probe:late "
            "transducer:p compressor:1",
            inlets=OIL | {"hot_gas_bypass": {"effect": "warms"}},
        )
        assert chosen(drawn, RISE) == ("not_measurable",)
        assert "reference" not in why(drawn, RISE)
        assert "hot_gas_bypass" in why(drawn, RISE)


class TestLossSide:
    @pytest.mark.parametrize("between", ["vessel:v", "segment:s", "junction:j", "split:s"])
    def test_what_lies_between_probe_and_transducer(self, between):
        ahead = layout(f"evaporator:coil probe:x {between} transducer:p compressor:1")
        assert loss_side(ahead, "x") == "higher"
        behind = layout(f"evaporator:coil transducer:p {between} probe:x compressor:1")
        assert loss_side(behind, "x") == "lower"

    def test_side_by_side_there_is_none(self):
        for path in ("probe:x inlet:oil_return transducer:p", "transducer:p inlet:oil_return probe:x"):
            drawn = layout(f"evaporator:coil {path} compressor:1", inlets=OIL)
            assert loss_side(drawn, "x") == "none"

    def test_neither_in_the_flow_of_the_other(self):
        drawn = layout(
            "evaporator:a probe:x junction:j",
            "evaporator:coil transducer:p junction:j",
            "junction:j compressor:1",
        )
        assert loss_side(drawn, "x") == "either"

    def test_shipped(self, late, early):
        assert loss_side(late, "suction_pipe") == loss_side(early, "suction_pipe") == "higher"
        assert loss_side(late, "compressor_inlet") == loss_side(early, "accumulator_outlet") == "none"


@law
@given(st.data())
def test_every_choice_keeps_to_the_fitness_of_its_probes(data):
    drawn = Layout.from_mapping(data.draw(mappings()))
    situation = data.draw(situations(drawn))
    available = data.draw(
        st.none() | st.lists(st.sampled_from(drawn.suction_probes or ("none",)), unique=True)
    )
    choices = drawn.choose(*situation, available)
    assert choices.fitness == drawn.fitness(*situation)
    assert tuple(choices.places) == PLACES
    for place, choice in choices.places.items():
        verdicts = [str(choices.fitness[probe].verdict) for probe in choice.probes]
        assert choice.reason
        assert available is None or set(choice.probes) <= set(available)
        match choice.standing:
            case "fit":
                assert verdicts == {RISE: ["mixed", "fit"], ACCUMULATOR_CHANGE: ["fit"] * 2}.get(
                    place, ["fit"]
                )
            case "covering":
                streams = [choices.fitness[probe].streams for probe in choice.probes]
                assert place == RETURN
                assert set(verdicts) == {"partial"}
                assert all(not one >= other for one in streams for other in streams if one is not other)
            case "second_best":
                assert set(verdicts) in ({"fit"}, {"partial"})
                assert place in (RETURN, ACCUMULATOR_OUTLET)
            case "after_accumulator":
                assert verdicts == ["fit"]
                assert place == RETURN
            case "upper_bound" | "mixed":
                assert verdicts == ["mixed"]
                assert place == COMPRESSOR_INLET
            case _:
                assert not choice.probes


@law
@given(st.data())
def test_the_four_quantities_on_vapour_quality_never_rest_on_a_mixed_probe(data):
    drawn = Layout.from_mapping(data.draw(mappings()))
    choices = drawn.choose(*data.draw(situations(drawn)))
    for place in (RETURN, ACCUMULATOR_OUTLET, ACCUMULATOR_CHANGE):
        for probe in choices.places[place].probes:
            assert choices.fitness[probe].verdict in ("fit", "partial")
            assert not choices.fitness[probe].joined
    if choices.places[RISE].probes:
        later, reference = (choices.fitness[probe] for probe in choices.places[RISE].probes)
        assert [drawn.inlets[name].kind for name in later.joined] == ["oil_return"]
        assert not reference.joined


@law
@given(st.data())
def test_not_measurable_stays_so_whatever_the_valves_do(data):
    drawn = Layout.from_mapping(data.draw(mappings()))
    mode, valves, running = data.draw(situations(drawn))
    for place, choice in drawn.choose(mode, valves, running).places.items():
        if choice.standing == "not_measurable":
            assert chosen(drawn, place, mode, dict.fromkeys(valves, False), running) == ("not_measurable",)


def test_of_two_fit_probes_the_one_counts_that_rests_on_no_valve():
    """A solenoid leaks, or its signal is only a command; the choice must not follow its strokes."""
    drawn = Layout.from_mapping(
        {
            "layout": "oil-ahead",
            "suction_side": [
                [
                    {"evaporator": "rooms"}, {"probe": "before"}, {"inlet": "oil_return"},
                    {"probe": "behind"}, {"vessel": "pot"}, {"transducer": "low"}, {"compressor": 1},
                ]
            ],
            "inlets": {"oil_return": {"effect": "warms", "valve": "solenoid"}},
            "modes": {"cooling": {"evaporators": ["rooms"]}},
        }
    )  # fmt: skip
    for opened in (False, True, None):
        choices = drawn.choose("cooling", {"solenoid": opened}, ["1"])
        assert choices.places[RETURN].probes == ("before",)
    rise = drawn.choose("cooling", {"solenoid": False}, ["1"]).places[RISE]
    assert rise.reason == "oil_return is shut: no oil comes back to be seen"
