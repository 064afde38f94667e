"""Works off what there is to do for a module, and writes it down.

Spans are cleared in the transaction that ends the work, so that a kill in between leaves them dirty and it is
done again.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np
import orjson

from agent.alarms import (
    CODE,
    CONDITIONS,
    LATE_READINGS,
    Condition,
    Line,
    Transition,
    facts,
    priority,
)
from agent.assess import (
    Assessment,
    Baseline,
    load_assessment,
    load_conditions,
)
from agent.assess.frames import IntArray
from agent.readings import Span
from agent.service.work.alarming import Alarms
from agent.service.work.detecting import Before, Detected, History, detect_again
from agent.service.work.evaluating import by_readings
from agent.service.work.hourly import Hourly, Judged
from agent.service.work.to_do import CATCH_UP_US, PIECE, Row, Work, Works
from agent.service.work.watched import Watched
from agent.settings import Epoch, correction, reassessed_from_us
from agent.store import Hours, JournalEntry, Store


class Assessor:
    """Assesses modules up to a given now."""

    def __init__(self, store: Store, step_us: int, grace_us: int, alarms: Alarms | None = None) -> None:
        self.store = store
        self.alarms = alarms or Alarms(store)
        self.step_us = step_us
        self.works = Works(store, step_us, grace_us)

    def work_off(self, watched: Watched, now_us: int, work: Work | None = None) -> list[Assessment]:
        """Assess what is dirty or due of one module; returns the assessments at the live edge, ascending.

        ``work``: as `works` found it before.

        A clock that was set back leaves grid times ahead of now that are assessed already: readings that
        touch them assess them anew, and what is shown starts again from now.
        """
        work = work or self.works.of(watched, now_us)
        if work is None:
            self._let_go(watched)
            return []
        return self._do(work, now_us)

    def _let_go(self, watched: Watched) -> None:
        """What is dirty and can be assessed no more would be due each round, and keep its readings."""
        if lost := self.works.lost(watched):
            cleared = [(dirty_id, None) for dirty_id in lost]
            self.store.finish(watched.module_id, watched.revision_id, [], cleared=cleared)

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
        onward = progress_us is not None and stretches[0][0] == self.works.next_us(progress_us)
        from_us = stretches[0][0] if onward else self._hole_before(watched, stretches[0][0], history)
        entries = by_readings(watched.plan)
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

    def _keep(self, watched: Watched, rows: Sequence[Row], hours: Sequence[Hours]) -> None:
        self.store.finish(watched.module_id, watched.revision_id, rows, whole_hours=hours)
        watched.hourly(self.store).forget(min(each.from_us for each in hours))

    def _assess(
        self, work: Work, epoch: Epoch, grid_us: IntArray, history: History
    ) -> tuple[Sequence[Row], list[Hours]]:
        """A piece of work: what is kept of its grid times, and of the hours that it touches."""
        stretch, codes, hours = work.evaluation.piece(epoch, grid_us)
        history.add(grid_us, codes)
        return work.rows or list(stretch.records(codes, CONDITIONS)), hours

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
