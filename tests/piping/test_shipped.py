"""Every shipped layout, situation by situation: verdicts worked out by hand from the piping it describes.

A row holds what is known of the situation and what follows. A valve that a row does not name is not known.
The physics behind it is common practice, no source.
"""

import pytest

from agent.piping import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Layout,
    Situation,
    subcooling_probes,
)
from tests.piping.layouts import FOLDER, shipped

SHIPPED = sorted(file.stem for file in FOLDER.glob("*.yaml"))
STATES = {"open": True, "shut": False, "evaporates": True, "does not evaporate": False, "not known": None}
PLACES = {
    "return": RETURN,
    "outlet": ACCUMULATOR_OUTLET,
    "inlet": COMPRESSOR_INLET,
    "rise": RISE,
    "change": ACCUMULATOR_CHANGE,
}


def row(mode, /, *, running="all", chosen="", liquid="", valves="", **fitness):
    return mode, running, valves, fitness, chosen, liquid


TABLE = {
    "two-pipe-twin-late": [
        row(
            "cooling",
            valves="bypass_valve shut",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",  # the coil condenses: its gas pipe carries discharge gas
            compressor_inlet="mixed",  # nothing shuts the oil return
            chosen="return fit suction_pipe; rise fit compressor_inlet suction_pipe; "
            "inlet upper_bound compressor_inlet; outlet not_measurable; change not_measurable",
            liquid="liquid_line fit",
        ),
        row(
            "cooling",
            valves="bypass_valve open",
            suction_pipe="fit",  # the bypass joins after it
            outdoor_coil_gas="high_side",
            compressor_inlet="mixed",
            chosen="return fit suction_pipe; rise not_decidable",
        ),
        row(
            "heating",
            valves="bypass_valve shut",
            suction_pipe="high_side",  # the gas pipe brings discharge gas to the rooms
            outdoor_coil_gas="fit",
            compressor_inlet="mixed",
            chosen="return fit outdoor_coil_gas; rise fit compressor_inlet outdoor_coil_gas",
            liquid="liquid_line expanded",  # the rooms' valves have throttled what comes back
        ),
    ],
    "two-pipe-single-early": [
        row(
            "cooling",
            valves="bypass_valve open",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            accumulator_outlet="fit",  # everything joins after it, the open bypass too
            chosen="return fit suction_pipe; outlet fit accumulator_outlet; rise not_measurable; "
            "inlet not_measurable; change fit accumulator_outlet suction_pipe",
            liquid="liquid_line fit",
        ),
        row(
            "heating",
            suction_pipe="high_side",
            outdoor_coil_gas="fit",
            accumulator_outlet="fit",
            chosen="return fit outdoor_coil_gas; rise not_measurable",
            liquid="liquid_line expanded",
        ),
    ],
    "two-pipe-single-common": [
        row(
            "cooling",
            valves="bypass_valve shut",
            common_suction="fit",  # past the reversing valve all that returns comes by here, in both modes
            outdoor_coil_gas="high_side",
            compressor_inlet="mixed",
            chosen="return fit common_suction; rise fit compressor_inlet common_suction; "
            "inlet upper_bound compressor_inlet; outlet not_measurable",
            liquid="liquid_line fit",
        ),
        row(
            "heating",
            valves="bypass_valve open",
            common_suction="fit",
            outdoor_coil_gas="fit",
            compressor_inlet="mixed",
            chosen="return fit common_suction; rise not_decidable",
            liquid="liquid_line expanded",
        ),
    ],
    "two-pipe-single-late-subcooler": [
        row(
            "cooling",
            valves="bypass_valve shut, subcooler_valve shut",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            subcooler_gas="idle",  # nothing flows through the subcooler's own pipe
            compressor_inlet="mixed",
            chosen="return fit suction_pipe; rise fit compressor_inlet suction_pipe",
            # Both see the coil's liquid; what the subcooler did to it only the second shows.
            liquid="coil_liquid earlier, liquid_line fit",
        ),
        row(
            "cooling",
            valves="bypass_valve shut, subcooler_valve open",
            suction_pipe="partial",  # the subcooler's stream comes back beside it
            outdoor_coil_gas="high_side",
            subcooler_gas="partial",
            compressor_inlet="mixed",
            chosen="return covering subcooler_gas suction_pipe; rise not_decidable",
        ),
        row(
            "cooling",
            valves="bypass_valve open, subcooler_valve shut",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            subcooler_gas="idle",
            compressor_inlet="mixed",
            chosen="return fit suction_pipe; rise not_decidable",
        ),
        row(
            "heating",
            valves="bypass_valve shut, subcooler_valve shut",
            suction_pipe="high_side",
            outdoor_coil_gas="fit",
            subcooler_gas="idle",
            compressor_inlet="mixed",
            chosen="return fit outdoor_coil_gas",
            liquid="coil_liquid expanded, liquid_line expanded",
        ),
        row(
            "heating",
            valves="bypass_valve shut",
            suction_pipe="high_side",
            outdoor_coil_gas="partial",  # a valve that is not known shut may be open
            subcooler_gas="partial",
            compressor_inlet="mixed",
            chosen="return covering subcooler_gas outdoor_coil_gas",
        ),
    ],
    "two-pipe-twin-both-injection": [
        row(
            "cooling",  # what is injected goes past the suction line and changes no verdict on it
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return fit suction_pipe; outlet fit accumulator_outlet; "
            "rise fit compressor_inlet accumulator_outlet; change fit accumulator_outlet suction_pipe",
            liquid="liquid_line fit",
        ),
        row(
            "heating",
            suction_pipe="high_side",
            outdoor_coil_gas="fit",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return fit outdoor_coil_gas; change fit accumulator_outlet outdoor_coil_gas",
            liquid="liquid_line expanded",
        ),
    ],
    "two-pipe-twin-branches": [
        row(
            "cooling",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            accumulator_outlet="fit",
            inlet_1="mixed",
            inlet_2="mixed",
            chosen="return fit suction_pipe; rise fit inlet_1 accumulator_outlet",
            liquid="liquid_line fit",
        ),
        row(
            "cooling",
            running="1",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            accumulator_outlet="fit",
            inlet_1="mixed",
            inlet_2="idle",  # its compressor draws nothing
            chosen="return fit suction_pipe; rise fit inlet_1 accumulator_outlet",
        ),
        row(
            "heating",
            running="not known",
            suction_pipe="high_side",
            outdoor_coil_gas="fit",
            accumulator_outlet="fit",
            inlet_1="idle",  # either may be the one that stands
            inlet_2="idle",
            chosen="return fit outdoor_coil_gas; rise not_decidable",
            liquid="liquid_line expanded",
        ),
    ],
    "two-pipe-twin-unproven": [
        row(
            "cooling",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            second_suction="unproven",
            chosen="return fit suction_pipe; outlet not_decidable; rise not_measurable",
            liquid="liquid_line fit",
        ),
        row(
            "heating",
            valves="oil_valve shut, bypass_valve open",
            suction_pipe="high_side",
            outdoor_coil_gas="fit",
            second_suction="unproven",
            chosen="return fit outdoor_coil_gas",
            liquid="liquid_line expanded",
        ),
        row(
            "heating",
            valves="oil_valve shut, bypass_valve shut",
            suction_pipe="high_side",
            outdoor_coil_gas="fit",
            second_suction="fit",  # with nothing joining it does not matter on which side it sits
            chosen="return fit outdoor_coil_gas; outlet fit second_suction",
        ),
    ],
    "cooling-only-single-oil-ahead": [
        row(
            "cooling",
            valves="bypass_valve shut",
            suction_pipe="fit",
            accumulator_outlet="mixed",  # here the oil has joined ahead of the accumulator
            chosen="return fit suction_pipe; outlet not_measurable; "
            "rise fit accumulator_outlet suction_pipe; inlet upper_bound accumulator_outlet",
            liquid="liquid_line fit",
        ),
        row(
            "cooling",
            valves="bypass_valve open",
            suction_pipe="fit",
            accumulator_outlet="mixed",
            chosen="return fit suction_pipe; outlet not_measurable; rise not_decidable",
        ),
    ],
    "three-pipe-twin-late": [
        row(
            "cooling",  # the mode tells that the coil condenses; its valve is not asked
            valves="bleed_valve shut",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            compressor_inlet="mixed",
            chosen="return fit suction_pipe; inlet upper_bound compressor_inlet; "
            "rise fit compressor_inlet suction_pipe",
            liquid="liquid_line fit",
        ),
        row(
            "cooling",
            valves="bleed_valve open",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            compressor_inlet="mixed",
            # The bleed may bring liquid, which cools: what is read there is no upper bound any more.
            chosen="return fit suction_pipe; inlet mixed compressor_inlet; rise not_decidable",
        ),
        row(
            "heating",
            valves="bleed_valve shut",
            suction_pipe="idle",  # no room cools; the pipe stays on the low side and nothing flows in it
            outdoor_coil_gas="fit",
            compressor_inlet="mixed",
            chosen="return fit outdoor_coil_gas; rise fit compressor_inlet outdoor_coil_gas",
            liquid="liquid_line expanded",
        ),
        row(
            "simultaneous",
            valves="bleed_valve shut, coil_valve evaporates",
            suction_pipe="partial",
            outdoor_coil_gas="partial",
            compressor_inlet="mixed",
            chosen="return covering outdoor_coil_gas suction_pipe; rise not_decidable",
            liquid="liquid_line expanded",
        ),
        row(
            "simultaneous",
            valves="bleed_valve shut, coil_valve does not evaporate",
            suction_pipe="fit",
            outdoor_coil_gas="idle",  # discharge gas, or none that moves: in either case none that returns
            compressor_inlet="mixed",
            chosen="return fit suction_pipe; rise fit compressor_inlet suction_pipe",
            # If the coil condenses, its liquid passes, and the rooms' does not; if it stands, what passes
            # has come through the rooms' valves. Which of the two is not told.
            liquid="liquid_line expanded",
        ),
        row(
            "simultaneous",
            valves="bleed_valve shut",
            suction_pipe="partial",
            outdoor_coil_gas="idle",
            compressor_inlet="mixed",
            chosen="return second_best suction_pipe; rise not_decidable",
            liquid="liquid_line expanded",
        ),
    ],
    "three-pipe-single-early-injection": [
        row(
            "cooling",
            suction_pipe="fit",
            outdoor_coil_gas="high_side",
            accumulator_outlet="fit",
            chosen="return fit suction_pipe; outlet fit accumulator_outlet; rise not_measurable",
            liquid="coil_liquid earlier, liquid_line fit",
        ),
        row(
            "heating",
            suction_pipe="idle",
            outdoor_coil_gas="fit",
            accumulator_outlet="fit",
            chosen="return fit outdoor_coil_gas; outlet fit accumulator_outlet",
            liquid="coil_liquid expanded, liquid_line expanded",
        ),
        row(
            "simultaneous",
            valves="coil_valve evaporates",
            suction_pipe="partial",
            outdoor_coil_gas="partial",
            accumulator_outlet="fit",
            chosen="return covering outdoor_coil_gas suction_pipe; outlet fit accumulator_outlet",
            liquid="coil_liquid expanded, liquid_line expanded",
        ),
        row(
            "simultaneous",
            valves="coil_valve does not evaporate",
            suction_pipe="fit",
            outdoor_coil_gas="idle",
            accumulator_outlet="fit",
            chosen="return fit suction_pipe; change fit accumulator_outlet suction_pipe",
        ),
        row(
            "simultaneous",
            suction_pipe="partial",
            outdoor_coil_gas="idle",
            accumulator_outlet="fit",  # all that returns passes it, whatever the coil does
            chosen="return after_accumulator accumulator_outlet; change not_decidable",
        ),
    ],
    "three-pipe-split-coil": [
        row(
            "cooling",
            suction_pipe="fit",
            upper_coil_gas="high_side",
            lower_coil_gas="high_side",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return fit suction_pipe",
            liquid="upper_coil_liquid partial, lower_coil_liquid partial, liquid_line fit",
        ),
        row(
            "heating",
            valves="upper_coil_valve evaporates, lower_coil_valve evaporates",
            suction_pipe="idle",
            upper_coil_gas="partial",
            lower_coil_gas="partial",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return covering lower_coil_gas upper_coil_gas",
            liquid="upper_coil_liquid expanded, lower_coil_liquid expanded, liquid_line expanded",
        ),
        row(
            "heating",  # the lower coil is being defrosted
            valves="upper_coil_valve evaporates, lower_coil_valve does not evaporate",
            suction_pipe="idle",
            upper_coil_gas="fit",
            lower_coil_gas="idle",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return fit upper_coil_gas; change fit accumulator_outlet upper_coil_gas",
            liquid="upper_coil_liquid expanded, lower_coil_liquid expanded, liquid_line expanded",
        ),
        row(
            "heating",  # now the upper one
            valves="upper_coil_valve does not evaporate, lower_coil_valve evaporates",
            suction_pipe="idle",
            upper_coil_gas="idle",
            lower_coil_gas="fit",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return fit lower_coil_gas",
        ),
        row(
            "heating",  # something evaporates, since the module heats: what has joined passes the outlet
            suction_pipe="idle",
            upper_coil_gas="idle",
            lower_coil_gas="idle",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return after_accumulator accumulator_outlet",
        ),
        row(
            "simultaneous",  # three streams return
            valves="upper_coil_valve evaporates, lower_coil_valve evaporates",
            suction_pipe="partial",
            upper_coil_gas="partial",
            lower_coil_gas="partial",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return covering lower_coil_gas suction_pipe upper_coil_gas",
        ),
        row(
            "simultaneous",  # one part evaporates while the other condenses
            valves="upper_coil_valve does not evaporate, lower_coil_valve evaporates",
            suction_pipe="partial",
            upper_coil_gas="idle",
            lower_coil_gas="partial",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return covering lower_coil_gas suction_pipe",
        ),
        row(
            "simultaneous",
            valves="upper_coil_valve does not evaporate, lower_coil_valve does not evaporate",
            suction_pipe="fit",
            upper_coil_gas="idle",
            lower_coil_gas="idle",
            accumulator_outlet="fit",
            compressor_inlet="mixed",
            chosen="return fit suction_pipe",
        ),
    ],
    "two-pipe-split-coil": [
        row(
            "cooling",
            valves="bypass_valve shut",
            suction_pipe="fit",
            upper_coil_gas="high_side",
            lower_coil_gas="high_side",
            compressor_inlet="mixed",
            chosen="return fit suction_pipe; rise fit compressor_inlet suction_pipe",
            liquid="upper_coil_liquid partial, lower_coil_liquid partial, liquid_line fit",
        ),
        row(
            "heating",
            valves="bypass_valve shut, upper_coil_valve evaporates, lower_coil_valve evaporates",
            suction_pipe="high_side",
            upper_coil_gas="partial",
            lower_coil_gas="partial",
            compressor_inlet="mixed",
            chosen="return covering lower_coil_gas upper_coil_gas; rise not_decidable",
        ),
        row(
            "heating",  # the upper coil is being defrosted, the lower one carries on
            valves="bypass_valve shut, upper_coil_valve does not evaporate, lower_coil_valve evaporates",
            suction_pipe="high_side",
            upper_coil_gas="idle",
            lower_coil_gas="fit",
            compressor_inlet="mixed",
            chosen="return fit lower_coil_gas; rise fit compressor_inlet lower_coil_gas",
            liquid="upper_coil_liquid expanded, lower_coil_liquid expanded, liquid_line expanded",
        ),
        row(
            "heating",
            valves="bypass_valve shut, lower_coil_valve evaporates",
            suction_pipe="high_side",
            upper_coil_gas="idle",
            lower_coil_gas="partial",
            compressor_inlet="mixed",
            chosen="return second_best lower_coil_gas; rise not_decidable",
        ),
        row(
            "heating",
            valves="upper_coil_valve does not evaporate, lower_coil_valve does not evaporate",
            suction_pipe="high_side",
            upper_coil_gas="idle",
            lower_coil_gas="idle",
            compressor_inlet="idle",  # no vapour returns for the oil to be mixed with
            chosen="return not_decidable; rise not_decidable",
        ),
    ],
}
ROWS = [(name, *each) for name, rows in TABLE.items() for each in rows]


