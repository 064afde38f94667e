"""Layouts read from plain data: what the shipped ones hold, and every mistake by its sentence."""

from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import Coil, Injection, Layout, LayoutError, Situation, subcooling_probes
from tests.piping.layouts import layout, mappings, places, shipped


@pytest.fixture
def good():
    return deepcopy(shipped("two-pipe-twin-late"))


def problems(given):
    with pytest.raises(LayoutError) as caught:
        Layout.from_mapping(given)
    return [tuple(problem) for problem in caught.value.problems]


def test_what_a_layout_can_be_asked():
    late, early = (
        Layout.from_mapping(shipped(name)) for name in ("two-pipe-twin-late", "two-pipe-single-early")
    )
    assert late.name == "two-pipe-twin-late"
    assert late.about.startswith("Two-pipe heat pump")
    assert "\n" not in late.about
    assert late.valves == late.inlet_valves == ("bypass_valve",)
    assert late.coil_valves == ()
    assert late.suction_probes == ("outdoor_coil_gas", "suction_pipe", "compressor_inlet")
    assert early.suction_probes == ("outdoor_coil_gas", "suction_pipe", "accumulator_outlet")
    assert late.discharge_probes == ("discharge_1", "discharge_2")
    assert late.liquid_probes == early.liquid_probes == ("liquid_line",)
    assert (late.compressors, early.compressors) == (("1", "2"), ("1",))
    assert (late.suction_transducer, late.discharge_transducer) == ("suction_pressure", "discharge_pressure")
    assert late.inlets["hot_gas_bypass"].valve == "bypass_valve"
    assert late.inlets["oil_return"].valve is None
    assert late.injection is None
    assert set(late.modes) == {"cooling", "heating"}
    heating = late.modes["heating"]
    assert (heating.evaporators, heating.high_side) == ({"outdoor_coil"}, {"gas_pipe"})
    assert heating.condensers == {"indoor_units"}
    assert heating.expands == {"indoor_expansion", "outdoor_expansion"}


def test_coils_and_injection():
    drawn = Layout.from_mapping(shipped("three-pipe-single-early-injection"))
    assert drawn.coils == {"outdoor_coil": Coil("outdoor_coil", "coil_valve", "coil_pipe")}
    assert drawn.injection == Injection("vapour", frozenset({"1"}), "injection_valve")
    assert drawn.valves == ("bypass_valve", "coil_valve")  # an opening is no state
    mapping = shipped("three-pipe-single-early-injection")
    del mapping["injection"]["valve"]
    assert Layout.from_mapping(mapping).injection == Injection("vapour", frozenset({"1"}), None)


class TestDischargeOf:
    def drawn(self, *paths):
        suction = ("evaporator:coil transducer:p split:s", "split:s compressor:1", "split:s compressor:2")
        return layout(*suction, discharge_side=[places(path) for path in paths])

    def test_a_probe_of_its_own(self):
        drawn = self.drawn(
            "compressor:1 probe:of_1 junction:j",
            "compressor:2 probe:of_2 junction:j",
            "junction:j probe:both",
        )
        assert [drawn.discharge_of(compressor) for compressor in ("1", "2")] == ["of_1", "of_2"]

    def test_none_but_the_common_one(self):
        drawn = self.drawn(
            "compressor:1 probe:of_1 junction:j", "compressor:2 junction:j", "junction:j probe:both"
        )
        assert [drawn.discharge_of(compressor) for compressor in ("1", "2", "3")] == ["of_1", None, None]

    def test_of_several_the_nearest(self):
        drawn = self.drawn("compressor:1 probe:z_near filter:separator probe:a_far")
        assert drawn.discharge_of("1") == "z_near"
        assert drawn.discharge_of("2") is None


class TestUnknown:
    def test_it_holds_no_probe(self):
        drawn = Layout.unknown(["2", "1"])
        assert (drawn.name, drawn.is_known, drawn.compressors) == ("unknown", False, ("1", "2"))
        assert (drawn.suction_transducer, drawn.discharge_transducer) == (
            "suction_pressure",
            "discharge_pressure",
        )
        assert not (*drawn.suction_probes, *drawn.discharge_probes, *drawn.liquid_probes, *drawn.valves)
        assert drawn.fitness("cooling") == {}
        assert Layout.unknown().compressors == Layout.unknown([]).compressors == ("1",)
        assert Layout.from_mapping(shipped("two-pipe-twin-late")).is_known

    @pytest.mark.parametrize("mode", ["cooling", "heating", "simultaneous", "defrost", "off", "unknown"])
    def test_every_quantity_is_not_decidable(self, mode):
        choices = Layout.unknown().choose(mode, {}, ["1"])
        assert not choices.described
        for choice in choices.places.values():
            found = (choice.standing, choice.probes, choice.reason)
            assert found == ("not_decidable", (), "the layout is not known")


