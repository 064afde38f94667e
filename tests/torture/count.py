"""Whole sets counted: what a store holds against what was published, and against an undisturbed agent's.

`feed-stale` is left out by name, and so is when something came to be known: both go by the wall clock.
"""

import json
import sqlite3
from collections import Counter
from collections.abc import Iterable
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.torture.stream import ReadingKey

BY_WALL_CLOCK = "feed-stale"
OF_MODULE = "JOIN module ON module.id = {0}.module_id"
OF_CURRENT = "JOIN revision ON revision.id = {0}.revision_id AND revision.current"

Alarm = tuple[str, str, str, int]  # system, module, alarm, since


class Kept:
    """A store seen by sqlite3 alone, beside the agent that writes it."""

    def __init__(self, path: Path) -> None:
        self.path = path

    def rows(self, statement: str, *parameters: int) -> list[Any]:
        with closing(sqlite3.connect(f"file:{self.path}?mode=ro", uri=True, timeout=30)) as connection:
            return connection.execute(statement, parameters).fetchall()

    def count(self, until_us: int = 2**62) -> int:
        return int(self.rows("SELECT count(*) FROM reading WHERE sample_us <= ?", until_us)[0][0])

    def has_dirty(self, until_us: int = 2**62) -> bool:
        return bool(self.rows("SELECT 1 FROM dirty WHERE from_us <= ?", until_us))

    def progress_us(self) -> int:
        """How far every module's live edge has come."""
        return int(self.rows("SELECT coalesce(min(assessed_us), 0) FROM progress")[0][0])

    def readings(self) -> list[ReadingKey]:
        found = self.rows(
            "SELECT owner, name, sample_us, value FROM reading JOIN signal ON signal.id = signal_id"
        )
        return [(*key, value if isinstance(value, str) else float(value)) for *key, value in found]

    def conflicts(self) -> int:
        return int(self.rows("SELECT count(*) FROM conflict")[0][0])

    def assessments(self, until_us: int) -> dict[tuple[str, str, int], tuple[str, str]]:
        found = self.rows(
            "SELECT system, module.name, grid_us, basis.body, figures FROM assessment"
            f" {OF_MODULE.format('assessment')} {OF_CURRENT.format('assessment')}"
            " JOIN basis ON basis.id = basis_id WHERE grid_us <= ?",
            until_us,
        )
        return {tuple(key): (body, figures) for *key, body, figures in found}

    def detections(self, until_us: int) -> set[tuple[str, str, str, int, str]]:
        found = self.rows(
            "SELECT system, module.name, alarm, grid_us, state FROM detection"
            f" {OF_MODULE.format('detection')} {OF_CURRENT.format('detection')} WHERE grid_us <= ?",
            until_us,
        )
        return set(found)

    def occurrences(self, until_us: int) -> Counter[Alarm]:
        """What the journal adds up to: raised or found late, less withdrawn, of those raised by then."""
        entries = self.rows(
            "SELECT system, module.name, alarm, event_us, transition, alarm_journal.body FROM alarm_journal"
            f" {OF_MODULE.format('alarm_journal')} ORDER BY alarm_journal.id"
        )
        found: Counter[Alarm] = Counter()
        raised_us: dict[Alarm, int] = {}
        announced: dict[tuple[str, str, str], Alarm] = {}
        for system, name, alarm, event_us, transition, body in entries:
            of = (system, name, alarm)
            this = (*of, json.loads(body)["since_us"])
            if alarm == BY_WALL_CLOCK:
                continue
            if transition in ("raised", "found_late", "amended"):
                found[this] += 1
                raised_us[this] = event_us
            if transition == "withdrawn":
                found[this] -= 1
            if transition == "amended":
                found[announced[of]] -= 1
            if transition in ("raised", "amended"):
                announced[of] = this
        return Counter({this: n for this, n in found.items() if n and raised_us.get(this, 0) <= until_us})


@dataclass(frozen=True)
class Tally:
    published: int
    stored: int
    lost: int
    doubled: int  # stored though not published, or more than once
    assessed: int
    missing: int
    different: int
    states_different: int  # of the alarms' detection
    occurrences: int
    alarms_lost: int
    alarms_doubled: int
    unlike: list[str]  # the first of each kind

    @property
    def is_whole(self) -> bool:
        ills = (self.lost, self.doubled, self.missing, self.different, self.states_different)
        return not any((*ills, self.alarms_lost, self.alarms_doubled))


def compare(kept: Kept, published: set[ReadingKey], clean: Kept, until_us: int) -> Tally:
    """Readings against what was published; the rest against the undisturbed agent's, up to a grid time."""
    stored = Counter(kept.readings())
    lost, doubled = published - stored.keys(), stored - Counter(published)
    ours, theirs = kept.assessments(until_us), clean.assessments(until_us)
    missing = theirs.keys() - ours.keys()
    different = [key for key, words in ours.items() if theirs.get(key) != words]
    states = kept.detections(until_us) ^ clean.detections(until_us)
    alarms, right = kept.occurrences(until_us), clean.occurrences(until_us)
    alarms_lost, alarms_doubled = +_less(right, alarms), +_less(alarms, right)
    return Tally(
        published=len(published),
        stored=stored.total(),
        lost=len(lost),
        doubled=doubled.total() + kept.conflicts(),
        assessed=len(theirs),
        missing=len(missing),
        different=len(different),
        states_different=len(states),
        occurrences=right.total(),
        alarms_lost=alarms_lost.total(),
        alarms_doubled=alarms_doubled.total(),
        unlike=[
            *_first("lost", lost),
            *_first("doubled", doubled),
            *_first("not assessed", missing),
            *_first("different", different),
            *_first("alarm state", states),
            *_first("alarm lost", alarms_lost),
            *_first("alarm doubled", alarms_doubled),
        ],
    )


def _less(these: Counter[Alarm], those: Counter[Alarm]) -> Counter[Alarm]:
    rest = Counter(these)
    rest.subtract(those)
    return rest


def _first(what: str, found: Iterable[Any]) -> list[str]:
    return [f"{what}: {each}" for each in sorted(found, key=repr)[:1]]
