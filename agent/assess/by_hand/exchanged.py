"""Two signals that may be exchanged: a clamp beside one probe reads what the other one's signal says."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from itertools import combinations

from agent.assess.by_hand.readings import ByHand, HandheldCompared, Kind, Moment, Of, Verdict, expanded
from agent.assess.by_hand.tracking import Side
from agent.thermo import standard_uncertainty

EXPLAINS_BOTH = "exchanged signals explain both; correct the points, not the layout"
DENIES_NOTHING = "the layout is not denied by it"


def reads_like(moment: Moment, hand: ByHand) -> str:
    """Another suction probe whose telemetry a clamp agrees with, the nearest one; empty: none."""
    if hand.kind is not Kind.PROBE or hand.place not in moment.layout.suction_probes:
        return ""
    near = {}
    for probe in moment.layout.suction_probes:
        if probe == hand.place or moment.doubt(probe):
            continue
        apart_k = abs(moment.value(probe) - hand.value)
        if apart_k <= expanded(standard_uncertainty(hand.half_width), moment.u(probe)):
            near[probe] = apart_k
    return min(near, key=lambda probe: near[probe], default="")


def exchanged(readings: Iterable[HandheldCompared]) -> Iterator[HandheldCompared]:
    """Of two clamps, each of which reads like the other's probe: once for each two probes, the newest."""
    found = {}
    for one, other in combinations([each for each in readings if each.like], 2):
        if (one.like, other.like) == (other.probe, one.probe):
            found[frozenset((one.probe, other.probe))] = max(one.at_us, other.at_us)
    for probes, at_us in found.items():
        yield exchange(probes, at_us)


def exchange(probes: Iterable[str], at_us: int) -> HandheldCompared:
    """What follows of two probes whose clamps read crosswise."""
    one, other = sorted(probes)
    text = f"each clamp reads what the other probe's signal says, {one} and {other}: {EXPLAINS_BOTH}"
    return HandheldCompared(Of.EXCHANGED, one, Verdict.DIFFERS, text, at_us, like=other)


def not_denied(sides: Sequence[HandheldCompared], probes: Iterable[str]) -> Iterator[HandheldCompared]:
    """The sides of inlets once more; those of exchanged probes tell nothing of the layout."""
    known = set(probes)
    for each in sides:
        if each.of is Of.SIDE and each.contradicts_layout and each.probe in known:
            said, _, _ = each.text.partition(": ")
            text = (
                f"{said}: cannot tell where {each.probe} sits, its signal may be exchanged; {DENIES_NOTHING}"
            )
            yield each._replace(
                verdict=Verdict.CANNOT_TELL,
                text=text,
                side=Side.CANNOT_TELL,
                contradicts_layout=False,
                difference_k=None,
                u_k=None,
                advice="",
            )
        else:
            yield each
