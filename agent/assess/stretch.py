"""Assessments of consecutive grid times by column, and the form that the store keeps of them."""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import Any

import numpy as np
import orjson

from agent.assess.assessment import Basis, Cause, Said, Status
from agent.assess.failing.failures import Failures, Kind
from agent.assess.frames import BoolArray, FloatArray, IntArray
from agent.piping import Choices, Situation, Standing


@dataclass(frozen=True)
class Track:
    """One quantity over the grid; ``said`` indexes the phrases."""

    value: FloatArray
    below: FloatArray
    above: FloatArray
    said: IntArray

    def cut(self, where: slice | IntArray) -> Track:
        return Track(self.value[where], self.below[where], self.above[where], self.said[where])


@dataclass(frozen=True)
class Stretch:
    """Assessments of grid times, mostly consecutive ones, by column."""

    grid_us: IntArray
    lasted_us: IntArray  # how long the mode has lasted
    longest_transient_us: int
    situation: IntArray
    situations: tuple[tuple[Situation, Choices], ...]
    why: IntArray  # the mode's reason, an index into whys
    whys: tuple[str, ...]
    tracks: Mapping[str, Track]
    phrases: tuple[Said, ...]
    settled: BoolArray  # a steady mode long enough and nothing switched, or standing still
    signals: Mapping[str, FloatArray]  # SI
    running: Mapping[str, IntArray]  # each compressor: -1 not known, 0 stands, 1 runs
    started: Mapping[str, BoolArray]  # each compressor: it stood at the grid time before
    residuals: Mapping[str, FloatArray] = field(default_factory=dict)  # supervisor's superheat, by its making
    failures: Failures = Failures({}, ())  # of the instruments

    def has_status(self, track: Track, status: Status) -> BoolArray:
        """Where a quantity has this status."""
        return self._says(track, [said.status is status for said in self.phrases])

    def has_standing(self, track: Track, *standings: Standing) -> BoolArray:
        """Where a quantity has one of these standings."""
        return self._says(track, [said.standing in standings for said in self.phrases])

    def has_cause(self, track: Track, *causes: Cause) -> BoolArray:
        """Where a quantity is not decided for one of these causes."""
        return self._says(track, [said.cause in causes for said in self.phrases])

    def _says(self, track: Track, phrases: Collection[bool]) -> BoolArray:
        here: BoolArray = np.array(phrases, bool)[track.said]
        return here

    def part(self, where: slice) -> Stretch:
        """Some of the grid times."""

        def cut(columns: Mapping[str, Any]) -> dict[str, Any]:
            return {name: column[where] for name, column in columns.items()}

        return replace(
            self,
            grid_us=self.grid_us[where],
            lasted_us=self.lasted_us[where],
            situation=self.situation[where],
            why=self.why[where],
            tracks={name: track.cut(where) for name, track in self.tracks.items()},
            settled=self.settled[where],
            signals=cut(self.signals),
            running=cut(self.running),
            started=cut(self.started),
            residuals=cut(self.residuals),
            failures=self.failures.cut(where),
        )

    def records(
        self, conditions: Mapping[str, IntArray], condition_names: Sequence[str]
    ) -> Iterator[tuple[int, str, str]]:
        """The form that is kept: grid time, basis, figures.

        ``conditions``: per alarm, at every grid time, an index into ``condition_names``.
        """
        said = [track.said for track in self.tracks.values()]
        failed = self.failures.codes.values()
        keys = np.column_stack([self.situation, self.why, *said, *conditions.values(), *failed])
        distinct, which = np.unique(keys, axis=0, return_inverse=True)
        bases = [self._basis(key, tuple(conditions), condition_names).dump() for key in distinct.tolist()]
        columns = [column for t in self.tracks.values() for column in (t.value, t.below, t.above)]
        figures = np.round(np.column_stack(columns), 4).tolist()
        for grid_us, basis, row in zip(self.grid_us.tolist(), which.ravel().tolist(), figures, strict=True):
            yield grid_us, bases[basis], orjson.dumps(row).decode()

    def _basis(self, key: list[int], alarms: Sequence[str], condition_names: Sequence[str]) -> Basis:
        situation, choices = self.situations[key[0]]
        said, rest = key[2 : 2 + len(self.tracks)], key[2 + len(self.tracks) :]
        codes, failed = rest[: len(alarms)], rest[len(alarms) :]
        return Basis(
            mode=situation.mode,
            mode_reason=self.whys[key[1]],
            fitness={probe: (f.verdict, f.reason) for probe, f in choices.fitness.items()},
            running=None if situation.running is None else tuple(sorted(situation.running)),
            said={name: self.phrases[index] for name, index in zip(self.tracks, said, strict=True)},
            conditions={name: condition_names[code] for name, code in zip(alarms, codes, strict=True)},
            failed=self._failed(failed),
        )

    def _failed(self, codes: list[int]) -> dict[str, tuple[str, str]]:
        """What has failed, with its kind and evidence; a spike is no failure."""
        found = {
            name: self.failures.words[code] for name, code in zip(self.failures.codes, codes, strict=True)
        }
        return {
            name: (each.kind, each.text)
            for name, each in found.items()
            if each.kind not in (Kind.FINE, Kind.SPIKE)
        }
