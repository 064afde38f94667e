"""What a probe is worth: every verdict with its cause, and the laws that hold whatever the layout."""

from itertools import product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import BETTER_THAN, Layout
from tests.piping.layouts import (
    BYPASS,
    OIL,
    inlet_bodies,
    layout,
    mappings,
    names_in,
    renamed,
    situations,
    with_inlet,
    without_inlet,
)

law = settings(max_examples=150, deadline=None)
SHUT, OPEN, UNKNOWN = {"bypass_valve": False}, {"bypass_valve": True}, {"bypass_valve": None}


def verdicts(drawn, mode="cooling", valves=None, running=None):
    return {probe: str(f.verdict) for probe, f in drawn.fitness(mode, valves, running).items()}


def reason(drawn, probe, mode="cooling", valves=None, running=None):
    return drawn.fitness(mode, valves, running)[probe].reason


class TestShippedLayouts:
    """The verdicts that the design page states in words for the two arrangements."""

    @pytest.mark.parametrize("valves", [SHUT, OPEN, UNKNOWN, None])
    @pytest.mark.parametrize("running", [None, ["1"], ["2"], ["1", "2"]])
    def test_late_in_cooling(self, late, valves, running):
        assert verdicts(late, "cooling", valves, running) == {
            "suction_pipe": "fit",
            "outdoor_coil_gas": "high_side",
            "compressor_inlet": "mixed",
            "discharge_1": "high_side",
            "discharge_2": "high_side",
        }

    def test_late_in_heating(self, late):
        found = verdicts(late, "heating", SHUT)
        assert (found["suction_pipe"], found["outdoor_coil_gas"]) == ("high_side", "fit")
        assert found["compressor_inlet"] == "mixed"

    def test_early(self, early):
        cooling, heating = verdicts(early, "cooling", OPEN), verdicts(early, "heating", OPEN)
        assert (cooling["suction_pipe"], cooling["outdoor_coil_gas"]) == ("fit", "high_side")
        assert (heating["suction_pipe"], heating["outdoor_coil_gas"]) == ("high_side", "fit")
        assert cooling["accumulator_outlet"] == heating["accumulator_outlet"] == "fit"

    @pytest.mark.parametrize(
        "mode", ["off", "starting", "defrost", "oil_recovery", "unknown", "simultaneous"]
    )
    def test_in_a_transient_or_undescribed_mode_nothing_is_fit(self, late, early, mode):
        for drawn in (late, early):
            found = drawn.fitness(mode, SHUT, ["1"])
            for probe in drawn.suction_probes:
                assert found[probe].verdict == "idle"
                assert found[probe].reason == f"no settled stream of vapour in mode {mode}"
                assert not found[probe].streams | found[probe].joined
            assert {str(found[p].verdict) for p in drawn.discharge_probes} == {"high_side"}

    def test_reasons(self, late):
        assert reason(late, "suction_pipe") == "all returning vapour, before anything is mixed in"
        assert reason(late, "suction_pipe", "heating") == "gas_pipe carries high-pressure gas in heating"
        assert reason(late, "discharge_1") == "it sits on the discharge side"
        joins = "hot_gas_bypass (warms) and oil_return (warms) join upstream"
        assert reason(late, "compressor_inlet", valves=OPEN) == joins
        assert reason(late, "compressor_inlet", valves=SHUT) == "oil_return (warms) joins upstream"
        joins = "hot_gas_bypass (warms, not known shut) and oil_return (warms) join upstream"
        assert reason(late, "compressor_inlet", valves=UNKNOWN) == joins
        assert reason(late, "compressor_inlet") == joins


class TestMixed:
    TRUNK = "evaporator:coil probe:ahead inlet:hot_gas_bypass probe:behind transducer:p compressor:1"

    @pytest.mark.parametrize(
        ("valves", "verdict"), [(SHUT, "fit"), (OPEN, "mixed"), (UNKNOWN, "mixed"), ({}, "mixed")]
    )
    def test_a_valve_that_is_not_known_shut_counts_as_open(self, valves, verdict):
        found = verdicts(layout(self.TRUNK, inlets=BYPASS), valves=valves)
        assert found == {"ahead": "fit", "behind": verdict}

    def test_without_a_valve_an_inlet_is_always_open(self):
        drawn = layout(self.TRUNK, inlets={"hot_gas_bypass": {"effect": "warms"}})
        assert verdicts(drawn, valves=SHUT)["behind"] == "mixed"

    @pytest.mark.parametrize(
        ("effect", "words"), [("warms", "warms"), ("cools", "cools"), ("either", "may warm or cool")]
    )
    def test_its_effect_is_said(self, effect, words):
        drawn = layout(self.TRUNK, inlets={"hot_gas_bypass": {"effect": effect}})
        assert reason(drawn, "behind") == f"hot_gas_bypass ({words}) joins upstream"

    def test_it_says_what_joined_and_which_streams_pass(self):
        found = layout(self.TRUNK, inlets=BYPASS).fitness("cooling", OPEN)
        assert found["behind"].joined == {"hot_gas_bypass"}
        assert found["behind"].streams == found["ahead"].streams == {"coil"}
        assert not found["ahead"].joined


