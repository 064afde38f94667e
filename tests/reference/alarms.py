"""The alarm catalogue as people are told it, with its limits."""

from __future__ import annotations

from agent.alarms import CATALOGUE, Entry
from agent.alarms.catalogue import FEED_STALE, PROBE_FAILED
from agent.alarms.roots import COMPUTED_FROM
from tests.reference.markdown import code, joined, page, table

_HEAD = (
    "What each alarm means, when it is raised and over, and what to look at first. A technician starts at "
    "**look first**: it holds steps of looking and reading only, some of a clamp's. Read the cautions in the "
    "[README](../../README.md#cautions) before you go there.",
    "The limits are starting values of common practice, without a published source. `limits: {ALARM: "
    "{...}}` of the configuration changes them for a site: `limit_k`, `limit_c`, `urgent_c`, "
    "`deadband_k`, `on_delay_s`, `off_delay_s`, `latching`; try them on the past first with `dewline "
    "replay MODULE --limits FILE`.",
    "*Second best* is the limit for a value of a probe that is only second best in this mode. The "
    "*deadband* is how far back behind the limit the figure must come before the alarm is over. What is "
    "judged *by the hour* is judged at the end of each whole hour; `feed-stale` goes by the wall clock; "
    "everything else by the time of the readings.",
)


def alarms() -> str:
    rows = [(_link(entry), _priority(entry), entry.cause) for entry in CATALOGUE.values()]
    return page(
        "The alarms", *_HEAD, table(("alarm", "priority", "cause"), rows), *map(_section, CATALOGUE.values())
    )


def _link(entry: Entry) -> str:
    return f"[{code(entry.name)}](#{entry.name})"


def _priority(entry: Entry) -> str:
    """The one that it has; the one where the evidence leaves no doubt; and low, where it says so itself."""
    low = ["low"] if "priority" in entry.raised_when and " low " in entry.raised_when else []
    *others, last = [*low, str(entry.priority), *filter(None, [entry.urgent])]
    return f"{', '.join(others)} or {last}" if others else last


def _section(entry: Entry) -> str:
    told = {
        "Look first": entry.first_response,
        "Consequence": entry.consequence,
        "Raised when": entry.raised_when,
    }
    lines = "\n".join(f"- **{title}:** {words}" for title, words in told.items())
    figures = table(("priority", *_LIMITS, "latching", "held back"), [_figures(entry)])
    return f"## {entry.name}\n\n{entry.cause}\n\n{lines}\n\n{figures}"


_LIMITS = ("limit", "second best", "urgent", "deadband", "raised after", "over after")


def _figures(entry: Entry) -> tuple[str, ...]:
    limits = entry.limits
    limit = limits.limit_k if limits.limit_k is not None else limits.limit_c
    unit = "K" if limits.limit_k is not None else "degC"
    after = _time(limits.on_delay_s)
    if limits.urgent_on_delay_s is not None:
        after += f"; beyond doubt {_time(limits.urgent_on_delay_s)}"
    return (
        _priority(entry),
        _figure(limit, unit),
        _figure(limits.second_best_k, "K"),
        _figure(limits.urgent_c, "degC"),
        _figure(limits.deadband_k or None, "K"),
        f"{after}, by the hour" if entry.by_hour else after,
        _time(limits.off_delay_s),
        "yes" if entry.latching else "no",
        _held(entry),
    )


def _held(entry: Entry) -> str:
    """In which modes, or by what, nobody is told of it."""
    if entry.never_suppressed:
        return "never"
    by = ["in " + joined(sorted(entry.suppressed_in))] if entry.suppressed_in else []
    by.append(f"by {code(FEED_STALE.name)}")
    if COMPUTED_FROM.get(entry.name):
        by.append(f"by {code(PROBE_FAILED.name)} of what it rests on")
    return joined(by, "or")


def _figure(value: float | None, unit: str) -> str:
    return "–" if value is None else f"{value:g} {unit}"


def _time(seconds: float) -> str:
    """Seconds as a person says it."""
    for size, unit in ((3600, "h"), (60, "min")):
        if seconds >= size and seconds % size == 0 or seconds >= 2 * size:
            return f"{seconds / size:g} {unit}"
    return f"{seconds:g} s" if seconds else "at once"
