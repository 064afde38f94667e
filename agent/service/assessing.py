"""Works off what is dirty: late, live and replayed time take the same path.

The grid time t is assessed once t + grace has passed. A dirty span touches the grid times up to a lookback
after it. Spans are cleared in the transaction that ends the piece of work, so that a kill in between leaves
them dirty and the work is done again.
"""

from __future__ import annotations

import logging
from collections.abc import Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass
from functools import partial

import numpy as np
import orjson

from agent.alarms import (
    CODE,
    CONDITIONS,
    LATE_READINGS,
    Condition,
    Line,
    Transition,
    conditions,
    facts,
    priority,
)
from agent.assess import (
    SECOND,
    Assessment,
    Baseline,
    Samples,
    ToAssess,
    assess_together,
    load_assessment,
    load_conditions,
)
from agent.assess.frames import IntArray
from agent.assess.hours import HOUR_US
from agent.readings import Moved, Span
from agent.service.alarming import Alarms
from agent.service.detecting import Before, Detected, History, detect_again
from agent.service.evaluating import Evaluation
from agent.service.hourly import Hourly, Judged
from agent.service.keeping import assessable_from_us
from agent.service.watched import Watched
from agent.settings import CATCH_UP_DAYS, Epoch, correction, reassessed_from_us
from agent.store import Hours, JournalEntry, Store

CATCH_UP_US = CATCH_UP_DAYS * 86_400 * SECOND
PIECE = 2880  # grid times worked on at once: bounds the memory that a long stretch takes

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