def situation(drawn, mode, running, valves):
    """The arguments of ``fitness``, from words."""
    named = dict(part.split(" ", 1) for part in valves.split(", ") if part)
    assert set(named) <= set(drawn.valves)
    states = {valve: STATES[named.get(valve, "not known")] for valve in drawn.valves}
    return mode, states, {"all": drawn.compressors, "not known": None}.get(running, running.split())


@pytest.mark.parametrize(("name", "mode", "running", "valves", "fitness", "chosen", "liquid"), ROWS)
def test_what_each_probe_is_worth(name, mode, running, valves, fitness, chosen, liquid):
    drawn = Layout.from_mapping(shipped(name))
    given = situation(drawn, mode, running, valves)
    found = drawn.fitness(*given)
    assert {probe: str(found[probe].verdict) for probe in drawn.suction_probes} == fitness
    places = drawn.choose(*given).places
    for part in filter(None, chosen.split("; ")):
        place, standing, *probes = part.split(" ")
        assert (str(places[PLACES[place]].standing), *places[PLACES[place]].probes) == (standing, *probes)
    if liquid:
        of_liquid = subcooling_probes(drawn, Situation.of(*given))
        assert ", ".join(f"{p} {f.verdict}" for p, f in sorted(of_liquid.items())) == ", ".join(
            sorted(liquid.split(", "))
        )


