"""Whose superheat is that? The supervisor's own figure against all that it could have been made of.

Every suction probe, the dew or the bubble line, and the pressure as it is or read against the wrong
reference: each is a way in which a supervisor may make a superheat. Over settled hours the figure is held
against all of them, in three steps:

1. A way *fits* where the figure follows it (spread of the residual) and lies near it (its mean, the offset).
2. Of those that fit, the ones that the figure follows clearly worse than another go. Ups and downs of the
   operating point are proof against chance; a constant offset is not: it may be the supervisor's own
   calibration, another table of saturation, or a correction for a pipe's loss. So the spread goes first.
3. Of those left, the ones that lie clearly further off go. A supervisor that reads the same probe and the
   same transducer comes out nearly equal, so that an offset near zero speaks for a way, if not as loudly.

What is left cannot be told apart, and says so. Probes and transducers are read by both sides, and their own
errors cancel; what remains is rounding, the time between two scans, and the tables.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

import numpy as np

from agent.assess.byhour.hours import Hour, Residual, settled_in
from agent.assess.candidates import TAKEN, Candidate, Pressure, candidates
from agent.assess.module import Module
from agent.assess.signals import SUPERVISOR
from agent.piping import LAYOUT_NOT_KNOWN
from agent.thermo import dew_slope

# Design choices, no source.
FEWEST_HOURS = 6  # settled in one mode
FEWEST_SHARE = 0.5  # of the values that the best-read way has; a probe that hardly reads proves nothing
# How far a figure may lie off the way it is made, beside rounding and its stated accuracy, and the standard
# deviation about that: two scans of a suction line that moves. Less for a way that holds a mistake: with two
# probes there are a dozen of them, 3 to 5 K apart, and a probe that nobody maps would soon be near one.
OFFSET_K, SPREAD_K = 0.8, 1.0
MISTAKEN_OFFSET_K, MISTAKEN_SPREAD_K = 0.3, 0.5
ALIKE_SPREAD_K, ALIKE_K = 0.15, 0.3  # spread and residual below which nothing is told by being smaller
CLEARLY = 2.0  # times worse; about what six independent hours can tell of two spreads


class Match(NamedTuple):
    """How well the supervisor's figure agrees with one way of making it. K."""

    candidate: Candidate
    number: int
    offset_k: float  # mean of the figure minus the candidate
    spread_k: float  # standard deviation of the same
    rms_k: float  # of both together


class Verdict(StrEnum):
    """What is known of the supervisor's superheat in a mode."""

    IDENTIFIED = "identified"  # the probe is known; perhaps not the line nor the pressure
    NOT_DISTINGUISHABLE = "not_distinguishable"  # several probes would give it
    NONE_FITS = "none_fits"
    TOO_FEW = "too_few"  # hours
    NOT_PUBLISHED = "not_published"


@dataclass(frozen=True)
class Identified:
    """What the supervisor's superheat is made of in a mode, as far as hours can tell."""

    mode: str
    verdict: Verdict
    said: str  # what it is made of, or why that is not known
    proof: str = ""  # the figures for it
    hours: int = 0  # settled, that it rests on
    group: tuple[Match, ...] = ()  # the best and what cannot be told from it; the plain ones first
    runner_up: Match | None = None  # the best of the others
    tried: tuple[Match, ...] = ()  # all, by residual

    @property
    def text(self) -> str:
        return f"{self.said}: {self.proof}" if self.proof else self.said

    @property
    def probe(self) -> str | None:
        """The one probe that it is made of; None: not known."""
        return self.group[0].candidate.probe if self.verdict is Verdict.IDENTIFIED else None

    def match(self, candidate: Candidate) -> Match | None:
        return next((each for each in self.tried if each.candidate == candidate), None)


def identify(hours: Sequence[Hour], module: Module, mode: str) -> Identified:
    """What the supervisor's superheat is made of in a mode, over all the settled hours given."""
    if SUPERVISOR not in module.signals:
        return Identified(mode, Verdict.NOT_PUBLISHED, "the supervisor publishes no superheat of its own")
    if not module.layout.is_known:
        return Identified(mode, Verdict.NONE_FITS, LAYOUT_NOT_KNOWN)
    names = {each.name for each in candidates(module)}
    settled = [hour for hour in settled_in(hours, mode) if names & hour.parts[mode].residuals.keys()]
    if len(settled) < FEWEST_HOURS:
        text = f"{len(settled)} of {FEWEST_HOURS} settled hours of {mode} with the supervisor's superheat"
        return Identified(mode, Verdict.TOO_FEW, text, hours=len(settled))
    tried = _tried(settled, mode, names)
    rounding = _Rounding(module, settled, mode)
    fits = [match for match in tried if rounding.fits(match)]
    fitting = [match for match in tried if match in fits or any(_same(match, each) for each in fits)]
    if not fitting:
        said, proof = _none_fits(tried, rounding)
        return Identified(mode, Verdict.NONE_FITS, said, proof, len(settled), tried=tuple(tried))
    group = _group(fitting, max(rounding.spread_k(match.candidate) for match in fitting))
    others = [match for match in tried if match not in group]
    runner_up = others[0] if others else None
    proof = f"{_figures(group[0])} over {len(settled)} settled hours of {mode}"
    if runner_up is not None:
        proof += f"; the next, {runner_up.candidate.words}, has {runner_up.rms_k:.2f} K"
    several = len({match.candidate.probe for match in group}) > 1
    verdict = Verdict.NOT_DISTINGUISHABLE if several else Verdict.IDENTIFIED
    said = f"made of {_one_of(group)}"
    return Identified(mode, verdict, said, proof, len(settled), tuple(group), runner_up, tuple(tried))


