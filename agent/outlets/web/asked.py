"""What a request asks for, read from its query or form. What is wrong with it is a ValueError's sentence."""

from __future__ import annotations

from collections.abc import Mapping
from typing import NamedTuple
from urllib.parse import parse_qsl

from agent.assess import DAY_US
from agent.outlets import typed
from agent.settings import moment_us, span_us

WHAT = ("assessments", "readings")
LONGEST_VISIT_US = 92 * DAY_US
MOST_FIELDS = 10
_FORM = "application/x-www-form-urlencoded"


class Past(NamedTuple):
    """A stretch of time in µs of UTC, and what of it."""

    from_us: int
    to_us: int
    readings: bool


class Words(NamedTuple):
    """What somebody says with an acknowledgement."""

    token: str
    who: str
    note: str


def past(query: Mapping[str, str], now_us: int) -> Past:
    """``since`` such as 7d (else 24h), or ``from`` and ``to`` as in RFC 3339; ``what``: one of WHAT."""
    what = query.get("what", WHAT[0])
    if what not in WHAT:
        raise ValueError(f"what is {what!r}; right would be {' or '.join(WHAT)}")
    if "from" not in query and "to" not in query:
        return Past(now_us - span_us(query.get("since", "24h")), now_us, what == "readings")
    if "since" in query:
        raise ValueError("Ask for since, or for from and to, not for both.")
    if "from" not in query:
        raise ValueError("from is missing beside to")
    from_us = _moment("from", query["from"])
    to_us = _moment("to", query["to"]) if "to" in query else now_us
    if from_us > to_us:
        raise ValueError("from lies after to; right would be the other way round")
    return Past(from_us, to_us, what == "readings")


def visit_span(query: Mapping[str, str]) -> int | None:
    """How far back a brief looks, in µs; None where it is not said."""
    if "since" not in query:
        return None
    found = span_us(query["since"])
    if not found:
        raise ValueError("a brief looks back for some time; right would be since=7d")
    if found > LONGEST_VISIT_US:
        raise ValueError(f"a brief looks back {LONGEST_VISIT_US // DAY_US} days at most")
    return found


def words(form: bytes, content_type: str, query: Mapping[str, str]) -> Words:
    """``by``, ``note`` and the notice's ``token`` of a form; the token may stand in the address instead."""
    kind = content_type.partition(";")[0].strip().lower()
    if form and kind != _FORM:
        raise ValueError(f"the form is {kind or 'of no kind'}; right would be {_FORM}")
    fields = dict(parse_qsl(form.decode("utf-8"), max_num_fields=MOST_FIELDS))
    who, note = (fields.get(name, "").strip() for name in ("by", "note"))
    if not who:
        raise ValueError("by is missing; it says who sees to it")
    for name, said in (("by", who), ("note", note)):
        if not typed.is_fit(said):
            raise ValueError(f"{name} takes up to {typed.LONGEST} characters that can be printed")
    return Words(fields.get("token", query.get("token", "")), who, note)


def _moment(name: str, text: str) -> int:
    try:
        return moment_us(text)
    except (ValueError, OverflowError):
        right = "2026-11-20T14:00:00Z, or with an offset, whose + is written %2B in an address"
        raise ValueError(f"{name} is no time; right would be {right}") from None
