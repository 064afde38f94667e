"""The tables of a brief: figures of now, fitness, shares of time, days, and what had no value and why."""

from __future__ import annotations

from collections.abc import Iterator
from typing import NamedTuple

import numpy as np

from agent.assess import (
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    MODES,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
    Assessment,
    Quantity,
    Status,
)
from agent.assess.frames import BoolArray
from agent.assess.mode_codes import CODE
from agent.outlets.doubt import in_doubt
from agent.outlets.figures import WORDS, least_to_most, share, told
from agent.outlets.shown import spaced
from agent.outlets.terminal.evidence import CONDITIONS
from agent.outlets.times import length
from agent.outlets.view import NO_VERDICT, unfit
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.course import STILL, Course, Curve
from agent.piping import (
    ACCUMULATOR_OUTLET,
    NOT_KNOWN,
    RETURN,
    RISE,
    STEADY_MODES,
    ProbeFitness,
)

_NAMES = {RETURN: "return superheat", RISE: "oil-return rise", SUBCOOLING: "subcooling"}
_REPEATED = 60_000_000  # shorter times are not worth a line
Row = tuple[str, ...]


class ModeRow(NamedTuple):
    """How long a mode was, and how much of it return superheat was decided for."""

    mode: str
    lasted: str
    decided: str


class UndecidedRow(NamedTuple):
    """Why a quantity had no decided value, in which modes, and for how long together."""

    quantity: str
    status: str
    modes: str
    lasted: str
    why: str


def now_rows(brief: Brief) -> Iterator[Row]:
    """Quantity, figure, where it is taken and why; of the newest assessment."""
    assessment = brief.view.assessment
    if assessment is None:
        return
    display = brief.display
    for name, quantity in _named(assessment):
        is_temperature = name.startswith(("discharge temperature", "saturated"))
        probes = " - ".join(quantity.said.probes)
        words = display.words(quantity.said.text)
        place = f"{probes}: {words}" if probes and words and probes not in words else words or probes
        doubt = in_doubt(brief.view, RETURN) if name.endswith(("superheat", "rise")) else None
        yield (
            name,
            told(quantity, display, is_temperature=is_temperature),
            f"{doubt}; {place}" if doubt else place,
        )


def _named(assessment: Assessment) -> Iterator[tuple[str, Quantity]]:
    quantities = assessment.quantities
    yield "return superheat", quantities[RETURN]
    if quantities[ACCUMULATOR_OUTLET].said.probes:
        yield "accumulator-outlet superheat", quantities[ACCUMULATOR_OUTLET]
    for probe, quantity in unfit(assessment):
        verdict, reason = assessment.fitness[probe]
        if verdict in NO_VERDICT:
            said = quantity.said._replace(text=f"not fit ({verdict}): {reason}", probes=(probe,))
            yield "apparent superheat", quantity._replace(said=said)
    yield "oil-return rise", quantities[RISE]
    for prefix, word in ((DISCHARGE_TEMPERATURE, "temperature"), (DISCHARGE_SUPERHEAT, "superheat")):
        for name, quantity in quantities.items():
            if name.startswith(prefix):
                yield f"discharge {word}, compressor {name.removeprefix(prefix)}", quantity
    if SUBCOOLING in quantities:
        yield "subcooling", quantities[SUBCOOLING]
    for name, word in ((SATURATED_SUCTION, "suction"), (SATURATED_CONDENSING, "condensing")):
        if name in quantities:
            yield f"saturated {word}", quantities[name]


class FitnessRow(NamedTuple):
    """What probes are worth in some modes; ``changes``: what differs with a valve as it says."""

    probes: str
    modes: str
    verdict: str
    reason: str
    changes: tuple[str, ...]


def fitness_rows(brief: Brief) -> Iterator[FitnessRow]:
    """Probes and modes of which the same is said share a row."""
    every = brief.explanation.modes
    said: dict[tuple[FitnessRow, ...], list[str]] = {}
    for probe, by_mode in brief.explanation.probes.items():
        modes: dict[FitnessRow, list[str]] = {}
        for mode, case in by_mode.items():
            changes = (f"{when}: {_verdict(other)}, {other.reason}" for when, other in case.changes)
            row = FitnessRow("", "", _verdict(case.found), case.found.reason, tuple(changes))
            modes.setdefault(row, []).append(mode)
        rows = tuple(
            row._replace(modes="every mode" if tuple(names) == every and len(names) > 1 else ", ".join(names))
            for row, names in modes.items()
        )
        said.setdefault(rows, []).append(probe)
    for rows, probes in said.items():
        yield from (row._replace(probes=", ".join(probes)) for row in rows)
    for probe in brief.explanation.silent:
        why = f"the layout has it, the module has no signal {probe}"
        yield FitnessRow(probe, "every mode", "no readings", why, ())


