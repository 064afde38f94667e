"""The drawing holds the whole piping and nothing else, in flow order, and says what each mode makes of it."""

from dataclasses import replace

from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import Layout, Place, Side, Situation, State, draw
from agent.piping.cases import base_case, described
from agent.piping.drawing import MOST_LANES
from agent.piping.flow_order import Node, pipes_of
from tests.piping.layouts import BYPASS, OIL, layout, mappings, shipped
from tests.piping.tangles import tangles

law = settings(max_examples=150, deadline=None)
any_layout = st.one_of(mappings().map(Layout.from_mapping), tangles())


def drawing(drawn, **more):
    return draw(drawn, [base_case(drawn, mode) for mode in described(drawn)], **more)


def traced(drawn_rows):
    """The connections that a reader sees who follows the lanes down, and those that the notes tell of."""
    fed, pipes, told = {}, set(), set()
    for row in drawn_rows:
        here = fed.pop(row.lane, set()) if row.lane in row.above else set()
        for lane in row.joins:
            here |= fed.pop(lane)
        if row.place:
            pipes |= {(up, row.place) for up in here}
            here = {row.place}
        for lane in (*row.opens, *([row.lane] if row.lane in row.below else [])):
            fed[lane] = set(here)
        assert set(fed) == set(row.below)
        told |= {(row.place, note) for note in row.notes if note.startswith("goes on to")}
    assert fed == {}
    return pipes, told


def marks(drawn, name, **more):
    row = next(row for row in drawing(drawn, **more).rows if row.place and row.place.name == name)
    return [mark.word for mark in row.marks]


class TestLaws:
    @law
    @given(any_layout)
    def test_every_place_once_and_downstream_of_what_feeds_it(self, drawn):
        rows = [row for row in drawing(drawn).rows if row.place]
        nodes = [Node(row.side, row.place) for row in rows]
        pipes = pipes_of(drawn)
        assert sorted(nodes) == sorted({node for pipe in pipes for node in pipe})
        for up, down in pipes:
            if down.side is Side.SUCTION:
                assert nodes.index(up) < nodes.index(down)

    @law
    @given(any_layout)
    def test_following_the_lanes_gives_back_the_piping(self, drawn):
        pipes, told = traced(drawing(drawn).rows)
        expected = {(up.place, down.place) for up, down in pipes_of(drawn)}
        assert pipes <= expected
        cut = {(up, f"goes on to {down.kind} {down.name}") for up, down in expected - pipes}
        assert cut == {(up, note.rpartition(",")[0]) for up, note in told}

    @law
    @given(any_layout)
    def test_lanes_are_few_and_none_is_used_twice(self, drawn):
        for row in drawing(drawn).rows:
            assert set(row.joins) <= set(row.above) and set(row.opens) <= set(row.below)
            assert max((row.lane, *row.above, *row.below)) <= MOST_LANES
            passing = set(row.above) - set(row.joins) - {row.lane}
            assert {lane: row.above[lane] for lane in passing} == {lane: row.below[lane] for lane in passing}

    @law
    @given(mappings().map(Layout.from_mapping))
    def test_marks_are_the_fitness_that_the_piping_gives(self, drawn):
        for situation, number in zip((base_case(drawn, m) for m in described(drawn)), range(9), strict=False):
            verdicts = drawn.fitness(situation.mode, dict(situation.valves), situation.running)
            for row in drawing(drawn).rows:
                if row.place and row.place.kind == "probe":
                    mark = row.marks[number]
                    assert mark.fitness is verdicts[row.place.name].verdict
                    assert mark.reason == verdicts[row.place.name].reason


class TestFlowOrder:
    def test_branches_one_after_the_other_then_the_trunk_then_the_discharge_side(self, late):
        assert [row.place.name for row in drawing(late).rows if row.place] == [
            *("indoor_units", "gas_pipe", "suction_pipe"),
            *("outdoor_coil", "coil_pipe", "outdoor_coil_gas"),
            *("low_side", "accumulator", "oil_return", "hot_gas_bypass", "compressor_inlet"),
            *("suction_pressure", "compressors", "1", "2"),
            *("discharge_1", "discharge_2", "high_side", "discharge_pressure"),
        ]

    def test_compressor_10_comes_after_compressor_9(self):
        paths = [f"split:s compressor:{n}" for n in range(1, 11)]
        drawn = layout("evaporator:coil transducer:p split:s", *paths)
        names = [row.place.name for row in drawing(drawn).rows if row.place]
        assert names[-10:] == [str(n) for n in range(1, 11)]

    def test_many_evaporators_take_two_lanes(self):
        paths = [f"evaporator:e{n} probe:t{n} junction:j" for n in range(40)]
        modes = {"cooling": {"evaporators": ["e0"]}}
        drawn = layout(*paths, "junction:j transducer:p compressor:1", modes=modes)
        assert drawing(drawn).lanes == 2

    def test_a_path_longer_than_the_interpreter_recurses(self):
        probes = " ".join(f"probe:t{n}" for n in range(1500))
        drawn = layout(f"evaporator:coil {probes} transducer:p compressor:1")
        # without situations, as fitness over so many places takes long
        assert len(draw(drawn, []).rows) == 1503

    def test_equal_names_on_the_two_sides_are_two_places(self):
        drawn = layout(
            "evaporator:coil junction:j transducer:p compressor:1",
            discharge_side=[[{"compressor": "1"}, {"junction": "j"}]],
        )
        rows = [row for row in drawing(drawn).rows if row.place == Place("junction", "j")]
        assert [row.side for row in rows] == [Side.SUCTION, Side.DISCHARGE]

    def test_a_loop_on_the_discharge_side_is_cut_and_said(self):
        loop = [{"compressor": "1"}, {"junction": "a"}, {"junction": "b"}, {"junction": "a"}]
        drawn = layout("evaporator:coil transducer:p compressor:1", discharge_side=[loop])
        notes = [note for row in drawing(drawn).rows for note in row.notes]
        assert len([note for note in notes if note.endswith("above")]) == 1