class TestPartial:
    PATHS = (
        "evaporator:a probe:of_a junction:j",
        "evaporator:b probe:of_b junction:j",
        "junction:j probe:of_both transducer:p compressor:1",
    )

    def test_some_of_the_active_streams(self):
        drawn = layout(*self.PATHS, modes={"cooling": {"evaporators": ["a", "b"]}})
        assert verdicts(drawn) == {"of_a": "partial", "of_b": "partial", "of_both": "fit"}
        assert reason(drawn, "of_a") == "it sees a but not b"
        assert drawn.fitness("cooling")["of_b"].streams == {"b"}

    def test_a_stream_that_is_not_active_is_not_missed(self):
        drawn = layout(*self.PATHS, modes={"cooling": {"evaporators": ["a"]}})
        assert verdicts(drawn) == {"of_a": "fit", "of_b": "idle", "of_both": "fit"}

    @pytest.mark.parametrize(
        ("valve", "ahead", "behind"),
        [(False, "fit", "fit"), (True, "partial", "mixed"), (None, "partial", "mixed")],
    )
    def test_a_subcooler_bypass_is_a_stream_of_its_own(self, valve, ahead, behind):
        drawn = layout(
            "evaporator:coil probe:ahead junction:j",
            "inlet:subcooler_bypass junction:j",
            "junction:j probe:behind transducer:p compressor:1",
            inlets={"subcooler_bypass": {"effect": "cools", "valve": "subcooler_valve"}},
        )
        found = drawn.fitness("cooling", {"subcooler_valve": valve})
        assert (found["ahead"].verdict, found["behind"].verdict) == (ahead, behind)
        assert found["behind"].streams == ({"coil"} if valve is False else {"coil", "subcooler_bypass"})
        if valve is not False:
            assert found["ahead"].reason == "it sees coil but not subcooler_bypass"

    @pytest.mark.parametrize("kind", ["oil_return", "hot_gas_bypass", "accumulator_bleed"])
    def test_what_only_joins_is_no_stream(self, kind):
        inlets = {"extra": {"effect": "warms", "kind": kind}}
        drawn = layout("evaporator:coil probe:ahead inlet:extra transducer:p compressor:1", inlets=inlets)
        assert verdicts(drawn) == {"ahead": "fit"}


class TestIdle:
    BRANCHES = (
        "evaporator:coil probe:common transducer:p split:s",
        "split:s probe:at_1 compressor:1",
        "split:s inlet:oil_return probe:at_2 compressor:2",
    )

    def test_a_stopped_compressors_branch(self):
        drawn = layout(*self.BRANCHES, inlets=OIL)
        assert verdicts(drawn, running=["1"]) == {"common": "fit", "at_1": "fit", "at_2": "idle"}
        assert verdicts(drawn, running=["2"]) == {"common": "fit", "at_1": "idle", "at_2": "mixed"}
        assert verdicts(drawn, running=["1", "2"]) == {"common": "fit", "at_1": "fit", "at_2": "mixed"}
        words = "no returning vapour passes here in cooling: compressor 2 stands"
        assert reason(drawn, "at_2", running=["1"]) == words

    def test_nothing_flows_where_all_stand(self):
        drawn = layout(*self.BRANCHES, inlets=OIL)
        assert set(verdicts(drawn, running=[]).values()) == {"idle"}
        words = "no returning vapour passes here in cooling: compressor 1 and 2 stands"
        assert reason(drawn, "common", running=[]) == words

    def test_where_it_is_not_known_what_runs_the_worst_holds(self):
        drawn = layout(*self.BRANCHES, inlets=OIL)
        assert verdicts(drawn) == {"common": "fit", "at_1": "idle", "at_2": "idle"}
        assert reason(drawn, "at_1") == (
            "no returning vapour passes here in cooling: compressor 1 stands "
            "(which compressors run is not known)"
        )
        assert reason(drawn, "common") == "all returning vapour, before anything is mixed in"

    def test_a_dead_leg(self):
        drawn = layout(
            "evaporator:coil junction:j",
            "evaporator:other probe:dead junction:j",
            "junction:j transducer:p compressor:1",
        )
        assert reason(drawn, "dead") == "no returning vapour passes here in cooling"

    def test_a_stopped_compressors_own_evaporator_is_no_active_stream(self):
        drawn = layout(
            "evaporator:a probe:of_a transducer:p compressor:1",
            "evaporator:b probe:of_b compressor:2",
            modes={"cooling": {"evaporators": ["a", "b"]}},
        )
        assert verdicts(drawn, running=["1"]) == {"of_a": "fit", "of_b": "idle"}
        assert verdicts(drawn, running=["1", "2"]) == {"of_a": "partial", "of_b": "partial"}


