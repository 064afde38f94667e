"""What an alarm has to show for itself, and what is known at the end of a whole hour to judge it by."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import NamedTuple

from agent.alarms.condition import Condition
from agent.alarms.entry import Entry
from agent.assess.byhour.baseline import Baseline
from agent.assess.byhour.hours import Hour
from agent.assess.module import Module
from agent.piping import Layout


class Facts(NamedTuple):
    """An alarm's evidence at a time; K. None: not known at that time."""

    text: str
    probe: str | None = None
    value_k: float | None = None
    below_k: float | None = None
    above_k: float | None = None
    limit_k: float | None = None
    misleads_k: float | None = None  # what the site's probe shows minus return superheat


class Finding(NamedTuple):
    """An alarm at the end of an hour, with its evidence."""

    condition: Condition
    facts: Facts


def undecided(text: str) -> Finding:
    """Nothing can be told, for this reason."""
    return Finding(Condition.UNKNOWN, Facts(text))


@dataclass(frozen=True)
class Past:
    """What is known of a module at the end of a whole hour."""

    module: Module
    baseline: Baseline
    hours: tuple[Hour, ...]  # ascending, up to a window long; those without assessments are absent
    library: tuple[Layout, ...] = ()  # every layout that a module might have

    @property
    def at_us(self) -> int:
        return self.hours[-1].to_us


Judge = Callable[[Past, Entry], Finding]
