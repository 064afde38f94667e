"""What to hold against a figure: what oil can make, what saturated suction would give, and an accumulator."""

from __future__ import annotations

from collections.abc import Iterator

from agent.alarms.catalogue import SUPERHEAT_LOW
from agent.outlets.highside import highside_lines
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.readings import valve_state
from agent.piping import RETURN, RISE, Place

OIL_MAKES_K = (1.0, 5.0)  # of rise, usually; common practice, no source


def rise_words(brief: Brief) -> str:
    """What a rise far beyond what oil makes may come from, with the state of the valves; else empty."""
    assessment = brief.view.assessment
    rise = assessment.quantities.get(RISE) if assessment else None
    if rise is None or not rise.decided or rise.value is None or rise.below is None:
        return ""
    if rise.value - rise.below <= OIL_MAKES_K[1]:
        return ""
    least, most = OIL_MAKES_K
    words = (
        f"{rise.value:.1f} K of rise is more than oil usually makes ({least:g} to {most:g} K; common "
        "practice, no source): the bypass leaks or is open, the float of the oil separator sticks, or the "
        f"reference probe {rise.said.probes[-1]} reads too low."
    )
    states = [valve_state(brief, valve) for valve in brief.module.module.layout.inlet_valves]
    return " ".join([brief.display.words(words), *(f"{state}." for state in states)])


def discharge_lines(brief: Brief) -> Iterator[str]:
    """Where an alarm stands, each discharge beside what saturated suction would give, as notices have it."""
    if brief.view.assessment is not None and brief.view.alarms:
        for what, figure, why in highside_lines(brief.view.assessment, brief.display):
            if what.startswith("discharge"):
                yield f"{what.capitalize()}: {', '.join(filter(None, (figure, why)))}"


def accumulator_words(brief: Brief) -> str:
    """That liquid ahead of an accumulator is not yet in the compressor; empty where it does not hold."""
    assessment, layout = brief.view.assessment, brief.module.module.layout
    if assessment is None or not any(alarm.name == SUPERHEAT_LOW.name for alarm in brief.view.alarms):
        return ""
    for probe in assessment.quantities[RETURN].said.probes:
        vessels = sorted(p.name for p in layout.downstream(Place("probe", probe)) if p.kind == "vessel")
        if vessels:
            return (
                f"{probe} sits ahead of {', '.join(vessels)}: liquid there is not yet liquid in the "
                "compressor. How full it stands is not measured."
            )
    return ""