def _tried(hours: Sequence[Hour], mode: str, names: Iterable[str]) -> list[Match]:
    """Every candidate that was read often enough, by residual."""
    totals = {name: pooled(hours, mode, name) for name in sorted(names)}
    most = max(total.number for total in totals.values())
    tried = [
        _match(Candidate.of(name), total)
        for name, total in totals.items()
        if total.number >= FEWEST_SHARE * most
    ]
    return sorted(tried, key=lambda match: match.rms_k)


def pooled(hours: Sequence[Hour], mode: str, name: str) -> Residual:
    """The residual of one name over hours of a mode."""
    several = [hour.parts[mode].residuals[name] for hour in hours if name in hour.parts[mode].residuals]
    number, total, squares = (
        (sum(column) for column in zip(*several, strict=True)) if several else (0, 0.0, 0.0)
    )
    return Residual(int(number), float(total), float(squares))


class _Rounding:
    """What rounding makes of a residual, and with it how far one may go."""

    def __init__(self, module: Module, hours: Sequence[Hour], mode: str) -> None:
        self.module = module
        transducer = module.layout.suction_transducer
        pressures = [
            hour.parts[mode].signals[transducer].mean
            for hour in hours
            if transducer in hour.parts[mode].signals
        ]
        slope = float(dew_slope(module.refrigerant, float(np.mean(pressures)))) if pressures else 0.0
        self.pressure_k = slope * module.signals[transducer].step

    def steps_k(self, candidate: Candidate) -> tuple[float, float, float]:
        signals = self.module.signals
        return signals[SUPERVISOR].step, signals[candidate.probe].step, self.pressure_k

    def spread_k(self, candidate: Candidate) -> float:
        """Standard deviation of rounding alone (JCGM 100 F.2.2.1)."""
        return float(np.sqrt(sum(step**2 for step in self.steps_k(candidate)) / 12))

    def offset_k(self, candidate: Candidate) -> float:
        """The largest offset that fits: where one side rounds, the other may cut off."""
        most = OFFSET_K if candidate.is_plain else MISTAKEN_OFFSET_K
        return most + self.module.signals[SUPERVISOR].half_width + max(self.steps_k(candidate)) / 2

    def largest_spread_k(self, candidate: Candidate) -> float:
        most = SPREAD_K if candidate.is_plain else MISTAKEN_SPREAD_K
        return float(np.hypot(most, self.spread_k(candidate)))

    def fits(self, match: Match) -> bool:
        near = abs(match.offset_k) <= self.offset_k(match.candidate)
        return near and match.spread_k <= self.largest_spread_k(match.candidate)


def _match(candidate: Candidate, total: Residual) -> Match:
    mean, squares = total.total / total.number, total.squares / total.number
    spread = float(np.sqrt(max(squares - mean**2, 0.0)))
    return Match(candidate, total.number, mean, spread, float(np.sqrt(squares)))


def _same(one: Match, other: Match) -> bool:
    """Two ways with one probe that come to the same: the lines of a refrigerant with hardly a glide."""
    return one.candidate.probe == other.candidate.probe and abs(one.offset_k - other.offset_k) <= ALIKE_K


def _group(fitting: Sequence[Match], rounding_k: float) -> list[Match]:
    """The best and all that cannot be told from it: first by the spread, then by the whole residual."""
    noise_k = max(ALIKE_SPREAD_K, rounding_k)
    least = max(noise_k, min(match.spread_k for match in fitting))
    following = [match for match in fitting if match.spread_k <= CLEARLY * least]
    nearest = max(ALIKE_K, rounding_k, min(match.rms_k for match in following))
    group = [match for match in following if match.rms_k <= CLEARLY * nearest]
    return sorted(group, key=lambda match: (not match.candidate.is_plain, match.rms_k))


def _none_fits(tried: Sequence[Match], rounding: _Rounding) -> tuple[str, str]:
    alike = [match for match in tried if match.rms_k <= tried[0].rms_k + ALIKE_K]
    best = next((match for match in alike if match.candidate.is_plain), tried[0])
    said = f"none of the module's probes explains it, nearest is {best.candidate.words}"
    proof = (
        f"{_figures(best)}, where an offset of {rounding.offset_k(best.candidate):.1f} K and a spread of "
        f"{rounding.largest_spread_k(best.candidate):.1f} K could be explained"
    )
    return said, proof


def _one_of(group: Sequence[Match]) -> str:
    """The ways that cannot be told apart; two lines of one probe in one breath."""
    lines: dict[tuple[str, Pressure], list[str]] = {}
    for probe, saturation, pressure in (match.candidate for match in group):
        lines.setdefault((probe, pressure), []).append(saturation)
    return ", or ".join(
        f"{probe} against {' or '.join(several)}{TAKEN[pressure]}"
        for (probe, pressure), several in lines.items()
    )


def _figures(match: Match) -> str:
    return f"residual {match.rms_k:.2f} K (offset {match.offset_k:+.2f} K, spread {match.spread_k:.2f} K)"
