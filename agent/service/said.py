"""What people say of a module as a whole, in the journal."""

from __future__ import annotations

import orjson

from agent.outlets.shown import SI, Display
from agent.service.watched import Watched
from agent.store import Command, JournalEntry

OF_THE_MODULE = "module"  # in the journal, in place of an alarm


def module_line(
    watched: Watched, command: Command, why: str, now_us: int, event_us: int | None = None
) -> JournalEntry:
    """A line of the journal on a command. ``event_us``: what it is of; None: of when it was given."""
    text = orjson.dumps({"since_us": None, "who": command.who, "why": why}).decode()
    at_us = command.created_us if event_us is None else event_us
    return JournalEntry(watched.module_id, OF_THE_MODULE, at_us, now_us, command.kind, text)


def when(time_us: int, display: Display = SI) -> str:
    """A time for people, by the site's clock; in a log and in the journal in UTC."""
    return display.when(time_us)
