"""What an alarm has to show for itself: the figures of an assessment that it rests on."""

from __future__ import annotations

from collections.abc import Mapping

from agent.alarms.catalogue import (
    PROBE_UNFIT,
    SUPERHEAT_HIGH,
    SUPERHEAT_HUNTING,
    SUPERHEAT_LOW,
    WATCH_BLIND,
)
from agent.alarms.condition import Condition
from agent.alarms.detection import Detection
from agent.alarms.entry import Entry, Priority
from agent.alarms.finding import Facts, Finding
from agent.alarms.highside_facts import HIGHSIDE_FACTS, agreeing
from agent.alarms.instruments import PROBE_FAILED, probe_failed_facts
from agent.assess.assessment import AT_PROBE, SWING, Assessment, Quantity
from agent.piping import COMPRESSOR_INLET, RETURN, Standing

_MEANS = {
    SUPERHEAT_LOW.name: "liquid cannot be excluded: ",
    SUPERHEAT_HIGH.name: "either too little refrigerant reaches the evaporators or the pipe gains heat: ",
}
_SURE = "liquid is very likely coming back: "
NOTHING_FOUND: Mapping[str, Finding] = {}
SECOND_BEST = (Standing.SECOND_BEST, Standing.AFTER_ACCUMULATOR)


def facts(
    entry: Entry,
    assessment: Assessment,
    configured_probe: str | None,
    findings: Mapping[str, Finding] = NOTHING_FOUND,
) -> Facts:
    """The evidence for an alarm in an assessment; of one that is judged by the hour, in its finding."""
    if entry.by_hour:
        found = findings.get(entry.name)
        return found.facts if found else Facts("no whole hour has been judged yet")
    if entry.name in HIGHSIDE_FACTS:
        return HIGHSIDE_FACTS[entry.name](entry, assessment)
    returned = assessment.quantities[RETURN]
    if entry.name == PROBE_UNFIT.name and configured_probe is not None:
        return _unfit(assessment, configured_probe)
    if entry.name == PROBE_FAILED.name:
        return probe_failed_facts(assessment)
    if entry.name == WATCH_BLIND.name:
        if returned.decided and returned.said.standing is Standing.AFTER_ACCUMULATOR:
            text = "wet return cannot be told on this module: return superheat is taken after the accumulator"
            return Facts(f"{text}, and whether a discharge is wet is not decided")
        return Facts(f"return superheat is {returned.said.status.replace('_', ' ')}: {returned.said.text}")
    if entry.name == SUPERHEAT_HUNTING.name:
        swing = assessment.quantities[SWING]
        if swing.value is None:
            return Facts(f"the swing cannot be told now: {swing.said.text}")
        text = f"return superheat swings by {swing.value:.1f} K, limit {entry.limits.limit_k:g} K"
        return Facts(text, None, swing.value, swing.below, swing.above, entry.limits.limit_k)
    late = assessment.quantities[COMPRESSOR_INLET]
    if entry.name == SUPERHEAT_LOW.name and _proves_liquid(late) and not _proves_liquid(returned):
        words = f"{_means(entry, assessment)}superheat"
        text = (
            _figures(words, late) + ", although only warmer streams have joined: either the gas comes back "
        )
        text += (
            "wet, or an accumulator that holds liquid gives off saturated gas, which is ordinary; "
            "the discharge tells them apart"
        )
        return Facts(
            text, ", ".join(late.said.probes), late.value, late.below, late.above, entry.limits.limit_k
        )
    if entry.name == PROBE_UNFIT.name:
        return Facts("the site's configuration names no probe of its own any more")
    limit = entry.limits.second_best_k if returned.said.standing in SECOND_BEST else entry.limits.limit_k
    if returned.value is None:
        return Facts(f"return superheat: {returned.said.text}", limit_k=limit)
    text = _means(entry, assessment) + _figures("return superheat", returned)
    text += _against(limit, returned, _is_sure(entry, assessment))
    text += agreeing(assessment) if entry.name == SUPERHEAT_LOW.name else ""
    if not returned.decided:
        text += f"; {returned.said.status.replace('_', ' ')}: {returned.said.text}"
    return Facts(text, ", ".join(returned.said.probes), returned.value, returned.below, returned.above, limit)


