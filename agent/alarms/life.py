"""What has become of one alarm of one module: its state, who did it, and what people were told of it.

Pure: what happens goes in with its time, the life after it comes out. Only what happens at the live edge goes
in; the past is annotated in the journal and changes no life.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType
from typing import Any, NamedTuple, Self

import orjson

from agent.alarms.entry import Priority
from agent.alarms.journal import Line, Transition, next_announced
from agent.alarms.lifecycle import Event, RefusedError, State, StateName, after, without_old_shelf
from agent.alarms.telling import Moment, Repeat, Said, Standing, Telling

LATE_READINGS = "late readings have changed it"
EVERYBODY = ""  # in `Life.said`: each receiver that is not named there
NOTHING_SAID: Mapping[str, Said] = MappingProxyType({})


class Deed(NamedTuple):
    """What a person does to an alarm."""

    event: Event
    who: str
    why: str = ""
    until_us: int | None = None  # the end of shelving
    since_us: int | None = None  # the occurrence that is meant; None: whichever stands
    said_us: int | None = None  # when the person said so; None: as it takes effect


class Life(NamedTuple):
    """An alarm's state and how it came to it. Times in µs of UTC."""

    state: State = State()
    since_us: int | None = None  # when the condition of its newest occurrence began
    changed_us: int | None = None  # when the state was last changed
    said: Mapping[str, Said] = NOTHING_SAID  # what people were told, by receiver
    held_by: str = ""  # what suppresses it: an alarm's name, or "mode" and the mode
    acknowledged_by: str = ""
    note: str = ""
    shelved_by: str = ""
    shelved_why: str = ""
    removed_by: str = ""
    removed_why: str = ""
    known_us: int | None = None  # when its newest occurrence became known
    withdrawn: str = ""  # why its newest occurrence is not held to have been; empty: it is
    acknowledged_us: int | None = None  # when somebody said so; None with a name: a version kept no time

    def standing(self, at_us: int) -> StateName:
        """The state's name in the standards."""
        return self.state.standing(at_us)

    def said_to(self, receiver: str) -> Said:
        """What a receiver was told."""
        return self.said.get(receiver, self.said.get(EVERYBODY, Said()))

    def after_line(self, line: Line, at_us: int, *, latching: bool, why: str = "") -> Self:
        """After a line of the journal that was written at the live edge at this time.

        ``why``: of an occurrence that is withdrawn, what took it away.
        """
        if line.transition is Transition.WITHDRAWN:
            said = {name: each.taken_back(line.since_us) for name, each in self.said.items()}
            life = self._replace(said=said)
            return life._withdrawn(why or LATE_READINGS, at_us) if line.since_us == self.since_us else life
        if line.transition is Transition.RAISED:
            changed = self._to(after(self.state, Event.OCCURS, at_us, latching=latching), at_us)
            return changed._replace(since_us=line.since_us, known_us=at_us, withdrawn="")
        if not self.state.active:
            return self
        if line.transition is Transition.AMENDED:
            said = {name: each.amended(self.since_us, line.since_us) for name, each in self.said.items()}
            return self._replace(since_us=line.since_us, said=said)
        if next_announced(self.since_us, line) is None:
            return self._to(after(self.state, Event.CLEARS, at_us), at_us)
        return self

    def after_deed(self, deed: Deed, at_us: int) -> Self:
        """After what a person did. Raises RefusedError where it cannot be done."""
        came_anew = self.state.active and deed.since_us not in (None, self.since_us)
        if deed.event is Event.ACKNOWLEDGED and came_anew:
            raise RefusedError("it has come anew since; look at it again")
        life = self.after_time(at_us)
        state = after(life.state, deed.event, at_us, until_us=deed.until_us)
        match deed.event:
            case Event.ACKNOWLEDGED | Event.RESET:
                life = life._replace(
                    acknowledged_by=deed.who,
                    note=deed.why,
                    acknowledged_us=at_us if deed.said_us is None else deed.said_us,
                )
            case Event.SHELVED:
                life = life._replace(shelved_by=deed.who, shelved_why=deed.why)
            case Event.UNSHELVED | Event.RETURNED:
                life = life._untold()
            case Event.REMOVED:
                life = life._replace(removed_by=deed.who, removed_why=deed.why)
        return life._to(state, at_us)

    def after_time(self, at_us: int) -> Self:
        """After time alone: shelving ends by itself."""
        state = without_old_shelf(self.state, at_us)
        return self if state == self.state else self._untold()._to(state, at_us)

    def after_hold(self, by: str, at_us: int) -> Self:
        """After what suppresses it began, changed or, empty, ended. What does not stand is not suppressed."""
        by = by if self.state.active else ""
        if by == self.held_by:
            return self
        event = Event.SUPPRESSED if by else Event.UNSUPPRESSED
        return self._replace(held_by=by)._to(after(self.state, event, at_us), at_us)

    def after_telling(
        self, priority: Priority, moments: Mapping[str, Moment], repeat: Repeat, *, shadow: bool
    ) -> tuple[Self, Mapping[str, Telling]]:
        """What receivers have to be told now, and the life after that was done.

        ``moments``: now, as each receiver has it; what was told to others is forgotten.
        """
        said = {name: self.said_to(name) for name in moments}
        told: dict[str, Telling] = {}
        for name, moment in moments.items():
            if shadow or not self.state.is_told(moment.at_us):
                continue
            now = Standing(self.since_us if self.state.active else None, priority, self.state.acknowledged)
            said[name], telling = said[name].then(now, moment, repeat)
            if telling:
                told[name] = telling
        known = {name: each for name, each in said.items() if each != Said()}
        return (self if known == self.said else self._replace(said=known)), told

    def _withdrawn(self, why: str, at_us: int) -> Self:
        """What never was waits for nobody: there is nothing to acknowledge, and nothing to reset."""
        state = self.state._replace(active=False, acknowledged=True, latched=False)
        return self._to(state, at_us)._replace(withdrawn=why)

    def _untold(self) -> Self:
        """What stands when a person's hold on it ends is told once more."""
        if not self.state.active:
            return self
        return self._replace(said={name: each.to_tell_anew() for name, each in self.said.items()})

    def _to(self, state: State, at_us: int) -> Self:
        """In another state; what belongs to the one before is forgotten."""
        if state == self.state:
            return self
        life = self._replace(state=state, changed_us=at_us)
        if not state.acknowledged or not (state.active or state.latched):
            life = life._replace(acknowledged_by="", note="", acknowledged_us=None)
        if state.shelved_until_us is None:
            life = life._replace(shelved_by="", shelved_why="")
        if not state.out_of_service:
            life = life._replace(removed_by="", removed_why="")
        return life

    def dump(self) -> str:
        """As JSON."""
        said = {name: each._asdict() for name, each in self.said.items()}
        return orjson.dumps({**self._asdict(), "state": self.state._asdict(), "said": said}).decode()

    @classmethod
    def load(cls, text: str) -> Self:
        """From JSON."""
        body: dict[str, Any] = orjson.loads(text)
        told_us = body.pop("told_us", None)  # of a version that told everybody the same
        before = {} if told_us is None else {EVERYBODY: {"since_us": told_us, "at_us": max(told_us, 0)}}
        said = {name: _said(each) for name, each in body.pop("said", before).items()}
        return cls(**{**body, "state": State(**body["state"]), "said": said})


def _said(kept: Mapping[str, Any]) -> Said:
    priority = kept.get("priority")
    return Said(**{**kept, "priority": None if priority is None else Priority(priority)})
