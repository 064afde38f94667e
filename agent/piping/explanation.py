"""All that a piping has to say: each probe and each place, mode by mode, and what would be measurable.

The base case is every inlet with a valve shut and every compressor running; what differs with one valve open
or not known is said where it matters.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Mapping
from dataclasses import dataclass
from typing import Generic, TypeVar

from agent.piping.advice import Advice, advise
from agent.piping.cases import base_case, described, other_cases
from agent.piping.choice import Choice, choose
from agent.piping.drawing import Drawing, draw
from agent.piping.fitness import Fitness, ProbeFitness
from agent.piping.graph import Graph

Found = TypeVar("Found", ProbeFitness, Choice)


@dataclass(frozen=True)
class Case(Generic[Found]):
    """What holds in a mode, and what holds instead when a valve is as the words say."""

    found: Found
    changes: tuple[tuple[str, Found], ...]


@dataclass(frozen=True)
class Explanation:
    """A layout explained in some of its modes.

    ``probes`` and ``places``: by name, then by mode, in flow order. ``advice``: per place the probes that it
    lacks. ``silent`` and ``silent_valves``: the probes and the valves of the layout that no reading tells of.
    """

    layout: Graph
    modes: tuple[str, ...]
    drawing: Drawing
    probes: Mapping[str, Mapping[str, Case[ProbeFitness]]]
    places: Mapping[str, Mapping[str, Case[Choice]]]
    advice: Mapping[str, tuple[Advice, ...]]
    silent: tuple[str, ...] = ()
    silent_valves: tuple[str, ...] = ()


def explain(
    layout: Graph,
    modes: Collection[str] | None = None,
    available: Collection[str] | None = None,
    configured_probe: str | None = None,
    silent_valves: Collection[str] = (),
) -> Explanation:
    """Explain a layout. ``modes``: only these (None: all that it describes).

    ``available`` holds the probes that give readings (None: all); ``configured_probe`` is the site's own;
    ``silent_valves`` are those that no reading tells of.
    """
    explained = described(layout, modes)
    cases = {mode: base_case(layout, mode, silent_valves) for mode in explained}
    drawing = draw(layout, tuple(cases.values()), available, configured_probe)
    now = {mode: choose(layout, case, available) for mode, case in cases.items()}
    others = {
        mode: [
            (valve, state, choose(layout, case, available))
            for valve, state, case in other_cases(layout, mode, silent_valves)
        ]
        for mode in explained
    }

    def fitness(probe: str, mode: str) -> Case[ProbeFitness]:
        found = now[mode].fitness[probe]
        elsewise = [(valve, state, choices.fitness[probe]) for valve, state, choices in others[mode]]
        return Case(found, _changes(layout, found, elsewise, _worth))

    def choice(place: str, mode: str) -> Case[Choice]:
        found = now[mode].places[place]
        elsewise = [(valve, state, choices.places[place]) for valve, state, choices in others[mode]]
        return Case(found, _changes(layout, found, elsewise, _chosen))

    known = {*layout.suction_probes, *layout.discharge_probes}
    drawn = [row.place.name for row in drawing.rows if row.place and row.place.kind == "probe"]
    silent = [p for p in drawn if p in layout.suction_probes and available is not None and p not in available]
    probes = [probe for probe in drawn if probe in known and probe not in silent]
    places = now[explained[0]].places if explained else ()
    return Explanation(
        layout,
        explained,
        drawing,
        {probe: {mode: fitness(probe, mode) for mode in explained} for probe in probes},
        {place: {mode: choice(place, mode) for mode in explained} for place in places},
        {place: advise(layout, place, explained, available, silent_valves) for place in places},
        tuple(silent),
        tuple(silent_valves),
    )


def _worth(found: ProbeFitness, by_coil: bool) -> object:
    """What would be worth saying again where it differs."""
    if by_coil or found.verdict is Fitness.IDLE:
        return found.verdict, found.reason
    return found.verdict, found.joined, found.streams if found.verdict is Fitness.PARTIAL else None


def _chosen(found: Choice, by_coil: bool) -> object:
    return found.standing, found.probes, found.reason if by_coil else ""


def _changes(
    layout: Graph,
    now: Found,
    others: list[tuple[str, str, Found]],
    essence: Callable[[Found, bool], object],
) -> tuple[tuple[str, Found], ...]:
    """What differs, with the positions of an inlet's valve that come to the same said together.

    What a coil does not do and what is not known of it have reasons of their own.
    """
    words: dict[tuple[str, object], list[str]] = {}
    last: dict[tuple[str, object], Found] = {}
    for subject, state, found in others:
        by_coil = subject in layout.coils
        key = (subject, essence(found, by_coil))
        if key[1] != essence(now, by_coil):
            words.setdefault(key, []).append(state)
            last[key] = found
    return tuple((f"{key[0]} {' or '.join(states)}", last[key]) for key, states in words.items())
