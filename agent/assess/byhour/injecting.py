"""Whether the discharge answers what the injection does: its opening and the heat beside what is usual."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from agent.assess.assessment import DISCHARGE_TEMPERATURE, INJECTION
from agent.assess.byhour.baseline import SINCE_LEARNT, Baseline, Usual, outdoor_air, usual
from agent.assess.byhour.hours import Hour, Stats, total_speed
from agent.assess.module import Module
from agent.piping import STEADY_MODES

ANOTHER = 0.1  # beyond what was learnt, for an opening to count as another; design choice, no source


class Answer(NamedTuple):
    """Of one compressor; ``answers`` None: cannot tell, for the reason in the text."""

    compressor: str
    answers: bool | None
    text: str


def answers(module: Module, baseline: Baseline, hours: Sequence[Hour]) -> list[Answer]:
    """For each compressor that is injected into, by the last hour that was settled in a steady mode."""
    injection = module.layout.injection
    if injection is None:
        return []
    settled = next((hour for hour in reversed(hours) if hour.settled_mode in STEADY_MODES), None)
    return [_answer(name, baseline, settled) for name in sorted(injection.into)]


def _answer(compressor: str, baseline: Baseline, hour: Hour | None) -> Answer:
    mode = hour.settled_mode if hour else None
    if hour is None or mode is None:
        return Answer(compressor, None, "no steady mode was settled of late")
    now = hour.parts[mode].quantities
    opening, heat = now.get(INJECTION), now.get(DISCHARGE_TEMPERATURE + compressor)
    if opening is None or heat is None:
        return Answer(compressor, None, "its opening or the discharge temperature was not decided of late")
    if lacking := baseline.lacking(mode):
        return Answer(compressor, None, lacking)
    at = (total_speed(hour, mode), outdoor_air(hour, mode))
    usual_opening = usual(baseline, mode, INJECTION, *at)
    usual_heat = usual(baseline, mode, DISCHARGE_TEMPERATURE + compressor, *at)
    if usual_opening is None or usual_heat is None:
        return Answer(compressor, None, "it was never learnt at a speed and in weather like this")
    return _compared(compressor, opening, heat, usual_opening, usual_heat)


def _compared(compressor: str, opening: Stats, heat: Stats, was_open: Usual, was_hot: Usual) -> Answer:
    figures = (
        f"open {opening.mean:.0%}, usually {was_open.median:.0%}; discharge {heat.mean:.0f} degC, usually "
        f"{was_hot.median:.0f} degC at like speed"
    )
    apart = SINCE_LEARNT * was_hot.uncertainty
    if opening.mean > was_open.high + ANOTHER and heat.mean > was_hot.high + apart:
        text = f"{figures}: it opens and the discharge stays hot, as behind a valve that sticks"
        return Answer(compressor, False, text)
    if opening.mean < was_open.low - ANOTHER and heat.mean < was_hot.low - apart:
        text = f"{figures}: it shuts and the discharge stays cool, as where more passes than is told"
        return Answer(compressor, False, text)
    return Answer(compressor, True, figures)
