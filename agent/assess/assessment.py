"""An assessment: everything computed for a module at one grid time, and the form it is kept in.

The form has two parts: the *basis*, words that repeat for hours (mode, fitness, what each quantity
rests on or why it has no value), and the *figures*, which differ every time.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from functools import lru_cache
from typing import Any, NamedTuple

import orjson

from agent.piping import Fitness, Standing

SATURATED_SUCTION = "saturated_suction"
SATURATED_CONDENSING = "saturated_condensing"  # dew, as for suction
PRESSURE_RATIO = "pressure_ratio"
SUBCOOLING = "subcooling"
SWING = "superheat_swing"  # of return superheat, to and fro
AT_PROBE = "superheat_at:"  # followed by the probe; apparent superheat where the probe is not fit

# Followed by the compressor's name.
DISCHARGE_TEMPERATURE = "discharge_temperature:"
DISCHARGE_SUPERHEAT = "discharge_superheat:"
DISCHARGE_MARGIN = "discharge_margin:"  # above the middle of what saturated suction would give
CURRENT = "current:"
CURRENT_BALANCE = "current_balance"
INJECTION = "injection"


class Status(StrEnum):
    """Why a quantity can be relied on, or which of four different reasons it cannot."""

    DECIDED = "decided"
    NOT_SETTLED = "not_settled"  # there is a value, still moving
    NOT_DECIDABLE = "not_decidable"  # not in this situation
    MISSING = "missing"  # a reading that it takes is not there
    NOT_MEASURABLE = "not_measurable"  # this module has no probe for it in this mode


class Cause(StrEnum):
    """One word for why a quantity is not decided; the label of the counters."""

    NONE = ""
    MODE = "mode"
    PIPING = "piping"
    READING = "reading"
    SKEW = "skew"
    REPEATED = "repeated"
    CONTRADICTION = "contradiction"
    DISAGREEMENT = "disagreement"  # of probes that should read alike
    FAILED = "failed"
    RANGE = "range"
    CHANGE = "change"
    GAPS = "gaps"
    SPREAD = "spread"
    SLOPE = "slope"
    FALLING = "falling"  # of the discharge gas, which then reads too hot rather than too cold


class Said(NamedTuple):
    """The words of a quantity at a time."""

    status: Status
    cause: Cause
    text: str  # why this probe, or why there is no decided value
    standing: Standing | None
    probes: tuple[str, ...]


class Quantity(NamedTuple):
    """A quantity with its expanded uncertainty (k = 2) below and above; K, or degC for a temperature.

    An instrument whose accuracy nobody stated leaves a value without uncertainty.
    """

    said: Said
    value: float | None
    below: float | None
    above: float | None

    @property
    def decided(self) -> bool:
        return self.said.status is Status.DECIDED


@dataclass(frozen=True)
class Assessment:
    """Everything computed for a module at one grid time, under one revision."""

    grid_us: int
    revision_id: int
    mode: str
    fitness: Mapping[str, tuple[Fitness, str]]  # per probe: verdict, reason
    running: tuple[str, ...] | None  # compressors that run; None: not known
    quantities: Mapping[str, Quantity]
    conditions: Mapping[str, str]  # per alarm, before any delay
    mode_reason: str = ""  # empty: the gateway's own point says so
    failed: Mapping[str, tuple[str, str]] = field(default_factory=dict)  # per signal: kind, evidence


@dataclass(frozen=True)
class Basis:
    """The words of an assessment."""

    mode: str
    mode_reason: str
    fitness: Mapping[str, tuple[Fitness, str]]
    running: tuple[str, ...] | None
    said: Mapping[str, Said]
    conditions: Mapping[str, str]
    failed: Mapping[str, tuple[str, str]] = field(default_factory=dict)

    def dump(self) -> str:
        words = {
            "mode": self.mode,
            "mode_reason": self.mode_reason,
            "running": self.running,
            "fitness": self.fitness,
            "said": {name: tuple(said) for name, said in self.said.items()},
            "conditions": self.conditions,
            "failed": self.failed,
        }
        return orjson.dumps(words).decode()

    @staticmethod
    @lru_cache(maxsize=4096)
    def load(text: str) -> Basis:
        words: dict[str, Any] = orjson.loads(text)
        said = {
            name: Said(
                Status(status), Cause(cause), why, Standing(standing) if standing else None, tuple(probes)
            )
            for name, (status, cause, why, standing, probes) in words["said"].items()
        }
        fitness = {probe: (Fitness(verdict), reason) for probe, (verdict, reason) in words["fitness"].items()}
        running = None if words["running"] is None else tuple(words["running"])
        mode_reason = words.get("mode_reason", "")  # older ones have none
        failed = {name: (kind, text) for name, (kind, text) in words.get("failed", {}).items()}  # likewise
        return Basis(words["mode"], mode_reason, fitness, running, said, words["conditions"], failed)


def load_assessment(grid_us: int, revision_id: int, basis: str, figures: str) -> Assessment:
    """Bring an assessment back from the form it is kept in."""
    words = Basis.load(basis)
    flat = orjson.loads(figures)
    quantities = {
        name: Quantity(said, *flat[3 * number : 3 * number + 3])
        for number, (name, said) in enumerate(words.said.items())
    }
    return Assessment(
        grid_us,
        revision_id,
        words.mode,
        words.fitness,
        words.running,
        quantities,
        words.conditions,
        words.mode_reason,
        words.failed,
    )


def load_quantity(name: str, basis: str, figures: str) -> tuple[str, Quantity]:
    """The mode and one quantity of an assessment that is kept; cheap where many are read for one of them.

    Raises KeyError where it has no such quantity.
    """
    words = Basis.load(basis)
    said = words.said[name]
    number = list(words.said).index(name)
    return words.mode, Quantity(said, *orjson.loads(figures)[3 * number : 3 * number + 3])


def without_figures(basis: str) -> Assessment:
    """The words of an assessment alone."""
    none = [None] * 3 * len(Basis.load(basis).said)
    return load_assessment(0, 0, basis, orjson.dumps(none).decode())


def load_conditions(basis: str) -> Mapping[str, str]:
    """Per alarm its condition, from the words of an assessment."""
    return Basis.load(basis).conditions
