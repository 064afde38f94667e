"""From the journal of real rounds to what each route is told: once a day, quiet hours, the site's day."""

import threading
from contextlib import contextmanager
from datetime import datetime
from zoneinfo import ZoneInfo

import orjson
import pytest

from agent.alarms import Priority, Telling
from agent.outlets.notices.ack import SECRET, AlarmId, expires_us
from agent.outlets.notices.routes import Route
from agent.service.commands.commanding import work_off_commands
from agent.service.commands.giving import give
from agent.service.tell.announcing import EVERY, GATHER_PAST_US, GATHER_US, Announcer, Quiet
from agent.service.tell.notifying import Notifier
from agent.service.work.alarming import Alarms
from agent.service.work.order import Kind
from agent.service.work.registering import register
from agent.settings.notices import QuietSettings
from agent.store import OutboxEntry, Store, StoreError
from tests.receivers import HttpReceiver
from tests.service.site import (
    GRACE_US,
    HEALTHY_K,
    MINUTE_US,
    WET_K,
    World,
    minute,
    plan,
    told,
)

LOW = "superheat-low"
DAY = 24 * 60
CREW = {"name": "crew", "url_env": "CREW_URL"}
CHAT = {"name": "chat", "url_env": "CHAT_URL"}
AT_ONCE = {"shadow_days": 0}


class Spoilt(Store):
    """A real store whose transactions fail at their very end where it is told to."""

    spoilt = False

    def finish(self, *args, notices=(), **more):
        entries = [each._replace(subject=None) for each in notices] if self.spoilt else notices
        super().finish(*args, notices=entries, **more)


class Announced(World):
    """A module whose alarms are told; `configure` is a restart with another file."""

    def __init__(self, directory, store, **notices):
        self.directory = directory
        super().__init__(self.plan_with(**notices), store)

    def plan_with(self, **notices):
        more = {"routes": [CREW], "repeat": {"most": 0}, **notices}
        return plan(self.directory, alarms=AT_ONCE, notices=more)

    def configure(self, **notices):
        self.plan = self.plan_with(**notices)
        self.restart()

    def restart(self):
        super().restart()
        self.assessor.alarms = self.alarms = Alarms(self.store, Announcer(self.store, self.plan))

    def work(self, now_minute):
        super().work(now_minute)
        self.settle(now_minute)

    def settle(self, now_minute):
        self.alarms.settle(self.watched, minute(now_minute) + GRACE_US)

    def say(self, now_minute, kind, **more):
        give(self.store, self.plan.modules[0], kind, "A. Fitter", minute(now_minute), LOW, **more)
        work_off_commands(self.store, self.alarms, [self.watched], minute(now_minute))

    def wet(self, from_minute, to_minute, wet_from, wet_to=10**6):
        """Readings in pieces as they come, wet for a while."""
        for now in range(from_minute, to_minute, 5):
            self.receive(told(now, now + 5, lambda at: WET_K if wet_from <= at < wet_to else HEALTHY_K))
            self.work(now + 5)

    def of(self, beginning):
        """All that is in the outbox, by the beginning of the key."""
        with self.store._reading() as connection:
            found = connection.exec_driver_sql(
                "SELECT created_us, route, notice_key, subject, body, attempts, next_us, priority "
                "FROM outbox ORDER BY id"
            )
            rows = [OutboxEntry(*row[:7], priority=row[7]) for row in found]
            return [row for row in rows if row.notice_key.startswith(f"{beginning}/")]

    def told(self, route="crew"):
        """First words of all that a route is told of the alarm."""
        return [each.subject.partition(f" {LOW}")[0] for each in self.of(LOW) if each.route == route]


@pytest.fixture
def make(tmp_path):
    opened = []

    def made(**notices):
        store = Spoilt.open(f"sqlite:///{tmp_path / 'store.db'}")
        opened.append(store)
        return Announced(tmp_path, store, **notices)

    yield made
    for store in opened:
        store.close()


