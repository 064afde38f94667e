"""The form of a notice: lines that fit a phone, cautions at the end, a subject that is not cut off."""

from __future__ import annotations

import textwrap
from collections.abc import Iterable
from typing import NamedTuple

from agent.alarms import Priority
from agent.outlets.cautions import HEAD, cautions, short_caution
from agent.settings import ModulePath

WIDTH = 78
INDENT = "  "
SUBJECT_WIDTH = 60
MOST_LINES = 20  # of a list in a notice; the journal has all
_LONGEST_BEGINNING = "STILL MEDIUM "


class Notice(NamedTuple):
    """What is sent. The same event has the same key."""

    key: str
    subject: str
    body: str
    priority: Priority | None = None  # by which quiet hours hold it; None: they do not
    short: str | None = None  # its part of a message that tells several; None: it goes alone


def about(alarm: str, path: ModulePath) -> str:
    """An alarm and where it is, as subjects have it: of a long path, its end."""
    names = (str(path), path.local, path.module)
    longest = SUBJECT_WIDTH - len(_LONGEST_BEGINNING)
    fitting = (f"{alarm} at {name}" for name in names if len(f"{alarm} at {name}") <= longest)
    return next(fitting, f"{alarm} at {path.module}")


def opening(path: ModulePath, sentence: str) -> str:
    """A first line that stays one line: of a long path, its end."""
    names = (str(path), path.local, path.module)
    fitting = (f"{name}: {sentence}" for name in names if len(f"{name}: {sentence}") <= WIDTH)
    return next(fitting, f"{path.module}: {sentence}")


def whole(lines: Iterable[str], refrigerants: Iterable[str], *, calls: bool = True) -> str:
    """The lines and the cautions; in a line where it ``calls`` nobody to the module."""
    every = [HEAD, *(f"- {each}" for each in cautions(refrigerants))]
    closing = every if calls else [short_caution(refrigerants)]
    return "\n".join([*map(wrapped, lines), "", *map(wrapped, closing)]) + "\n"


def wrapped(line: str, width: int = WIDTH) -> str:
    """A line, broken where it is too long. What is indented already is to be copied, and stays whole."""
    if line.startswith(INDENT):
        return line
    return textwrap.fill(
        line, width, subsequent_indent=INDENT, break_long_words=False, break_on_hyphens=False
    )


def few(lines: Iterable[str]) -> list[str]:
    """The first of many lines, and how many more there are."""
    every = list(lines)
    more = len(every) - MOST_LINES
    return every if more <= 0 else [*every[:MOST_LINES], f"- and {more} more"]