def test_the_discharge_side_and_inlets_may_be_left_out(good):
    del good["discharge_side"], good["about"], good["inlets"], good["liquid_side"]
    for piping in good["modes"].values():
        del piping["condensers"], piping["expands"]
    good["suction_side"][2] = [spot for spot in good["suction_side"][2] if "inlet" not in spot]
    drawn = Layout.from_mapping(good)
    assert (drawn.discharge_probes, drawn.discharge_transducer, drawn.about) == ((), None, "")


NAME = "a layout has a name of small letters, digits, - and _"
KEYS = (
    "a layout has layout, about, suction_side, discharge_side, liquid_side, inlets, coils, injection, modes, "
    "unproven"
)
PATHS = "missing or empty; it is a list of paths, each a list of places in flow order"
PATH = "a path is a list of two places or more, in flow order"
PAIR = "a place is one pair such as 'probe: suction_pipe'"
INLET = "an inlet has effect, and where they apply valve and kind"
MODE = "a mode has evaporators and, where they apply, high_side, condensers and expands"
STEADY = "cooling, heating, simultaneous"
SUCTION = (
    "evaporator, segment, probe, transducer, junction, vessel, filter, exchanger, inlet, split, compressor"
)
DISCHARGE = "compressor, segment, probe, transducer, junction, vessel, filter, split, condenser"
LIQUID = "coil, segment, probe, junction, vessel, filter, exchanger, expansion"
FROM_COIL_TO_COIL = "missing or empty; it is a list of paths, each a list of places from coil to coil"
INJECTION = "injection has kind, into and, where a signal tells it, valve"
LIQUID_PATH = ("liquid_side", 0)
KINDS = "oil_return, hot_gas_bypass, subcooler_bypass, accumulator_bleed, liquid_injection, equalising_line"
TRUNK = ("suction_side", 2)


def edit(*where, to):
    """Put a value at a place of the mapping; the last key may be new."""

    def change(mapping):
        inner = mapping
        for key in where[:-1]:
            inner = inner[key]
        inner[where[-1]] = to

    return change


def drop(*where):
    def change(mapping):
        inner = mapping
        for key in where[:-1]:
            inner = inner[key]
        del inner[where[-1]]

    return change


def add(*where, item):
    def change(mapping):
        inner = mapping
        for key in where:
            inner = inner[key]
        inner.append(item)

    return change


