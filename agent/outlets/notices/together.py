"""Which notices go their way together, and one message of several."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from enum import Enum

from agent.alarms import Priority, Telling
from agent.outlets.notices.compose import OVER, PAST_KEY, STILL
from agent.outlets.notices.daily import HEARTBEAT_KEY
from agent.outlets.notices.form import INDENT, SUBJECT_WIDTH, whole

_BEFORE = {Telling.STANDS: "told", Telling.AGAIN: "said again", Telling.OVER: "over"}


class Kind(Enum):
    """Notices that neither hold back nor go with those of another kind; the most urgent first."""

    ALARM = ""
    HEARTBEAT = HEARTBEAT_KEY
    PAST = PAST_KEY

    @classmethod
    def of(cls, key: str) -> Kind:
        """By the key of a notice."""
        return next(kind for kind in reversed(cls) if key.startswith(kind.value))


def cause_of(key: str) -> str:
    """The alarm of a module that a notice with this key is of: of these, the newest tells what holds."""
    return key.rsplit("/", 3)[0] if Kind.of(key) is Kind.ALARM else key


def told_before(keys: Sequence[str]) -> str:
    """A line on older notices of a cause, which are not told by themselves; empty where there are none."""
    counts = Counter(key.rsplit("/", 3)[1] for key in keys)
    said = [
        f"{word} {'once' if counts[telling] == 1 else f'{counts[telling]} times'}"
        for telling, word in _BEFORE.items()
        if counts[telling]
    ]
    return f"Before that: {', '.join(said)}." if said else ""


def together(site: str, notices: Sequence[tuple[str, str]], refrigerants: Iterable[str]) -> tuple[str, str]:
    """Subject and body of one message of several notices; of each its subject and its short form."""
    order = [priority.upper() for priority in reversed(Priority)]

    def rank(subject: str) -> int:
        words = subject.removeprefix(f"{STILL} ").split()
        return order.index(words[0]) if words[0] in order else len(order)

    first = min((subject for subject, _ in notices), key=rank)
    over = sum(subject.startswith(f"{OVER} ") for subject, _ in notices)
    told = [f"{len(notices) - over} stand" if over < len(notices) else "", f"{over} over" if over else ""]
    subject = f"{first} and {len(notices) - 1} more"
    if len(subject) > SUBJECT_WIDTH:
        subject = f"{first.partition(' ')[0]}: {len(notices)} notices of {site}"
    lines = [f"{site}: {len(notices)} notices in one message: {', '.join(filter(None, told))}.", ""]
    for title, short in sorted(notices, key=lambda each: rank(each[0])):
        lines += [title, *(f"{INDENT}{line}" for line in short.splitlines()), ""]
    return subject, whole(lines[:-1], refrigerants)
