"""Layouts for the tests: the shipped ones, one that can be changed at will, and random small ones."""

from copy import deepcopy
from pathlib import Path

import yaml
from hypothesis import strategies as st

from agent.piping import Layout

FOLDER = Path(__file__).parents[2] / "config" / "layouts"


def shipped(name):
    return yaml.safe_load((FOLDER / f"{name}.yaml").read_text())


def places(words):
    """'evaporator:coil probe:gas' as the list of places that a path is."""
    return [{kind: name} for kind, name in (word.split(":") for word in words.split())]


def mapping(*paths, inlets=None, modes=None, unproven=None, **more):
    """A layout's mapping from paths in words; cooling with one evaporator called coil unless said."""
    return {
        "layout": "drawn-for-a-test",
        "suction_side": [places(path) for path in paths],
        "inlets": inlets or {},
        "modes": modes or {"cooling": {"evaporators": ["coil"]}},
        **({"unproven": unproven} if unproven else {}),
        **more,
    }


def layout(*paths, **more):
    return Layout.from_mapping(mapping(*paths, **more))


OIL = {"oil_return": {"effect": "warms"}}
BYPASS = {"hot_gas_bypass": {"effect": "warms", "valve": "bypass_valve"}}


@st.composite
def mappings(draw):
    """One to three evaporators that join ahead of a trunk, and one or two compressors behind it.

    Probes, pipe runs and inlets sit anywhere; an accumulator, valves, reversed pipes, coils whose role a
    valve tells, a bypass stream of its own and doubt about a probe's side may be there or not.
    """
    count = {"probe": 0, "segment": 0, "inlet": 0}
    inlets = {}

    def some(most):
        found = []
        for kind in draw(st.lists(st.sampled_from(("probe", "segment", "inlet")), max_size=most)):
            count[kind] += 1
            name = f"{kind}_{count[kind]}"
            if kind == "inlet":
                inlets[name] = draw(inlet_bodies(name))
            found.append({kind: name})
        return found

    evaporators = [f"evaporator_{n}" for n in range(draw(st.integers(1, 3)))]
    coils = {
        name: {"valve": f"valve_of_{name}", "pipe": f"pipe_of_{name}"} for name in draw(subsets(evaporators))
    }
    paths = [
        [
            {"evaporator": name},
            *([{"segment": coils[name]["pipe"]}] if name in coils else []),
            *some(3),
            {"junction": "low_side"},
        ]
        for name in evaporators
    ]
    if draw(st.booleans()):
        inlets["inlet_0"] = {"effect": "cools", "kind": "subcooler_bypass", "valve": "valve_0"}
        paths.append([{"inlet": "inlet_0"}, {"junction": draw(st.sampled_from(("low_side", "late")))}])
    trunk = [{"junction": "low_side"}, *some(2)]
    if draw(st.booleans()):
        trunk += [{"vessel": "accumulator"}, *some(2)]
    trunk += [{"transducer": "suction_pressure"}, {"junction": "late"}, *some(1), {"split": "compressors"}]
    paths.append(trunk)
    paths += [
        [{"split": "compressors"}, *some(2), {"compressor": n}] for n in range(1, draw(st.integers(1, 2)) + 1)
    ]
    segments = [f"segment_{n}" for n in range(1, count["segment"] + 1)]
    probes = [f"probe_{n}" for n in range(1, count["probe"] + 1)]
    modes = {}
    for mode in ("cooling", "heating"):
        named = draw(subsets(evaporators))
        reversing = draw(subsets([coils[name]["pipe"] for name in coils if name not in named]))
        if not named and len(reversing) == len(coils):  # something must be able to feed the line
            named, reversing = [evaporators[0]], []
        modes[mode] = {"evaporators": named, "high_side": draw(subsets(segments)) + reversing}
    unproven = {p: draw(subsets(sorted(inlets))) for p in draw(subsets(probes))}
    return {
        "layout": "random",
        "suction_side": paths,
        "inlets": inlets,
        "modes": modes,
        "unproven": unproven,
        "coils": coils,
    }


@st.composite
def inlet_bodies(draw, name):
    body = {
        "effect": draw(st.sampled_from(("warms", "cools", "either"))),
        "kind": draw(
            st.sampled_from(("oil_return", "hot_gas_bypass", "subcooler_bypass", "accumulator_bleed"))
        ),
    }
    if draw(st.booleans()):
        body["valve"] = f"valve_of_{name}"
    return body


def subsets(names, least=0):
    if not names:
        return st.just([])
    return st.lists(st.sampled_from(names), min_size=least, unique=True)


@st.composite
def situations(draw, drawn, running=None):
    """What the piping of a layout may be doing: arguments of ``fitness`` and ``choose``."""
    valves = {valve: draw(st.sampled_from((True, False, None))) for valve in drawn.valves}
    if running is None:
        running = st.none() | subsets(list(drawn.compressors))
    return draw(st.sampled_from(("cooling", "heating"))), valves, draw(running)


def names_in(given):
    """Every name of a piping: of places and of valves."""
    places = {str(name) for path in given["suction_side"] for spot in path for name in spot.values()}
    bodies = [*given["inlets"].values(), *given["coils"].values()]
    return sorted(places | {body["valve"] for body in bodies if "valve" in body})


def renamed(given, names):
    """The same piping under other names; ``names``: old to new."""

    def body(old):
        return old | {key: names[old[key]] for key in ("valve", "pipe") if key in old}

    return given | {
        "suction_side": [
            [{kind: names[str(name)] for kind, name in spot.items()} for spot in path]
            for path in given["suction_side"]
        ],
        "inlets": {names[name]: body(inlet) for name, inlet in given["inlets"].items()},
        "coils": {names[name]: body(coil) for name, coil in given["coils"].items()},
        "modes": {
            mode: {key: [names[name] for name in listed] for key, listed in piping.items()}
            for mode, piping in given["modes"].items()
        },
        "unproven": {
            names[probe]: [names[name] for name in listed] for probe, listed in given["unproven"].items()
        },
    }


def without_inlet(given, name):
    """The same piping where nothing joins at that inlet."""
    changed = deepcopy(given)
    changed["suction_side"] = [
        path
        for path in ([p for p in path if p != {"inlet": name}] for path in changed["suction_side"])
        if len(path) > 1
    ]
    del changed["inlets"][name]
    changed["unproven"] = {
        probe: [inlet for inlet in inlets if inlet != name] for probe, inlets in changed["unproven"].items()
    }
    return changed


def with_inlet(given, probe, name, body, back):
    """The same piping with one more inlet in the path of a probe, ``back`` places ahead of it at most."""
    changed = deepcopy(given)
    for path in changed["suction_side"]:
        if {"probe": probe} in path:
            path.insert(max(1, path.index({"probe": probe}) - back), {"inlet": name})
    changed["inlets"][name] = body
    return changed
