"""What was heard of a site while somebody listened: signal by signal, and what nobody mapped. Plain data."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum
from typing import NamedTuple

from agent.assess import Findings, Suspicion
from agent.settings import ModulePath


class Progress(NamedTuple):
    """How far a listening is."""

    listened_us: int
    messages: int
    heard: int  # mapped signals
    mapped: int
    unmapped: int


class Heard(StrEnum):
    """Whether a mapped signal arrives."""

    ARRIVING = "arriving"
    NOT_DUE = "not due yet"  # it may be silent for longer than was listened
    RETAINED = "retained only"
    OLD = "old"  # it comes, with values that are too old to count
    REFUSED = "refused"  # it comes, and cannot be used
    SILENT = "silent"


@dataclass(frozen=True)
class HeardSignal:
    """A mapped signal; None: not known. Values, step and accuracy in SI, so that sites look alike."""

    name: str
    point: str
    state: Heard
    detail: str  # why it does not arrive
    dimension: str
    every_us: int
    max_age_us: int
    on_change: bool
    count: int = 0
    raw: float | int | str | None = None
    unit: str = ""
    value: float | None = None
    meaning: str | None = None  # of a state
    age_us: int | None = None
    period_us: int | None = None
    step_seen: float | None = None
    step: float = 0.0
    accuracy: float = 0.0


@dataclass(frozen=True)
class HeardModule:
    """A module's signals and what looks wrong with them."""

    path: ModulePath
    topic: str
    layout: str
    refrigerant: str
    signals: tuple[HeardSignal, ...]
    findings: Findings
    refused: tuple[str, ...]  # what came on its topic, belongs to no signal of it, and cannot be used
    clock_behind_us: int | None  # of the gateway; negative: ahead

    def in_state(self, *states: Heard) -> list[HeardSignal]:
        return [signal for signal in self.signals if signal.state in states]

    @property
    def is_fine(self) -> bool:
        """Everything mapped arrives, and nothing looks wrong."""
        return not self.findings.suspicions and all(s.state is Heard.ARRIVING for s in self.signals)


@dataclass(frozen=True)
class Unmapped:
    """A record that no signal is mapped to; without a name: a topic whose payload cannot be read."""

    topic: str
    name: str
    count: int
    value: float | int | str | None
    unit: str | None
    reason: str  # of intake's closed list, empty where it can be read
    detail: str
    likely: str | None


@dataclass(frozen=True)
class HeardSite:
    """All that was heard."""

    broker: str
    listened_us: int
    from_store_us: int | None  # how far back what the store keeps was looked at as well
    messages: int
    filters: tuple[str, ...]
    modules: tuple[HeardModule, ...]
    unmapped: tuple[Unmapped, ...]
    more_unmapped: int  # that are not shown
    notes: tuple[str, ...]

    @property
    def signals(self) -> Iterator[HeardSignal]:
        return (signal for module in self.modules for signal in module.signals)

    @property
    def suspicions(self) -> list[Suspicion]:
        return [each for module in self.modules for each in module.findings.suspicions]

    def count(self, *states: Heard) -> int:
        return sum(signal.state in states for signal in self.signals)

    @property
    def is_too_early(self) -> bool:
        """Nothing came, and nothing is due yet."""
        signals = list(self.signals)
        return bool(signals) and not self.messages and all(s.state is Heard.NOT_DUE for s in signals)

    @property
    def is_fine(self) -> bool:
        return all(module.is_fine for module in self.modules)