class TestMarks:
    def test_what_the_modes_make_of_the_places(self, late):
        assert marks(late, "indoor_units") == ["evaporates", "condenses"]
        assert marks(late, "gas_pipe") == ["suction gas", "high side"]
        assert marks(late, "coil_pipe") == ["high side", "suction gas"]
        assert marks(late, "suction_pipe") == ["fit", "high side"]
        assert marks(late, "compressor_inlet") == ["mixed", "mixed"]
        assert marks(late, "suction_pressure") == ["", ""]

    def test_a_coil_is_marked_by_what_its_valve_tells(self):
        drawn = Layout.from_mapping(shipped("three-pipe-twin-late"))
        words = {
            role: {
                row.place.name: row.marks[0].word
                for row in draw(drawn, [Situation.of("simultaneous", {"coil_valve": role})]).rows
                if row.place and row.place.kind == "evaporator"
            }["outdoor_coil"]
            for role in (True, False, None)
        }
        assert words == {True: "evaporates", False: "may condense", None: "not known"}

    def test_what_feeds_nothing_and_condenses_nothing_is_idle(self):
        modes = {"cooling": {"evaporators": ["one"]}}
        drawn = layout(
            "evaporator:one junction:j transducer:p compressor:1", "evaporator:two junction:j", modes=modes
        )
        assert marks(drawn, "two") == ["-"]

    def test_the_probe_that_return_superheat_is_taken_from(self, late):
        rows = {row.place.name: row for row in drawing(late).rows if row.place}
        assert [mark.speaks for mark in rows["suction_pipe"].marks] == [True, False]
        assert [mark.speaks for mark in rows["outdoor_coil_gas"].marks] == [False, True]
        assert [mark.speaks for mark in rows["compressor_inlet"].marks] == [False, False]

    def test_a_probe_without_readings_and_the_site_s_own(self, late):
        assert marks(late, "suction_pipe", available=["compressor_inlet"]) == ["no readings"] * 2
        rows = drawing(late, configured_probe="compressor_inlet").rows
        notes = {row.place.name: row.notes for row in rows if row.place and row.notes}
        assert notes == {"compressor_inlet": ("the site takes superheat here",)}

    def test_a_transducer_on_a_reversed_pipe(self):
        drawn = layout(
            "evaporator:coil segment:pipe transducer:p compressor:1",
            modes={"heating": {"evaporators": ["coil"], "high_side": ["pipe"]}},
        )
        assert marks(drawn, "p") == ["high side"]

    def test_inlets_tell_effect_valve_and_whether_they_are_a_stream(self):
        drawn = layout(
            "evaporator:coil inlet:oil_return inlet:hot_gas_bypass inlet:own transducer:p compressor:1",
            inlets=OIL | BYPASS | {"own": {"effect": "either", "kind": "subcooler_bypass", "valve": "v"}},
        )
        details = {row.place.name: row.detail for row in drawing(drawn).rows if row.place}
        assert details["oil_return"] == "warms; always open"
        assert details["hot_gas_bypass"] == "warms; valve bypass_valve"
        assert details["own"] == "may warm or cool; valve v; a stream of its own"


class TestPipes:
    def test_one_mode_shows_what_each_pipe_carries(self, late):
        rows = {r.place.name: r for r in draw(late, [base_case(late, "heating")]).rows if r.place}
        assert rows["suction_pipe"].below == {0: State.HIGH_SIDE}
        assert rows["outdoor_coil_gas"].below == {0: State.HIGH_SIDE, 1: State.SUCTION}
        assert rows["accumulator"].below == {0: State.SUCTION}
        assert rows["low_side"].notes == ("shut off here from gas_pipe: high side",)
        assert rows["1"].below[0] is State.HIGH_SIDE

    def test_where_modes_differ_it_is_drawn_as_suction(self, late):
        rows = {row.place.name: row for row in drawing(late).rows if row.place}
        assert rows["suction_pipe"].below == {0: State.SUCTION}
        assert rows["low_side"].notes == ()

    def test_nothing_flows_towards_a_standing_compressor(self, late):
        situation = replace(base_case(late, "cooling"), running=frozenset({"1"}))
        rows = {row.place.name: row for row in draw(late, [situation]).rows if row.place}
        assert rows["compressors"].below == {0: State.SUCTION, 1: State.STILL}

    def test_a_kind_that_is_not_known_here_is_a_place_like_others(self, late):
        old, new = Place("vessel", "accumulator"), Place("receiver", "accumulator")
        swap = frozenset(tuple(new if p == old else p for p in edge) for edge in late.suction)
        rows = drawing(replace(late, suction=swap)).rows
        assert [row.place for row in rows if row.place and row.place.kind == "receiver"] == [new]