def _verdict(found: ProbeFitness) -> str:
    return spaced(found.verdict)


def mode_rows(brief: Brief) -> Iterator[ModeRow]:
    """The modes by how long they were, and time without any assessment."""
    course = brief.course
    returned = course.curves.get(RETURN)
    found = [(mode, course.mode == CODE[mode]) for mode in MODES]
    for mode, where in sorted(found, key=lambda each: -course.us(each[1])):
        if not where.any():
            continue
        decided = "–"
        if mode not in STILL:
            decided_us = 0 if returned is None else course.us(where & returned.decided)
            decided = share(decided_us, course.us(where))
        yield ModeRow(spaced(mode), length(course.us(where)), decided)
    if course.unassessed_us > course.step_us:
        yield ModeRow("nothing assessed", length(course.unassessed_us), "–")


def undecided_rows(brief: Brief) -> Iterator[UndecidedRow]:
    """Of running, by quantity and reason, the longest first; what a steady mode lacks before the rest."""
    found: dict[tuple[str, Status, str], dict[str, int]] = {}
    for each in brief.course.undecided:
        if each.mode not in STILL and each.us >= _REPEATED:
            text = brief.display.words(each.said.text)
            modes = found.setdefault((each.quantity, each.said.status, text), {})
            modes[each.mode] = modes.get(each.mode, 0) + each.us
    order = list(_NAMES)
    for (name, status, text), modes in sorted(
        found.items(), key=lambda each: (order.index(each[0][0]), -sum(each[1].values()))
    ):
        said = ", ".join(spaced(mode) for mode in sorted(modes, key=lambda mode: -modes[mode]))
        yield UndecidedRow(_NAMES[name], WORDS[status], said, length(sum(modes.values())), text)


def day_columns(brief: Brief) -> Row:
    """The heads of the table of days."""
    k, c = brief.display.difference_unit, brief.display.temperature_unit
    return (
        "day",
        "ran",
        "could be told",
        f"return superheat [{k}]",
        f"rise [{k}]",
        f"hottest discharge [{c}]",
        f"subcooling [{k}]",
    )


def day_rows(brief: Brief) -> Iterator[Row]:
    """By the days of the site's clock: how long it ran, for how much superheat was decided, and extremes."""
    course, display = brief.course, brief.display
    if not len(course.grid_us):
        return
    days = np.array([display.at(int(us)).toordinal() for us in course.grid_us])
    returned = course.curves.get(RETURN)
    hot = [curve for name, curve in course.curves.items() if name.startswith(DISCHARGE_TEMPERATURE)]
    for day in np.unique(days):
        where = days == day
        ran = where & course.is_running
        decided_us = 0 if returned is None else course.us(ran & returned.decided)
        hottest = [value for curve in hot if (value := _most(curve, ran)) is not None]
        yield (
            f"{display.at(int(course.grid_us[where][0])):%a %d %b}",
            f"{course.us(ran) / 3.6e9:.1f} h" if ran.any() else _not_seen_running(course, where),
            share(decided_us, course.us(ran)) if ran.any() else "–",
            *(_range(course, name, where, brief) for name in (RETURN, RISE)),
            f"{display.temperature(max(hottest)):.1f}" if hottest else "–",
            _range(course, SUBCOOLING, where, brief),
        )


def _not_seen_running(course: Course, where: BoolArray) -> str:
    return "stood still" if course.is_off[where].all() else "mode not known"


def _range(course: Course, name: str, where: BoolArray, brief: Brief) -> str:
    curve = course.curves.get(name)
    if curve is None:
        return "–"
    values = curve.value[where & curve.decided]
    if not len(values):
        return "–"
    told_as = brief.display.difference
    return least_to_most(told_as(float(values.min())), told_as(float(values.max())))


def _most(curve: Curve, where: BoolArray) -> float | None:
    values = curve.value[where]
    values = values[~np.isnan(values)]
    return float(values.max()) if len(values) else None


def found_by_hour(brief: Brief) -> Iterator[Row]:
    """What is judged over hours and is not as usual: alarm's name, in a word, the figures."""
    for name, finding in (brief.evidence.findings if brief.evidence else {}).items():
        yield name, CONDITIONS[finding.condition], brief.display.words(finding.facts.text)


def used_modes(brief: Brief) -> tuple[str, ...]:
    """The mode of now where the layout describes it, else the one that it ran in longest, else the first."""
    assessment, described = brief.view.assessment, brief.explanation.modes
    if brief.module.module.layout.name == NOT_KNOWN:
        return ()
    if assessment is not None and assessment.mode in described:
        return (assessment.mode,)
    ran = [mode for mode in STEADY_MODES if mode in described and (brief.course.mode == CODE[mode]).any()]
    longest = max(ran, key=lambda mode: brief.course.us(brief.course.mode == CODE[mode]), default=None)
    return (longest,) if longest else described[:1]
