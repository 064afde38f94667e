"""Coils whose role a valve tells: what follows where it evaporates, where it does not, where nobody knows."""

import pytest

from agent.piping import (
    ACCUMULATOR_CHANGE,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Layout,
    Situation,
    pressure_lost,
)
from tests.piping.layouts import OIL, layout, shipped

EVAPORATES, DOES_NOT, UNKNOWN = {"coil_valve": True}, {"coil_valve": False}, {"coil_valve": None}
COIL = {"outdoor_coil": {"valve": "coil_valve", "pipe": "coil_pipe"}}
BY_VALVE = {"simultaneous": {"evaporators": ["indoor_units"]}}
ROOMS = "evaporator:indoor_units probe:of_rooms junction:j"
OUTDOOR = "evaporator:outdoor_coil segment:coil_pipe probe:of_coil junction:j"
TRUNK = "junction:j vessel:accumulator probe:outlet transducer:p compressor:1"


@pytest.fixture
def drawn():
    return layout(ROOMS, OUTDOOR, TRUNK, coils=COIL, modes=BY_VALVE)


def told(drawn, probe, valves, mode="simultaneous", running=("1",)):
    found = drawn.fitness(mode, valves, running)[probe]
    return f"{found.verdict}: {found.reason}"


def choice(drawn, place, valves, mode="simultaneous", running=("1",), **more):
    found = drawn.choose(mode, valves, running, **more).places[place]
    return str(found.standing), found.probes, found.reason


def test_it_evaporates(drawn):
    assert told(drawn, "of_rooms", EVAPORATES) == "partial: it sees indoor_units but not outdoor_coil"
    assert told(drawn, "of_coil", EVAPORATES) == "partial: it sees outdoor_coil but not indoor_units"
    assert choice(drawn, RETURN, EVAPORATES)[:2] == ("covering", ("of_rooms", "of_coil"))


def test_it_does_not(drawn):
    words = "idle: no returning vapour passes here in simultaneous: outdoor_coil does not evaporate now"
    assert told(drawn, "of_coil", DOES_NOT) == f"{words}, the pipe may be hot"
    assert told(drawn, "of_rooms", DOES_NOT) == "fit: all returning vapour, before anything is mixed in"
    assert choice(drawn, RETURN, DOES_NOT)[:2] == ("fit", ("of_rooms",))


@pytest.mark.parametrize("valves", [UNKNOWN, {}])
def test_nobody_knows(drawn, valves):
    assert told(drawn, "of_coil", valves) == (
        "idle: no returning vapour passes here in simultaneous (what outdoor_coil does is not known)"
    )
    assert told(drawn, "of_rooms", valves) == (
        "partial: it sees indoor_units but not outdoor_coil (what outdoor_coil does is not known)"
    )
    assert told(drawn, "outlet", valves) == "fit: all returning vapour, before anything is mixed in"
    assert choice(drawn, RETURN, valves, available=["of_rooms", "of_coil"]) == (
        "second_best",
        ("of_rooms",),
        "what outdoor_coil does is not known",
    )
    assert choice(drawn, ACCUMULATOR_CHANGE, valves) == (
        "not_decidable",
        (),
        "not attributable: what outdoor_coil does is not known",
    )


def test_what_another_role_would_show_is_not_decidable_now(drawn):
    assert choice(drawn, ACCUMULATOR_CHANGE, EVAPORATES) == (
        "not_decidable",
        (),
        "not attributable: outdoor_coil evaporates now",
    )
    only_the_coil = choice(drawn, RETURN, DOES_NOT, available=["of_coil"])
    assert only_the_coil == ("not_decidable", (), "not attributable: outdoor_coil does not evaporate now")


def test_a_rise_while_both_streams_return():
    trunk = "junction:j vessel:accumulator inlet:oil_return probe:late transducer:p compressor:1"
    drawn = layout(ROOMS, OUTDOOR, trunk, coils=COIL, modes=BY_VALVE, inlets=OIL)
    assert choice(drawn, RISE, DOES_NOT)[:2] == ("fit", ("late", "of_rooms"))
    words = "not attributable: outdoor_coil evaporates now"
    assert choice(drawn, RISE, EVAPORATES) == ("not_decidable", (), words)
    assert choice(drawn, RISE, UNKNOWN)[2] == "not attributable: what outdoor_coil does is not known"
    assert choice(drawn, COMPRESSOR_INLET, UNKNOWN)[:2] == ("upper_bound", ("late",))


def test_what_the_mode_says_goes_before_the_valve():
    modes = {
        "cooling": {"evaporators": ["indoor_units"], "high_side": ["coil_pipe"]},
        "heating": {"evaporators": ["outdoor_coil"]},
    }
    drawn = layout(ROOMS, OUTDOOR, TRUNK, coils=COIL, modes=modes)
    for valves in (EVAPORATES, DOES_NOT, UNKNOWN):
        assert told(drawn, "of_coil", valves, "cooling").startswith("high_side: coil_pipe carries")
        assert told(drawn, "of_rooms", valves, "cooling").startswith("fit: ")
        assert told(drawn, "of_coil", valves, "heating").startswith("fit: ")
        assert (
            told(drawn, "of_rooms", valves, "heating") == "idle: no returning vapour passes here in heating"
        )
    assert drawn.coils_by_valve("cooling") == drawn.coils_by_valve("heating") == ()
    assert drawn.coils_by_valve("defrost") == ()


