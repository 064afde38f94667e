"""The evidence of a notice: what was found, the probes that spoke, and those that were not heard."""

from __future__ import annotations

from collections.abc import Iterator

from agent.alarms import Entry, Facts
from agent.assess import (
    AT_PROBE,
    DISCHARGE_TEMPERATURE,
    SATURATED_CONDENSING,
    Assessment,
    Quantity,
    Status,
)
from agent.outlets.figures import in_sentence, told
from agent.outlets.highside import highside_lines
from agent.outlets.meaning import RESTS_ON_RETURN
from agent.outlets.shown import Display, spaced
from agent.piping import COMPRESSOR_INLET, RETURN, RISE, Fitness
from agent.settings import ModulePath

# Quantity, what it is called, and what stands between its probes.
_BESIDE = (
    (COMPRESSOR_INLET, "Superheat at the compressor inlet", ", "),
    (RISE, "Oil-return rise", " - "),
)
_DISCHARGE = "discharge"
_COURSE = {
    RETURN: ("return superheat", False),
    RISE: ("rise", False),
    SATURATED_CONDENSING: ("condensing", True),
}
_ORDER = ("return superheat", _DISCHARGE, "rise", "condensing")


def place_line(path: ModulePath, refrigerant: str, assessment: Assessment | None) -> str:
    """Where it is, and in which mode the module runs."""
    mode = f"; mode {spaced(assessment.mode)}" if assessment else ""
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
        shown = in_sentence(found.value_k, found.below_k, found.above_k)
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
            what = "Not used" if verdict is Fitness.FIT else f"Not usable in {spaced(assessment.mode)}"
            yield f"{what}: {probe}: {spaced(verdict)}: {reason}"


def beside_lines(entry: Entry, assessment: Assessment | None, display: Display) -> Iterator[str]:
    """What stands beside it: compressor inlet, rise, discharge, subcooling and saturation."""
    if assessment is None or entry.by_wall_clock:
        return
    for name, what, between in _BESIDE:
        quantity = assessment.quantities.get(name)
        if quantity is None or quantity.said.status is Status.NOT_MEASURABLE:
            continue
        at = f", {between.join(quantity.said.probes)}" if quantity.said.probes else ""
        yield display.words(f"{what}: {told(quantity)}{at}: {quantity.said.text}")
    for what, figure, why in highside_lines(assessment):
        yield display.words(f"{what.capitalize()}: {', '.join(filter(None, (figure, why)))}")


def before_line(now: Assessment | None, before: Assessment | None, display: Display) -> Iterator[str]:
    """How it was before it began beside how it is now, where both are decided by the same probes."""
    if now is None or before is None:
        return
    pairs = []
    for name, then in before.quantities.items():
        what, is_level = _course(name)
        after = now.quantities.get(name)
        if not what or after is None or not (then.decided and after.decided):
            continue
        if then.value is None or after.value is None or then.said.probes != after.said.probes:
            continue
        shown = display.temperature if is_level else display.difference
        unit = display.temperature_unit if is_level else display.difference_unit
        pairs.append((what, f"{what} {shown(then.value):.1f} -> {shown(after.value):.1f} {unit}"))
    told = [text for _, text in sorted(pairs, key=lambda pair: _course_order(pair[0]))]
    if told:
        yield f"Before it began ({display.at(before.grid_us):%H:%M}) -> now: {', '.join(told)}"


def _course(name: str) -> tuple[str, bool]:
    """What a quantity is called where then and now stand side by side, and whether it is a temperature."""
    if name.startswith(DISCHARGE_TEMPERATURE):
        return f"{_DISCHARGE} {name.removeprefix(DISCHARGE_TEMPERATURE)}", True
    return _COURSE.get(name, ("", False))


def _course_order(what: str) -> int:
    return _ORDER.index(_DISCHARGE if what.startswith(_DISCHARGE) else what)


def _said(quantity: Quantity) -> str:
    figure = "" if quantity.value is None else in_sentence(quantity.value, quantity.below, quantity.above)
    if quantity.decided:
        return f"{figure} at {', '.join(quantity.said.probes)}"
    now = f"; now {figure}" if figure and quantity.said.status is Status.NOT_SETTLED else ""
    return f"{spaced(quantity.said.status)}: {quantity.said.text}{now}"