class TestHighSide:
    def drawn(self, *paths):
        modes = {
            "cooling": {"evaporators": ["coil"]},
            "heating": {"evaporators": ["coil"], "high_side": ["pipe"]},
        }
        return layout(*paths, modes=modes)

    def test_it_ends_with_the_pipe_run(self):
        for end in ("junction:j", "vessel:accumulator", "split:j", "segment:next"):
            drawn = self.drawn(
                f"evaporator:coil probe:before segment:pipe probe:on {end} probe:past "
                "transducer:p compressor:1"
            )
            assert verdicts(drawn, "cooling") == {"before": "fit", "on": "fit", "past": "fit"}
            assert verdicts(drawn, "heating") == {"before": "fit", "on": "high_side", "past": "fit"}

    def test_it_outweighs_all_else(self):
        inlets = OIL | BYPASS
        drawn = layout(
            "evaporator:coil segment:pipe inlet:oil_return probe:on transducer:p compressor:1",
            "inlet:hot_gas_bypass compressor:1",
            inlets=inlets,
            unproven={"on": ["hot_gas_bypass"]},
            modes={"cooling": {"evaporators": ["coil"], "high_side": ["pipe"]}},
        )
        assert verdicts(drawn) == {"on": "high_side"}
        assert reason(drawn, "on") == "pipe carries high-pressure gas in cooling"

    def test_a_pipe_run_goes_on_where_its_path_is_written_in_two(self):
        drawn = self.drawn(
            "evaporator:coil segment:pipe probe:first", "probe:first probe:second transducer:p compressor:1"
        )
        assert verdicts(drawn, "heating") == {"first": "high_side", "second": "high_side"}


class TestUnproven:
    def drawn(self, path):
        return layout(
            path, inlets=OIL | BYPASS if "oil_return" in path else BYPASS, unproven={"x": ["hot_gas_bypass"]}
        )

    @pytest.mark.parametrize("valves", [OPEN, UNKNOWN])
    @pytest.mark.parametrize("order", ["probe:x inlet:hot_gas_bypass", "inlet:hot_gas_bypass probe:x"])
    def test_either_side_of_the_inlet_as_drawn(self, valves, order):
        drawn = self.drawn(f"evaporator:coil {order} transducer:p compressor:1")
        assert verdicts(drawn, valves=valves) == {"x": "unproven"}
        words = "the layout does not say on which side of hot_gas_bypass it sits"
        assert reason(drawn, "x", valves=valves) == words
        assert drawn.fitness("cooling", valves)["x"].streams == {"coil"}
        assert not drawn.fitness("cooling", valves)["x"].joined

    @pytest.mark.parametrize("order", ["probe:x inlet:hot_gas_bypass", "inlet:hot_gas_bypass probe:x"])
    def test_an_inlet_known_shut_makes_the_side_not_matter(self, order):
        drawn = self.drawn(f"evaporator:coil {order} transducer:p compressor:1")
        assert verdicts(drawn, valves=SHUT) == {"x": "fit"}

    def test_another_inlet_that_has_joined_outweighs_the_doubt(self):
        drawn = self.drawn(
            "evaporator:coil inlet:oil_return probe:x inlet:hot_gas_bypass transducer:p compressor:1"
        )
        assert verdicts(drawn, valves=OPEN) == {"x": "mixed"}

    def test_a_stopped_branch_is_idle_and_not_in_doubt(self):
        drawn = layout(
            "evaporator:coil transducer:p split:s",
            "split:s probe:x inlet:hot_gas_bypass compressor:1",
            "split:s compressor:2",
            inlets=BYPASS,
            unproven={"x": ["hot_gas_bypass"]},
        )
        assert verdicts(drawn, valves=OPEN, running=["2"]) == {"x": "idle"}
        assert verdicts(drawn, valves=OPEN, running=["1"]) == {"x": "unproven"}


