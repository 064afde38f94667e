"""What a layout's graph can be asked; the layouts here are drawn for the question."""

from agent.piping import Place
from tests.piping.layouts import layout, places

NAMES = ("d", "b", "a", "e", "c")


def drawn(*liquid, discharge=()):
    return layout(
        "evaporator:rooms junction:j",
        "evaporator:coil segment:pipe junction:j",
        "evaporator:other segment:other_pipe junction:j",
        "junction:j transducer:p split:s",
        "split:s compressor:1",
        "split:s compressor:2",
        liquid_side=[places(path) for path in liquid],
        discharge_side=[places(path) for path in discharge],
        modes={"cooling": {"evaporators": ["rooms"]}},
    )


def test_names_come_in_their_order_however_they_are_written():
    probes = " ".join(f"probe:l_{name}" for name in NAMES)
    expansions = " ".join(f"expansion:x_{name}" for name in NAMES)
    discharge = " ".join(f"probe:h_{name}" for name in NAMES)
    of = drawn(f"coil:coil {probes} {expansions} coil:rooms", discharge=[f"compressor:1 {discharge}"])
    assert of.liquid_probes == ("l_a", "l_b", "l_c", "l_d", "l_e")
    assert of.expansions == ("x_a", "x_b", "x_c", "x_d", "x_e")
    assert of.discharge_probes == ("h_a", "h_b", "h_c", "h_d", "h_e")


def test_the_valves_of_inlets_come_in_their_order():
    inlets = {f"inlet_{n}": {"effect": "warms", "kind": "hot_gas_bypass", "valve": n} for n in NAMES}
    inlets["oil_return"] = {"effect": "warms"}
    joins = " ".join(f"inlet:{name}" for name in inlets)
    of = layout(f"evaporator:coil {joins} transducer:p compressor:1", inlets=inlets)
    assert of.inlet_valves == of.valves == ("a", "b", "c", "d", "e")


def test_the_expansions_next_to_a_coil():
    of = drawn(
        "coil:coil probe:a junction:l expansion:near expansion:far filter:dryer coil:rooms",
        "junction:l filter:second expansion:beside coil:other",
    )
    assert of.expansions_at("coil") == ("near", "beside")
    assert of.expansions_at("rooms") == ("far",)
    assert of.expansions_at("other") == ("beside",)


def test_a_coil_on_the_way_is_not_passed_in_looking_for_expansions():
    of = drawn("coil:coil probe:a coil:other expansion:beyond coil:rooms")
    assert of.expansions_at("coil") == ()
    assert of.expansions_at("other") == of.expansions_at("rooms") == ("beyond",)


class TestDischargeOf:
    """The probe that shows one compressor's gas alone."""

    def test_of_several_the_nearest(self):
        of = drawn(
            discharge=["compressor:1 probe:z probe:a junction:hot", "compressor:2 junction:hot probe:all"]
        )
        assert of.discharge_of("1") == "z"

    def test_what_both_reach_is_of_neither(self):
        of = drawn(discharge=["compressor:1 junction:hot", "compressor:2 junction:hot probe:all"])
        assert of.discharge_of("1") is None
        assert of.discharge_of("2") is None

    def test_what_is_no_probe_is_none(self):
        of = drawn(
            discharge=["compressor:1 vessel:separator junction:hot", "compressor:2 probe:b junction:hot"]
        )
        assert of.discharge_of("1") is None
        assert of.discharge_of("2") == "b"


def test_runs_after_a_place_are_those_of_the_pipe_that_leaves_it():
    of = layout(
        "evaporator:coil segment:gas_pipe probe:a vessel:accumulator probe:b transducer:p compressor:1"
    )
    assert of.runs_after(Place("segment", "gas_pipe")) == {"gas_pipe"}
    assert of.runs_after(Place("probe", "a")) == {"gas_pipe"}
    assert of.runs_after(Place("vessel", "accumulator")) == frozenset()
    assert of.runs_after(Place("probe", "b")) == frozenset()
