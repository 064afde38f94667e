"""The piping of a brief: drawn for the mode of now, and what each probe is worth in every mode."""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

from agent.outlets.drawn_svg import drawn_svg
from agent.outlets.shown import spaced
from agent.outlets.terminal.explaining import advised, configured
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.tables import used_modes
from agent.piping import RETURN, RISE, Situation, draw


def drawing(brief: Brief, *, narrow: bool) -> str:
    """The layout in the mode of now, with the compressors and the valves as they are; empty: not known."""
    layout, explanation = brief.module.module.layout, brief.explanation
    if not layout.is_known:
        return ""
    modes = used_modes(brief)
    situations = [_now(brief, each) for each in explanation.drawing.situations if each.mode in modes]
    available = set(layout.suction_probes) - set(explanation.silent)
    drawn = draw(layout, situations, available, brief.module.configured_probe)
    return drawn_svg(drawn, layout.name, layout.about, narrow=narrow, now=_is_now(brief))


def drawn_for(brief: Brief) -> str:
    """Which mode it is drawn for, and why that one."""
    modes = used_modes(brief)
    if not modes:
        return ""
    mode, assessment = spaced(modes[0]), brief.view.assessment
    if assessment is not None and _is_now(brief):
        return f"Drawn for {mode}, as it ran at {brief.display.when(assessment.grid_us)}"
    last = f"; it is {spaced(assessment.mode)} now" if assessment is not None else ""
    return f"Drawn for {mode}, in which nothing says that it runs{last}"


def _is_now(brief: Brief) -> bool:
    assessment = brief.view.assessment
    return assessment is not None and assessment.mode in used_modes(brief)


def _now(brief: Brief, case: Situation) -> Situation:
    """The usual case of a mode, with what the newest assessment and readings say of it."""
    assessment = brief.view.assessment
    if assessment is None or assessment.mode != case.mode:
        return case
    valves = dict(case.valves)
    for valve in brief.module.module.layout.valves:
        raw = brief.readings.get(valve)
        if raw is not None and not math.isnan(raw.value):
            valves[valve] = raw.value > 0
    return replace(Situation.of(case.mode, valves), running=frozenset(assessment.running or ()) or None)


def site_probe(brief: Brief) -> list[tuple[str, str]]:
    """What is said of the probe that the site takes its superheat from."""
    probe = brief.module.configured_probe
    if probe is None or not brief.module.module.layout.is_known:
        return []
    return [(label, words) for label, words, _ in configured(brief.explanation, probe)]


def lacking(brief: Brief) -> Iterator[str]:
    """Which further probe would make measurable what is not."""
    names = {RETURN: "return superheat", RISE: "oil-return rise"}
    for place, name in names.items():
        for advice in brief.explanation.advice.get(place, ()):
            yield f"{name}: {advised(place, advice, brief.explanation)}"
