"""The evidence of a notice: what was found, the probes that spoke, and those that were not heard."""

from __future__ import annotations

from collections.abc import Iterator

from agent.alarms import Entry, Facts
from agent.assess import AT_PROBE, Assessment, Quantity, Status
from agent.outlets.highside import highside_lines
from agent.outlets.notices_meaning import RESTS_ON_RETURN
from agent.outlets.shown import Display
from agent.piping import RETURN, Fitness
from agent.settings import ModulePath


def place_line(path: ModulePath, refrigerant: str, assessment: Assessment | None) -> str:
    """Where it is, and in which mode the module runs."""
    mode = f"; mode {_words(assessment.mode)}" if assessment else ""
    return f"Where: site {path.site}, system {path.system} ({refrigerant}), module {path.module}{mode}"


def found_words(entry: Entry, found: Facts, assessment: Assessment | None, *, stands: bool) -> str:
    """The evidence; of an alarm that does not stand, without what it would mean if it stood."""
    if stands or assessment is None or entry.name not in RESTS_ON_RETURN:
        return found.text or "nothing amiss any more"
    return f"return superheat {_said(assessment.quantities[RETURN])}"


def evidence_lines(
    entry: Entry, found: Facts, assessment: Assessment | None, display: Display, *, stands: bool
) -> Iterator[str]:
    """What was found, and each probe with its reason, in the site's units."""
    lines = _evidence(entry, found, assessment, display, stands)
    return map(display.words, lines)


def _evidence(
    entry: Entry, found: Facts, assessment: Assessment | None, display: Display, stands: bool
) -> Iterator[str]:
    yield f"Found: {found_words(entry, found, assessment, stands=stands)}"
    if found.limit_k is not None:
        yield f"Limit: {round(display.difference(found.limit_k), 1):g} {display.difference_unit}"
    if assessment is None or entry.by_wall_clock:
        return
    returned = assessment.quantities[RETURN]
    used = returned.said.probes
    if found.misleads_k is not None and found.value_k is not None:
        shown = _figure(found.value_k, found.below_k, found.above_k)
        yield f"The site's figure: {shown} at {found.probe}"
    if found.probe != ", ".join(used):
        yield f"Return superheat: {_said(returned)}"
    yield f"Figures: of {display.when(assessment.grid_us)}; in brackets the uncertainty to each side (k = 2)"
    for probe in used:
        reason = returned.said.text if returned.decided else assessment.fitness[probe][1]
        yield f"Probe used: {probe}: {reason}"
    if not used:
        yield "Probe used: none"
    for probe, (verdict, reason) in assessment.fitness.items():
        if probe not in used and AT_PROBE + probe in assessment.quantities:  # of the suction side
            what = "Probe not used" if verdict is Fitness.FIT else "Probe refused"
            yield f"{what}: {probe}: {_words(verdict)}: {reason}"


def beside_lines(entry: Entry, assessment: Assessment | None, display: Display) -> Iterator[str]:
    """What the first response asks to read beside it: discharge, subcooling and saturation."""
    if assessment is None or entry.by_wall_clock:
        return
    for what, figure, why in highside_lines(assessment):
        yield display.words(f"{what.capitalize()}: {', '.join(filter(None, (figure.strip(), why)))}")


def _said(quantity: Quantity) -> str:
    figure = "" if quantity.value is None else _figure(quantity.value, quantity.below, quantity.above)
    if quantity.decided:
        return f"{figure} at {', '.join(quantity.said.probes)}"
    now = f"; now {figure}" if figure and quantity.said.status is Status.NOT_SETTLED else ""
    return f"{_words(quantity.said.status)}: {quantity.said.text}{now}"


def _figure(value_k: float, below_k: float | None, above_k: float | None) -> str:
    spread = "" if below_k is None or above_k is None else f" (-{below_k:.1f} +{above_k:.1f})"
    return f"{value_k:.1f} K{spread}"


def _words(name: str) -> str:
    return name.replace("_", " ")
