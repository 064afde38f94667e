"""Why nothing, or only the second best, speaks for a place: the sentences, by what the piping lacks."""

import pytest

from agent.piping import ACCUMULATOR_OUTLET, RETURN, RISE
from tests.piping.layouts import BYPASS, OIL, layout

SHUT = {"bypass_valve": False}


def of(between, *paths, **more):
    """A single line from one evaporator to one compressor."""
    return layout(f"evaporator:coil {between} transducer:p compressor:1", *paths, **more)


def rise(drawn, valves=None, available=None):
    found = drawn.choose("cooling", valves, ["1"], available).places[RISE]
    return f"{found.standing}: {found.reason}", found.probes


class TestAccumulatorOutlet:
    SEES_ONE = "it sees one of several branches, each with a vessel of its own"

    def choice(self, *paths, available=None, **more):
        drawn = layout(*paths, **more)
        return drawn.choose("cooling", {}, drawn.compressors, available).places[ACCUMULATOR_OUTLET]

    def test_of_several_that_see_a_branch_each_the_lowest_is_shown(self):
        paths = (
            "evaporator:coil transducer:p split:s",
            "split:s vessel:a probe:x compressor:1",
            "split:s vessel:b probe:y compressor:2",
        )
        both, alone = self.choice(*paths), self.choice(*paths, available=["x"])
        assert (both.probes, both.reason) == (("x", "y"), f"{self.SEES_ONE}; the lowest is shown")
        assert (alone.probes, alone.reason) == (("x",), self.SEES_ONE)

    def test_what_sits_ahead_of_the_accumulator_does_not_speak_for_its_outlet(self):
        found = self.choice(
            "evaporator:coil probe:x junction:j",
            "evaporator:other junction:j",
            "junction:j vessel:accumulator transducer:p compressor:1",
            modes={"cooling": {"evaporators": ["coil", "other"]}},
        )
        assert found.probes == ()
        assert found.reason == "no probe sits between the accumulator and the first inlet"


class TestSecondBestReturn:
    """Some of what returns passes a probe; what does not is named, with what is not known of it."""

    def test_streams_that_no_probe_sees_and_coils_that_nobody_knows(self):
        names = ("c", "e", "f")
        drawn = layout(
            "evaporator:a probe:x junction:j",
            "evaporator:d junction:j",
            "evaporator:b junction:j",
            *(f"evaporator:{name} segment:{name}_pipe junction:j" for name in names),
            "junction:j vessel:accumulator transducer:p compressor:1",
            modes={"simultaneous": {"evaporators": ["a", "d", "b"]}},
            coils={name: {"valve": f"{name}_valve", "pipe": f"{name}_pipe"} for name in names},
        )
        found = drawn.choose("simultaneous", {"e_valve": True, "f_valve": False}, ["1"]).places[RETURN]
        assert (str(found.standing), found.probes) == ("second_best", ("x",))
        assert found.reason == "what c does is not known and no probe sees b or d or e"


class TestRise:
    """Common practice, no source: oil shows where its return alone lies between two probes."""

    def test_where_only_a_branch_of_the_accumulators_is_seen_the_returning_gas_is_the_reference(self):
        drawn = layout(
            "evaporator:coil probe:gas transducer:p split:s",
            "split:s vessel:a probe:outlet inlet:oil_return probe:late compressor:1",
            "split:s vessel:b compressor:2",
            inlets=OIL,
        )
        found = drawn.choose("cooling", {}, ["1", "2"]).places[RISE]
        assert found.probes == ("late", "gas")

    def test_only_what_lies_between_and_is_told_shut_is_named(self):
        early = {"early": {"effect": "warms", "kind": "hot_gas_bypass", "valve": "early_valve"}}
        drawn = of(
            "inlet:early probe:gas vessel:accumulator inlet:hot_gas_bypass inlet:oil_return probe:late",
            inlets=OIL | BYPASS | early,
        )
        assert rise(drawn, SHUT | {"early_valve": False}) == (
            "fit: only oil_return joins between them (hot_gas_bypass: bypass_valve told shut)",
            ("late", "gas"),
        )

    def test_where_nothing_else_could_join_nothing_is_added(self):
        drawn = of("probe:gas inlet:oil_return probe:late", inlets=OIL)
        assert rise(drawn) == ("fit: only oil_return joins between them", ("late", "gas"))

    def test_what_joins_after_both_probes_is_not_named(self):
        drawn = of("probe:gas inlet:oil_return probe:late inlet:hot_gas_bypass", inlets=OIL | BYPASS)
        assert rise(drawn, SHUT)[0] == "fit: only oil_return joins between them"


