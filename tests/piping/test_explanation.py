"""What is put together for a reader: every probe and place, mode by mode, and what a valve changes."""

from hypothesis import given, settings

from agent.piping import ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RETURN, RISE, Layout, explain
from tests.piping.layouts import layout, mappings, shipped


def test_everything_in_flow_order(late):
    explanation = explain(late)
    assert explanation.modes == ("cooling", "heating")
    probes = ("suction_pipe", "outdoor_coil_gas", "compressor_inlet", "discharge_1", "discharge_2")
    assert tuple(explanation.probes) == probes
    assert list(explanation.places)[:2] == [RETURN, ACCUMULATOR_OUTLET]
    assert explanation.silent == ()


def test_a_change_is_said_once_for_open_and_not_known_and_only_where_it_matters(late):
    explanation = explain(late)
    rise = explanation.places[RISE]["cooling"]
    assert rise.found.probes == ("compressor_inlet", "suction_pipe")
    ((when, instead),) = rise.changes
    assert (when, str(instead.standing)) == ("bypass_valve open or not known", "not_decidable")
    assert explanation.places[RETURN]["cooling"].changes == ()
    assert explanation.places[COMPRESSOR_INLET]["cooling"].changes == ()
    assert explanation.probes["suction_pipe"]["cooling"].changes == ()
    ((when, instead),) = explanation.probes["compressor_inlet"]["cooling"].changes
    assert (when, instead.joined) == ("bypass_valve open or not known", {"oil_return", "hot_gas_bypass"})


def test_a_valve_brings_doubt_where_the_layout_does_not_know_the_side():
    drawn = layout(
        "evaporator:coil inlet:bleed probe:t transducer:p compressor:1",
        inlets={"bleed": {"effect": "warms", "kind": "accumulator_bleed", "valve": "v"}},
        unproven={"t": ["bleed"]},
    )
    case = explain(drawn).probes["t"]["cooling"]
    assert case.found.verdict == "fit"
    assert [(when, str(found.verdict)) for when, found in case.changes] == [
        ("v open or not known", "unproven")
    ]


def test_a_coil_is_spoken_of_by_its_name_and_only_where_its_valve_matters():
    explanation = explain(Layout.from_mapping(shipped("three-pipe-twin-late")))
    returns = explanation.places[RETURN]
    assert returns["cooling"].changes == returns["heating"].changes == ()
    assert [(when, found.probes, str(found.standing)) for when, found in returns["simultaneous"].changes] == [
        ("outdoor_coil does not evaporate", ("suction_pipe",), "fit"),
        ("outdoor_coil in a role not known", ("suction_pipe",), "second_best"),
    ]
    changes = explanation.probes["outdoor_coil_gas"]["simultaneous"].changes
    assert [found.reason.partition("simultaneous")[2] for _, found in changes] == [
        ": outdoor_coil does not evaporate now, the pipe may be hot",
        " (what outdoor_coil does is not known)",
    ]
    assert explanation.probes["compressor_inlet"]["simultaneous"].changes[0][0].startswith("bleed_valve")


def test_one_mode_and_the_probes_that_give_readings(late):
    explanation = explain(late, ["heating"], ["suction_pipe", "compressor_inlet"], "compressor_inlet")
    assert explanation.modes == ("heating",)
    assert "outdoor_coil_gas" not in explanation.probes
    assert explanation.silent == ("outdoor_coil_gas",)
    assert [len(row.marks) for row in explanation.drawing.rows] == [1] * len(explanation.drawing.rows)
    assert [advice.where for advice in explanation.advice[RETURN]] == ["readings of outdoor_coil_gas"]


def test_a_mode_that_the_layout_does_not_describe(late):
    explanation = explain(late, ["simultaneous"])
    assert explanation.modes == () and explanation.places == {}


@settings(max_examples=60, deadline=None)
@given(mappings().map(Layout.from_mapping))
def test_the_base_case_is_inlets_shut_and_coils_evaporating(drawn):
    explanation = explain(drawn)
    for mode in explanation.modes:
        valves = dict.fromkeys(drawn.inlet_valves, False) | dict.fromkeys(drawn.coil_valves, True)
        choices = drawn.choose(mode, valves, drawn.compressors)
        assert {p: by_mode[mode].found for p, by_mode in explanation.places.items()} == choices.places
        assert {p: by_mode[mode].found for p, by_mode in explanation.probes.items()} == choices.fitness