def walks(paths, start):
    """Every way along the written paths from a place, as lists of places."""
    ahead = [
        after for path in paths for before, after in zip(path, path[1:], strict=False) if before == start
    ]
    return [[start, *walk] for after in ahead for walk in walks(paths, after)] or [[start]]


def verdict_by_walking(given, probe, mode, valves, running):
    """The rules of fitness worked out anew: by walking every way from each source to a running compressor.

    What is not known of the coils is tried in every way that lets something evaporate.
    """
    piping, place = given["modes"][mode], ("probe", probe)
    by_valve = {
        name: coil
        for name, coil in given["coils"].items()
        if name not in piping["evaporators"] and coil["pipe"] not in piping["high_side"]
    }
    unknown = [coil["valve"] for coil in by_valve.values() if valves[coil["valve"]] is None]
    if unknown:
        tries = [
            valves | dict(zip(unknown, states, strict=True))
            for states in product((True, False), repeat=len(unknown))
        ]
        fed = [
            each
            for each in tries
            if piping["evaporators"] or any(each[coil["valve"]] for coil in by_valve.values())
        ]
        found = [verdict_by_walking(given, probe, mode, each, running) for each in fed or tries]
        return max(found, key=["fit", "partial", "unproven", "mixed", "idle", "high_side"].index)
    paths = [
        [(kind, str(name)) for spot in path for kind, name in spot.items()] for path in given["suction_side"]
    ]
    for path in paths:
        run = None
        for spot in path:
            if spot[0] in ("segment", "junction", "vessel", "split"):
                run = spot[1] if spot[0] == "segment" else None
            if spot == place and run in piping["high_side"]:
                return "high_side"
            if spot == place and any(
                run == coil["pipe"] and not valves[coil["valve"]] for coil in by_valve.values()
            ):
                return "idle"

    def is_open(name):
        return "valve" not in given["inlets"][name] or valves[given["inlets"][name]["valve"]] is not False

    def kind(name):
        return given["inlets"][name]["kind"]

    open_inlets = [name for name in given["inlets"] if is_open(name)]
    sources = [("evaporator", name) for name in piping["evaporators"]]
    sources += [("evaporator", name) for name, coil in by_valve.items() if valves[coil["valve"]]]
    sources += [("inlet", name) for name in open_inlets if kind(name) == "subcooler_bypass"]
    pulled = [("compressor", name) for name in running]
    ways = {source: [w for w in walks(paths, source) if w[-1] in pulled] for source in sources}
    active = {source for source, found in ways.items() if found}
    passing = {source for source, found in ways.items() if any(place in w for w in found)}
    joining = {
        name for name in open_inlets for w in walks(paths, ("inlet", name)) if place in w and w[-1] in pulled
    }
    if len(passing) == 1:  # a stream does not join itself on its own branch
        joining -= {name for kind_of_source, name in passing if kind_of_source == "inlet"}
    doubt = set(given["unproven"].get(probe, ())) & set(open_inlets)
    is_pulled = any(w[-1] in pulled for w in walks(paths, place))
    if active and joining - doubt:
        return "mixed"
    if not passing:
        return "idle"
    if doubt and is_pulled:
        return "unproven"
    return "fit" if passing == active else "partial"


@law
@given(st.data())
def test_the_rules_worked_out_by_walking_agree(data):
    given = data.draw(mappings())
    drawn = Layout.from_mapping(given)
    compressors = list(drawn.compressors)
    mode, valves, running = data.draw(situations(drawn, st.sampled_from([compressors, compressors[:1], []])))
    found = verdicts(drawn, mode, valves, running)
    assert found == {
        probe: verdict_by_walking(given, probe, mode, valves, running) for probe in drawn.suction_probes
    }


@law
@given(st.data())
def test_the_order_of_writing_does_not_matter(data):
    given = data.draw(mappings())
    drawn = Layout.from_mapping(given)
    situation = data.draw(situations(drawn))
    shuffled = given | {"suction_side": data.draw(st.permutations(given["suction_side"]))}
    other = Layout.from_mapping(shuffled)
    assert other.fitness(*situation) == drawn.fitness(*situation)
    assert other.choose(*situation) == drawn.choose(*situation)