def test_an_alarm_that_stands_is_one_notice_for_each_route(make):
    one = make(routes=[CREW, CHAT])
    one.wet(0, 60, 20)
    (raised,) = one.lines(LOW)
    found = one.of(LOW)
    assert [each.route for each in found] == ["crew", "chat"]
    assert found[0][2:5] == found[1][2:5]
    since_us = orjson.loads(raised.body)["since_us"]
    assert found[0].notice_key == f"{LOW}/hill-house/one/m1/stands/{since_us}/{raised.known_us}"
    assert (found[0].created_us, found[0].next_us) == (raised.known_us, raised.known_us)
    text = " ".join(found[0].body.split())
    assert text.startswith(
        "hill-house/one/m1: liquid is very likely coming back. Sure, if piping and instruments"
    )
    assert "Where: site hill-house, system one (R-410A), module m1; mode cooling" in text
    assert "Found: liquid is very likely coming back: return superheat 0." in text
    assert "Probe used: suction_pipe: " in text
    assert "Not usable in cooling: compressor_inlet: mixed: " in text
    assert "Before it began (08:20) -> now: return superheat 5.9 -> 0." in text
    assert "Known late" not in text and ", known 2025-11-25 08:" in text
    assert "flammable" not in text  # R-410A is A1


def test_nothing_is_put_in_without_its_entry(make):
    one = make()
    one.receive(told(0, 60, lambda now: WET_K if now >= 20 else HEALTHY_K))
    one.store.spoilt = True
    with pytest.raises(StoreError):
        one.work(60)
    assert one.journal == one.store.next_notices() == []
    one.store.spoilt = False
    one.restart()
    one.work(60)
    assert one.told() == ["HIGH"]
    one.restart()
    one.work(60)
    assert one.told() == ["HIGH"]


def test_what_comes_goes_and_comes_on_a_day_is_told_once_and_gone_over_again_not_at_all(make):
    one = make()
    one.wet(0, 120, 30, 70)
    one.wet(120, 180, 120)
    assert one.transitions(LOW) == ["raised", "cleared", "raised"]
    assert one.told() == ["HIGH", "OVER"]
    one.receive([(minute(0) + 700_000, "bypass_valve", 0)])
    one.restart()
    one.work(180)
    assert one.told() == ["HIGH", "OVER"]
    one.settle(16 * 60)  # the next day
    assert one.told() == ["HIGH", "OVER", "HIGH"]
    assert "it came again on a day on which it had been told" in " ".join(one.of(LOW)[-1].body.split())


def test_unacknowledged_it_is_said_again_and_acknowledged_it_is_not(make):
    one = make(repeat={"most": 2, "every_h": 1})
    one.wet(0, 60, 20)
    for now in range(60, 400, 20):
        one.settle(now)
    assert one.told() == ["HIGH", "STILL HIGH", "STILL HIGH"]
    assert "Told now: it still stands, and nobody has acknowledged it." in one.of(LOW)[-1].body
    other = make(repeat={"most": 2, "every_h": 1})
    other.say(401, Kind.ACKNOWLEDGE)
    other.configure(repeat={"most": 9, "every_h": 1})
    other.settle(800)
    assert len(other.of(LOW)) == 3


def test_what_late_readings_take_away_does_not_count_against_what_comes_that_day(make):
    one = make()
    one.wet(0, 60, 20)
    assert one.told() == ["HIGH"]
    healthy = list(told(19, 60))  # a second after those that were wet
    one.receive((at + 1_000_000, name, value) for at, name, value in healthy)
    one.work(61)
    assert one.transitions(LOW)[-1] == "withdrawn" and one.told() == ["HIGH", "OVER"]
    one.wet(61, 120, 70)
    assert one.told() == ["HIGH", "OVER", "HIGH"]


