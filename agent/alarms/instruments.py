"""Instruments that have failed: which, how, on what evidence, and what speaks in their place.

No entry here is ever suppressed: what an instrument shows is what everything else rests on.
"""

from __future__ import annotations

import numpy as np

from agent.alarms.condition import CODE, Condition
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.finding import Facts
from agent.assess.assessment import SATURATED_SUCTION, Assessment, Cause, Status
from agent.assess.failing.failures import KINDS, Kind
from agent.assess.frames import BoolArray, IntArray
from agent.assess.stretch import Stretch
from agent.piping import RETURN, STEADY_MODES

PROBE_FAILED = Entry(
    name="probe-failed",
    raised_when=(
        "A probe or a transducer is open or shorted, frozen, has jumped, or contradicts saturation; or a "
        "pressure is near or below atmospheric. The alarm says what speaks in its place. The priority is "
        "high where return superheat rests on that instrument, or where both pressures are near "
        "atmospheric."
    ),
    cause=(
        "A probe or a pressure transducer shows what cannot be true, or a pressure near or below "
        "atmospheric: then the refrigerant may have leaked out; no other alarm tells of low suction pressure."
    ),
    consequence=(
        "It is not used any more: another probe speaks in its place, or nothing does. A pressure near "
        "atmospheric is still used."
    ),
    first_response=(
        "Look at its plug, its wire and its clamp, at its neighbours, and at the gateway's point behind "
        "it. Where a pressure is near or below "
        "atmospheric, expect gas first: no flame, no switching, air the place; look for oil stains, read a "
        "leak detector rated for this refrigerant, and see that the stop valves stand open."
    ),
    priority=Priority.MEDIUM,
    urgent=Priority.HIGH,
    # The rules confirm by themselves. Off only after more running than it takes to see a probe stand still.
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=120, off_delay_s=4500),
    never_suppressed=True,
)

_KIND = {
    Kind.JUMP: "jumped",
    Kind.FROZEN: "stands still",
    Kind.IMPOSSIBLE: "cannot be true",
    Kind.OPEN_OR_SHORT: "open or short circuit",
    Kind.NEAR_ATMOSPHERE: "near or below atmospheric",
}
_NEAR_ATMOSPHERE = KINDS.index(Kind.NEAR_ATMOSPHERE)
_NO_FAILURE = [KINDS.index(kind) for kind in (Kind.FINE, Kind.SPIKE)]


def probe_failed(stretch: Stretch) -> IntArray:
    """Beyond where an instrument has failed; without doubt where it is one that return superheat rests on.

    Without doubt as well where both pressures are near atmospheric: a leak is to be looked at first.

    A module that stands shows nothing of most failures: there it neither raises nor clears by them.
    """
    failed = {name: ~np.isin(stretch.failures.kinds(name), _NO_FAILURE) for name in stretch.failures.codes}
    anything = np.any([np.zeros(stretch.grid_us.shape, bool), *failed.values()], axis=0)
    weighty = anything & _transducer_failed(stretch)
    for number, (_, choices) in enumerate(stretch.situations):
        for probe in choices.lacks.get(RETURN, ()):
            weighty |= failed[probe] & (stretch.situation == number)
    near = [stretch.failures.kinds(name) == _NEAR_ATMOSPHERE for name in stretch.failures.codes]
    weighty |= np.sum(near, axis=0, dtype=np.int64) >= 2 if near else False
    steady = np.array([situation.mode in STEADY_MODES for situation, _ in stretch.situations])
    code = np.where(steady[stretch.situation], CODE[Condition.CLEAR], CODE[Condition.UNKNOWN])
    code[anything] = CODE[Condition.BEYOND]
    code[weighty] = CODE[Condition.BEYOND_DOUBT]
    return code


def _transducer_failed(stretch: Stretch) -> BoolArray:
    """Where saturated suction is not told because its transducer has failed."""
    if SATURATED_SUCTION not in stretch.tracks:
        return np.zeros(stretch.grid_us.shape, bool)
    return stretch.has_cause(stretch.tracks[SATURATED_SUCTION], Cause.FAILED)


def probe_failed_facts(assessment: Assessment) -> Facts:
    """Which has failed, how, and what return superheat rests on instead."""
    if not assessment.failed:
        return Facts("no probe and no transducer shows a failure now")
    told = [f"{name} ({_KIND[Kind(kind)]}): {text}" for name, (kind, text) in assessment.failed.items()]
    returned = assessment.quantities[RETURN].said
    if returned.status in (Status.DECIDED, Status.NOT_SETTLED):
        now = f"return superheat is taken from {' and '.join(returned.probes)}: {returned.text}"
    else:
        now = f"return superheat is {returned.status.replace('_', ' ')}: {returned.text}"
    return Facts("; ".join([*told, now]), ", ".join(assessment.failed))