def cannot_prove_dry(catalogue: Mapping[str, Entry], assessment: Assessment) -> str | None:
    """Says so where the uncertainty is so wide that a superheat at its limit could still be liquid."""
    returned, limits = assessment.quantities[RETURN], catalogue[SUPERHEAT_LOW.name].limits
    if returned.below is None or limits.limit_k is None or returned.below <= limits.limit_k:
        return None
    return (
        f"these instruments cannot prove dry suction near the limit of {limits.limit_k:g} K: "
        f"the uncertainty downward is {returned.below:.1f} K, for a probe that sits tight and is insulated"
    )


def priority(entry: Entry, state: Detection, assessment: Assessment) -> Priority:
    """How soon to look: sooner when the evidence leaves no doubt, later when it is weak or second best."""
    rests_on_return = entry.name not in (*HIGHSIDE_FACTS, PROBE_FAILED.name) and not entry.by_hour
    second_best = rests_on_return and assessment.quantities[RETURN].said.standing in SECOND_BEST
    if state.level == Condition.POSSIBLE or second_best:
        return Priority.LOW
    return entry.urgent if state.level == Condition.BEYOND_DOUBT and entry.urgent else entry.priority


def active(states: Mapping[str, Detection]) -> dict[str, Detection]:
    """The alarms that are active."""
    return {name: state for name, state in states.items() if state.active}


def _unfit(assessment: Assessment, probe: str) -> Facts:
    returned, shown = assessment.quantities[RETURN], assessment.quantities.get(AT_PROBE + probe)
    if probe not in assessment.fitness:
        return Facts(f"the layout in force then has no probe {probe}", probe)
    verdict, reason = assessment.fitness[probe]
    by, misleads = None, "by how much it misleads cannot be told now"
    if shown is not None and shown.value is not None and returned.value is not None:
        by = shown.value - returned.value
        misleads = f"it shows {abs(by):.1f} K {'more' if by >= 0 else 'less'} than return superheat"
    text = f"{probe} is {verdict.replace('_', ' ')}: {reason}; {misleads}"
    if shown is None:
        return Facts(text, probe)
    return Facts(text, probe, shown.value, shown.below, shown.above, None, by)


def _proves_liquid(quantity: Quantity) -> bool:
    """Decided, and saturation is not excluded."""
    return (
        quantity.decided
        and quantity.value is not None
        and quantity.below is not None
        and quantity.value - quantity.below <= 0
    )


def _is_sure(entry: Entry, assessment: Assessment) -> bool:
    """Whether the evidence leaves no doubt that superheat is low; a high priority rests on that."""
    condition = assessment.conditions.get(entry.name)
    return entry.name == SUPERHEAT_LOW.name and condition == Condition.BEYOND_DOUBT


def _means(entry: Entry, assessment: Assessment) -> str:
    return _SURE if _is_sure(entry, assessment) else _MEANS.get(entry.name, "")


def _against(limit: float | None, quantity: Quantity, sure: bool) -> str:
    """The limit, and whether even with all uncertainty the value lies under it."""
    if limit is None:
        return ""
    under = (
        quantity.value is not None and quantity.above is not None and quantity.value + quantity.above < limit
    )
    return f", even with all uncertainty under {limit:g} K" if sure and under else f", limit {limit:g} K"


def _figures(name: str, quantity: Quantity) -> str:
    first, *others = quantity.said.probes or ("",)
    lowest = f", the lowest of {', '.join([first, *others])}" if others else ""
    return f"{name} {quantity.value:.1f} K (-{quantity.below:.1f} +{quantity.above:.1f}) at {first}{lowest}"
