"""Layouts read from plain data: what the shipped ones hold, and every mistake by its sentence."""

from copy import deepcopy

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import Layout, LayoutError
from tests.piping.layouts import FOLDER, mappings, shipped

SHIPPED = sorted(file.stem for file in FOLDER.glob("*.yaml"))


@pytest.fixture
def good():
    return deepcopy(shipped("two-pipe-twin-late"))


def problems(given):
    with pytest.raises(LayoutError) as caught:
        Layout.from_mapping(given)
    return [tuple(problem) for problem in caught.value.problems]


def test_both_shipped_layouts_are_there():
    assert SHIPPED == ["two-pipe-single-early", "two-pipe-twin-late"]


@pytest.mark.parametrize("name", SHIPPED)
def test_a_shipped_layout_loads(name):
    drawn = Layout.from_mapping(shipped(name))
    assert drawn.name == name
    assert drawn.about.startswith("Two-pipe heat pump")
    assert "\n" not in drawn.about
    assert drawn.valves == ("bypass_valve",)
    assert (drawn.suction_transducer, drawn.discharge_transducer) == (
        "suction_pressure",
        "discharge_pressure",
    )
    assert set(drawn.modes) == {"cooling", "heating"}


def test_what_a_layout_can_be_asked():
    late, early = (Layout.from_mapping(shipped(name)) for name in reversed(SHIPPED))
    assert late.suction_probes == ("outdoor_coil_gas", "suction_pipe", "compressor_inlet")
    assert early.suction_probes == ("outdoor_coil_gas", "suction_pipe", "accumulator_outlet")
    assert late.discharge_probes == ("discharge_1", "discharge_2")
    assert (late.compressors, early.compressors) == (("1", "2"), ("1",))
    assert late.inlets["hot_gas_bypass"].valve == "bypass_valve"
    assert late.inlets["oil_return"].valve is None
    assert late.modes["heating"].evaporators == {"outdoor_coil"}
    assert late.modes["heating"].high_side == {"gas_pipe"}


def test_the_discharge_side_and_inlets_may_be_left_out(good):
    del good["discharge_side"], good["about"], good["inlets"]
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
KINDS = "oil_return, hot_gas_bypass, subcooler_bypass, accumulator_bleed"
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
    given = deepcopy(data.draw(mappings()))
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
        drawn.choose("cooling", dict.fromkeys(drawn.valves), list(drawn.compressors))
