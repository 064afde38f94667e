"""The alarms of a module for the page: state, since when, what was found, how sure, and what to say to it."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import NamedTuple

from agent.alarms import CATALOGUE, FEED_STALE, Entry, Priority, StateName
from agent.assess import SECOND
from agent.outlets.alarm_words import UNACKNOWLEDGED, found_words, is_late, over_words, state_words
from agent.outlets.doubt import is_in_doubt
from agent.outlets.meaning import plainly, to_stop, urgency
from agent.outlets.shown import SI, Display
from agent.outlets.terminal.alarm_list import Listed, unraised
from agent.outlets.view import ModuleView, StandingAlarm

_RESET = (StateName.LATCHED_UNACKNOWLEDGED, StateName.LATCHED_ACKNOWLEDGED)
_CONTRACTOR, _OF_READINGS = "the refrigeration contractor", "whoever looks after the gateway"
PRIORITIES = (Priority.HIGH, Priority.MEDIUM, Priority.LOW)


class Told(NamedTuple):
    """One alarm, in words; empty where there is nothing to say."""

    name: str
    priority: Priority
    state: str  # in the standards' words, who brought it about and why
    since: str
    late: str  # why it came to be known later than it began
    since_us: int | None  # of one that stands
    brief: str  # what it most likely means
    sure: str  # how sure that is
    found: str
    desk: str  # what a person at a desk does
    meaning: str  # cause and consequence
    response: str  # steps of looking and reading
    command: str  # what acknowledges it
    standing: str  # the state's name alone; in shadow and withdrawn are none of the standards'
    waits: bool  # stands, is told and nobody has acknowledged it
    taken: bool  # stands, is told and somebody has acknowledged it
    is_told: bool

    @property
    def is_open(self) -> bool:
        """Whether it stands and is told, taken or not."""
        return self.waits or self.taken


def alarms(
    view: ModuleView,
    listed: list[Listed],
    display: Display = SI,
    catalogue: Mapping[str, Entry] = CATALOGUE,
    first_us: int | None = None,
) -> Iterator[Told]:
    """Those that stand or stood, the urgent ones first; then what stands and is not raised yet.

    ``first_us``: when the module was first assessed; what stood then may have stood before.
    """
    for each in listed:
        if each.life.since_us is not None:
            yield _told(view, each, display, catalogue, first_us)
    for alarm in unraised(view):
        yield Told(
            alarm.name,
            alarm.priority,
            "stood when last assessed, not raised yet",
            _began(alarm.since_us, first_us, display),
            "",
            alarm.since_us,
            *_meaning(view, alarm, display, catalogue),
            _found(alarm, view, display),
            "",
            *_catalogued(alarm.name, catalogue, display),
            command="",
            standing="not raised yet",
            waits=False,
            taken=False,
            is_told=False,
        )


def quiet(view: ModuleView, listed: list[Listed], display: Display = SI) -> dict[str, list[str]]:
    """Alarms that do not stand and yet are shelved or out of service: names by what is said of them."""
    found: dict[str, list[str]] = {}
    for each in listed:
        if each.life.since_us is None:
            found.setdefault(state_words(view.lives, each.name, display), []).append(each.name)
    return {
        words: ["all other alarms"] if len(names) + len(listed) > len(CATALOGUE) else sorted(names)
        for words, names in found.items()
    }


def _told(
    view: ModuleView, each: Listed, display: Display, catalogue: Mapping[str, Entry], first_us: int | None
) -> Told:
    stands, is_told = each.now is not None, view.lives.is_told(each.name)
    state, entry = each.life.state, catalogue.get(each.name)
    waits = is_told and each.state in UNACKNOWLEDGED and (state.active or state.latched)
    taken = is_told and each.state is StateName.ACKNOWLEDGED
    return Told(
        each.name,
        each.priority,
        state_words(view.lives, each.name, display),
        *_since(each, display, entry, first_us),
        each.life.since_us if state.active else None,
        *(_meaning(view, each.now, display, catalogue) if each.now else ("", "")),
        _found(each.now, view, display) if each.now else "",
        _desk(each, entry) if waits or taken else "",
        *(_catalogued(each.name, catalogue, display) if stands else ("", "")),
        command=_command(view, each),
        standing="withdrawn" if each.life.withdrawn else "in shadow" if view.lives.shadow else each.state,
        waits=waits,
        taken=taken,
        is_told=is_told,
    )


def _since(each: Listed, display: Display, entry: Entry | None, first_us: int | None) -> tuple[str, str]:
    """Since when it stands; and of what came to be known later than its delay alone makes it, why."""
    life = each.life
    if over := over_words(life, display):
        return over, ""
    began = _began(life.since_us, first_us, display)
    delay_s = max(entry.limits.on_delay_s, entry.limits.urgent_on_delay_s or 0.0) if entry else 0.0
    if not is_late(life.since_us, life, round(delay_s * SECOND)):
        return began, ""
    by_hour = entry is not None and entry.by_hour
    why = "" if by_hour else "readings, or a correction, came late"
    return f"{began}, known since {display.day_time(life.known_us)}", why


def _began(since_us: int | None, first_us: int | None, display: Display) -> str:
    if None not in (since_us, first_us) and (since_us or 0) <= (first_us or 0):
        return f"stands at least since {display.day_time(since_us)}"
    return f"began {display.day_time(since_us)}"


def _meaning(
    view: ModuleView, alarm: StandingAlarm, display: Display, catalogue: Mapping[str, Entry]
) -> tuple[str, str]:
    """What it most likely means and how sure that is, in the words of its notices."""
    entry = catalogue.get(alarm.name)
    if entry is None:
        return "", ""
    brief, sure = plainly(entry, alarm.priority, alarm.facts, view.assessment)
    if brief.startswith(alarm.name):  # it says no more than that it is raised
        return "", display.words(sure)
    doubt = "IN DOUBT: " if is_in_doubt(view, alarm.name) else ""
    return f"{doubt}{display.words(brief)}", display.words(sure)


def _found(alarm: StandingAlarm, view: ModuleView, display: Display) -> str:
    """The evidence; a figure with its uncertainty as the table of quantities has it."""
    facts = alarm.facts
    value, below, above = facts.value_k, facts.below_k, facts.above_k
    if value is not None and below is not None and above is not None:
        between = f"{value:z.1f} K (between {value - below:z.1f} and {value + above:z.1f} K)"
        told = facts.text.replace(f"{value:.1f} K (-{below:.1f} +{above:.1f})", between)
        alarm = alarm._replace(facts=facts._replace(text=told))
    return found_words(alarm, view, display)


def _desk(each: Listed, entry: Entry | None) -> str:
    """Whom a person at a desk tells, and how soon; common practice, no source."""
    if each.state is StateName.ACKNOWLEDGED:
        return f"Ask {each.life.acknowledged_by or 'whoever has taken it'} how it stands."
    verb = "Call" if each.priority is Priority.HIGH else "Tell"
    whom = _OF_READINGS if each.name == FEED_STALE.name else _CONTRACTOR
    how_soon = urgency(each.priority)
    stop = to_stop(entry, each.priority) if entry else ""
    return f"{verb} {whom}: {how_soon[0].lower()}{how_soon[1:]} {stop}".rstrip()


def _catalogued(name: str, catalogue: Mapping[str, Entry], display: Display) -> tuple[str, str]:
    entry = catalogue.get(name)
    if entry is None:
        return "", ""
    return display.words(f"{entry.cause} {entry.consequence}"), display.words(entry.first_response)


def _command(view: ModuleView, each: Listed) -> str:
    module = view.path.local
    if each.state in _RESET:
        return f'dewline ack {module} {each.name} --reset --by "YOUR NAME"'
    return f'dewline ack {module} {each.name} --by "YOUR NAME"' if each.state in UNACKNOWLEDGED else ""
