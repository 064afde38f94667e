"""The store's face to the rest of the agent: one method, one transaction.

A store may be shared by threads. Writers take turns, readers run beside them. Errors of the database leave as
StoreError, and nothing of the transaction is kept.
"""

import threading
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path
from types import TracebackType
from typing import Self

from sqlalchemy import Connection, Engine

from agent.readings import EVER_US, Moved, Reading, Refusal, Span
from agent.store import (
    alarms,
    assessments,
    counts,
    dirty,
    handhelds,
    hours,
    keeping,
    lifecycle,
    migrate,
    outbox,
    readings,
    registry,
)
from agent.store.at_hand import AtHand
from agent.store.engine import StoreError, database_path, reading_engine, transaction, writing_engine
from agent.store.records import (
    Added,
    AlarmState,
    Assessment,
    Command,
    DetectionChange,
    Handheld,
    Hours,
    JournalEntry,
    Latest,
    Module,
    ModuleService,
    OutboxEntry,
    Revision,
    Series,
    Summary,
    Tally,
)
from agent.store.registry import ModulePath, SignalKey

NOTHING_MOVED: Moved = {}
MOST_BASES = 4096  # remembered with their ids; far more than a site needs


class Store:
    """Open one with `Store.open` or `Store.open_readonly`, and close it."""

    def __init__(self, path: Path, writer: Engine | None, reader: Engine) -> None:
        self.path = path
        self._writer = writer
        self._reader = reader
        self._write_lock = threading.RLock()
        self._at_hand: AtHand | None = None
        self._basis_ids: dict[str, int] = {}
        self._dirty_read_up_to: dict[int, int] = {}

    @classmethod
    def open(cls, url: str, *, durable: bool = False) -> Self:
        """Open for writing; create the file or migrate it where needed.

        `durable`: a commit outlives a power cut too, not only a killed process.
        Raises StoreError where the file cannot be had, is damaged, another program's or a newer version's.
        """
        path = database_path(url)
        store = cls(path, writing_engine(path, durable=durable), reading_engine(path))
        try:
            with store._writing() as connection:
                migrate.bring_up(connection, path)
        except BaseException:
            store.close()
            raise
        return store

    @classmethod
    def open_readonly(cls, url: str) -> Self:
        """Open for reading only, beside a running agent or without one. Never writes, never migrates.

        Raises StoreError where there is no store, or it is not of this version's schema.
        """
        return cls._open_what_is_there(url, None)

    @classmethod
    def open_beside(cls, url: str, *, durable: bool = False) -> Self:
        """Open to give commands, beside a running agent or without one. Never creates, never migrates.

        Raises StoreError as `open_readonly` does.
        """
        return cls._open_what_is_there(url, lambda path: writing_engine(path, durable=durable))

    @classmethod
    def _open_what_is_there(cls, url: str, writer: Callable[[Path], Engine] | None) -> Self:
        path = database_path(url)
        if not path.exists():
            raise StoreError(
                f"no store at {path}: start the agent with `dewline run -c FILE`, or name its store"
            )
        store = cls(path, writer(path) if writer else None, reading_engine(path))
        try:
            with store._reading() as connection:
                migrate.check(connection, path)
        except BaseException:
            store.close()
            raise
        return store

    def close(self) -> None:
        self._reader.dispose()
        if self._writer is not None:
            self._writer.dispose()

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    def register_modules(self, paths: Iterable[ModulePath]) -> dict[ModulePath, int]:
        """Ids of modules by (site, system, module); new ones are added."""
        with self._writing() as connection:
            return registry.register_modules(connection, list(paths))

    def modules(self) -> list[Module]:
        with self._reading() as connection:
            return registry.modules(connection)

    def module_ids(self) -> dict[ModulePath, int]:
        """Ids of all modules by (site, system, module)."""
        return {(each.site, each.system, each.name): each.id for each in self.modules()}

    def register_signals(self, keys: Iterable[SignalKey]) -> dict[SignalKey, int]:
        """Ids of signals by (owner, name), the owner a path (site/system/module); new ones are added."""
        with self._writing() as connection:
            return registry.register_signals(connection, list(keys))

    def signals(self) -> dict[SignalKey, int]:
        """Ids of all signals by (owner, name)."""
        with self._reading() as connection:
            return registry.signals(connection)

    def register_mapping(self, body: str, now_us: int) -> int:
        """The id of a point mapping (JSON); one known already keeps its id."""
        with self._writing() as connection:
            return registry.register_mapping(connection, body, now_us)

    def mappings(self) -> dict[int, str]:
        """Every point mapping (JSON) that readings may have come in under, by id."""
        with self._reading() as connection:
            return registry.mappings(connection)

    def open_revision(
        self, module_id: int, body: str, reason: str, now_us: int, dirty_span: Span | None = None
    ) -> Revision:
        """The module's current revision where `body` (JSON) says the same, else a new one in its place.

        A new one starts with the detection states of the one before; `dirty_span` is what of the past it has
        assessed anew.
        """
        with self._writing() as connection:
            before = registry.current_revision(connection, module_id)
            revision = registry.open_revision(connection, module_id, body, reason, now_us)
            if dirty_span is not None and (before is None or before.id != revision.id):
                dirty.mark(connection, [dirty_span], self._dirty_read_up_to)
        return revision

    def current_revision(self, module_id: int) -> Revision | None:
        with self._reading() as connection:
            return registry.current_revision(connection, module_id)

    def revision_body(self, revision_id: int) -> str:
        """What a revision rests on, as JSON. Raises StoreError for one that there is not."""
        with self._reading() as connection:
            return registry.revision_body(connection, revision_id)

    def add_batch(
        self, batch: Sequence[Reading], refusals: Sequence[Refusal] = (), spans: Sequence[Span] = ()
    ) -> Added:
        """Store a batch whole; afterwards it may be acknowledged. The same batch again changes nothing.

        Values compare as received: 12 and 12.0 are equal, text never equals a number. Spans become dirty only
        where a reading was stored. Refusals have no key: given again, they are kept again.
        Raises StoreError, with nothing stored, where a value cannot be held (NaN, an integer beyond 64 bits).
        """
        with self._write_lock:
            with self._writing() as connection:
                added = readings.add_readings(connection, batch)
                readings.add_refusals(connection, refusals)
                if added.stored:
                    dirty.mark(connection, spans, self._dirty_read_up_to)
            if self._at_hand is not None:  # committed, and before anyone is handed the spans
                self._at_hand.add(batch)
        return added

    def keep_at_hand(self, span_us: int) -> None:
        """Hold the readings of the last `span_us` before the newest one in memory: `readings` is asked for
        them every few seconds. Reads them once; about 16 bytes each where they are numbers."""
        with self._write_lock, self._reading() as connection:
            self._at_hand = readings.at_hand(connection, span_us)

    def readings(
        self, signal_ids: Iterable[int], from_us: int, to_us: int, moved: Moved = NOTHING_MOVED
    ) -> dict[int, Series]:
        """The readings of each signal asked for, an empty series where it has none.

        `moved`: readings that count as another signal's than they are stored under.
        """
        wanted = list(signal_ids)
        if self._at_hand is not None:
            found = self._at_hand.series(wanted, from_us, to_us, moved)
            if found is not None:
                return found
        with self._reading() as connection:
            return readings.series(connection, wanted, from_us, to_us, moved)

    def latest_reading(
        self, signal_ids: Iterable[int], since_us: int, moved: Moved = NOTHING_MOVED
    ) -> dict[int, Latest]:
        """The newest reading of each signal that has one at or after `since_us`.

        A silent signal costs the whole stretch back to `since_us`, several the same one: ask for all at once.
        """
        with self._reading() as connection:
            return readings.latest(connection, list(signal_ids), since_us, moved)

    def newest_samples(self, since_us: int, moved: Moved = NOTHING_MOVED) -> dict[int, int]:
        """Per signal the newest sample time since then, of readings whose mapping still holds."""
        with self._reading() as connection:
            return readings.newest(connection, since_us, moved)

    def first_sample_us(self, signal_ids: Iterable[int], moved: Moved = NOTHING_MOVED) -> int | None:
        """The oldest sample time among the signals, of the time of which all is kept. For start-up, no loop.

        Walks from the oldest reading.
        """
        with self._reading() as connection:
            kept_us = keeping.kept_from_us(connection)
            return readings.first_sample_us(connection, list(signal_ids), moved, kept_us)

    def kept_from_us(self) -> int | None:
        """Since when every reading is kept; None: none was ever removed."""
        with self._reading() as connection:
            return keeping.kept_from_us(connection)

    def reading_ends_us(self, since_us: int = -EVER_US) -> tuple[int, int] | None:
        """The oldest and the newest sample time of all readings since then; None: there is none."""
        with self._reading() as connection:
            return keeping.ends_us(connection, since_us)

    def thin(self, before_us: int, most: int, numbered: keeping.Numbered, reach_us: Mapping[int, int]) -> int:
        """Sum up and remove the oldest readings of before a time, and drop conflicts and refusals of then.

        `most` of each in one transaction; how many it were. Less than `most`: there are no more. Of a module
        in `reach_us` nothing is touched from so far before a dirty span on.
        """
        with self._writing() as connection:
            return keeping.thin(connection, before_us, most, numbered, reach_us)

    def summaries(
        self,
        signal_ids: Iterable[int],
        from_us: int,
        to_us: int,
        numbered: keeping.Numbered,
        moved: Moved = NOTHING_MOVED,
    ) -> tuple[list[Summary], list[Tally]]:
        """By the quarters of an hour of UTC that begin in a stretch of time, whether their readings are kept.

        In the order of time; a quarter has one of each unit, and of each value that is no number.
        """
        with self._reading() as connection:
            return keeping.read(connection, list(signal_ids), from_us, to_us, moved, numbered)

    def refused_counts(self) -> dict[str, int]:
        """How many were refused so far, by reason. Counts them one by one: for start-up, no loop."""
        with self._reading() as connection:
            return readings.refused_counts(connection)

    def dirty(self, module_id: int) -> list[tuple[int, Span]]:
        """A module's dirty spans in the order of time, with the ids that `finish` takes.

        What was handed out stays as it is until then: readings that arrive meanwhile make rows of their own.
        """
        return self.dirty_of([module_id])[module_id]

    def dirty_of(self, module_ids: Collection[int]) -> dict[int, list[tuple[int, Span]]]:
        """Several modules' dirty spans, as `dirty` gives them; a module that has none has an empty list."""
        if self._writer is None:
            with self._reading() as connection:
                return dirty.spans(connection, module_ids)
        with self._writing() as connection:
            found = dirty.take(connection, module_ids)
            for module_id, spans in found.items():
                if spans:  # under the write lock; if the commit fails, intake only adds rows of its own
                    self._dirty_read_up_to[module_id] = max(row_id for row_id, _ in spans)
        return found

    def earliest_dirty(self) -> dict[int, int]:
        """Where the first dirty span begins, of every module that has one; hands nothing out."""
        with self._reading() as connection:
            return dirty.earliest(connection)

    def finish(
        self,
        module_id: int,
        revision_id: int,
        rows: Sequence[assessments.Row],
        *,
        whole_hours: Sequence[Hours] = (),
        dirty_span: Span | None = None,
        cleared: Iterable[tuple[int, int | None]] = (),
        assessed_us: int | None = None,
        detections: Sequence[DetectionChange] = (),
        detections_from_us: int | None = None,
        journal: Sequence[JournalEntry] = (),
        notices: Sequence[OutboxEntry] = (),
        alarm_states: Sequence[AlarmState] = (),
    ) -> None:
        """Write a piece of work whole: assessments, spans worked off, live edge, detection states, journal,
        what has become of alarms, and the notices of what it brought.

        `rows`: (grid time, basis, figures), the latter two JSON text. `cleared`: ids from `dirty`, with the
        time from which the span remains, or None where nothing of it does. `detections` stand in place of all
        that the revision holds at and after `detections_from_us`. `dirty_span`: to assess again.
        """
        if detections_from_us is None and detections:
            raise ValueError("detections are given without the time from which they hold")
        with self._writing() as connection:
            new = assessments.write(connection, module_id, revision_id, rows, self._basis_ids)
            for each in whole_hours:
                hours.replace(connection, module_id, each)
            if dirty_span is not None:
                dirty.mark(connection, [dirty_span], self._dirty_read_up_to)
            for dirty_id, remaining_from_us in cleared:
                dirty.clear(connection, dirty_id, remaining_from_us)
            if assessed_us is not None:
                assessments.advance(connection, module_id, assessed_us)
            if detections_from_us is not None:
                alarms.replace_detections(connection, module_id, revision_id, detections_from_us, detections)
            alarms.append(connection, journal)
            lifecycle.write_states(connection, module_id, alarm_states)
            outbox.put(connection, notices)
        self._remember_bases(new)

    def assessments(
        self, module_id: int, from_us: int, to_us: int, revision_id: int | None = None
    ) -> list[Assessment]:
        """Assessments in the order of time; without a revision, the newest one at each grid time."""
        with self._reading() as connection:
            return assessments.read(connection, module_id, from_us, to_us, revision_id)

    def latest_assessment(self, module_id: int) -> Assessment | None:
        """The assessment of the newest grid time, under its newest revision."""
        with self._reading() as connection:
            return assessments.latest(connection, module_id)

    def hours(self, module_id: int, from_us: int, to_us: int) -> list[str]:
        """The whole hours that begin in a stretch of time, in its order, as JSON."""
        with self._reading() as connection:
            return hours.read(connection, module_id, from_us, to_us)

    def first_settled_hours(
        self, module_id: int, mode: str, from_us: int, to_us: int, most: int
    ) -> list[str]:
        """The first hours that were settled in a mode, of those that begin in a stretch of time."""
        with self._reading() as connection:
            return hours.first_settled(connection, module_id, mode, from_us, to_us, most)

    def progress(self, module_id: int) -> int | None:
        """The grid time up to which the live edge has come, None before the first."""
        with self._reading() as connection:
            return assessments.progress(connection, module_id)

    def first_assessed(self, module_id: int) -> int | None:
        """The oldest grid time that has an assessment."""
        with self._reading() as connection:
            return assessments.first_assessed(connection, module_id)

    def assessed_before(self, module_id: int, at_us: int) -> int | None:
        """The newest grid time before `at_us` that has an assessment."""
        with self._reading() as connection:
            return assessments.assessed_before(connection, module_id, at_us)

    def detection_states(self, module_id: int, revision_id: int, at_us: int) -> dict[str, str]:
        """Each alarm's detection state just before `at_us`; an alarm without a change before it is absent."""
        with self._reading() as connection:
            return alarms.detection_states(connection, module_id, revision_id, at_us)

    def detections(self, module_id: int, revision_id: int, from_us: int, to_us: int) -> list[DetectionChange]:
        """Changes of detection state in the order of time."""
        with self._reading() as connection:
            return alarms.detections(connection, module_id, revision_id, from_us, to_us)

    def journal(self, module_id: int | None, from_us: int, to_us: int) -> list[JournalEntry]:
        """Journal entries by event time, of one module or of all."""
        with self._reading() as connection:
            return alarms.journal(connection, module_id, from_us, to_us)

    def assessed_counts(self, module_id: int, from_us: int, to_us: int) -> Iterable[tuple[str, int]]:
        """Each basis with the number of grid times that have it, by the newest revision of each."""
        with self._reading() as connection:
            return counts.assessed(connection, module_id, from_us, to_us)

    def refused_between(self, from_us: int, to_us: int) -> dict[str, int]:
        """How many were refused, by reason, of those that arrived in a stretch of time. For no loop."""
        with self._reading() as connection:
            return counts.refused(connection, from_us, to_us)

    def alarm_states(self, module_id: int) -> list[AlarmState]:
        """What has become of each alarm of a module; one that never stood is absent."""
        with self._reading() as connection:
            return lifecycle.states(connection, module_id)

    def module_service(self, module_id: int) -> ModuleService:
        """What people have said of a module as a whole."""
        with self._reading() as connection:
            return lifecycle.service(connection, module_id)

    def handhelds(self, module_id: int, from_us: int, to_us: int) -> list[Handheld]:
        """What was measured by hand in a stretch of time, in its order."""
        with self._reading() as connection:
            return handhelds.read(connection, module_id, from_us, to_us)

    def first_opened_us(self) -> dict[int, int]:
        """Since when each module has been watched: when its first revision was opened. Reads all of them."""
        with self._reading() as connection:
            return lifecycle.first_opened_us(connection)

    def give(self, command: Command) -> int:
        """Have the running agent, or the next one, work off a command; its id."""
        with self._writing() as connection:
            return lifecycle.give(connection, command)

    def waiting_commands(self) -> list[Command]:
        """The commands that are not worked off, in the order in which they were given."""
        with self._reading() as connection:
            return lifecycle.waiting(connection)

    def command(self, command_id: int) -> Command | None:
        with self._reading() as connection:
            return lifecycle.command(connection, command_id)

    def finish_command(
        self,
        command: Command,
        done_us: int,
        outcome: str,
        *,
        refused: bool = False,
        service: ModuleService | None = None,
        alarm_states: Sequence[AlarmState] = (),
        journal: Sequence[JournalEntry] = (),
        notices: Sequence[OutboxEntry] = (),
        handheld: Handheld | None = None,
        withdrawn: Handheld | None = None,
        dirty_span: Span | None = None,
    ) -> None:
        """Write whole what a command did, and that it is done.

        `service`: in place of what is kept. `withdrawn`: a reading by hand with what its body then holds.
        `dirty_span`: to assess again.
        """
        with self._writing() as connection:
            lifecycle.done(connection, command.id, done_us, outcome, refused)
            if command.module_id is not None:
                lifecycle.write_states(connection, command.module_id, alarm_states)
                if service is not None:
                    lifecycle.write_service(connection, command.module_id, service)
                if handheld is not None:
                    handhelds.add(connection, command.module_id, handheld)
                if withdrawn is not None:
                    handhelds.withdraw(connection, command.module_id, withdrawn.id, withdrawn.body)
            if dirty_span is not None:
                dirty.mark(connection, [dirty_span], self._dirty_read_up_to)
            alarms.append(connection, journal)
            outbox.put(connection, notices)

    def notices_between(
        self, from_us: int, to_us: int, first_words: Iterable[str]
    ) -> list[tuple[str, int, str]]:
        """Route, time and subject of notices whose subject begins with one of these words. For no loop."""
        with self._reading() as connection:
            return lifecycle.sent_between(connection, from_us, to_us, first_words)

    def enqueue(self, entries: Sequence[OutboxEntry]) -> int:
        """Put notices into the outbox; how many are new. One that its route has already is passed over."""
        with self._writing() as connection:
            return outbox.put(connection, entries)

    def next_notices(self, most: int = 1) -> list[OutboxEntry]:
        """Of each route the oldest notices that wait, due or not, `most` at most."""
        with self._reading() as connection:
            return outbox.first_of_each_route(connection, most)

    def waiting_notices(self) -> dict[str, int]:
        """How many notices wait, by route."""
        with self._reading() as connection:
            return outbox.waiting(connection)

    def routes_told(self, notice_key: str) -> set[str]:
        """The routes that have a notice, sent or waiting."""
        with self._reading() as connection:
            return outbox.routes_told(connection, notice_key)

    def notices_sent(self, entry_ids: Sequence[int], sent_us: int) -> None:
        """Mark notices as accepted by their receiver."""
        with self._writing() as connection:
            outbox.sent(connection, entry_ids, sent_us)

    def notices_failed(self, entry_ids: Sequence[int], error: str, next_us: int) -> None:
        """Keep notices for another attempt at `next_us`."""
        with self._writing() as connection:
            outbox.failed(connection, entry_ids, error, next_us)

    def free_notice_keys(self, first_words: str, after_us: int, now_us: int) -> None:
        """Let keys be used again that begin so and were used after this time to come, by a clock ahead."""
        with self._writing() as connection:
            outbox.free_keys(connection, first_words, after_us, now_us)

    def secret(self, name: str) -> bytes:
        """A secret of this store's own: 32 bytes of chance, made when it is first asked for."""
        with self._reading() as connection:
            found = registry.secret(connection, name)
        if found is None:
            with self._writing() as connection:
                found = registry.make_secret(connection, name)
        return found

    def _remember_bases(self, new: dict[str, int]) -> None:
        # Replaced, never changed in place: another thread may be reading it. Only after the commit: the ids
        # of a transaction that was rolled back are nobody's.
        if new:
            kept = self._basis_ids if len(self._basis_ids) + len(new) <= MOST_BASES else {}
            self._basis_ids = {**kept, **new}

    def _reading(self) -> AbstractContextManager[Connection]:
        return transaction(self._reader, self.path)

    @contextmanager
    def _writing(self) -> Iterator[Connection]:
        if self._writer is None:
            raise StoreError(f"the store {self.path} is open for reading only")
        with self._write_lock, transaction(self._writer, self.path) as connection:
            yield connection
