"""The quantities of a module as rows of a table: a figure with its uncertainty, or why there is none."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import NamedTuple

from agent.assess import (
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    Assessment,
    Quantity,
    Status,
)
from agent.outlets.doubt import before, impossible, in_doubt
from agent.outlets.highside import WORDS, highside_lines, of_compressors
from agent.outlets.metrics import unfit
from agent.outlets.shown import SI, Display
from agent.outlets.view import ModuleView
from agent.piping import ACCUMULATOR_OUTLET, RETURN, RISE, Fitness

_SATURATION = {SATURATED_SUCTION: "saturated suction", SATURATED_CONDENSING: "saturated condensing"}
_APPARENT = (Fitness.MIXED, Fitness.PARTIAL, Fitness.UNPROVEN)
APPARENT = "apparent superheat"


class Row(NamedTuple):
    """``state``: which of the four reasons there is no value; empty where there is one."""

    name: str
    figure: str
    state: str
    why: str
    unfit: bool = False  # taken at a probe that is not fit: no verdict


def rows(view: ModuleView, assessment: Assessment, display: Display = SI) -> Iterator[Row]:
    """All that an assessment says, return superheat first."""
    doubt = in_doubt(view, RETURN)
    yield superheat("return superheat", assessment.quantities[RETURN], display, (doubt,))
    outlet = assessment.quantities[ACCUMULATOR_OUTLET]
    yield superheat("accumulator outlet", outlet, display, (doubt,))
    for probe, quantity in unfit(assessment):
        fitness, reason = assessment.fitness[probe]
        if fitness in _APPARENT:
            row = superheat(f"{APPARENT} at {probe}", quantity, display)
            why = f"{probe} is {fitness.replace('_', ' ')}: {reason}"
            yield row._replace(why=why if quantity.decided else f"{row.why}; {why}", unfit=True)
    cannot_be = impossible(assessment, view.layout) if view.layout else None
    yield superheat("oil-return rise", assessment.quantities[RISE], display, (doubt, cannot_be))
    for compressor, hot in of_compressors(assessment, DISCHARGE_TEMPERATURE):
        yield temperature(f"discharge {compressor} temperature", hot, display)
    yield from _highside(assessment, display)
    for key, name in _SATURATION.items():
        if key in assessment.quantities:
            yield temperature(name, assessment.quantities[key], display)
    if PRESSURE_RATIO in assessment.quantities:
        yield _ratio(assessment.quantities[PRESSURE_RATIO])


def _highside(assessment: Assessment, display: Display) -> Iterator[Row]:
    """Discharge superheat with what it says of the gas that came in, and subcooling."""
    hot = dict(of_compressors(assessment, DISCHARGE_TEMPERATURE))
    for name, shown, why in highside_lines(assessment):
        if name == "saturation":
            continue
        compressor = name.removeprefix("discharge ")
        if compressor != name:
            value = hot[compressor].value if compressor in hot else None
            why = why if value is None else why.removeprefix(f"{value:.1f} degC; ")
            name += " superheat"
        if shown in WORDS.values():
            yield Row(name, "", shown, display.words(why))
        else:
            yield Row(name, display.words(shown.strip()), "", display.words(why))


def superheat(name: str, quantity: Quantity, display: Display = SI, first: Sequence[str | None] = ()) -> Row:
    """A superheat, or another difference of temperatures. ``first``: what is said ahead of all else."""
    shown = figure(quantity, display)
    doubts = [display.words(each) if each else None for each in first]
    if quantity.decided:
        return Row(name, shown, "", before(doubts, _reason(quantity, display)))
    moving = quantity.said.status is Status.NOT_SETTLED and quantity.value is not None
    now = f" (now {shown})" if moving else ""
    return Row(name, "", WORDS[quantity.said.status], before(doubts, _reason(quantity, display) + now))


def figure(quantity: Quantity, display: Display = SI) -> str:
    """A difference with its expanded uncertainty, in the site's unit; empty where there is no value."""
    if quantity.value is None:
        return ""
    unit, value = display.difference_unit, display.difference(quantity.value)
    if quantity.below is None or quantity.above is None:
        return f"{value:.1f} {unit}, uncertainty not known"
    return f"{value:.1f} {unit} {_spread(quantity.below, quantity.above, display)}"


def temperature(name: str, quantity: Quantity, display: Display = SI) -> Row:
    """A temperature: what was read stands there too where it has not settled."""
    if quantity.value is None:
        return Row(name, "", WORDS.get(quantity.said.status, ""), _reason(quantity, display))
    shown = f"{display.temperature(quantity.value):.1f} {display.temperature_unit}"
    if quantity.below is not None and quantity.above is not None:
        shown += f" {_spread(quantity.below, quantity.above, display)}"
    words = WORDS.get(quantity.said.status, "")
    return Row(name, shown, "", before((words,), _reason(quantity, display)))


def _ratio(quantity: Quantity) -> Row:
    if quantity.decided and quantity.value is not None:
        return Row("pressure ratio", f"{quantity.value:.2f}", "", quantity.said.text)
    return Row("pressure ratio", "", WORDS.get(quantity.said.status, ""), quantity.said.text)


def _reason(quantity: Quantity, display: Display) -> str:
    """Probes and words; a probe that the words name themselves is not said twice."""
    said, text = quantity.said, display.words(quantity.said.text)
    probes = "" if all(probe in text for probe in said.probes) else " - ".join(said.probes)
    return ": ".join(filter(None, (probes, text)))


def _spread(below: float, above: float, display: Display) -> str:
    low, high = f"{display.difference(below):.1f}", f"{display.difference(above):.1f}"
    return f"±{high}" if low == high else f"-{low} +{high}"
