"""Whom an alarm is told, in which words, and when: repeats, each route's quiet hours, the site's day.

Quiet hours and days go by the wall clock: on the night on which it is set back, quiet hours that end in the
hour that comes twice end at its first end and hold once more in the second; on the night on which it is set
forward, those that end in the hour that is left out end with it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from zoneinfo import ZoneInfo

import orjson

from agent.alarms import Facts, Life, Line, Moment, Priority, Repeat, Telling, Transition, facts
from agent.assess import HOUR_US, SECOND, Assessment
from agent.outlets.alarm_words import acknowledged_words
from agent.outlets.notices.ack import SECRET, AlarmId, expires_us, token
from agent.outlets.notices.compose import NO_STRAGGLER_US, Happening, Ways, compose, past
from agent.outlets.notices.form import Notice
from agent.outlets.shown import Display
from agent.piping import RETURN
from agent.service.work.living import AssessmentAt, ToTell
from agent.settings import ModulePlan, Plan
from agent.settings.notices import QuietSettings, RouteSettings
from agent.store import OutboxEntry, Store

EVERY = frozenset(Priority)
GATHER_US = 20 * SECOND  # so long what is told late waits for more of its kind; design choice, no source
GATHER_PAST_US = 300 * SECOND  # the past has time; a backlog that is caught up takes minutes


class Quiet:
    """When a route is spared, and what passes all the same."""

    def __init__(self, settings: QuietSettings | None, zone: str) -> None:
        self._settings = settings
        named = settings.zone if settings is not None and settings.zone is not None else zone
        self._clock = Display(zone=ZoneInfo(named))

    def passing(self, at_us: int) -> frozenset[Priority]:
        """The priorities that may go out at a time."""
        if self._settings is None:
            return EVERY
        begins, ends = self._settings.begins, self._settings.ends
        now = f"{self._clock.at(at_us):%H:%M}"
        is_quiet = begins <= now < ends if begins < ends else now >= begins or now < ends
        return frozenset(map(Priority, self._settings.let_through)) if is_quiet else EVERY


class Announcer:
    """Makes what the routes of a plan are told. Where Alertmanager tells of alarms, the routes do not."""

    def __init__(
        self,
        store: Store,
        plan: Plan,
        routes: Sequence[RouteSettings] | None = None,
        began_us: int | None = None,
    ) -> None:
        """``began_us``: since when this agent runs; None: not known."""
        notices, zone = plan.settings.notices, plan.settings.display.zone
        self._store = store
        self._display = Display.of(plan.settings.display)
        self._step_us = plan.settings.assess.step_s * SECOND
        self._began_us = began_us
        self._public_url = plan.settings.http.public_url
        known = notices.routes if routes is None else routes
        self.quiet = {route.name: Quiet(route.quiet, zone) for route in known}
        self._tells_alarms = notices.alertmanager is None
        self._repeat = Repeat(notices.repeat.most, round(notices.repeat.every_h * HOUR_US))

    @property
    def receivers(self) -> tuple[str, ...]:
        """Every route: where Alertmanager tells of alarms, they still are told of the past."""
        return tuple(self.quiet)

    @property
    def repeat(self) -> Repeat:
        """How often what stands is said again."""
        return self._repeat

    def moments(self, at_us: int) -> Mapping[str, Moment]:
        """A time as each route has it that is told of alarms."""
        if not self._tells_alarms:
            return {}
        day = self._day(at_us)
        return {name: Moment(at_us, day, quiet.passing(at_us)) for name, quiet in self.quiet.items()}

    def why_held(self, route: str, known_us: int, said_day: int | None, priority: Priority) -> str:
        """Why a route is told only now of what was known then; empty: for no reason of its own.

        ``said_day``: on which it had been told of the alarm before.
        """
        if said_day == self._day(known_us):
            return "it came again on a day on which it had been told, and stands on the next"
        held = priority not in self.quiet[route].passing(known_us)
        return "quiet hours are over" if held else ""

    def notices(
        self,
        plan: ModulePlan,
        told: Sequence[ToTell],
        latest: Assessment | None,
        assessment_at: AssessmentAt,
        now_us: int,
    ) -> Sequence[OutboxEntry]:
        """What goes into the outbox, to be committed with what it tells.

        ``assessment_at``: what a line of the journal rests on. An alarm that stands is told with the
        ``latest`` instead: it may have begun hours ago, and whoever is woken wants to know how it is now.
        """
        entries: list[OutboxEntry] = []
        of_the_past = [each for each in told if each.telling is None]
        for each in told:
            if each.telling is not None:
                happening = self._happening(plan, each, latest, assessment_at, now_us)
                notice = compose(plan.path, plan.module.refrigerant, happening, now_us, self._display)
                late = each.why_now or now_us - each.entry.event_us > NO_STRAGGLER_US
                entries += addressed(notice, each.routes, now_us, GATHER_US if late else 0)
        if of_the_past:
            found = [self._happening(plan, each, latest, assessment_at, now_us) for each in of_the_past]
            notice = past(plan.path, plan.module.refrigerant, found, now_us, self._display)
            entries += addressed(notice, of_the_past[0].routes, now_us, GATHER_PAST_US)
        return entries

    def _happening(
        self,
        plan: ModulePlan,
        told: ToTell,
        latest: Assessment | None,
        assessment_at: AssessmentAt,
        now_us: int,
    ) -> Happening:
        entry, known = told.entry, plan.catalogue[told.entry.alarm]
        body = orjson.loads(entry.body)
        evidence = Facts(**{name: body[name] for name in Facts._fields if name in body})
        stands = told.telling in (Telling.STANDS, Telling.AGAIN)
        if stands and latest is not None and not (known.by_wall_clock or known.by_hour):
            evidence = facts(known, latest, plan.configured_probe)
        life, line = told.life, Line(Transition(entry.transition), entry.event_us, body["since_us"])
        waits = stands and not life.state.acknowledged
        settled = stands and latest is not None and not known.by_wall_clock
        return Happening(
            entry=known,
            line=line,
            known_us=entry.known_us,
            priority=told.priority,
            facts=evidence,
            assessment=latest if stands else assessment_at(entry.event_us),
            telling=told.telling,
            why_now=told.why_now,
            acknowledged=acknowledged_words(life, self._display) if stands and not waits else "",
            ways=ways(self._store, self._public_url, plan, known.name, life, now_us) if waits else None,
            brief=brief_link(self._public_url, plan),
            first_known_us=life.known_us if stands else None,
            why_late=self._why_late(line.event_us, life.known_us) if stands else "",
            before=self._before(line.since_us, latest, assessment_at) if settled and latest else None,
            ended_us=body.get("cleared_us"),
        )

    def _why_late(self, raised_us: int, known_us: int | None) -> str:
        """Why it became known long after it was so, as far as that can be told; empty: it did not."""
        if known_us is None or known_us - raised_us <= NO_STRAGGLER_US:
            return ""
        if self._began_us is not None and raised_us < self._began_us:
            return f"Dewline was not running then; it runs since {self._display.when(self._began_us)}"
        return "its readings came late, or what is known of the module was corrected"

    def _before(self, since_us: int, latest: Assessment, assessment_at: AssessmentAt) -> Assessment | None:
        """How it was in the hour before an alarm's condition began: the newest that was settled."""
        end_us = since_us // self._step_us * self._step_us
        for at_us in range(end_us - self._step_us, end_us - HOUR_US, -self._step_us):
            found = assessment_at(at_us)
            if found is None or found.grid_us != at_us or found.mode != latest.mode:
                continue
            if found.quantities[RETURN].decided:
                return found
        return None

    def _day(self, at_us: int) -> int:
        return self._display.at(at_us).toordinal()


