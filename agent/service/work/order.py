"""A command at its module, with all that working it off takes."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from typing import Any

import orjson

from agent.alarms import Deed
from agent.outlets.shown import Display
from agent.readings import Span
from agent.service.work.alarming import Alarms, Step
from agent.service.work.watched import Watched
from agent.settings import ModulePath
from agent.store import Command, Handheld, JournalEntry, ModuleService, Store

OF_THE_MODULE = "module"  # in the journal, in place of an alarm


class Kind(StrEnum):
    """What can be told."""

    ACKNOWLEDGE = "acknowledge"
    RESET = "reset"
    SHELVE = "shelve"
    UNSHELVE = "unshelve"
    REMOVE = "remove"  # out of service
    RETURN = "return"  # to service
    CONFIRM = "confirm"  # a new module: its alarms are sent
    RELEARN = "relearn"  # what is usual of it
    REASSESS = "reassess"  # a span of its past, under a revision of its own
    REPLACED = "replaced"  # another unit stands under its name
    MEASURE = "measure"  # something was measured by hand
    WITHDRAW = "withdraw"  # what was measured by hand


@dataclass(frozen=True)
class Order:
    """``body``: what it takes beside its alarm. ``display``: of the answer; the journal has SI and UTC."""

    store: Store
    alarms: Alarms
    watched: Watched
    command: Command
    body: Mapping[str, Any]
    now_us: int
    display: Display

    @property
    def path(self) -> ModulePath:
        return self.watched.plan.path

    @property
    def why(self) -> str:
        return str(self.body.get("why", ""))

    def step(self, deeds: Iterable[tuple[str, Deed, int]] = (), *, shadow: bool | None = None) -> Step:
        """What becomes of the module's alarms by it; as for `Alarms.step`."""
        latest = self.watched.latest
        return self.alarms.step(
            self.watched, self.now_us, latest, lambda _: latest, deeds=deeds, shadow=shadow
        )

    def line(self, why: str, event_us: int | None = None) -> JournalEntry:
        """What is said of the module as a whole. ``event_us``: what it is of; None: of when it was said."""
        at_us = self.command.created_us if event_us is None else event_us
        text = orjson.dumps({"since_us": None, "who": self.command.who, "why": why}).decode()
        return JournalEntry(
            self.watched.module_id, OF_THE_MODULE, at_us, self.now_us, self.command.kind, text
        )

    def done(
        self,
        outcome: str,
        step: Step | None = None,
        *,
        journal: Sequence[JournalEntry] = (),
        service: ModuleService | None = None,
        handheld: Handheld | None = None,
        withdrawn: Handheld | None = None,
        dirty_span: Span | None = None,
    ) -> None:
        """Write whole what it did, and that it is done; as for `Store.finish_command`."""
        self.store.finish_command(
            self.command,
            self.now_us,
            outcome,
            service=service,
            alarm_states=step.alarm_states if step else (),
            journal=[*(step.journal if step else ()), *journal],
            notices=step.notices if step else (),
            handheld=handheld,
            withdrawn=withdrawn,
            dirty_span=dirty_span,
        )
        if service is not None:
            self.watched.service = service
        if step is not None:
            self.watched.lives |= step.lives