def test_a_backlog_that_was_over_is_one_notice_and_raises_nothing(make):
    one = make(routes=[CREW, CHAT])
    wet = [range(30, 60), range(90, 120), range(150, 180)]
    one.receive(told(0, 240, lambda now: WET_K if any(int(now) in each for each in wet) else HEALTHY_K))
    one.work(240)
    late = [entry for entry in one.journal if entry.transition == "found_late"]
    assert len(late) >= 3 and len(late) == len(one.journal)
    found, _ = one.of("past")
    assert (found.subject, found.priority) == ("PAST alarms at hill-house/one/m1", "low")
    assert found.body.count(" stood from ") == found.body.count(" to 2025-11-25 ") == len(late)
    assert "For information, nothing to do." in found.body
    assert found.next_us == found.created_us + GATHER_PAST_US
    assert one.store.waiting_notices() == {"crew": 1, "chat": 1}


@pytest.mark.parametrize(
    ("began", "said"),
    [
        (None, "its readings came late, or what is known of the module was corrected"),
        (10, "its readings came late, or what is known of the module was corrected"),
        (100, "Dewline was not running then; it runs since 2025-11-25 09:40 UTC"),
    ],
)
def test_what_is_known_long_after_it_was_so_says_why(make, began, said):
    one = make()
    began_us = None if began is None else minute(began)
    one.assessor.alarms = Alarms(one.store, Announcer(one.store, one.plan, began_us=began_us))
    one.receive(told(0, 120, lambda now: WET_K if now >= 20 else HEALTHY_K))
    one.work(120)
    text = " ".join(one.of(LOW)[0].body.split())
    assert "Began 2025-11-25 08:20 UTC, known 2025-11-25 10:0" in text
    assert f"Known late: {said}." in text
    assert "Before it began (08:20) -> now: return superheat 5.9 -> 0." in text  # of the rows of this step


def quiet(begins, ends, **more):
    return {"from": begins, "to": ends, **more}


class TestQuietHours:
    """The readings begin at 08:00 UTC, which is 09:00 in Berlin."""

    def test_each_route_has_its_own_and_is_told_after_them_what_stands(self, make):
        one = make(routes=[CREW, {**CHAT, "quiet": quiet("07:00", "10:00", let_through=[])}])
        one.wet(0, 60, 20)
        assert (one.told("crew"), one.told("chat")) == (["HIGH"], [])
        one.restart()
        one.settle(119)
        assert one.told("chat") == []
        one.settle(120)
        assert one.told("chat") == ["HIGH"]
        late = one.of(LOW)[-1]
        assert "Told now: quiet hours are over." in late.body
        assert late.next_us == late.created_us + GATHER_US
        one.settle(121)
        assert (one.told("crew"), one.told("chat")) == (["HIGH"], ["HIGH"])

    def test_what_is_over_after_them_is_told_only_to_whom_it_was_told(self, make):
        one = make(routes=[CREW, {**CHAT, "quiet": quiet("07:00", "10:00", let_through=[])}])
        one.wet(0, 120, 20, 60)
        one.settle(120)
        assert (one.told("crew"), one.told("chat")) == (["HIGH", "OVER"], [])

    def test_the_high_pass_unless_it_is_said_otherwise_and_its_own_zone_counts(self, make):
        berlin = quiet("08:30", "12:00", zone="Europe/Berlin")
        one = make(routes=[{**CREW, "quiet": berlin}])
        one.wet(0, 60, 20)
        assert one.told() == ["HIGH"]


BERLIN = ZoneInfo("Europe/Berlin")


def berlin(text):
    """µs of UTC; `+` at the end for the second time that the clock shows it."""
    at = datetime.fromisoformat(text.rstrip("+")).replace(tzinfo=BERLIN, fold=text.endswith("+"))
    return int(at.timestamp()) * 1_000_000