def addressed(notice: Notice, routes: Sequence[str], now_us: int, gather_us: int = 0) -> list[OutboxEntry]:
    """A notice for each of these routes. ``gather_us``: so long it waits for others to go with it."""
    return [
        OutboxEntry(
            now_us,
            route,
            notice.key,
            notice.subject,
            notice.body,
            next_us=now_us + gather_us,
            priority=notice.priority,
            brief=notice.short,
        )
        for route in routes
    ]


def ways(
    store: Store, public_url: str | None, plan: ModulePlan, alarm: str, life: Life, now_us: int
) -> Ways | None:
    """How whoever is told acknowledges it from afar; None where this machine has no address for that."""
    if public_url is None:
        return None
    alarm_id = str(AlarmId.of(plan.path, alarm, life))
    held = token(store.secret(SECRET), alarm_id, now_us)
    page = f"{public_url}/alarms/{alarm_id}"
    until_us = expires_us(store.secret(SECRET), alarm_id, held) or now_us
    return Ways(f"{page}?token={held}", f"{page}/ack", held, until_us)


def brief_link(public_url: str | None, plan: ModulePlan) -> str:
    """Where the brief of a module is read; empty where this machine has no address for that."""
    return f"{public_url}/visit/{plan.path.system}/{plan.path.module}" if public_url else ""
