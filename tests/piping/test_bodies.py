"""Which probes share a body of metal, and come to one temperature at rest: common practice, no source."""

import pytest

from agent.piping import Layout, bodies
from tests.piping.layouts import BYPASS, OIL, layout, places, shipped

ENDS = ("evaporator:coil segment:pipe", "transducer:p compressor:1")


def found(between, **more):
    """The bodies of a suction line, with whether each is plain."""
    start, end = ENDS
    return [(b.probes, b.is_plain) for b in bodies(layout(f"{start} {between} {end}", **more))]


@pytest.mark.parametrize("between", ["vessel:accumulator", "exchanger:subcooler", "segment:riser"])
def test_what_parts_two_bodies(between):
    assert found(f"probe:a {between} probe:b") == []


def test_a_body_is_told_by_its_probes_in_the_order_of_their_names():
    assert found("probe:c probe:a filter:dryer probe:b vessel:accumulator") == [(("a", "b", "c"), True)]
    assert found("probe:a vessel:accumulator") == []


def test_what_stays_warm_at_rest_makes_a_body_not_plain():
    assert found("probe:a inlet:oil_return probe:b vessel:accumulator", inlets=OIL) == [(("a", "b"), False)]
    assert found("probe:a probe:b") == [(("a", "b"), False)]  # the compressor is at its end
    assert found("probe:a probe:b split:s vessel:accumulator") == [(("a", "b"), False)]
    assert found("probe:a probe:b junction:j vessel:accumulator") == [(("a", "b"), False)]


def test_a_junction_belongs_to_the_pipes_that_meet_there():
    of = layout(
        "evaporator:coil segment:pipe probe:b junction:j",
        "evaporator:other segment:other_pipe probe:a junction:j",
        "junction:j probe:c vessel:accumulator probe:e inlet:hot_gas_bypass probe:d transducer:p",
        "transducer:p compressor:1",
        inlets=BYPASS,
    )
    assert [body.probes for body in bodies(of)] == [("a", "b", "c"), ("d", "e")]


def test_each_side_has_its_own():
    of = layout(
        "evaporator:rooms junction:j",
        "evaporator:coil segment:pipe junction:j",
        "junction:j transducer:p compressor:1",
        discharge_side=[places("compressor:1 segment:hot_pipe probe:z probe:y condenser:coil")],
        liquid_side=[places("coil:coil probe:n probe:m expansion:indoor probe:o coil:rooms")],
        modes={"cooling": {"evaporators": ["rooms"], "condensers": ["coil"], "expands": ["indoor"]}},
    )
    assert [(body.probes, body.is_plain) for body in bodies(of)] == [(("m", "n"), True), (("y", "z"), True)]


def test_of_an_unknown_piping_nothing_is_said():
    assert bodies(Layout.unknown()) == []
    assert bodies(Layout.from_mapping(shipped("two-pipe-twin-late")))  # a described one has some
