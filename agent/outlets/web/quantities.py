"""The quantities of a module as rows of a table: a figure with its uncertainty, or why there is none."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import NamedTuple

from agent.alarms import CATALOGUE, Entry
from agent.alarms.catalogue import PROBE_UNFIT
from agent.assess import (
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SATURATED_SUCTION,
    SUBCOOLING,
    Assessment,
    Quantity,
    Status,
)
from agent.outlets.doubt import before, impossible, in_doubt
from agent.outlets.figures import WORDS, between, difference, level
from agent.outlets.highside import highside_lines, of_compressors
from agent.outlets.shown import SI, Display
from agent.outlets.view import NO_VERDICT, ModuleView, unfit
from agent.piping import ACCUMULATOR_OUTLET, RETURN, RISE

_SATURATION = {SATURATED_SUCTION: "saturated suction", SATURATED_CONDENSING: "saturated condensing"}
APPARENT = "apparent superheat"


class Row(NamedTuple):
    """``state``: which of the four reasons there is no value; empty where there is one."""

    name: str
    figure: str
    spread: str  # between which values it lies, with its uncertainty
    state: str
    why: str
    unfit: bool = False  # taken at a probe that is not fit: no verdict


def rows(
    view: ModuleView,
    assessment: Assessment,
    display: Display = SI,
    catalogue: Mapping[str, Entry] = CATALOGUE,
    configured_probe: str | None = None,
) -> Iterator[Row]:
    """All that an assessment says, return superheat first. ``configured_probe``: the site's own."""
    doubt = in_doubt(view, RETURN)
    yield superheat("return superheat", assessment.quantities[RETURN], display, (doubt,))
    outlet = assessment.quantities[ACCUMULATOR_OUTLET]
    yield superheat("accumulator outlet", outlet, display, (doubt,))
    for probe, quantity in unfit(assessment):
        fitness, reason = assessment.fitness[probe]
        if fitness in NO_VERDICT:
            row = superheat(f"{APPARENT} at {probe}", quantity, display)
            why = f"{probe} is {fitness.replace('_', ' ')}: {reason}"
            why = why if quantity.decided else f"{row.why}; {why}"
            no_alarm = _no_alarm(view, probe, catalogue, configured_probe)
            yield row._replace(why=f"{why} (no verdict: this probe is not fit now{no_alarm})", unfit=True)
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


def _no_alarm(
    view: ModuleView, probe: str, catalogue: Mapping[str, Entry], configured_probe: str | None
) -> str:
    """Why `probe-unfit` does not stand though this probe is not fit; empty where it stands."""
    name = PROBE_UNFIT.name
    if name in view.lives.listed or any(alarm.name == name for alarm in view.alarms):
        return ""
    if configured_probe == probe:
        return f"; no alarm yet: {name} comes once that has lasted"
    if configured_probe is not None:
        return f"; no alarm: the site takes superheat at {configured_probe}"
    if name in catalogue and catalogue[name].by_hour:
        return "; no alarm: the supervisor's figures do not show that it uses this probe"
    return "; no alarm: the site is not known to use this probe"


def _highside(assessment: Assessment, display: Display) -> Iterator[Row]:
    """Discharge superheat with what it says of the gas that came in, and subcooling."""
    hot = dict(of_compressors(assessment, DISCHARGE_TEMPERATURE))
    for name, shown, why in highside_lines(assessment):
        if name == "saturation":
            continue
        compressor = name.removeprefix("discharge ")
        quantity = assessment.quantities.get(DISCHARGE_SUPERHEAT + compressor)
        if quantity is None:
            quantity = assessment.quantities[SUBCOOLING]
        else:
            value = hot[compressor].value if compressor in hot else None
            why = why if value is None else why.removeprefix(f"{value:.1f} degC; ")
            name += " superheat"
        if shown in WORDS.values() or quantity.value is None:
            yield Row(name, "", "", shown, display.words(why))
        else:
            figure = difference(quantity.value, display)
            yield Row(name, figure, between(quantity, display), "", display.words(why))


def superheat(name: str, quantity: Quantity, display: Display = SI, first: Sequence[str | None] = ()) -> Row:
    """A superheat, or another difference of temperatures. ``first``: what is said ahead of all else."""
    shown = "" if quantity.value is None else difference(quantity.value, display)
    spread = between(quantity, display)
    doubts = [display.words(each) if each else None for each in first]
    if quantity.decided:
        return Row(name, shown, spread, "", before(doubts, _reason(quantity, display)))
    moving = quantity.said.status is Status.NOT_SETTLED and quantity.value is not None
    now = f" (now {shown}, {spread})" if moving else ""
    return Row(name, "", "", WORDS[quantity.said.status], before(doubts, _reason(quantity, display) + now))


def temperature(name: str, quantity: Quantity, display: Display = SI) -> Row:
    """A temperature: what was read stands there too where it has not settled."""
    words = WORDS.get(quantity.said.status, "")
    if quantity.value is None:
        return Row(name, "", "", words, _reason(quantity, display))
    shown, spread = level(quantity.value, display), between(quantity, display, is_temperature=True)
    return Row(name, shown, spread, "", before((words,), _reason(quantity, display)))


def _ratio(quantity: Quantity) -> Row:
    if quantity.decided and quantity.value is not None:
        return Row("pressure ratio", f"{quantity.value:.2f}", "", "", quantity.said.text)
    return Row("pressure ratio", "", "", WORDS.get(quantity.said.status, ""), quantity.said.text)


def _reason(quantity: Quantity, display: Display) -> str:
    """Probes and words; a probe that the words name themselves is not said twice."""
    said, text = quantity.said, display.words(quantity.said.text)
    probes = "" if all(probe in text for probe in said.probes) else " - ".join(said.probes)
    return ": ".join(filter(None, (probes, text)))