MISTAKES = {
    "no name": (drop("layout"), ("layout",), f"found None; {NAME}"),
    "a name with capitals": (edit("layout", to="Late Twin"), ("layout",), f"found 'Late Twin'; {NAME}"),
    "a number for a name": (edit("layout", to=7), ("layout",), f"found 7; {NAME}"),
    "an unknown key": (edit("sucktion_side", to=[]), ("sucktion_side",), f"unknown key; {KEYS}"),
    "a description that is no text": (edit("about", to=[]), ("about",), "found []; right would be text"),
    "a path that is no list": (add("suction_side", item="split"), ("suction_side", 5), PATH),
    "a path of one place": (add("suction_side", item=[{"split": "compressors"}]), ("suction_side", 5), PATH),
    "discharge that is no list": (edit("discharge_side", to={}), ("discharge_side",), PATHS),
    "a place that is no pair": (edit(*TRUNK, 4, to="probe"), (*TRUNK, 4), f"found 'probe'; {PAIR}"),
    "a place of two pairs": (
        edit(*TRUNK, 4, to={"probe": "a", "split": "b"}),
        (*TRUNK, 4),
        f"found {{'probe': 'a', 'split': 'b'}}; {PAIR}",
    ),
    "an unknown kind of place": (
        edit(*TRUNK, 4, to={"sensor": "x"}),
        (*TRUNK, 4),
        f"unknown kind of place 'sensor'; here stand {SUCTION}",
    ),
    "a kind of the other side": (
        edit("discharge_side", 0, 1, to={"inlet": "oil_return"}),
        ("discharge_side", 0, 1),
        f"unknown kind of place 'inlet'; here stand {DISCHARGE}",
    ),
    "a place's name with a space": (
        edit(*TRUNK, 4, to={"probe": "compressor inlet"}),
        (*TRUNK, 4),
        "found the name 'compressor inlet'; a name is small letters, digits, - and _",
    ),
    "yes for a name": (
        edit(*TRUNK, 4, to={"probe": True}),
        (*TRUNK, 4),
        "found the name True; a name is small letters, digits, - and _",
    ),
    "an inlet of bare words": (
        edit("inlets", "oil_return", to="warms"),
        ("inlets", "oil_return"),
        f"found 'warms'; {INLET}",
    ),
    "an inlet with an unknown key": (
        edit("inlets", "oil_return", to={"effekt": "warms"}),
        ("inlets", "oil_return"),
        f"found {{'effekt': 'warms'}}; {INLET}",
    ),
    "an unknown kind of inlet": (
        edit("inlets", "oil_return", "kind", to="oil"),
        ("inlets", "oil_return"),
        f"unknown kind of inlet 'oil'; known are {KINDS}",
    ),
    "an unknown effect": (
        edit("inlets", "oil_return", "effect", to="heats"),
        ("inlets", "oil_return"),
        "effect is 'heats'; right would be warms, cools, either",
    ),
    "no effect": (
        edit("inlets", "oil_return", to={}),
        ("inlets", "oil_return"),
        "effect is None; right would be warms, cools, either",
    ),
    "a valve that no signal can be": (
        edit("inlets", "oil_return", "valve", to="Bypass Valve"),
        ("inlets", "oil_return"),
        "valve is 'Bypass Valve'; right would be the name of the signal that tells it",
    ),
    "an inlet that joins nowhere": (
        edit("inlets", "accumulator_bleed", to={"effect": "cools"}),
        ("inlets", "accumulator_bleed"),
        "is on no path of suction_side; put 'inlet: NAME' where it joins",
    ),
    "an inlet without its effect": (
        drop("inlets", "oil_return"),
        ("inlets",),
        "oil_return joins on a path but its effect is not described here",
    ),
    "no modes": (drop("modes"), ("modes",), f"missing; describe at least one of {STEADY}"),
    "modes of bare words": (
        edit("modes", to=["cooling"]),
        ("modes",),
        f"missing; describe at least one of {STEADY}",
    ),
    "a mode that is not steady": (
        edit("modes", "defrost", to={"evaporators": ["outdoor_coil"]}),
        ("modes", "defrost"),
        f"only steady modes are described: {STEADY}",
    ),
    "a mode with an unknown key": (
        edit("modes", "cooling", to={"evaporator": ["indoor_units"]}),
        ("modes", "cooling"),
        f"found {{'evaporator': ['indoor_units']}}; {MODE}",
    ),
    "a mode without evaporators": (
        edit("modes", "cooling", "evaporators", to=[]),
        ("modes", "cooling", "evaporators"),
        "name at least one evaporator that feeds the suction line",
    ),
    "an evaporator that is not there": (
        edit("modes", "cooling", "evaporators", to=["indoor"]),
        ("modes", "cooling", "evaporators"),
        "no evaporator 'indoor' on suction_side; there are indoor_units, outdoor_coil",
    ),
    "a pipe run that is not there": (
        edit("modes", "heating", "high_side", to=["gaspipe"]),
        ("modes", "heating", "high_side"),
        "no segment 'gaspipe' on suction_side; there are coil_pipe, gas_pipe",
    ),
    "a name where a list belongs": (
        edit("modes", "heating", "high_side", to="gas_pipe"),
        ("modes", "heating", "high_side"),
        "found 'gas_pipe'; it is a list of names",
    ),
    "doubt of bare words": (
        edit("unproven", to=["compressor_inlet"]),
        ("unproven",),
        "it is a mapping of probe to the inlets whose side is not known",
    ),
    "doubt about no probe": (
        edit("unproven", to={"inlet_probe": ["oil_return"]}),
        ("unproven", "inlet_probe"),
        "is no probe of suction_side",
    ),
    "doubt about no inlet": (
        edit("unproven", to={"compressor_inlet": ["oil"]}),
        ("unproven", "compressor_inlet"),
        "no inlet 'oil' on suction_side; there are hot_gas_bypass, oil_return",
    ),
    "a dead end": (
        add("suction_side", item=[{"junction": "low_side"}, {"probe": "nowhere"}]),
        ("suction_side",),
        "from probe nowhere no compressor is reached",
    ),
    "a path from nowhere": (
        add("suction_side", item=[{"probe": "orphan"}, {"junction": "low_side"}]),
        ("suction_side",),
        "probe orphan has nothing upstream; paths begin at an evaporator",
    ),
    "two transducers": (
        edit("suction_side", 0, 2, to={"transducer": "gas_pressure"}),
        ("suction_side",),
        "found transducers: gas_pressure, suction_pressure; exactly one measures suction pressure",
    ),
    "no transducer": (
        edit(*TRUNK, 5, to={"segment": "header"}),
        ("suction_side",),
        "found transducers: none; exactly one measures suction pressure",
    ),
    "a compressor of the discharge side alone": (
        add("discharge_side", item=[{"compressor": 3}, {"junction": "high_side"}]),
        ("discharge_side",),
        "compressor 3 is on no path of suction_side",
    ),
    "two discharge transducers": (
        edit("discharge_side", 0, 1, to={"transducer": "another_pressure"}),
        ("discharge_side",),
        "found transducers: another_pressure, discharge_pressure; at most one measures discharge pressure",
    ),
    "the name of the layout that nobody knows": (
        edit("layout", to="unknown"),
        ("layout",),
        "the name unknown is kept for modules whose piping nobody has described; right would be another name",
    ),
    "coils of bare words": (
        edit("coils", to=["outdoor_coil"]),
        ("coils",),
        "it is a mapping of coil to the valve that tells its role, and its pipe",
    ),
    "a coil without its pipe": (
        edit("coils", to={"outdoor_coil": {"valve": "coil_valve"}}),
        ("coils", "outdoor_coil"),
        "found {'valve': 'coil_valve'}; a coil has valve and pipe",
    ),
    "a coil of bare words": (
        edit("coils", to={"outdoor_coil": "coil_valve"}),
        ("coils", "outdoor_coil"),
        "found 'coil_valve'; a coil has valve and pipe",
    ),
    "a coil that is no evaporator": (
        edit("coils", to={"outdoor": {"valve": "coil_valve", "pipe": "coil_pipe"}}),
        ("coils", "outdoor"),
        "no evaporator 'outdoor' on suction_side; there are indoor_units, outdoor_coil",
    ),
    "a coil's valve that no signal can be": (
        edit("coils", to={"outdoor_coil": {"valve": "Coil Valve", "pipe": "coil_pipe"}}),
        ("coils", "outdoor_coil"),
        "valve is 'Coil Valve'; right would be the name of the signal that tells it",
    ),
    "a coil's pipe that is not there": (
        edit("coils", to={"outdoor_coil": {"valve": "coil_valve", "pipe": "coilpipe"}}),
        ("coils", "outdoor_coil", "pipe"),
        "no segment 'coilpipe' on suction_side; there are coil_pipe, gas_pipe",
    ),
    "a coil's pipe that is another's": (
        edit("coils", to={"outdoor_coil": {"valve": "coil_valve", "pipe": "gas_pipe"}}),
        ("coils", "outdoor_coil", "pipe"),
        "gas_pipe brings vapour of indoor_units; right would be the pipe of outdoor_coil alone",
    ),
    "a coil's valve that is an inlet's": (
        edit("coils", to={"outdoor_coil": {"valve": "bypass_valve", "pipe": "coil_pipe"}}),
        ("coils", "outdoor_coil"),
        "bypass_valve is the valve of an inlet and the valve of outdoor_coil; a signal tells one thing",
    ),
    "a coil's valve that is a probe": (
        edit("coils", to={"outdoor_coil": {"valve": "discharge_1", "pipe": "coil_pipe"}}),
        ("coils", "outdoor_coil"),
        "discharge_1 is a probe and the valve of outdoor_coil; a signal tells one thing",
    ),
    "one valve for two coils": (
        edit(
            "coils",
            to={
                "outdoor_coil": {"valve": "coil_valve", "pipe": "coil_pipe"},
                "indoor_units": {"valve": "coil_valve", "pipe": "gas_pipe"},
            },
        ),
        ("coils", "indoor_units"),
        "coil_valve is the valve of outdoor_coil and the valve of indoor_units; a signal tells one thing",
    ),
    "an injection of bare words": (
        edit("injection", to="vapour"),
        ("injection",),
        f"found 'vapour'; {INJECTION}",
    ),
    "an injection without compressors": (
        edit("injection", to={"kind": "vapour", "valve": "injection_valve"}),
        ("injection",),
        f"found {{'kind': 'vapour', 'valve': 'injection_valve'}}; {INJECTION}",
    ),
    "an injection into none": (
        edit("injection", to={"kind": "vapour", "into": []}),
        ("injection", "into"),
        "name at least one compressor",
    ),
    "an injection into no compressor": (
        edit("injection", to={"kind": "vapour", "into": ["3"]}),
        ("injection", "into"),
        "no compressor '3' on suction_side; there are 1, 2",
    ),
    "an unknown kind of injection": (
        edit("injection", to={"kind": "gas", "into": ["1"]}),
        ("injection",),
        "kind is 'gas'; right would be vapour, liquid",
    ),
    "an injection's valve that no signal can be": (
        edit("injection", to={"kind": "vapour", "into": ["1"], "valve": 3}),
        ("injection",),
        "valve is 3; right would be the name of the signal that tells it",
    ),
    "an injection's valve that is another's": (
        edit("injection", to={"kind": "vapour", "into": ["1"], "valve": "bypass_valve"}),
        ("injection",),
        "bypass_valve is the valve of an inlet and the valve of injection; a signal tells one thing",
    ),
    "a liquid side that is no list": (edit("liquid_side", to={}), ("liquid_side",), FROM_COIL_TO_COIL),
    "a liquid path of one place": (
        add("liquid_side", item=[{"coil": "outdoor_coil"}]),
        ("liquid_side", 1),
        "a path is a list of two places or more, from coil to coil",
    ),
    "a kind of another side": (
        edit(*LIQUID_PATH, 2, to={"transducer": "liquid_pressure"}),
        (*LIQUID_PATH, 2),
        f"unknown kind of place 'transducer'; here stand {LIQUID}",
    ),
    "a coil of the liquid side alone": (
        add("liquid_side", item=[{"coil": "second_coil"}, {"coil": "indoor_units"}]),
        ("liquid_side",),
        "coil second_coil is neither an evaporator of suction_side nor a condenser of discharge_side; "
        "there are indoor_units, outdoor_coil",
    ),
    "a dead end of the liquid side": (
        add("liquid_side", item=[{"probe": "liquid_line"}, {"probe": "nowhere"}]),
        ("liquid_side",),
        "probe nowhere is a dead end; paths run from coil to coil",
    ),
    "a liquid place beside itself": (
        add("liquid_side", item=[{"probe": "liquid_line"}, {"probe": "liquid_line"}]),
        ("liquid_side",),
        "probe liquid_line stands beside itself; name each place once",
    ),
    "a liquid probe that is another probe": (
        edit(*LIQUID_PATH, 2, to={"probe": "suction_pipe"}),
        ("liquid_side",),
        "suction_pipe is a probe and a probe of liquid_side; a signal tells one thing",
    ),
    "a condenser that is not there": (
        edit("modes", "cooling", "condensers", to=["condenser"]),
        ("modes", "cooling", "condensers"),
        "no coil 'condenser' on liquid_side; there are indoor_units, outdoor_coil",
    ),
    "an expansion that is not there": (
        edit("modes", "cooling", "expands", to=["expansion"]),
        ("modes", "cooling", "expands"),
        "no expansion 'expansion' on liquid_side; there are indoor_expansion, outdoor_expansion",
    ),
    "a coil that evaporates and condenses": (
        edit("modes", "cooling", "condensers", to=["indoor_units"]),
        ("modes", "cooling", "condensers"),
        "indoor_units cannot evaporate and condense at once in cooling; leave one out",
    ),
    "a probe on both sides": (
        edit("discharge_side", 0, 1, to={"probe": "suction_pipe"}),
        ("discharge_side",),
        "probes on both sides: suction_pipe",
    ),
}


