"""The situations that a piping is explained in."""

import pytest

from agent.piping.cases import base_case, described, other_cases
from tests.piping.layouts import BYPASS, layout


@pytest.fixture
def drawn():
    return layout(
        "evaporator:rooms junction:j",
        "evaporator:coil segment:coil_pipe junction:j",
        "junction:j inlet:hot_gas_bypass transducer:p split:s",
        "split:s compressor:1",
        "split:s compressor:2",
        inlets=BYPASS,
        coils={"coil": {"valve": "coil_valve", "pipe": "coil_pipe"}},
        modes={
            "simultaneous": {"evaporators": ["rooms"]},
            "cooling": {"evaporators": ["rooms"], "high_side": ["coil_pipe"]},
        },
    )


def others(drawn, mode, silent=()):
    return [(what, how, dict(case.valves)) for what, how, case in other_cases(drawn, mode, silent)]


def test_modes_come_in_their_usual_order(drawn):
    assert described(drawn) == ("cooling", "simultaneous")
    assert described(drawn, ["simultaneous", "heating"]) == ("simultaneous",)


def test_at_base_inlets_are_shut_coils_evaporate_and_all_run(drawn):
    base = base_case(drawn, "simultaneous")
    assert dict(base.valves) == {"bypass_valve": False, "coil_valve": True}
    assert base.running == {"1", "2"}


def test_each_valve_is_otherwise_or_not_known(drawn):
    assert others(drawn, "simultaneous") == [
        ("bypass_valve", "open", {"bypass_valve": True, "coil_valve": True}),
        ("bypass_valve", "not known", {"bypass_valve": None, "coil_valve": True}),
        ("coil", "does not evaporate", {"bypass_valve": False, "coil_valve": False}),
        ("coil", "in a role not known", {"bypass_valve": False, "coil_valve": None}),
    ]


def test_where_the_mode_tells_what_the_coil_does_its_valve_is_left_alone(drawn):
    assert [what for what, _, _ in others(drawn, "cooling")] == ["bypass_valve", "bypass_valve"]


def test_a_valve_that_nothing_tells_of_is_never_known(drawn):
    base = base_case(drawn, "simultaneous", ["bypass_valve"])
    assert dict(base.valves) == {"bypass_valve": None, "coil_valve": True}
    found = others(drawn, "simultaneous", ["bypass_valve"])
    assert [what for what, _, _ in found] == ["coil", "coil"]
    assert all(valves["bypass_valve"] is None for _, _, valves in found)
    assert others(drawn, "cooling", drawn.valves) == []