class TestNoRise:
    NONE = "not_measurable: no probe sits after the oil return"

    def test_no_probe_after_it(self):
        assert rise(of("probe:gas inlet:oil_return", inlets=OIL))[0] == self.NONE
        assert rise(of("probe:gas"))[0] == self.NONE

    def test_another_inlet_is_no_oil_return(self):
        drawn = of("probe:gas inlet:hot_gas_bypass probe:late", inlets=BYPASS)
        assert rise(drawn, {"bypass_valve": True})[0] == self.NONE
        assert rise(drawn, SHUT)[0] == self.NONE

    def test_a_probe_without_readings_is_none(self):
        drawn = of("probe:gas inlet:oil_return probe:late", inlets=OIL)
        assert rise(drawn, available=["gas"])[0] == self.NONE

    def test_it_is_shut(self):
        inlets = {"oil_return": {"effect": "warms", "valve": "oil_valve"}}
        drawn = of("probe:gas inlet:oil_return probe:late", inlets=inlets)
        shut = {"oil_valve": False}
        assert rise(drawn, shut)[0] == "not_measurable: oil_return is shut: no oil comes back to be seen"
        assert rise(drawn, shut, ["gas"])[0] == self.NONE
        ahead = of("probe:gas inlet:oil_return", inlets=inlets)
        assert rise(ahead, shut)[0] == self.NONE

    def test_one_of_two_is_shut_and_the_other_seen(self):
        inlets = OIL | {"second": {"effect": "warms", "kind": "oil_return", "valve": "oil_valve"}}
        drawn = of("inlet:oil_return probe:late inlet:second probe:last", inlets=inlets)
        assert rise(drawn, {"oil_valve": False})[0] == (
            "not_measurable: no fit reference ahead of late in cooling"
        )

    @pytest.mark.parametrize(("available", "named"), [(None, "x"), (["gas", "y"], "y")])
    def test_on_which_side_a_probe_sits_is_not_proven(self, available, named):
        doubt = {"x": ["oil_return"], "y": ["oil_return"]}
        drawn = of("probe:gas inlet:oil_return probe:x probe:y", inlets=OIL, unproven=doubt)
        assert rise(drawn, None, available)[0] == (
            f"not_measurable: it is not proven that {named} sits after the oil return"
        )

    def test_doubt_about_another_inlet_is_not_about_the_oil(self):
        drawn = of(
            "probe:gas inlet:hot_gas_bypass probe:x",
            inlets={"hot_gas_bypass": {"effect": "warms"}},
            unproven={"x": ["hot_gas_bypass"]},
        )
        assert rise(drawn)[0] == self.NONE

    def test_what_cannot_be_told_from_it(self):
        names = ("hot_gas_bypass", "equalising_line", "accumulator_bleed")
        drawn = of(
            f"probe:gas {' '.join(f'inlet:{name}' for name in names)} inlet:oil_return probe:late probe:last",
            inlets=OIL | {name: {"effect": "warms"} for name in names},
        )
        others = "accumulator_bleed and equalising_line and hot_gas_bypass"
        assert rise(drawn)[0] == (f"not_measurable: {others} cannot be told from the oil return at late")

    def test_no_reference_ahead_of_it(self):
        drawn = of("inlet:oil_return probe:late probe:last", inlets=OIL)
        assert rise(drawn)[0] == "not_measurable: no fit reference ahead of late in cooling"