@pytest.mark.parametrize(("change", "path", "message"), MISTAKES.values(), ids=MISTAKES)
def test_a_mistake_is_said_in_a_sentence(good, change, path, message):
    change(good)
    assert problems(good) == [(path, message)]


def test_condensers_of_a_layout_without_a_liquid_side(good):
    del good["liquid_side"]
    found = [message for _, message in problems(good)]
    assert found[0] == "no coil 'outdoor_coil' on liquid_side; there are none"
    assert found[1] == "no expansion 'indoor_expansion' on liquid_side; there are none"


def test_a_coil_with_a_valve_that_a_mode_contradicts(good):
    good["coils"] = {"outdoor_coil": {"valve": "coil_valve", "pipe": "coil_pipe"}}
    assert Layout.from_mapping(good).coils_by_valve("cooling") == ()
    good["modes"]["heating"]["high_side"].append("coil_pipe")
    words = "outdoor_coil evaporates, and its pipe coil_pipe is on high_side; leave one out"
    assert problems(good) == [(("modes", "heating"), words)]


def test_a_mode_may_leave_every_evaporator_to_the_valves(good):
    good["coils"] = {"outdoor_coil": {"valve": "coil_valve", "pipe": "coil_pipe"}}
    good["modes"]["heating"]["evaporators"] = []
    assert [coil.name for coil in Layout.from_mapping(good).coils_by_valve("heating")] == ["outdoor_coil"]
    del good["modes"]["heating"]["evaporators"]
    Layout.from_mapping(good)
    good["modes"]["heating"]["high_side"].append("coil_pipe")
    words = "name at least one evaporator that feeds the suction line"
    assert problems(good) == [(("modes", "heating", "evaporators"), words)]


