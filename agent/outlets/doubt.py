"""What makes figures doubtful though they are decided: the layout's alarm, and a rise that cannot be."""

from __future__ import annotations

from collections.abc import Iterable

from agent.alarms.catalogue import SUPERHEAT_HIGH, SUPERHEAT_HUNTING, SUPERHEAT_LOW
from agent.alarms.identity import LAYOUT_DOUBT
from agent.alarms.oil import OIL_RETURN_ABSENT, OIL_RETURN_EXCESS
from agent.assess import AT_PROBE, Assessment, Quantity
from agent.outlets.view import ModuleView
from agent.piping import (
    ACCUMULATOR_CHANGE,
    ACCUMULATOR_OUTLET,
    COMPRESSOR_INLET,
    RETURN,
    RISE,
    Effect,
    Graph,
    Place,
)

BELOW_ZERO = "below zero: probes exchanged, or one reads wrong"
OR_LIQUID = f"{BELOW_ZERO}, or liquid evaporates in the accumulator between them"
_BY_PLACE = (RETURN, ACCUMULATOR_OUTLET, COMPRESSOR_INLET, RISE, ACCUMULATOR_CHANGE)

_ALARMS = frozenset(
    entry.name
    for entry in (SUPERHEAT_LOW, SUPERHEAT_HIGH, SUPERHEAT_HUNTING, OIL_RETURN_ABSENT, OIL_RETURN_EXCESS)
)


def is_in_doubt(view: ModuleView, alarm: str) -> bool:
    """Whether an alarm rests on figures that are in doubt."""
    return alarm in _ALARMS and in_doubt(view, RETURN) is not None


def in_doubt(view: ModuleView, quantity: str) -> str | None:
    """Why a figure may not be what it is shown as, while the layout is in doubt; None: it is not.

    Only what is taken at a place of the suction line rests on where its probes sit.
    """
    if quantity not in _BY_PLACE and not quantity.startswith(AT_PROBE):
        return None
    for alarm in view.alarms:
        if alarm.name == LAYOUT_DOUBT.name:
            return f"IN DOUBT ({alarm.name}): {_shortened(alarm.facts.text)}"
    return None


def before(words: Iterable[str | None], text: str) -> str:
    """Words that come first, and the text."""
    return "; ".join([each for each in words if each] + ([text] if text else []))


def impossible(assessment: Assessment, layout: Graph) -> str | None:
    """That the rise is below zero beyond its uncertainty, where what joins can only warm; None: it is not.

    Across an accumulator liquid that evaporates may cool the gas: that is said beside it.
    """
    rise = assessment.quantities.get(RISE)
    if rise is None or not _is_negative(rise) or len(rise.said.probes) != 2:
        return None
    after, ahead = (layout.upstream(Place("probe", probe)) for probe in rise.said.probes)
    passed = after - ahead
    joined = [inlet for inlet in layout.inlets.values() if Place("inlet", inlet.name) in passed]
    if not joined or any(inlet.effect is not Effect.WARMS for inlet in joined):
        return None
    return OR_LIQUID if any(place.kind == "vessel" for place in passed) else BELOW_ZERO


def _is_negative(rise: Quantity) -> bool:
    return rise.decided and rise.value is not None and rise.above is not None and rise.value + rise.above < 0


def _shortened(text: str) -> str:
    """What was seen, without what may be instead: `dewline explain MODULE --evidence` says it all."""
    return text.partition("; ")[0]
