"""Every alarm by name: what it means, what may follow, what to look at first, and its limits.

The limits are common practice without a published source unless one is named; all of them are config.
"""

from __future__ import annotations

from collections.abc import Mapping

from agent.alarms.drift import PROBE_DRIFT
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.highside import (
    DISCHARGE_SUPERHEAT_LOW,
    DISCHARGE_TEMPERATURE_HIGH,
    SUBCOOLING_HIGH,
    SUBCOOLING_LOW,
)
from agent.alarms.identity import LAYOUT_DOUBT
from agent.alarms.instruments import PROBE_FAILED
from agent.alarms.oil import OIL_RETURN_ABSENT, OIL_RETURN_EXCESS

SUPERHEAT_LOW = Entry(
    name="superheat-low",
    raised_when=(
        "Return superheat is under its limit and saturation cannot be excluded: the value less its "
        "uncertainty is zero or below. The priority is high when even the value with all its uncertainty is "
        "under the limit; it is low while the values do not settle, where only one of two probes shows it, "
        "or where only the compressor inlet does and the discharge does not tell."
    ),
    cause="The returning vapour is close to saturation: liquid cannot be excluded.",
    consequence=(
        "Liquid thins the oil and can break the compressor. An accumulator behind that probe holds some of "
        "it back for a time; how much has passed is not seen there."
    ),
    first_response=(
        "See which indoor units call and how far their expansion valves stand open; look whether their fans "
        "turn and their filters are clean. At the module, touching nothing: whether the compressor's shell "
        "sweats or frosts, and up to where the accumulator does; what the bypass valve does; with a clamp "
        "(fitted only with the unit isolated: some pipes burn; read when it runs again) the temperature "
        "beside the probe that was used, and on the bypass pipe, which is hot where it leaks."
    ),
    priority=Priority.MEDIUM,
    urgent=Priority.HIGH,
    may_break=True,
    limits=Limits(limit_k=2.0, second_best_k=0.5, deadband_k=1.0, on_delay_s=600, off_delay_s=600),
)
SUPERHEAT_HIGH = Entry(
    name="superheat-high",
    raised_when="Return superheat is above its limit by more than its uncertainty.",
    cause=(
        "The returning vapour is far above saturation: either too little refrigerant reaches the evaporators "
        "or the pipe gains heat."
    ),
    consequence="Capacity falls and the compressor runs hot.",
    first_response=(
        "See which indoor units run and whether their expansion valves move; look for frost, for service "
        "valves that stand closed, for insulation that is missing on the suction line, and for traces of oil "
        "at joints."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=14.0, second_best_k=20.0, deadband_k=2.0, on_delay_s=1800, off_delay_s=900),
)
SUPERHEAT_HUNTING = Entry(
    name="superheat-hunting",
    raised_when="Return superheat swings to and fro by more than the limit.",
    cause="Return superheat swings to and fro: an expansion valve does not find its place.",
    consequence="Liquid may come back in the valleys; capacity and efficiency fall.",
    first_response=(
        "See which indoor unit's expansion valve opens and shuts in step with the swing; look whether its "
        "fan turns, its filter is clean and its pipe probes sit tight."
    ),
    priority=Priority.LOW,
    limits=Limits(limit_k=5.0, second_best_k=None, deadband_k=1.5, on_delay_s=1200, off_delay_s=1200),
)
PROBE_UNFIT = Entry(
    name="probe-unfit",
    raised_when=(
        "The site takes superheat from a probe that is not fit in this mode: the configured_probe, or the "
        "probe that the supervisor's own figure (supervisor_superheat) is found to be made of. The alarm "
        "says by how much that misleads."
    ),
    cause="The site takes superheat from a probe that is not fit for it in this mode.",
    consequence="The site's figure misleads: returning liquid can look like healthy superheat.",
    first_response=(
        "Look on site where the probe is clamped and what joins ahead of it; until that is settled, do not "
        "go by the site's figure."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=600, off_delay_s=600),
)

WATCH_BLIND = Entry(
    name="watch-blind",
    raised_when=(
        "The module runs, and for the whole delay no return superheat was decided; or only one behind an "
        "accumulator that hides liquid, while no discharge tells. The alarm says why."
    ),
    cause="The module runs, and its return superheat cannot be decided.",
    consequence="Liquid coming back would not be noticed.",
    first_response=(
        "Where readings are missing, look at the probe's plug and wire and at the gateway; where values do "
        "not settle, at the expansion valves and at how often the compressors start; where it is the piping, "
        "see which probe would help (`dewline explain` of the module)."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(
        limit_k=None,
        second_best_k=None,
        deadband_k=0.0,
        on_delay_s=3600,
        off_delay_s=0,
        urgent_on_delay_s=0,
    ),
)

FEED_STALE = Entry(
    name="feed-stale",
    raised_when=(
        "The agent has no broker, the gateway is silent, signals are silent longer than they may be, or old "
        "values are repeated under new times. It is judged by the wall clock."
    ),
    cause="Readings do not come as they should: from the broker, the gateway, or single signals.",
    consequence="What is shown is old, and what happens now is not seen.",
    first_response=(
        "Look where it breaks off: whether the broker runs, whether the gateway has power and network and "
        "sends for other modules, and at the plugs and wires of the signals that are silent."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=60, off_delay_s=60),
    by_wall_clock=True,
    never_suppressed=True,
)

CATALOGUE: Mapping[str, Entry] = {
    entry.name: entry
    for entry in (
        SUPERHEAT_LOW,
        SUPERHEAT_HIGH,
        SUPERHEAT_HUNTING,
        DISCHARGE_SUPERHEAT_LOW,
        DISCHARGE_TEMPERATURE_HIGH,
        SUBCOOLING_LOW,
        SUBCOOLING_HIGH,
        OIL_RETURN_ABSENT,
        OIL_RETURN_EXCESS,
        PROBE_UNFIT,
        LAYOUT_DOUBT,
        WATCH_BLIND,
        PROBE_FAILED,
        PROBE_DRIFT,
        FEED_STALE,
    )
}
