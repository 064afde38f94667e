"""What the module reads where somebody measures, how far both may be apart, and the line that gives it on."""

from __future__ import annotations

import math
import shlex

from agent.assess.by_hand.handheld import CLAMP_K, GAUGE_PA
from agent.assess.by_hand.readings import expanded
from agent.assess.instruments import uncertainty
from agent.outlets.figures import difference
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.readings import clock, pressure_shown, reads
from agent.thermo import standard_uncertainty
from agent.units import Dimension


def compared(brief: Brief, signal: str, *, hot: bool = False) -> str:
    """The module's reading there with its time, and from which difference on the probe is at fault."""
    raw, module = brief.readings.get(signal), brief.module.module
    if raw is None:
        return "the module has no reading there in the last day"
    if math.isnan(raw.value):
        return f"what the module reads there cannot be used: {raw.received}"
    said = f"the module reads {reads(brief, signal)} there at {clock(raw.at_us, brief)}"
    is_pressure = brief.module.conversions[signal].dimension is Dimension.PRESSURE
    hand = standard_uncertainty(GAUGE_PA if is_pressure else CLAMP_K)
    spread = expanded(hand, uncertainty(module, signal))
    what = "transducer" if is_pressure else "probe"
    beyond = _amount(brief, spread, is_pressure=is_pressure)
    also = ", its place, or the clamp, which reads low on a hot pipe" if hot else ", or its place"
    apart = f"more than {beyond} apart (both instruments, k = 2), of the same minute"
    return f"{said}; {apart}, means the {what}{also}"


def _amount(brief: Brief, spread: float, *, is_pressure: bool) -> str:
    if is_pressure:
        return pressure_shown(brief.display).amount(spread)
    return difference(spread, brief.display)


def gauge_unit(brief: Brief) -> str:
    """In which a pressure is asked for: gauge where the site's height is known."""
    return f"{brief.display.pressure_unit} {'absolute' if brief.ambient_pa is None else 'gauge'}"


def command(brief: Brief, place: str, unit: str) -> str:
    """To type as it stands, over several lines; figure, time and name are to be filled in."""
    parts = (
        f"dewline measure {shlex.quote(brief.name)}",
        place,
        f'--value "____ {unit}" --at "____"',
        '--by "____"',
    )
    return " \\\n  ".join(parts)