def test_the_table_holds_every_layout_mode_and_state_of_a_coil():
    assert sorted(TABLE) == SHIPPED
    for name, rows in TABLE.items():
        drawn = Layout.from_mapping(shipped(name))
        assert {mode for mode, *_ in rows} == set(drawn.modes)
        assert {mode for mode, *_, liquid in rows if liquid} >= set(drawn.modes) - {"simultaneous"}
        for mode in drawn.modes:
            for coil in drawn.coils_by_valve(mode):
                states = {
                    situation(drawn, mode, "all", valves)[1][coil.valve]
                    for its_mode, _, valves, *_ in rows
                    if its_mode == mode
                }
                assert {True, False} <= states


@pytest.mark.parametrize("name", SHIPPED)
def test_a_layout_says_that_it_is_general_and_its_name_our_own(name):
    text = (FOLDER / f"{name}.yaml").read_text(encoding="utf-8")
    first, *_ = text.splitlines()
    assert first == "# An arrangement described for Dewline in general terms; the name is our own."
    drawn = Layout.from_mapping(shipped(name))
    assert drawn.name == name
    for words in ("Found ", "On site: "):
        assert words in drawn.about
    assert drawn.discharge_transducer == "discharge_pressure"
    assert drawn.suction_transducer == "suction_pressure"
    assert [drawn.discharge_of(c) for c in drawn.compressors] == [f"discharge_{c}" for c in drawn.compressors]


def test_what_the_library_covers():
    drawn = [Layout.from_mapping(shipped(name)) for name in SHIPPED]
    assert {len(each.compressors) for each in drawn} == {1, 2}
    assert {len(each.coils) for each in drawn} == {0, 1, 2}
    assert {each.injection.kind for each in drawn if each.injection} == {"vapour", "liquid"}
    assert {tuple(sorted(each.modes)) for each in drawn} == {
        ("cooling",),
        ("cooling", "heating"),
        ("cooling", "heating", "simultaneous"),
    }
    assert any(each.unproven for each in drawn)
    assert {inlet.kind for each in drawn for inlet in each.inlets.values()} == {
        "oil_return",
        "hot_gas_bypass",
        "subcooler_bypass",
        "accumulator_bleed",
    }
