"""What there is to do for a module: late, live and replayed time take the same path.

The grid time t is assessed once t + grace has passed. A dirty span touches the grid times up to a lookback
after it. Modules that are alike have their next steps assessed together.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial

from agent.alarms import CONDITIONS, conditions
from agent.assess import SECOND, Samples, ToAssess, assess_together
from agent.assess.byhour.hours import HOUR_US
from agent.assess.frames import IntArray
from agent.readings import Moved, Span
from agent.service.work.evaluating import Evaluation
from agent.service.work.keeping import assessable_of_kept_us
from agent.service.work.watched import Watched
from agent.settings import CATCH_UP_DAYS, Epoch
from agent.store import Store

CATCH_UP_US = CATCH_UP_DAYS * 86_400 * SECOND
PIECE = 2880  # grid times worked on at once: bounds the memory that a long stretch takes
FEW = 120  # grid times of a module that are assessed together with others': bounds it as well

Row = tuple[int, str, str]

_log = logging.getLogger(__name__)


@dataclass
class Work:
    """What there is to do for a module, as it was begun."""

    watched: Watched
    dirty: Sequence[tuple[int, Span]]  # as handed out by the store: what was stored since is not in it
    spans: Sequence[Span]  # what of these can be assessed
    stretches: Sequence[tuple[int, int]]
    edge_us: int  # the newest grid time that may be assessed
    until_us: int  # that, or the one up to which it was assessed by a clock ahead
    evaluation: Evaluation
    pieces: Sequence[tuple[Epoch, IntArray]]
    rows: Sequence[Row] | None = None  # of the only piece, where it was assessed together with others'


class Works:
    """Finds what there is to do, up to a given now."""

    def __init__(self, store: Store, step_us: int, grace_us: int) -> None:
        self.store = store
        self.step_us = step_us
        self.grace_us = grace_us

    def is_due(self, watched: Watched, dirty_us: int | None, now_us: int) -> bool:
        """Whether there is anything to work off. ``dirty_us``: where the module's first dirty span begins."""
        until_us = self._until_us(watched, now_us)
        goes_on = watched.progress_us is not None and until_us > watched.progress_us
        return goes_on or (dirty_us is not None and self._grid_after(dirty_us) <= until_us)

    def of(self, watched: Watched, now_us: int) -> Work | None:
        """A module's work; None: nothing is dirty or due."""
        return self._begin(watched, self.store.dirty(watched.module_id), now_us, self.store.kept_from_us())

    def of_several(self, several: Sequence[Watched], now_us: int) -> dict[int, Work]:
        """Modules' works by their ids; the next steps of those that are alike are assessed already, together.

        A module for which that fails is left out: it shows where that one is worked off by itself.
        """
        dirty = self.store.dirty_of([each.module_id for each in several])
        kept_us = self.store.kept_from_us()
        begun: dict[int, Work] = {}
        alike: dict[tuple[bytes, int], list[tuple[Work, ToAssess]]] = {}
        for each in several:
            with suppress(Exception):
                work = self._begin(each, dirty[each.module_id], now_us, kept_us)
                if work is None:
                    continue
                begun[each.module_id] = work
                if len(work.pieces) == 1 and len(work.pieces[0][1]) <= FEW:
                    epoch, grid_us = work.pieces[0]
                    to_assess = work.evaluation.to_assess(epoch, grid_us)
                    alike.setdefault((each.plan.kind, epoch.from_us), []).append((work, to_assess))
        for together in alike.values():
            try:
                self._put_ahead(together)
            except Exception as error:
                _log.warning("%d modules are assessed one by one: %s", len(together), error)
        return begun

    def lost(self, watched: Watched) -> list[int]:
        """Rows of dirty spans that can be assessed no more: none of what they rest on is kept."""
        dirty, kept_us = self.store.dirty(watched.module_id), self.store.kept_from_us()
        return [row_id for row_id, span in dirty if not self._assessable(watched, [span], kept_us)]

    def _put_ahead(self, alike: Sequence[tuple[Work, ToAssess]]) -> None:
        plan = alike[0][0].watched.plan
        whole = assess_together([each for _, each in alike], self.step_us)
        codes = conditions(whole, plan.catalogue, plan.configured_probe)
        rows = list(whole.records(codes, CONDITIONS))
        end = 0
        for work, (_, grid_us, _) in alike:
            here = slice(end, end := end + len(grid_us))
            work.rows = rows[here]
            own = {name: code[here] for name, code in codes.items()}
            work.evaluation.put_ahead(work.pieces[0][0], whole.part(here), own)

    def _begin(
        self, watched: Watched, dirty: Sequence[tuple[int, Span]], now_us: int, kept_us: int | None
    ) -> Work | None:
        """What there is to do, None where there is nothing. ``dirty``: as handed out by the store."""
        progress_us = watched.progress_us
        until_us = self._until_us(watched, now_us)
        spans = self._assessable(watched, [span for _, span in dirty], kept_us)
        first_us = self._first_us(watched, spans)
        stretches = self._stretches(watched, spans, progress_us, until_us, first_us)
        if not stretches:
            return None
        hourly = watched.hourly(self.store)
        known_us = (stretches[0][0] if first_us is None else min(first_us, stretches[0][0]), until_us)
        evaluation = Evaluation(watched.plan, self.step_us, hourly, partial(self._given, watched), known_us)
        pieces = list(evaluation.pieces(stretches, PIECE))
        return Work(watched, dirty, spans, stretches, self._edge_us(now_us), until_us, evaluation, pieces)

    def _edge_us(self, now_us: int) -> int:
        """The newest grid time that may be assessed."""
        return (now_us - self.grace_us) // self.step_us * self.step_us

    def _until_us(self, watched: Watched, now_us: int) -> int:
        edge_us = self._edge_us(now_us)
        return edge_us if watched.progress_us is None else max(edge_us, watched.progress_us)

    def next_us(self, progress_us: int) -> int:
        return self._grid_after(progress_us + 1)

    def _first_us(self, watched: Watched, dirty: Iterable[Span]) -> int | None:
        """The first grid time assessed; where the work lies well after one that was, that will do."""
        known_us, touched_us = watched.first_us, [span.from_us for span in dirty]
        if watched.progress_us is not None:
            touched_us.append(watched.progress_us)
        if known_us is not None and touched_us and min(touched_us) >= known_us + HOUR_US:
            return known_us
        return self.store.first_assessed(watched.module_id)

    def _assessable(self, watched: Watched, dirty: Sequence[Span], kept_us: int | None) -> list[Span]:
        """What of dirty spans can be assessed anew; the rest stays as it was: its readings are not kept.

        A span that is dirty holds its readings back: since when they are kept may have been asked before.
        """
        from_us = assessable_of_kept_us(kept_us, watched.plan)
        if from_us is None:
            return list(dirty)
        kept = [span for span in dirty if span.to_us + watched.plan.lookback_us >= from_us]
        return [Span(span.module_id, *(max(at_us, from_us) for at_us in span[1:])) for span in kept]

    def _stretches(
        self,
        watched: Watched,
        dirty: Iterable[Span],
        progress_us: int | None,
        until_us: int,
        first_us: int | None,
    ) -> list[tuple[int, int]]:
        """Grid times to assess, as ascending stretches, both ends in them. ``first_us``: first assessed."""
        lookback_us = watched.plan.lookback_us
        wanted = [(self._grid_after(span.from_us), span.to_us + lookback_us) for span in dirty]
        if wanted and first_us is not None:  # readings from before all others: no hole in between
            wanted.append((max(min(wanted)[0], first_us - CATCH_UP_US), first_us))
        if progress_us is not None or wanted:
            begin_us = min(wanted)[0] if progress_us is None else self.next_us(progress_us)
            wanted.append((max(begin_us, self._grid_after(until_us - CATCH_UP_US)), until_us))
        merged: list[tuple[int, int]] = []
        for first, last in sorted(wanted):
            last = min(last, until_us) // self.step_us * self.step_us
            if merged and first <= merged[-1][1] + self.step_us:
                merged[-1] = (merged[-1][0], max(merged[-1][1], last))
            elif first <= last:
                merged.append((first, last))
        return merged

    def _grid_after(self, time_us: int) -> int:
        return -(-time_us // self.step_us) * self.step_us

    def _given(self, watched: Watched, epoch: Epoch, grid_us: IntArray) -> Mapping[str, Samples]:
        ids = {name: watched.signal_ids[stored] for name, stored in epoch.stored_as.items()}
        return samples(self.store, epoch, ids, grid_us, self.step_us, watched.moved)


def samples(
    store: Store, epoch: Epoch, ids: Mapping[str, int], grid_us: IntArray, step_us: int, moved: Moved
) -> dict[str, Samples]:
    """All that an assessment of these grid times rests on, in SI. ``ids``: of the epoch's signals."""
    from_us = int(grid_us[0]) - epoch.module.lookback_us - step_us
    found = store.readings(ids.values(), from_us, int(grid_us[-1]), moved)
    return {name: epoch.conversions[name].samples(*found[i]) for name, i in ids.items()}
