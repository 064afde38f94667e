"""What happened to the alarms of a module, in lines, and what those that are over meant."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import groupby
from typing import NamedTuple

from agent.alarms import CATALOGUE
from agent.alarms.journal import Transition
from agent.outlets.alarm_list import Happened
from agent.outlets.shown import spaced
from agent.outlets.visit.brief import Brief

_PLAINLY: Mapping[str, str] = {Transition.FOUND_LATE: "stood, and was over before it was known"}


class Line(NamedTuple):
    """A line of the journal in words."""

    when: str
    what: str
    text: str
    who: str


def together(happened: tuple[Happened, ...]) -> list[Happened]:
    """Lines of which only the alarm differs share one."""
    found = []
    for _, same in groupby(happened, lambda each: each._replace(alarm="")):
        several = list(same)
        names = {each.alarm for each in several}
        every = "all alarms" if CATALOGUE.keys() <= names else ", ".join(sorted(names))
        found.append(several[0]._replace(alarm=every))
    return found


def line(brief: Brief, each: Happened) -> Line:
    """What a person typed stays as it is; what the agent said is told in the site's units."""
    display = brief.display
    said = _PLAINLY.get(each.what, spaced(each.what))
    what = f"{each.alarm}: {said}"
    if each.until_us is not None:
        what += f" until {display.day_time(each.until_us)}"
    if each.known_us - each.event_us > 120_000_000:
        what += f", of {display.day_time(each.event_us)}"
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