@law
@given(st.data())
def test_one_more_inlet_upstream_never_makes_a_probe_better(data):
    given = data.draw(mappings().filter(lambda m: "probe_1" in str(m["suction_side"])))
    drawn = Layout.from_mapping(given)
    situation = data.draw(situations(drawn))
    probe = data.draw(st.sampled_from(drawn.suction_probes))
    more = with_inlet(given, probe, "extra", data.draw(inlet_bodies("extra")), data.draw(st.integers(0, 3)))
    before, after = drawn.fitness(*situation)[probe], Layout.from_mapping(more).fitness(*situation)[probe]
    assert before.verdict not in BETTER_THAN.get(after.verdict, ())


@law
@given(st.data())
def test_an_inlet_known_shut_is_as_good_as_absent(data):
    given = data.draw(mappings().filter(lambda m: any("valve" in body for body in m["inlets"].values())))
    drawn = Layout.from_mapping(given)
    name = data.draw(st.sampled_from([n for n, body in sorted(given["inlets"].items()) if "valve" in body]))
    mode, valves, running = data.draw(situations(drawn))
    valves[given["inlets"][name]["valve"]] = False
    absent = Layout.from_mapping(without_inlet(given, name))
    assert drawn.fitness(mode, valves, running) == absent.fitness(mode, valves, running)


@law
@given(st.data())
def test_not_knowing_what_runs_is_never_better_than_knowing(data):
    given = data.draw(mappings())
    drawn = Layout.from_mapping(given)
    mode, valves, running = data.draw(situations(drawn, st.sampled_from([["1"], ["2"], ["1", "2"]])))
    unknown, known = drawn.fitness(mode, valves), drawn.fitness(mode, valves, running)
    for probe in known:
        assert known[probe].verdict not in BETTER_THAN.get(unknown[probe].verdict, ())
        assert unknown[probe].verdict != "fit" or known[probe].verdict in ("fit", "idle")


@law
@given(st.data())
def test_not_knowing_what_a_valve_tells_is_never_better_than_knowing(data):
    given = data.draw(mappings())
    drawn = Layout.from_mapping(given)
    mode, valves, running = data.draw(situations(drawn))
    forgotten = data.draw(st.sets(st.sampled_from(drawn.valves or ("none",))))
    known = drawn.fitness(mode, valves, running)
    unknown = drawn.fitness(mode, valves | dict.fromkeys(forgotten & set(drawn.valves)), running)
    for probe in known:
        assert known[probe].verdict not in BETTER_THAN.get(unknown[probe].verdict, ())
        assert unknown[probe].verdict != "fit" or known[probe].verdict in ("fit", "idle")


@law
@given(st.data())
def test_opening_an_inlet_never_makes_a_probe_better(data):
    given = data.draw(mappings().filter(lambda m: any("valve" in body for body in m["inlets"].values())))
    drawn = Layout.from_mapping(given)
    mode, valves, running = data.draw(situations(drawn))
    valve = data.draw(st.sampled_from(drawn.inlet_valves))
    shut = drawn.fitness(mode, valves | {valve: False}, running)
    for state in (True, None):
        opened = drawn.fitness(mode, valves | {valve: state}, running)
        for probe in shut:
            assert shut[probe].verdict not in BETTER_THAN.get(opened[probe].verdict, ())


@law
@given(st.data())
def test_names_mean_nothing(data):
    given = data.draw(mappings())
    drawn = Layout.from_mapping(given)
    mode, valves, running = data.draw(situations(drawn))
    old = names_in(given)
    names = dict(zip(old, data.draw(st.permutations([f"n{n}" for n in range(len(old))])), strict=True))
    other = Layout.from_mapping(renamed(given, names)).fitness(
        mode,
        {names[valve]: state for valve, state in valves.items()},
        None if running is None else [names[str(c)] for c in running],
    )
    for probe, found in drawn.fitness(mode, valves, running).items():
        assert other[names[probe]].verdict == found.verdict
        assert other[names[probe]].joined == {names[name] for name in found.joined}


@law
@given(st.data())
def test_a_path_may_be_written_in_pieces(data):
    given = data.draw(mappings())
    drawn = Layout.from_mapping(given)
    situation = data.draw(situations(drawn))
    pieces = [[path[i : i + 2] for i in range(len(path) - 1)] for path in given["suction_side"]]
    other = Layout.from_mapping(given | {"suction_side": [piece for path in pieces for piece in path]})
    assert other.fitness(*situation) == drawn.fitness(*situation)


def test_better_than_is_a_partial_order():
    for better, worse in BETTER_THAN.items():
        assert better not in worse
        for each in worse:
            assert BETTER_THAN.get(each, frozenset()) < worse
    assert "idle" not in BETTER_THAN
    assert "high_side" not in BETTER_THAN