def test_what_joins_on_the_pipe_of_a_coil_that_does_not_evaporate_makes_no_stream_there():
    pipe = "evaporator:outdoor_coil segment:coil_pipe inlet:oil_return probe:of_coil junction:j"
    drawn = layout(ROOMS, pipe, TRUNK, coils=COIL, modes=BY_VALVE, inlets=OIL)
    assert told(drawn, "of_coil", EVAPORATES).startswith("mixed: ")
    assert told(drawn, "of_coil", DOES_NOT).startswith("idle: ")


def test_two_things_not_known_are_told_apart():
    split = ("junction:j transducer:p split:s", "split:s probe:at_1 compressor:1", "split:s compressor:2")
    drawn = layout(ROOMS, OUTDOOR, *split, coils=COIL, modes=BY_VALVE)
    assert told(drawn, "at_1", UNKNOWN, running=None).endswith(
        "compressor 1 stands (which compressors run is not known)"
    )
    assert told(drawn, "of_rooms", UNKNOWN, running=None).endswith("(what outdoor_coil does is not known)")


class TestSplitCoil:
    @pytest.fixture
    def drawn(self):
        return Layout.from_mapping(shipped("two-pipe-split-coil"))

    def test_something_evaporates_though_nobody_knows_which(self, drawn):
        """In heating nothing else can feed the line: the trunk is not taken for idle."""
        found = drawn.fitness("heating", {"bypass_valve": False}, ["1", "2"])
        assert found["compressor_inlet"].verdict == "mixed"
        assert found["upper_coil_gas"].reason == (
            "no returning vapour passes here in heating "
            "(what lower_coil does is not known and what upper_coil does is not known)"
        )

    def test_neither_evaporates(self, drawn):
        valves = {"bypass_valve": False, "upper_coil_valve": False, "lower_coil_valve": False}
        found = drawn.choose("heating", valves, ["1", "2"])
        assert {str(found.fitness[p].verdict) for p in drawn.suction_probes} == {"idle", "high_side"}
        words = "not attributable: lower_coil does not evaporate now"
        assert found.places[RETURN].reason == words

    def test_valves_of_coils_and_of_inlets_are_kept_apart(self, drawn):
        assert drawn.inlet_valves == ("bypass_valve",)
        assert drawn.coil_valves == ("lower_coil_valve", "upper_coil_valve")
        assert drawn.valves == drawn.inlet_valves + drawn.coil_valves


class TestTransducer:
    """A transducer on the coil's own pipe reads suction pressure only while the coil evaporates."""

    @pytest.fixture
    def drawn(self):
        coil = "evaporator:outdoor_coil segment:coil_pipe transducer:p junction:j"
        trunk = "junction:j vessel:accumulator probe:outlet compressor:1"
        modes = {
            "cooling": {"evaporators": ["indoor_units"], "high_side": ["coil_pipe"]},
            "heating": {"evaporators": ["outdoor_coil"]},
            "simultaneous": {"evaporators": ["indoor_units"]},
        }
        return layout(ROOMS, coil, trunk, coils=COIL, modes=modes)

    @pytest.mark.parametrize(
        ("mode", "valves", "standing", "words"),
        [
            ("heating", UNKNOWN, "fit", None),
            ("simultaneous", EVAPORATES, "fit", None),
            (
                "simultaneous",
                DOES_NOT,
                "not_decidable",
                "p sits on coil_pipe, and outdoor_coil does not evaporate now",
            ),
            (
                "simultaneous",
                UNKNOWN,
                "not_decidable",
                "p sits on coil_pipe, and what outdoor_coil does is not known",
            ),
            ("cooling", EVAPORATES, "not_measurable", "p sits on coil_pipe, high-pressure gas in cooling"),
            ("defrost", EVAPORATES, "not_decidable", None),
        ],
    )
    def test_pressure_lost(self, drawn, mode, valves, standing, words):
        assert pressure_lost(drawn, Situation.of(mode, valves)) == words
        found = drawn.choose(mode, valves, ["1"]).places["accumulator_outlet_superheat"]
        assert found.standing == standing
        assert words is None or found.reason == words


def test_situations_in_which_more_may_be_read_come_with_the_least_change_first():
    drawn = Layout.from_mapping(shipped("three-pipe-split-coil"))
    now = Situation.of("heating", {"upper_coil_valve": True, "lower_coil_valve": None}, ["1"])
    found = list(now.better(drawn))
    assert [doubts for _, doubts in found[:4]] == [
        ["compressor 2 stands"],
        ["what lower_coil does is not known"],
        ["what lower_coil does is not known"],
        ["upper_coil evaporates now"],
    ]
    assert len(found) == 2 * 3 * 2 - 1
    assert len({situation for situation, _ in found}) == len(found)
    assert [len(doubts) for _, doubts in found] == sorted(len(doubts) for _, doubts in found)