@pytest.mark.parametrize(
    ("begins", "ends", "at", "is_quiet"),
    [
        ("22:00", "06:00", "2025-11-25T21:59", False),
        ("22:00", "06:00", "2025-11-25T22:00", True),
        ("22:00", "06:00", "2025-11-26T00:00", True),
        ("22:00", "06:00", "2025-11-26T05:59", True),
        ("22:00", "06:00", "2025-11-26T06:00", False),
        ("12:00", "13:00", "2025-11-26T12:30", True),
        ("12:00", "13:00", "2025-11-26T13:00", False),
        # Clocks go forward at 02:00 on 2025-03-30 and back at 03:00 on 2025-10-26 (Directive 2000/84/EC).
        ("22:00", "02:30", "2025-03-30T01:59", True),
        ("22:00", "02:30", "2025-03-30T03:00", False),
        ("22:00", "06:00", "2025-03-30T05:59", True),
        ("22:00", "06:00", "2025-10-26T05:59", True),
        ("22:00", "02:30", "2025-10-26T02:30", False),
        ("22:00", "02:30", "2025-10-26T02:29+", True),
        ("22:00", "02:30", "2025-10-26T02:30+", False),
    ],
)
def test_quiet_hours_go_by_the_wall_clock(begins, ends, at, is_quiet):
    settings = QuietSettings.model_validate(quiet(begins, ends))
    passing = Quiet(settings, "Europe/Berlin").passing(berlin(at))
    assert passing == (frozenset({Priority.HIGH}) if is_quiet else EVERY)


def test_a_day_is_the_site_s_and_so_is_its_length(tmp_path):
    """Of 25 hours on the night on which the clock is set back: one day."""
    site = plan(tmp_path, display={"zone": "Europe/Berlin"}, notices={"routes": [CREW]})
    with Store.open(site.store_url) as store:
        announcer = Announcer(store, site)
        days = [
            announcer.moments(berlin(at))["crew"].day
            for at in ("2025-10-25T23:59", "2025-10-26T00:00", "2025-10-26T23:59", "2025-10-27T00:00")
        ]
    assert [day - days[0] for day in days] == [0, 1, 1, 2]


def test_a_route_that_comes_later_is_told_what_stands_and_one_that_goes_is_forgotten(make):
    one = make()
    one.wet(0, 60, 20)
    one.configure(routes=[CREW, CHAT])
    one.settle(61)
    assert (one.told("crew"), one.told("chat")) == (["HIGH"], ["HIGH"])
    one.configure(routes=[CHAT])
    one.wet(60, 100, 0, 60)
    assert (one.told("crew"), one.told("chat")) == (["HIGH"], ["HIGH", "OVER"])


def test_with_alertmanager_routes_are_told_of_the_past_alone(make):
    posted = {"url": "http://127.0.0.1:9093"}
    one = make(alertmanager=posted)
    one.wet(0, 60, 20)
    assert one.transitions(LOW) == ["raised"] and one.told() == []
    one.configure()
    one.settle(61)
    assert one.told() == ["HIGH"]


def test_with_alertmanager_routes_are_told_what_late_readings_bring_to_light(make):
    one = make(alertmanager={"url": "http://127.0.0.1:9093"})
    one.receive(told(0, 120, lambda now: WET_K if 20 <= now < 60 else HEALTHY_K))
    one.work(120)
    assert one.transitions(LOW) == ["found_late"]
    assert one.told() == [] and [each.route for each in one.of("past")] == ["crew"]


def test_a_notice_carries_what_acknowledges_it_and_nothing_else(tmp_path):
    """Where this machine has an address; the token is of this occurrence and holds for seven days."""
    site = plan(
        tmp_path, alarms=AT_ONCE, notices={"routes": [CREW]}, http={"public_url": "https://dew.example/"}
    )
    with Store.open(site.store_url) as store:
        one = World(site, store)
        one.assessor.alarms = Alarms(store, Announcer(store, site))
        one.receive(told(0, 60, lambda now: WET_K if now >= 20 else HEALTHY_K))
        one.work(60)
        (kept,) = store.next_notices()
        lines = kept.body.splitlines()
        (link,) = [line.strip() for line in lines if line.startswith("  https://") and "token=" in line]
        address, _, token = link.partition("?token=")
        alarm_id = address.removeprefix("https://dew.example/alarms/")
        assert AlarmId.read(alarm_id) == AlarmId.of(site.modules[0].path, LOW, one.watched.lives[LOW])
        week_us = 7 * DAY * MINUTE_US
        assert expires_us(store.secret(SECRET), alarm_id, token) == (
            (kept.created_us + week_us) // 1_000_000 * 1_000_000
        )
        assert f"    {address}/ack" in lines and "  dewline ack one/m1 superheat-low --by NAME" in lines
        secret = store.secret(SECRET)
        for text in (kept.body, kept.brief, repr(kept)):
            assert secret.hex() not in text and repr(secret)[2:-1] not in text


