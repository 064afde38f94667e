"""What a probe is worth: the laws that hold whatever the layout, and the rules worked out by walking."""

from itertools import product

from hypothesis import given, settings
from hypothesis import strategies as st

from agent.piping import BETTER_THAN, Layout
from tests.piping.layouts import (
    inlet_bodies,
    mappings,
    names_in,
    renamed,
    situations,
    with_inlet,
    without_inlet,
)
from tests.piping.test_fitness import verdicts

law = settings(max_examples=150, deadline=None)
SHUT, OPEN, UNKNOWN = {"bypass_valve": False}, {"bypass_valve": True}, {"bypass_valve": None}


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
