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
from agent.piping.fitness import ProbeFitness
from agent.piping.graph import Graph

Found = TypeVar("Found", ProbeFitness, Choice)


@dataclass(frozen=True)
class Case(Generic[Found]):
    """What holds in these modes, and what holds instead when a valve is as the words say."""

    modes: tuple[str, ...]
    found: Found
    changes: tuple[tuple[str, Found], ...]


@dataclass(frozen=True)
class Explanation:
    """A layout explained in some of its modes. ``advice``: per place the probes that it lacks."""

    layout: Graph
    modes: tuple[str, ...]
    drawing: Drawing
    probes: Mapping[str, tuple[Case[ProbeFitness], ...]]
    places: Mapping[str, tuple[Case[Choice], ...]]
    advice: Mapping[str, tuple[Advice, ...]]
    silent: tuple[str, ...] = ()  # probes of the layout that give no readings


def explain(
    layout: Graph,
    modes: Collection[str] | None = None,
    available: Collection[str] | None = None,
    configured_probe: str | None = None,
) -> Explanation:
    """Explain a layout. ``modes``: only these (None: all that it describes).

    ``available`` holds the probes that give readings (None: all); ``configured_probe`` is the site's own.
    """
    explained = described(layout, modes)
    base = {mode: base_case(layout, mode) for mode in explained}
    now = {mode: choose(layout, base[mode], available) for mode in explained}
    others = {
        mode: [
            (valve, words, choose(layout, case, available))
            for valve, words, case in other_cases(layout, mode)
        ]
        for mode in explained
    }
    giving = layout.suction_probes if available is None else available
    silent = tuple(probe for probe in layout.suction_probes if probe not in giving)
    probes = {
        probe: _grouped(
            {
                mode: (
                    now[mode].fitness[probe],
                    [(valve, words, choices.fitness[probe]) for valve, words, choices in others[mode]],
                )
                for mode in explained
            },
            lambda fitness: (fitness.verdict, fitness.streams, fitness.joined),
        )
        for probe in (*layout.suction_probes, *layout.discharge_probes)
        if probe not in silent
    }
    places = {
        place: _grouped(
            {
                mode: (
                    now[mode].places[place],
                    [(valve, words, choices.places[place]) for valve, words, choices in others[mode]],
                )
                for mode in explained
            },
            lambda choice: (choice.standing, choice.probes),
        )
        for place in (now[explained[0]].places if explained else ())
    }
    return Explanation(
        layout,
        explained,
        draw(layout, tuple(base.values()), available, configured_probe),
        probes,
        places,
        {place: advise(layout, place, explained, available) for place in places},
        silent,
    )


def _grouped(
    by_mode: Mapping[str, tuple[Found, list[tuple[str, str, Found]]]], essence: Callable[[Found], object]
) -> tuple[Case[Found], ...]:
    """One case for the modes that have all in common. ``essence``: what makes a change worth saying."""
    found: dict[tuple[Found, tuple[tuple[str, Found], ...]], list[str]] = {}
    for mode, (now, others) in by_mode.items():
        found.setdefault((now, _changes(now, others, essence)), []).append(mode)
    return tuple(Case(tuple(modes), now, changes) for (now, changes), modes in found.items())


def _changes(
    now: Found, others: list[tuple[str, str, Found]], essence: Callable[[Found], object]
) -> tuple[tuple[str, Found], ...]:
    """What differs, with the positions of a valve that come to the same said together."""
    words: dict[tuple[str, object], list[str]] = {}
    last: dict[tuple[str, object], Found] = {}
    for valve, state, found in others:
        if essence(found) != essence(now):
            words.setdefault((valve, essence(found)), []).append(state)
            last[valve, essence(found)] = found
    return tuple(
        (f"{valve} {' or '.join(states)}", last[valve, key]) for (valve, key), states in words.items()
    )
