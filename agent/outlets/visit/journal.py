"""What happened to the alarms of a module, in lines, and what those that are over meant."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from agent.alarms import CATALOGUE
from agent.alarms.journal import Transition
from agent.outlets.terminal.alarm_list import WHAT, Happened, what_words
from agent.outlets.visit.brief import Brief

_PLAINLY: Mapping[str, str] = {
    **WHAT,
    Transition.FOUND_LATE: "stood, and was over before it was known",
}


class Line(NamedTuple):
    """A line of the journal in words."""

    when: str
    what: str
    text: str
    who: str


def line(brief: Brief, each: Happened) -> Line:
    """What a person typed stays as it is; what the agent said is told in the site's units."""
    display = brief.display
    what = f"{each.alarm}: {what_words(each, display, _PLAINLY)}"
    is_ours = each.what in set(Transition)
    text = f"at {display.at(each.event_us):%H:%M}: {each.told(display)}" if is_ours else each.told(display)
    return Line(display.day_time(each.known_us), what, text, each.who)


def over(brief: Brief) -> Iterator[tuple[str, str]]:
    """Each alarm that was raised in this time and stands no more, with what it means."""
    standing = {alarm.name for alarm in brief.view.alarms}
    raised = {
        each.alarm for each in brief.happened if each.what in (Transition.RAISED, Transition.FOUND_LATE)
    }
    for name in sorted(raised - standing):
        entry = brief.module.catalogue.get(name) or CATALOGUE.get(name)
        if entry is not None:
            yield name, f"{entry.cause} {entry.consequence}"
