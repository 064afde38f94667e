"""The figures that the alarms of the high side rest on, in words."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping

from agent.alarms.entry import Entry
from agent.alarms.finding import Facts
from agent.alarms.highside import (
    DISCHARGE_SUPERHEAT_LOW,
    DISCHARGE_TEMPERATURE_HIGH,
    SUBCOOLING_HIGH,
    SUBCOOLING_LOW,
)
from agent.assess.assessment import (
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    SUBCOOLING,
    Assessment,
    Quantity,
    Said,
    Status,
)
from agent.piping import COMPRESSOR_INLET, RETURN

DILUTED_K = 10.0  # of discharge superheat; common practice, no source
COMFORTABLE_K = 2.0  # of superheat, above which a probe looks healthy; common practice, no source


def wettest(assessment: Assessment) -> tuple[str, Quantity] | None:
    """The compressor whose decided margin reaches least far up, with it."""
    found = [(name, margin) for name, margin in _of_each(assessment, DISCHARGE_MARGIN) if margin.decided]
    return min(found, key=lambda each: _highest(each[1]), default=None)


def agreeing(assessment: Assessment) -> str:
    """That the discharge shows liquid too, where it does."""
    found = wettest(assessment)
    if found is None or _highest(found[1]) >= 0:
        return ""
    return f"; the discharge of compressor {found[0]} agrees: it is colder than saturated suction makes it"


def _highest(quantity: Quantity) -> float:
    return (quantity.value or 0.0) + (quantity.above or 0.0)


def _wet_facts(entry: Entry, assessment: Assessment) -> Facts:
    found = wettest(assessment)
    if found is None:
        margins = _of_each(assessment, DISCHARGE_MARGIN)
        reason = next((margin.said.text for _, margin in margins), "no compressor's discharge is measured")
        return Facts(f"whether liquid comes to the compressor cannot be told now: {reason}")
    name, margin = found
    value, below, above = margin.value or 0.0, margin.below or 0.0, margin.above or 0.0
    shown = assessment.quantities[DISCHARGE_SUPERHEAT + name].value or 0.0
    probe = ", ".join(margin.said.probes)
    text = (
        f"discharge superheat of compressor {name} is {shown:.1f} K at {probe}; saturated suction would give "
        f"{shown - value - above:.0f} to {shown - value + below:.0f} K"
    )
    if _highest(margin) < 0:
        text = f"liquid, or a discharge probe or pressure that reads low: {text}{_comfort(assessment)}"
    elif value - below <= 0:
        text += f"; between these nothing is decided{diluted(shown)}"
    return Facts(text, probe, margin.value, margin.below, margin.above)


def diluted(discharge_superheat_k: float) -> str:
    """What a low discharge superheat means for the oil, where nothing is decided of liquid."""
    if discharge_superheat_k >= DILUTED_K:
        return ""
    return (
        f"; discharge superheat under {DILUTED_K:g} K: oil in a high-side shell may be diluted; no proof of "
        "wet suction"
    )


def _comfort(assessment: Assessment) -> str:
    """What a warm probe says at the same time."""
    for place in (RETURN, COMPRESSOR_INLET):
        shown = assessment.quantities.get(place)
        if shown is not None and shown.value is not None and shown.value > COMFORTABLE_K:
            return (
                f". {', '.join(shown.said.probes)} shows a comfortable {shown.value:.1f} K of superheat all "
                "the same: either liquid joins after that probe, or the discharge probe reads low"
            )
    return ""


def _hot_facts(entry: Entry, assessment: Assessment) -> Facts:
    """The value is a temperature, and stands in the words alone."""
    shown = [(each.value, name, each.said) for name, each in _of_each(assessment, DISCHARGE_TEMPERATURE)]
    there = [(value, name, said) for value, name, said in shown if value is not None]
    limits = entry.limits
    if not there:
        reason = next((said.text for _, _, said in shown), "no compressor's discharge is measured")
        return Facts(f"the discharge temperature cannot be told now: {reason}")
    value, name, said = max(there, key=lambda each: each[0])
    text = f"discharge of compressor {name} is {value:.1f} degC at {', '.join(said.probes)}"
    text += "" if limits.limit_c is None else f", limit {limits.limit_c:g} degC"
    text += "" if limits.urgent_c is None else f", urgent from {limits.urgent_c:g} degC"
    return Facts(text + _undecided(said), ", ".join(said.probes))


def _subcooling_facts(entry: Entry, assessment: Assessment) -> Facts:
    shown, limit = assessment.quantities.get(SUBCOOLING), entry.limits.limit_k
    if shown is None or shown.value is None:
        reason = shown.said.text if shown is not None else "it was not looked at then"
        return Facts(f"subcooling cannot be told now: {reason}", limit_k=limit)
    probes = ", ".join(shown.said.probes)
    text = f"subcooling {shown.value:.1f} K (-{shown.below:.1f} +{shown.above:.1f}) at {probes}"
    text += "" if limit is None else f", limit {limit:g} K"
    text += _undecided(shown.said)
    return Facts(text, probes, shown.value, shown.below, shown.above, limit)


def _undecided(said: Said) -> str:
    return "" if said.status is Status.DECIDED else f"; {said.status.replace('_', ' ')}: {said.text}"


def _of_each(assessment: Assessment, family: str) -> Iterator[tuple[str, Quantity]]:
    for name, quantity in assessment.quantities.items():
        if name.startswith(family):
            yield name.removeprefix(family), quantity


HIGHSIDE_FACTS: Mapping[str, Callable[[Entry, Assessment], Facts]] = {
    DISCHARGE_SUPERHEAT_LOW.name: _wet_facts,
    DISCHARGE_TEMPERATURE_HIGH.name: _hot_facts,
    SUBCOOLING_LOW.name: _subcooling_facts,
    SUBCOOLING_HIGH.name: _subcooling_facts,
}