@pytest.mark.parametrize("nothing", [None, [], "none"])
def test_a_layout_without_paths(nothing):
    found = problems({"layout": "empty", "suction_side": nothing, "modes": {}})
    assert found == [
        (("suction_side",), PATHS),
        (("modes",), f"missing; describe at least one of {STEADY}"),
    ]


def test_inlets_of_bare_words(good):
    good["inlets"] = ["oil_return"]
    assert problems(good) == [(("inlets",), "it is a mapping of inlet name to its effect")]


def test_a_loop_names_every_place_on_it(good):
    good["suction_side"].append([{"probe": "compressor_inlet"}, {"vessel": "accumulator"}])
    on_it = ["inlet hot_gas_bypass", "inlet oil_return", "probe compressor_inlet", "vessel accumulator"]
    assert problems(good) == [
        (("suction_side",), f"{place} lies on a loop; suction flow runs one way") for place in on_it
    ]


def test_every_problem_is_found_at_once_and_told_in_one_text(good):
    good["layout"] = "Bad Name"
    good["inlets"]["oil_return"]["effect"] = "heats"
    good["modes"]["cooling"]["evaporators"] = ["indoor"]
    with pytest.raises(LayoutError) as caught:
        Layout.from_mapping(good)
    assert str(caught.value) == (
        f"layout 'Bad Name': layout: found 'Bad Name'; {NAME}; "
        "inlets.oil_return: effect is 'heats'; right would be warms, cools, either; "
        "modes.cooling.evaporators: no evaporator 'indoor' on suction_side; "
        "there are indoor_units, outdoor_coil"
    )


