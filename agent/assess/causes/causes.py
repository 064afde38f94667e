"""Likely causes: what would explain the signs of late, ranked, each with what speaks for and against it.

A fault is weighed by the signs it should bring; one wrong sensor is weighed as well. Where no cause stands
out, it says so and names what would tell the best two apart. Hints: nothing here raises an alarm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from agent.assess.byhour.baseline import Baseline
from agent.assess.byhour.hours import Hour, settled_in
from agent.assess.causes.faults import HEATING_LIMITS, LIMITS
from agent.assess.causes.signs import FEWEST, Sign, label, signs
from agent.assess.causes.weighing import Candidate, LikelyCause, Weighed, candidates, unknown, weigh
from agent.assess.module import Module
from agent.piping import STEADY_MODES

MOST_HOURS = 24  # settled hours of late; design choice, no source
MODES_READ = ("cooling", "heating")

# Of a score; design choices, no source.
LEAST_SCORE = 0.5
CLEARLY = 0.15  # ahead of the next
ALONE = 4.0  # strength of a sign that a verdict may rest on alone
_GOES = {1: "rises", -1: "falls", 0: "stays", None: "may do either"}


@dataclass(frozen=True)
class Causes:
    """Ranked, the likeliest first; empty where nothing can be, or need be, explained."""

    mode: str | None  # None: no settled hour
    hours: int
    ranking: tuple[LikelyCause, ...]
    verdict: str
    limits: str  # of what this can tell; shown with it, always
    named: str | None = None  # the cause that the verdict points to; None: none
    signs: tuple[Sign, ...] = ()

    @property
    def unknown(self) -> tuple[str, ...]:
        """The signs that cannot be compared, and why."""
        return unknown((sign.name, sign.why) for sign in self.signs if sign.why)


def causes(module: Module, baseline: Baseline, hours: Sequence[Hour], mode: str | None = None) -> Causes:
    """The likely causes behind the last settled hours of one mode.

    ``hours``: of late, ascending. ``mode``: None: that of the last settled hour.
    """
    mode = mode or _last_mode(hours)
    if mode is None:
        return Causes(None, 0, (), "cannot tell: no settled hour of late", LIMITS)
    limits = f"{LIMITS} {HEATING_LIMITS}" if mode == "heating" else LIMITS
    recent = _recent(baseline, hours, mode)
    reason = _hindrance(module, baseline, mode, len(recent))
    if reason:
        return Causes(mode, len(recent), (), f"cannot tell: {reason}", limits)
    seen = signs(module, baseline, recent, mode)
    every = tuple(seen.values())
    if not any(sign.direction for sign in every):
        return Causes(mode, len(recent), (), _nothing(every), limits, None, every)
    weighed = [weigh(candidate, mode, seen) for candidate in candidates(module, mode, seen)]
    ranked = sorted((each for each in weighed if each.support), key=lambda each: -each.cause.score)
    named, verdict = _verdict(ranked, seen)
    ranking = tuple(each.cause for each in ranked)
    return Causes(mode, len(recent), ranking, verdict, limits, named, every)


def _last_mode(hours: Sequence[Hour]) -> str | None:
    settled = (hour.settled_mode for hour in reversed(hours))
    return next((mode for mode in settled if mode in STEADY_MODES), None)


def _recent(baseline: Baseline, hours: Sequence[Hour], mode: str) -> list[Hour]:
    """The last settled ones, none of them among those that were learnt."""
    since_us = baseline.from_us.get(mode, 0)
    return settled_in([hour for hour in hours if hour.from_us >= since_us], mode)[-MOST_HOURS:]


def _hindrance(module: Module, baseline: Baseline, mode: str, count: int) -> str | None:
    if mode not in MODES_READ:
        return f"no table of signs is known for mode {mode}"
    if mode not in module.layout.modes:
        return f"the layout says nothing of mode {mode}"
    if baseline.lacking(mode):
        return baseline.lacking(mode)
    return f"{count} of {FEWEST} settled hours in {mode}" if count < FEWEST else None


def _nothing(every: Sequence[Sign]) -> str:
    count = sum(bool(sign.why) for sign in every)
    if count == len(every):
        return "cannot tell: no sign can be compared with what is usual"
    but = f"; {count} of {len(every)} signs are unknown" if count else ""
    return f"nothing deviates from what is usual{but}; a fault present when it was learnt is not seen"


def _verdict(ranked: Sequence[Weighed], seen: Mapping[str, Sign]) -> tuple[str | None, str]:
    """The name of the cause that stands out, if any, and the sentence."""
    if not ranked or ranked[0].cause.score <= 0:
        return None, "cannot tell: no known cause explains what deviates"
    best = ranked[0]
    if best.cause.score < LEAST_SCORE:
        return (
            None,
            f"cannot tell: no cause explains enough of what deviates; the closest is {best.cause.title}",
        )
    if len(best.support) < 2 and best.support[0] < ALONE:
        return None, "cannot tell: only one sign deviates, and not by much"
    if len(ranked) < 2 or best.cause.score - ranked[1].cause.score >= CLEARLY:
        if best.candidate.is_ordinary:
            return None, f"cannot tell: {best.cause.title}, which is no more than it may be wrong by anyway"
        return best.cause.name, f"points to {best.cause.title}"
    titles = f"{best.cause.title}, or {ranked[1].cause.title}"
    return None, f"cannot tell: {titles}; {_apart(best.candidate, ranked[1].candidate, seen)}"


def _apart(best: Candidate, other: Candidate, seen: Mapping[str, Sign]) -> str:
    """The reading that tells two causes apart: one that is lacking, else one that hardly speaks now."""
    differing = []
    for name in sorted({*best.expects, *other.expects}):
        goes = [_direction(candidate, name) for candidate in (best, other)]
        if goes[0] != goes[1] and any(goes):
            sign = seen.get(name)
            is_known = sign is not None and not sign.why
            is_clear = None not in goes
            if is_clear or not is_known:
                strength = abs(sign.strength) if sign else 0.0
                differing.append((is_known, not is_clear, strength, name, goes))
    if not differing:
        return "no sign that is read here tells them apart: go by what to look at for each"
    is_known, _, _, name, goes = min(differing, key=lambda each: each[:4])
    by_hand = " read by hand" if is_known else ""
    one, other_way = (_GOES[each] for each in goes)
    return f"{label(name)}{by_hand} would tell: it {one} with the one and {other_way} with the other"


def _direction(candidate: Candidate, name: str) -> int | None:
    expected = candidate.expects.get(name)
    return expected.direction if expected and expected.weight else None