@contextmanager
def three_modules(directory, begin=0, **route):
    """On one store, all wet from about 20 minutes after the beginning on."""
    module = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    systems = {"one": {"refrigerant": "R-410A", "modules": dict.fromkeys(("m1", "m2", "m3"), module)}}
    site = plan(
        directory,
        systems=systems,
        alarms=AT_ONCE,
        notices={"routes": [{**CREW, **route}], "repeat": {"most": 0}},
    )
    with Store.open(site.store_url) as store:
        worlds = []
        alarms = Alarms(store, Announcer(store, site))
        for number, watched in enumerate(register(store, site, minute(0))):
            one = World(site, store)
            one.watched = watched
            one.assessor.alarms = alarms
            one.alarms = alarms
            since = begin + 20 + number
            one.receive(
                told(begin, begin + 60, lambda now, since=since: WET_K if now >= since else HEALTHY_K)
            )
            worlds.append(one)
        yield site, store, worlds


def test_what_quiet_hours_held_goes_in_one_message(tmp_path):
    held = {"quiet": quiet("07:00", "10:00", let_through=[])}
    with three_modules(tmp_path, **held) as (site, store, worlds), HttpReceiver() as receiver:
        clock = [minute(60)]
        notifier = Notifier(store, [Route("crew", receiver.url)], lambda: clock[0], site)

        def all_settle(now):
            clock[0] = minute(now)
            for one in worlds:
                one.work(now)
                one.alarms.settle(one.watched, minute(now))
            notifier.work(threading.Event())

        for now in (60, 119):
            all_settle(now)
        assert [subject for subject, _ in receiver.accepted] == [
            "Dewline is alive: hill-house, 3 alarms, 3 of 3 hardly assessed"
        ]
        for now in (120, 120.5, 121, 122):
            all_settle(now)
        assert [subject for subject, _ in receiver.accepted[1:]] == [
            "HIGH superheat-low at hill-house/one/m1 and 2 more"
        ]
        body = receiver.accepted[1][1]
        assert all(f"HIGH superheat-low at hill-house/one/{m}" in body for m in ("m1", "m2", "m3"))
        assert body.count("Before anyone goes to the module:") == 1
        assert store.waiting_notices() == {}


def test_after_a_day_without_the_agent_all_that_stands_goes_in_one_message(tmp_path):
    """Raised long ago, known only now, one module after the other."""
    with three_modules(tmp_path, DAY - 60) as (site, store, worlds), HttpReceiver() as receiver:
        clock = [minute(DAY)]
        notifier = Notifier(store, [Route("crew", receiver.url)], lambda: clock[0], site)
        for second, one in enumerate(worlds):
            clock[0] = minute(DAY) + second * 5_000_000
            one.assessor.work_off(one.watched, clock[0])
            notifier.work(threading.Event())
        clock[0] += GATHER_US
        notifier.work(threading.Event())
        alarms = [subject for subject, _ in receiver.accepted if "alive" not in subject]
        assert alarms == ["HIGH superheat-low at hill-house/one/m1 and 2 more"]


def test_a_rise_in_priority_is_told_with_its_reason(make):
    """First not settled (low), then without doubt."""
    one = make()
    one.wet(0, 60, 20)
    (life,) = [one.watched.lives[LOW]]
    said = life.said["crew"]._replace(priority=Priority.LOW)
    one.watched.lives[LOW] = life._replace(said={"crew": said})
    one.settle(61)
    assert one.told() == ["HIGH", "HIGH"]
    assert "Told now: its priority has risen from low to high." in one.of(LOW)[-1].body
    assert one.watched.lives[LOW].said["crew"].priority == Priority.HIGH
    assert Telling.STANDS in one.of(LOW)[-1].notice_key