@pytest.mark.parametrize("valve", [3, True, ["bypass_valve"], {"open": 1}, ""])
def test_a_valve_that_no_signal_can_be_named(good, valve):
    good["inlets"]["oil_return"]["valve"] = valve
    [(path, message)] = problems(good)
    assert path == ("inlets", "oil_return")
    assert message == f"valve is {valve!r}; right would be the name of the signal that tells it"


def test_an_inlet_may_be_called_by_a_number(good):
    good["suction_side"][2][2] = {"inlet": 1}
    good["inlets"][1] = {"effect": "warms", "kind": "oil_return"}
    del good["inlets"]["oil_return"]
    assert Layout.from_mapping(good).inlets["1"].kind == "oil_return"


def test_two_measuring_places_of_one_name_would_share_a_signal(good):
    good["suction_side"][2][5] = {"transducer": "compressor_inlet"}
    assert problems(good)


@settings(max_examples=150, deadline=None)
@given(st.data())
def test_whatever_is_put_in_a_place_gives_a_layout_or_problems(data):
    """Broken data is refused by LayoutError alone."""
    whole = shipped("three-pipe-split-coil") | {"injection": {"kind": "vapour", "into": ["1"]}}
    given = deepcopy(data.draw(mappings() | st.just(whole)))
    junk = (
        st.none() | st.booleans() | st.integers(-2, 2) | st.sampled_from(["", "probe_1", "X", [], {}, [[]]])
    )
    inner, key = given, data.draw(st.sampled_from(sorted(given)))
    while isinstance(inner[key], dict | list) and inner[key] and data.draw(st.integers(0, 3)):
        inner = inner[key]
        keys = sorted(inner) if isinstance(inner, dict) else range(len(inner))
        key = data.draw(st.sampled_from(keys))
    inner[key] = data.draw(junk)
    try:
        drawn = Layout.from_mapping(given)
    except LayoutError as error:
        assert error.problems
    else:
        for mode in drawn.modes:
            drawn.choose(mode, dict.fromkeys(drawn.valves), list(drawn.compressors))
            subcooling_probes(drawn, Situation.of(mode))