class Assessor:
    """Assesses modules up to a given now."""

    def __init__(self, store: Store, step_us: int, grace_us: int, alarms: Alarms | None = None) -> None:
        self.store = store
        self.alarms = alarms or Alarms(store)
        self.step_us = step_us
        self.grace_us = grace_us

    def is_due(self, watched: Watched, dirty_us: int | None, now_us: int) -> bool:
        """Whether there is anything to work off. ``dirty_us``: where the module's first dirty span begins."""
        until_us = self._until_us(watched, now_us)
        goes_on = watched.progress_us is not None and until_us > watched.progress_us
        return goes_on or (dirty_us is not None and self._grid_after(dirty_us) <= until_us)

    def work_off(self, watched: Watched, now_us: int, work: Work | None = None) -> list[Assessment]:
        """Assess what is dirty or due of one module; returns the assessments at the live edge, ascending.

        ``work``: as `look_ahead` began it.

        A clock that was set back leaves grid times ahead of now that are assessed already: readings that
        touch them assess them anew, and what is shown starts again from now.
        """
        work = work or self._begin(watched, self.store.dirty(watched.module_id), now_us)
        return [] if work is None else self._do(work, now_us)

    def look_ahead(self, several: Sequence[Watched], now_us: int) -> dict[int, Work]:
        """Begin the work of several modules, by their ids, and assess together those that are alike.

        What fails here is left out, and found out where each is worked off by itself.
        """
        dirty = self.store.dirty_of([each.module_id for each in several])
        begun: dict[int, Work] = {}
        alike: dict[tuple[bytes, int], list[tuple[Work, ToAssess]]] = {}
        for each in several:
            with suppress(Exception):
                work = self._begin(each, dirty[each.module_id], now_us)
                if work is None:
                    continue
                begun[each.module_id] = work
                if len(work.pieces) == 1:
                    epoch, grid_us = work.pieces[0]
                    to_assess = work.evaluation.to_assess(epoch, grid_us)
                    alike.setdefault((each.plan.kind, epoch.from_us), []).append((work, to_assess))
        for together in alike.values():
            try:
                self._put_ahead(together)
            except Exception as error:
                _log.warning("%d modules are assessed one by one: %s", len(together), error)
        return begun

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

    def _begin(self, watched: Watched, dirty: Sequence[tuple[int, Span]], now_us: int) -> Work | None:
        """What there is to do, None where there is nothing. ``dirty``: as handed out by the store."""
        progress_us = watched.progress_us
        until_us = self._until_us(watched, now_us)
        spans = self._assessable(watched, [span for _, span in dirty])
        first_us = self._first_us(watched, spans)
        stretches = self._stretches(watched, spans, progress_us, until_us, first_us)
        if not stretches:
            return None
        hourly = watched.hourly(self.store)
        known_us = (stretches[0][0] if first_us is None else min(first_us, stretches[0][0]), until_us)
        evaluation = Evaluation(watched.plan, self.step_us, hourly, partial(self._given, watched), known_us)
        pieces = list(evaluation.pieces(stretches, PIECE))
        return Work(watched, dirty, spans, stretches, self._edge_us(now_us), until_us, evaluation, pieces)

    def _do(self, work: Work, now_us: int) -> list[Assessment]:
        store, watched, stretches = self.store, work.watched, work.stretches
        module_id, revision_id = watched.module_id, watched.revision_id
        progress_us, edge_us, until_us = watched.progress_us, work.edge_us, work.until_us
        corrected_from_us = self._corrected_from(watched, work.spans, progress_us)
        history = History()
        hourly = watched.hourly(store)
        usual_before = hourly.baseline(watched.plan.epochs[-1], until_us)
        rows: Sequence[Row] = []
        hours: list[Hours] = []
        seen: list[Row] = []
        newest: Row | None = None
        shown_us = watched.shown_us(progress_us, edge_us)
        for epoch, grid_us in work.pieces:
            if rows:
                self._keep(watched, rows, hours)
            rows, hours = self._assess(work, epoch, grid_us, history)
            seen += [row for row in rows if shown_us < row[0] <= edge_us]
            newest = next((row for row in reversed(rows) if row[0] <= edge_us), newest)
        unkept = rows
        if any(each.rows for each in hours):  # what is judged by the hour is read back with those before
            self._keep(watched, rows, hours)
            unkept = []
            hours = []
        self._fill_gaps(watched, stretches, until_us, history)
        judged = list(hourly.judged(stretches[0][0], until_us, self.step_us))
        history.add_judged(judged)
        # Nothing that is kept lies in it or after it, as mostly: then what is kept need not be asked for.
        onward = progress_us is not None and stretches[0][0] == self._next_us(progress_us)
        from_us = stretches[0][0] if onward else self._hole_before(watched, stretches[0][0], history)
        entries = [entry for entry in watched.plan.catalogue.values() if not entry.by_wall_clock]
        if onward and watched.states:
            before = Before(watched.states, ())
        else:
            before = Before.read(store, module_id, revision_id, from_us)
        found = [
            detect_again(
                entry,
                before,
                history,
                self.step_us,
                announced_us=watched.announced_us.get(entry.name),
                corrected_from_us=corrected_from_us,
            )
            for entry in entries
        ]
        latest = watched.latest
        if newest is not None:
            latest = watched.latest_with(load_assessment(newest[0], revision_id, *newest[1:]), edge_us)
        revision = None if corrected_from_us is None else store.current_revision(module_id)
        why = revision.reason if revision else ""
        journal = [
            self._journalled(watched, each, line, rows, judged, now_us, why)
            for each in found
            for line in each.lines
        ]
        step = self.alarms.step(
            watched,
            now_us,
            latest,
            lambda at_us: self._assessment_at(watched, at_us, rows) or latest,
            journal=journal,
        )
        changes = [change for each in found for change in each.changes]
        store.finish(
            module_id,
            revision_id,
            unkept,
            whole_hours=[each for each in hours if each.rows] if onward else hours,
            dirty_span=self._learnt_otherwise(watched, hourly, usual_before, stretches, until_us),
            cleared=[(dirty_id, None) for dirty_id, _ in work.dirty],
            assessed_us=edge_us,
            detections=changes,
            detections_from_us=None if onward and not changes else from_us,
            journal=step.journal,
            notices=step.notices,
            alarm_states=step.alarm_states,
        )
        watched.latest = latest
        watched.progress_us = until_us
        watched.lives |= step.lives
        if watched.first_us is None:
            watched.first_us = store.first_assessed(module_id)
        watched.findings = judged[-1].findings if judged else watched.findings
        for each in found:
            each.remember(watched.announced_us)
        watched.states = {each.entry.name: each.state for each in found}
        return [load_assessment(grid, revision_id, *words) for grid, *words in seen]

    def _edge_us(self, now_us: int) -> int:
        """The newest grid time that may be assessed."""
        return (now_us - self.grace_us) // self.step_us * self.step_us

    def _until_us(self, watched: Watched, now_us: int) -> int:
        edge_us = self._edge_us(now_us)
        return edge_us if watched.progress_us is None else max(edge_us, watched.progress_us)

    def _next_us(self, progress_us: int) -> int:
        return self._grid_after(progress_us + 1)

    def _first_us(self, watched: Watched, dirty: Iterable[Span]) -> int | None:
        """The first grid time assessed; where the work lies well after one that was, that will do."""
        known_us, touched_us = watched.first_us, [span.from_us for span in dirty]
        if watched.progress_us is not None:
            touched_us.append(watched.progress_us)
        if known_us is not None and touched_us and min(touched_us) >= known_us + HOUR_US:
            return known_us
        return self.store.first_assessed(watched.module_id)

    def _keep(self, watched: Watched, rows: Sequence[Row], hours: Sequence[Hours]) -> None:
        self.store.finish(watched.module_id, watched.revision_id, rows, whole_hours=hours)
        watched.hourly(self.store).forget(min(each.from_us for each in hours))

    def _assessable(self, watched: Watched, dirty: Sequence[Span]) -> list[Span]:
        """What of dirty spans can be assessed anew; the rest stays as it was: its readings are not kept."""
        if not dirty:
            return []
        from_us = assessable_from_us(self.store, watched.plan)
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
            begin_us = min(wanted)[0] if progress_us is None else self._next_us(progress_us)
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

    def _assess(
        self, work: Work, epoch: Epoch, grid_us: IntArray, history: History
    ) -> tuple[Sequence[Row], list[Hours]]:
        """A piece of work: what is kept of its grid times, and of the hours that it touches."""
        stretch, codes, hours = work.evaluation.piece(epoch, grid_us)
        history.add(grid_us, codes)
        return work.rows or list(stretch.records(codes, CONDITIONS)), hours

    def _given(self, watched: Watched, epoch: Epoch, grid_us: IntArray) -> Mapping[str, Samples]:
        ids = {name: watched.signal_ids[stored] for name, stored in epoch.stored_as.items()}
        return samples(self.store, epoch, ids, grid_us, self.step_us, watched.moved)

    def _fill_gaps(
        self, watched: Watched, stretches: Sequence[tuple[int, int]], until_us: int, history: History
    ) -> None:
        """Detection runs to the live edge: what lies between and after the stretches stands in the store."""
        ends = [
            (last + self.step_us, first - 1)
            for (_, last), (first, _) in zip(stretches, stretches[1:], strict=False)
        ]
        for first, last in [*ends, (stretches[-1][1] + self.step_us, until_us)]:
            for from_us in range(first, last + 1, PIECE * self.step_us):  # bounds the memory
                until = min(from_us + PIECE * self.step_us - 1, last)
                kept = self.store.assessments(watched.module_id, from_us, until)
                known = [(each.grid_us, load_conditions(each.basis)) for each in kept]
                for name in watched.plan.catalogue:
                    found = [(at_us, CODE[Condition(of[name])]) for at_us, of in known if name in of]
                    if found:
                        times, codes = np.array(found).T
                        history.add(times, {name: codes.astype(np.int8)})

    def _hole_before(self, watched: Watched, first_us: int, history: History) -> int:
        """Where detection begins: at the hole ahead of the first stretch, if there is one."""
        before_us = self.store.assessed_before(watched.module_id, first_us)
        if before_us is None or before_us + self.step_us >= first_us:
            return first_us
        hole_us = before_us + self.step_us
        history.add_one(hole_us, dict.fromkeys(watched.plan.catalogue, Condition.UNKNOWN))
        return hole_us

    def _learnt_otherwise(
        self,
        watched: Watched,
        hourly: Hourly,
        before: Baseline,
        stretches: Sequence[tuple[int, int]],
        until_us: int,
    ) -> Span | None:
        """What was assessed with a baseline that has changed since, and not in this piece of work."""
        after = hourly.baseline(watched.plan.epochs[-1], until_us)
        modes = before.from_us.keys() | after.from_us.keys()
        if all(before.of(mode) == after.of(mode) for mode in modes):
            return None
        from_us = min([*before.from_us.values(), *after.from_us.values()], default=until_us)
        first, last = stretches[-1]
        if from_us >= until_us or (first <= from_us and last >= until_us):
            return None
        return Span(watched.module_id, max(from_us, until_us - CATCH_UP_US), until_us)

    def _corrected_from(self, watched: Watched, dirty: Sequence[Span], progress_us: int | None) -> int | None:
        """From when on the past is assessed for another layout, refrigerant or mapping than it was.

        Looked at where each span ends: work goes forward, and may have been broken off on its way.
        """
        found = []
        for span in dirty:
            if progress_us is not None and span.from_us > progress_us:
                continue
            last_us = min(span.to_us, progress_us or span.to_us) // self.step_us * self.step_us
            kept = self.store.assessments(watched.module_id, last_us, last_us)
            if kept and kept[0].revision_id != watched.revision_id:
                body = self.store.revision_body(kept[0].revision_id)
                from_us = correction(body, watched.plan.revision).from_us
                if from_us is None:  # the same by now: only an older part of the span may have been otherwise
                    from_us = reassessed_from_us(self.store.revision_body(watched.revision_id))
                    from_us = None if from_us is None or span.to_us < from_us else from_us
                found += [] if from_us is None else [max(from_us, span.from_us)]
        return min(found, default=None)

    def _journalled(
        self,
        watched: Watched,
        found: Detected,
        line: Line,
        rows: Sequence[Row],
        judged: Sequence[Judged],
        now_us: int,
        why: str,
    ) -> JournalEntry:
        """A journal line with the evidence at its event time, where that is kept, else at the live edge.

        ``why``: the reason of a correction that has the past gone over.
        """
        then = self._assessment_at(watched, line.event_us, rows) or watched.latest
        assert then is not None  # where there is something to tell, something has been assessed
        findings = next((each.findings for each in judged if each.grid_us == line.event_us), watched.findings)
        evidence = facts(found.entry, then, watched.plan.configured_probe, findings)
        body = {
            "since_us": line.since_us,
            "priority": priority(found.entry, found.state, then),
            "mode": then.mode,
            **evidence._asdict(),
        }
        if line.transition in (Transition.FOUND_LATE, Transition.CONFIRMED):
            body["cleared_us"] = found.ended_us.get(line.since_us)
        if line.transition is Transition.WITHDRAWN:
            body["why"] = why or LATE_READINGS
        text = orjson.dumps(body).decode()
        return JournalEntry(watched.module_id, found.entry.name, line.event_us, now_us, line.transition, text)

    def _assessment_at(self, watched: Watched, at_us: int, rows: Sequence[Row]) -> Assessment | None:
        """From the rows about to be written, else from the store."""
        for grid_us, *words in rows:
            if grid_us == at_us:
                return load_assessment(grid_us, watched.revision_id, *words)
        kept = self.store.assessments(watched.module_id, at_us, at_us)
        return load_assessment(*kept[0]) if kept else None


def samples(
    store: Store, epoch: Epoch, ids: Mapping[str, int], grid_us: IntArray, step_us: int, moved: Moved
) -> dict[str, Samples]:
    """All that an assessment of these grid times rests on, in SI. ``ids``: of the epoch's signals."""
    from_us = int(grid_us[0]) - epoch.module.lookback_us - step_us
    found = store.readings(ids.values(), from_us, int(grid_us[-1]), moved)
    return {name: epoch.conversions[name].samples(*found[i]) for name, i in ids.items()}
