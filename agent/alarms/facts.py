"""What an alarm has to show for itself: the figures of an assessment that it rests on."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple

from agent.alarms.catalogue import PROBE_UNFIT, SUPERHEAT_LOW, Entry, Priority
from agent.alarms.detection import Detection
from agent.assess.assessment import AT_PROBE, Assessment
from agent.piping import RETURN, Standing


class Facts(NamedTuple):
    """An alarm's evidence at a time; K. None: not known at that time."""

    probe: str | None
    value_k: float | None
    below_k: float | None
    above_k: float | None
    limit_k: float | None
    misleads_k: float | None  # what the site's probe shows minus return superheat
    text: str


def facts(entry: Entry, assessment: Assessment, configured_probe: str | None) -> Facts:
    """The evidence for an alarm in an assessment."""
    returned = assessment.quantities[RETURN]
    if entry.name == PROBE_UNFIT.name and configured_probe is not None:
        shown = assessment.quantities.get(AT_PROBE + configured_probe)
        by = _difference(shown.value if shown else None, returned.value)
        verdict, reason = assessment.fitness[configured_probe]
        if by is None:
            misleads = "by how much it misleads cannot be told now"
        else:
            misleads = f"it shows {abs(by):.1f} K {'more' if by >= 0 else 'less'} than return superheat"
        text = f"{configured_probe} is {verdict.replace('_', ' ')}: {reason}; {misleads}"
        value = shown if shown and shown.value is not None else None
        return Facts(
            configured_probe,
            value.value if value else None,
            value.below if value else None,
            value.above if value else None,
            None,
            by,
            text,
        )
    second = returned.said.standing is Standing.SECOND_BEST
    limit = entry.limits.second_best_k if second else entry.limits.limit_k
    probes = ", ".join(returned.said.probes)
    if returned.value is None or returned.below is None or returned.above is None:
        text = f"return superheat: {returned.said.text}"
    else:
        text = (
            f"return superheat {returned.value:.1f} K (-{returned.below:.1f} +{returned.above:.1f}) "
            f"at {probes}, limit {limit:g} K"
        )
    return Facts(probes or None, returned.value, returned.below, returned.above, limit, None, text)


def cannot_prove_dry(catalogue: Mapping[str, Entry], assessment: Assessment) -> str | None:
    """Says so where the uncertainty is so wide that a superheat at its limit could still be liquid."""
    returned, limits = assessment.quantities[RETURN], catalogue[SUPERHEAT_LOW.name].limits
    if returned.below is None or limits.limit_k is None or returned.below <= limits.limit_k:
        return None
    return (
        f"these instruments cannot prove dry suction: the uncertainty of {returned.below:.1f} K "
        f"exceeds the limit of {limits.limit_k:g} K"
    )


def priority(entry: Entry, state: Detection, assessment: Assessment) -> Priority:
    """How soon to look: sooner when the evidence leaves no doubt, later when the value is second best."""
    if assessment.quantities[RETURN].said.standing is Standing.SECOND_BEST:
        return Priority.LOW
    return entry.urgent if state.without_doubt and entry.urgent else entry.priority


def active(states: Mapping[str, Detection]) -> dict[str, Detection]:
    """The alarms that are active."""
    return {name: state for name, state in states.items() if state.active}


def _difference(shown: float | None, returned: float | None) -> float | None:
    return None if shown is None or returned is None else shown - returned
