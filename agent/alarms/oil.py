"""Oil that comes back, seen by the warmth it brings, against what the module itself showed when learnt.

Never a mass of oil: a large rise also holds discharge gas, a leaking bypass or conducted heat. No fixed
limit: how much is usual depends on the module and its speed.
"""

from __future__ import annotations

from dataclasses import replace

from agent.alarms.condition import Condition
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.finding import Facts, Finding, Past, undecided
from agent.assess.byhour.baseline import SINCE_LEARNT, Baseline, Usual, instruments_only, outdoor_air, usual
from agent.assess.byhour.hours import HOUR_US, Hour, Stats, total_speed
from agent.assess.module import Module
from agent.piping import (
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    STEADY_MODES,
    Choice,
    Place,
    Standing,
    advise,
)

# Shares of what is usual at like speed; design choices, no source.
ABSENT, BACK = 0.35, 0.5  # below the one it is absent, above the other it is there
EXCESS, NO_EXCESS = 1.6, 1.3
DRIED_HOURS = 4  # of superheated return in a row

_SATURATED = (
    (RETURN, "the returning gas"),
    (ACCUMULATOR_OUTLET, "the gas that leaves the accumulator"),
    (COMPRESSOR_INLET, "the gas at the compressor"),
)

OIL_RETURN_ABSENT = Entry(
    name="oil-return-absent",
    raised_when=(
        "For whole hours the oil-return rise lies far below what is usual for this module at like speed. "
        "There is no fixed limit, and it never tells a mass of oil."
    ),
    cause="The warmth of returning oil is missing at the probe that usually shows it.",
    consequence="Oil that stays in the separator or the system is missing in the compressor.",
    first_response=(
        "Look whether the late probe still sits where it was; see when oil was last recovered; read the oil "
        "return pipe's temperature with a clamp (hot: fit it only with the unit isolated, "
        "and read it when it runs again)."
    ),
    priority=Priority.MEDIUM,
    may_break=True,
    limits=Limits(
        limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=2 * 3600, off_delay_s=2 * 3600
    ),
    by_hour=True,
)
OIL_RETURN_EXCESS = Entry(
    name="oil-return-excess",
    raised_when=(
        "For whole hours the oil-return rise lies far above what is usual for this module at like speed. "
        "There is no fixed limit, and it never tells a mass of oil."
    ),
    cause="Far more warmth joins the suction line than oil usually brings.",
    consequence="Discharge gas that circulates costs capacity, heats the compressor and hides liquid.",
    first_response=(
        "See what the hot-gas bypass is said to do and read its pipe with a clamp (hot: fit it only with the "
        "unit isolated); look whether the late probe sits tight; do not trust superheat there."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(
        limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=2 * 3600, off_delay_s=2 * 3600
    ),
    by_hour=True,
)


def oil_return_absent(past: Past, entry: Entry) -> Finding:
    """The rise, with what may have drifted since, lies far below what is usual at like speed."""
    found = _compared(past)
    if isinstance(found, Finding):
        return found
    hour, mode, rise, known = found
    limit_k = entry.limits.limit_k if entry.limits.limit_k is not None else ABSENT * known.median
    back_k = max(limit_k + entry.limits.deadband_k, BACK * known.median)
    beyond = rise.mean + _doubt_k(rise, entry) < limit_k
    swallowed = _swallowed(past.module, hour, mode, 0.0 if _dried(past, mode) else known.median)
    if beyond and swallowed is not None:
        return undecided(f"{_figures(rise, known)}; {swallowed}: a small rise tells nothing of the oil then")
    return _finding(beyond, rise.mean > back_k, rise, known, limit_k)


def oil_return_excess(past: Past, entry: Entry) -> Finding:
    """The rise, less what may have drifted since, lies far above what is usual at like speed."""
    found = _compared(past)
    if isinstance(found, Finding):
        return found
    _, _, rise, known = found
    stated = entry.limits.limit_k
    limit_k = max(EXCESS * known.median, known.high) if stated is None else stated
    back_k = min(limit_k - entry.limits.deadband_k, max(NO_EXCESS * known.median, known.high))
    return _finding(rise.mean - _doubt_k(rise, entry) > limit_k, rise.mean <= back_k, rise, known, limit_k)


def _doubt_k(rise: Stats, entry: Entry) -> float:
    """How far the rise may be off: against the module's own past by drift alone, against a limit by all."""
    return instruments_only(rise) * (SINCE_LEARNT if entry.limits.limit_k is None else 1.0)


def _compared(past: Past) -> tuple[Hour, str, Stats, Usual] | Finding:
    """The last hour's rise and what is usual; or why they cannot be compared."""
    hour = past.hours[-1]
    mode = hour.settled_mode
    if mode is None or mode not in STEADY_MODES:
        return undecided("no steady mode was settled for long enough in the last hour")
    rise = hour.parts[mode].quantities.get(RISE)
    if rise is None:
        return undecided(_not_measured(past, mode))
    lacking = past.baseline.lacking(mode)
    if lacking is not None:
        return undecided(lacking)
    known = usual(_without_wet(past, mode), mode, RISE, total_speed(hour, mode), outdoor_air(hour, mode))
    if known is None:
        return undecided("the module was never learnt at a speed and in weather like this")
    if known.median <= 2 * known.uncertainty:
        return undecided(
            f"what is usual here, {known.median:.1f} K, does not exceed twice its uncertainty of "
            f"{known.uncertainty:.1f} K: these probes cannot show the oil"
        )
    return hour, mode, rise, known


def _not_measured(past: Past, mode: str) -> str:
    layout, probes, choice = past.module.layout, _probes(past.module), _choice(past.module, mode)
    if choice.standing is not Standing.NOT_MEASURABLE:
        return "no oil-return rise was decided in the last hour"
    advice = next(iter(advise(layout, RISE, [mode], probes)), None)
    helps = f"; it would take {advice.where}" if advice else ""
    return f"not measurable on this layout: {choice.reason}{helps}"


def _without_wet(past: Past, mode: str) -> Baseline:
    """What was learnt, less the hours in which liquid may have swallowed the oil's warmth."""
    kept = tuple(h for h in past.baseline.of(mode) if _swallowed(past.module, h, mode, 0.0) is None)
    return replace(past.baseline, hours={**past.baseline.hours, mode: kept})


def _dried(past: Past, mode: str) -> bool:
    """Superheated gas has passed for so long that an accumulator holds no liquid any more.

    4 K of superheat in 0.05 kg/s of gas are 0.2 kW, which evaporate 3.5 kg in an hour (computed, R-410A).
    """
    late = past.hours[-DRIED_HOURS:]
    shown = [hour.parts[mode].quantities.get(RETURN) for hour in late if mode in hour.parts]
    dry = [each is not None and each.mean - instruments_only(each) > 0 for each in shown]
    in_a_row = len(late) == DRIED_HOURS and late[-1].from_us - late[0].from_us == (DRIED_HOURS - 1) * HOUR_US
    return in_a_row and len(dry) == DRIED_HOURS and all(dry)


def _swallowed(module: Module, hour: Hour, mode: str, usual_k: float) -> str | None:
    """Where liquid that evaporates may take the oil's warmth in an hour; None: nowhere that shows.

    ``usual_k``: the rise to expect. Gas that leaves an accumulator saturated, since it holds liquid, and is
    warmed by the oil comes to the compressor with no more superheat than that: between probes on both sides
    of the accumulator a small rise, and even one below zero, is then physical.
    """
    quantities = hour.parts[mode].quantities
    for place, where in _SATURATED:
        shown = quantities.get(place)
        if shown is not None and shown.mean - instruments_only(shown) <= 0:
            return f"{where} is near saturation, and liquid that evaporates swallows the oil's warmth"
    inlet = quantities.get(COMPRESSOR_INLET)
    sure_k = inlet.mean - instruments_only(inlet) if inlet else 0.0
    if sure_k <= usual_k and _across_vessel(module, mode):
        return "across the accumulator liquid may evaporate: the gas behind it is no warmer than oil makes it"
    return None


def _across_vessel(module: Module, mode: str) -> bool:
    """Whether the rise is taken from a probe ahead of the accumulator to one behind it."""
    behind = [
        any(place.kind == "vessel" for place in module.layout.upstream(Place("probe", probe)))
        for probe in _choice(module, mode).probes
    ]
    return len(behind) == 2 and behind[0] and not behind[1]


def _choice(module: Module, mode: str) -> Choice:
    """Where the rise is taken with every inlet's valve shut and every compressor running."""
    layout = module.layout
    shut = dict.fromkeys(layout.inlet_valves, False)
    return layout.choose(mode, shut, layout.compressors, _probes(module)).places[RISE]


def _probes(module: Module) -> list[str]:
    return [probe for probe in module.layout.suction_probes if probe in module.signals]


def _finding(beyond: bool, clear: bool, rise: Stats, known: Usual, limit_k: float) -> Finding:
    condition = Condition.BEYOND if beyond else Condition.CLEAR if clear else Condition.INSIDE
    text = f"{_figures(rise, known)}, limit {limit_k:.1f} K"
    return Finding(condition, Facts(text, None, rise.mean, rise.below, rise.above, limit_k))


def _figures(rise: Stats, known: Usual) -> str:
    return (
        f"oil-return rise {rise.mean:.1f} K (-{rise.below:.1f} +{rise.above:.1f}) over the last hour; usual "
        f"at like speed: {known.median:.1f} K ({known.low:.1f} to {known.high:.1f} in {known.hours} hours)"
    )
