"""A bench on which one simulated module of any described arrangement runs for days, healthy or with faults.

Where the demonstration's site tells one story, the bench is for trials with a known truth: arrangement,
season, faults of the process and of the instruments, gateway, seed. **All of it is invented**.

    unit = Unit(ARRANGEMENTS["two-pipe-twin-late"], season="cooling",
                faults=(Fault(FaultKind.UNDERCHARGE, 0.8, begins_us=..., grows_s=6 * 3600),))
    for played in play(unit, Gateway(poll_s=60), seed="a", start_us=..., end_us=...): ...
"""

from demo_feed.bench.arrangements import ARRANGEMENTS, Arrangement
from demo_feed.bench.days import SEASONS, Season
from demo_feed.bench.faults import Fault, FaultKind
from demo_feed.bench.instruments import (
    Gateway,
    Instrument,
    Renaming,
    SensorFault,
    SensorFaultKind,
    Supervisor,
    neutral,
)
from demo_feed.bench.play import Played, play
from demo_feed.bench.unit import Truth, Unit

__all__ = [
    "ARRANGEMENTS",
    "SEASONS",
    "Arrangement",
    "Fault",
    "FaultKind",
    "Gateway",
    "Instrument",
    "Played",
    "Renaming",
    "Season",
    "SensorFault",
    "SensorFaultKind",
    "Supervisor",
    "Truth",
    "Unit",
    "neutral",
    "play",
]
