"""On which side of an inlet a probe sits, by clamps ahead of and after it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from functools import partial
from typing import NamedTuple

from agent.assess.by_hand.exchanged import exchange
from agent.assess.by_hand.readings import ByHand, HandheldCompared, Kind, Moment, Of, Verdict, expanded
from agent.assess.by_hand.tracking import Side
from agent.assess.module import SECOND
from agent.piping import Effect, Fitness, Inlet, Layout, Place
from agent.thermo import standard_uncertainty

PAIR_US = 600 * SECOND  # between two clamps at one inlet; design choice, no source
# What to look at on site; common practice, no source.
OTHER_WAY = "Are the two clamps, or the two sides, exchanged?"
BEFORE_CORRECTING = (
    "Both clamps tight, insulated, ten pipe diameters from a joint? Measure both once more; if it stays, "
    "follow the pipe on site before the layout or the point is corrected."
)


class _Clamp(NamedTuple):
    hand: ByHand
    moment: Moment

    @property
    def u(self) -> float:
        return standard_uncertainty(self.hand.half_width)

    def apart_from(self, probe: str) -> tuple[float, float]:
        """Telemetry minus by hand, and the expanded uncertainty of that [K]."""
        return self.moment.value(probe) - self.hand.value, expanded(self.u, self.moment.u(probe))


def sides(by_hand: Sequence[ByHand], moments: Mapping[int, Moment]) -> Iterator[HandheldCompared]:
    """What clamps on both sides of an inlet say, each after it with the nearest in time ahead of it."""
    for after in by_hand:
        if after.side is not Side.AFTER or after.place not in moments[after.at_us].layout.inlets:
            continue
        if ahead := partners(after, by_hand):
            nearest = min(ahead, key=lambda each: abs(each.at_us - after.at_us))
            yield from _pair(_Clamp(nearest, moments[nearest.at_us]), _Clamp(after, moments[after.at_us]))


def partners(hand: ByHand, by_hand: Sequence[ByHand]) -> list[ByHand]:
    """The clamps on the other side of the same inlet at about the same time."""
    return [
        each
        for each in by_hand
        if hand.kind is each.kind is Kind.INLET
        and each.place == hand.place
        and each.side is not hand.side
        and abs(each.at_us - hand.at_us) <= PAIR_US
    ]


def _pair(ahead: _Clamp, after: _Clamp) -> Iterator[HandheldCompared]:
    """What two clamps say of the inlet between them, and of each probe that its stream may reach."""
    layout = after.moment.layout
    inlet = layout.inlets[after.hand.place]
    at_us = max(ahead.hand.at_us, after.hand.at_us)
    warmer_k, spread_k = after.hand.value - ahead.hand.value, expanded(ahead.u, after.u)
    said = f"ahead of {inlet.name} {ahead.hand.figure(ahead.hand.value)} by hand, after it "
    said += after.hand.number(after.hand.value)
    both = (ahead.hand.at_us, after.hand.at_us)
    nothing = partial(
        HandheldCompared, Of.SIDE, at_us=at_us, inlet=inlet.name, side=Side.CANNOT_TELL, rests_on=both
    )
    if abs(warmer_k) <= spread_k:
        errors = f"the clamps' own errors (±{after.hand.amount(spread_k)})"
        text = f"{said}: cannot tell sides, that is no more than {errors}"
        yield nothing("", Verdict.CANNOT_TELL, text)
        return
    if inlet.effect is not Effect.EITHER and (warmer_k > 0) != (inlet.effect is Effect.WARMS):
        text = f"{said}: cannot tell sides, that is the other way than {inlet.name} works; look on site"
        yield nothing("", Verdict.CANNOT_TELL, text, advice=OTHER_WAY)
        return
    found = []
    for probe in _beside(layout, inlet, ahead, after):
        doubt = ahead.moment.doubt(probe) or after.moment.doubt(probe) or _masked(after.moment, inlet, probe)
        if doubt:
            found.append(
                nothing(probe, Verdict.CANNOT_TELL, f"{said}: cannot tell where {probe} sits, {doubt}")
            )
        else:
            found.append(_side(ahead, after, inlet, probe, said, at_us)._replace(rests_on=both))
    wrong = {
        side: [each.probe for each in found if each.contradicts_layout and each.side is side] for side in Side
    }
    if len(wrong[Side.AHEAD]) == len(wrong[Side.AFTER]) == 1:
        crossed = exchange((*wrong[Side.AHEAD], *wrong[Side.AFTER]), at_us)
        yield crossed._replace(inlet=inlet.name, rests_on=both)
        yield from found
        return
    vouched = any(each.verdict is Verdict.AGREES and not each.contradicts_layout for each in found)
    for each in found:
        if each.contradicts_layout and not vouched:
            text = f"{said}: cannot tell where {each.probe} sits; by the clamps it would be {each.side} of "
            text += f"{inlet.name}, but no other probe reads like its clamp: both clamps may read warm"
            yield nothing(each.probe, Verdict.CANNOT_TELL, text)
        else:
            yield each


def _beside(layout: Layout, inlet: Inlet, ahead: _Clamp, after: _Clamp) -> list[str]:
    """Probes on the line that an inlet joins, where suction gas flows now."""
    joined = layout.downstream(Place("inlet", inlet.name))
    elsewhere = (Fitness.HIGH_SIDE, Fitness.IDLE)
    return [
        probe
        for probe in layout.suction_probes
        if probe in after.moment.module.signals
        and (Place("probe", probe) in joined or layout.downstream(Place("probe", probe)) & joined)
        and not any(clamp.moment.verdict(probe) in elsewhere for clamp in (ahead, after))
    ]


def _masked(moment: Moment, inlet: Inlet, probe: str) -> str:
    """Another inlet between this one and a probe, that may undo there what this one does."""
    layout = moment.layout
    joined = layout.downstream(Place("inlet", inlet.name))
    for other in layout.inlets.values():
        between = (
            other.name != inlet.name
            and layout.downstream(Place("inlet", other.name)) <= joined
            and Place("inlet", other.name) in layout.upstream(Place("probe", probe))
        )
        shut = other.valve is not None and moment.valves.get(other.valve) is False
        alike = other.effect is inlet.effect and inlet.effect is not Effect.EITHER
        if between and not shut and not alike:
            return f"{other.name} joins in between and may undo what {inlet.name} does"
    return ""


def _side(ahead: _Clamp, after: _Clamp, inlet: Inlet, probe: str, said: str, at_us: int) -> HandheldCompared:
    before_k, u_before_k = ahead.apart_from(probe)
    behind_k, u_behind_k = after.apart_from(probe)
    like_ahead, like_after = abs(before_k) <= u_before_k, abs(behind_k) <= u_behind_k
    there = after.moment.value(probe)
    said += f", {probe} {after.hand.number(there)} by telemetry"
    result = partial(HandheldCompared, Of.SIDE, probe, at_us=at_us, telemetry=there, inlet=inlet.name)
    if like_ahead == like_after:
        why = "both clamps" if like_ahead else "neither clamp"
        text = f"{said}: cannot tell where {probe} sits, it reads like {why}"
        return result(Verdict.CANNOT_TELL, text, side=Side.CANNOT_TELL)
    side = Side.AHEAD if like_ahead else Side.AFTER
    apart_k, spread_k = (before_k, u_before_k) if like_ahead else (behind_k, u_behind_k)
    result = partial(result, difference_k=apart_k, u_k=spread_k, side=side)
    layout = after.moment.layout
    of = " of" if side is Side.AHEAD else ""
    within = f"within ±{after.hand.amount(spread_k)}"
    text = f"{said}: {probe} sits {side}{of} {inlet.name} ({within}), and layout {layout.name} "
    stated = _stated(layout, inlet, probe)
    if stated is None:
        return result(Verdict.AGREES, f"{text}leaves that open")
    if stated is side:
        return result(Verdict.AGREES, f"{text}says so: it is confirmed there")
    text += f"says {stated}: this layout is denied"
    return result(Verdict.DIFFERS, text, contradicts_layout=True, advice=BEFORE_CORRECTING)


def _stated(layout: Layout, inlet: Inlet, probe: str) -> Side | None:
    """On which side of an inlet the layout has a probe; None: it leaves that open."""
    if inlet.name in layout.unproven.get(probe, ()):
        return None
    joined = Place("inlet", inlet.name) in layout.upstream(Place("probe", probe))
    return Side.AFTER if joined else Side.AHEAD
