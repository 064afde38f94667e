"""What a module's probes can show of its piping in a season: which layouts the telemetry cannot tell apart.

Written from the piping alone, ahead of any answer of the agent's: what has joined ahead of a probe warms it,
a pipe on the high side is hot, nothing flows in a dead one. What follows from valves and compressors counts
only where their signals are sent. Not counted on: what shells do to the probes beside them after a stop, the
three minutes of the bleed, and which liquid probe is which.
"""

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations

from demo_feed.bench import ARRANGEMENTS, SEASONS, Arrangement
from demo_feed.bench.arrangements import HOT_GAS, OIL_RETURN

RETURNS = "as the vapour that returns"
WARMED = "warmed by oil"
STEPPED = "warmed by oil, and by hot gas when the bypass opens"
HOT = "hot"
AIR = "as the air"
CHANGES = "hot or cold as its coil's valve tells"
BRANCH = "warmed by oil, and towards the air while its compressor stands"
STREAM = "as the subcooler's own stream"
ON_EITHER_SIDE = frozenset({"second_suction"})  # of the inlets, as far as its layout says
EITHER = frozenset({RETURNS, WARMED, STEPPED})
ALONE = frozenset({"cooling"})  # duties in whose days one of two compressors runs alone for hours


@dataclass(frozen=True)
class Seen:
    """What is sent of a module beside its probes."""

    compressors: int  # of whose running something is sent
    injection: bool
    bypass: bool  # it opens in settled running, and its valve is sent
    each_stood: bool  # in more than a day, each of two compressors once stands while the other runs


def look(piping: Arrangement, probe: str, duty: str, bypass: bool, alone: bool) -> str:
    """What a probe shows while the module does its duty. ``alone``: a compressor stands while one runs."""
    if probe == piping.rooms_probe:
        return (HOT if piping.pipes == 2 else AIR) if duty == "heating" else RETURNS
    if probe == "subcooler_gas":
        return STREAM if duty == "cooling" else AIR
    if probe.endswith("_coil_gas"):
        return {"cooling": HOT, "heating": RETURNS, "simultaneous": CHANGES}[duty]
    if probe in piping.line:
        joined = piping.line[: piping.line.index(probe)]
        if HOT_GAS in joined and bypass:
            return STEPPED
        return WARMED if OIL_RETURN in joined else RETURNS
    return BRANCH if alone else WARMED


def explains(
    layout: str, truth: Arrangement, duties: Sequence[str], seen: Seen, placed: Mapping[str, str]
) -> bool:
    """Whether a layout shows the same with the true probes at these places of it."""
    piping = ARRANGEMENTS[layout]
    if seen.compressors > piping.compressors or (seen.injection and not piping.injection):
        return False
    if not set(duties) <= set(piping.modes):
        return False
    for duty in duties:
        alone = duty in ALONE and seen.compressors > 1
        bypass = seen.bypass and truth.bypass_valve
        for probe, place in placed.items():
            shown = look(truth, probe, duty, bypass, alone)
            wanted = look(piping, place, duty, bypass and piping.bypass_valve, alone)
            if place in ON_EITHER_SIDE and shown in EITHER:
                continue
            if wanted == BRANCH and shown == WARMED and not seen.each_stood:
                continue  # it may be the branch of the one that never stood
            if shown != wanted:
                return False
    return True


def alike(truth: Arrangement, duties: Sequence[str], seen: Seen) -> frozenset[str]:
    """The layouts that show the same with the true probes at some of their places, the true one too."""
    return frozenset(
        name
        for name, piping in ARRANGEMENTS.items()
        if any(explains(name, truth, duties, seen, placed) for placed in _placings(truth, piping))
    )


def _placings(truth: Arrangement, piping: Arrangement) -> Iterator[dict[str, str]]:
    probes = truth.suction_probes
    for places in permutations(piping.suction_probes, len(probes)):
        yield dict(zip(probes, places, strict=True))


def duties_of(seasons: Sequence[str]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(SEASONS[season].duty for season in seasons))
