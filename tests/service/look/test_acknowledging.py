"""Acknowledging with the token of a notice: HMAC after RFC 2104, one occurrence, a week, by the agent."""

import hmac
import threading
from base64 import urlsafe_b64decode
from hashlib import sha256

import pytest
from hypothesis import given
from hypothesis import strategies as st

from agent.outlets.notices.ack import SECRET, AlarmId, expires_us, token
from agent.service.commands.commanding import work_off_commands
from agent.service.commands.giving import give
from agent.service.look.acknowledging import Outcome, acknowledge, acknowledgeable
from agent.service.machine.lock import only_agent
from agent.service.tell.announcing import Announcer
from agent.service.work.alarming import Alarms
from agent.service.work.order import Kind
from agent.settings import ModulePath
from agent.store import Store
from tests.service.site import GRACE_US, HEALTHY_K, MINUTE_US, WET_K, World, minute, plan, told

LOW = "superheat-low"
WEEK_US = 7 * 24 * 60 * MINUTE_US
NOW_US = minute(61)
ID = AlarmId(ModulePath("hill-house", "one", "m1"), LOW, 1_764_057_600_000_000)


class TestToken:
    def test_it_is_the_keyed_hash_that_the_standard_library_gives(self):
        """HMAC-SHA256 (RFC 2104, RFC 4231) cut to its left half (RFC 2104, section 5)."""
        given_token = token(b"k" * 32, str(ID), 1_000_000)
        expiry, _, half = given_token.partition(".")
        assert int(expiry, 16) == 1 + 7 * 86_400
        whole = hmac.digest(b"k" * 32, f"acknowledge {ID} until {int(expiry, 16)}".encode(), sha256)
        assert urlsafe_b64decode(half + "==") == whole[:16]

    def test_it_holds_for_its_alarm_its_secret_and_its_time_alone(self):
        held = token(b"k" * 32, str(ID), NOW_US)
        assert expires_us(b"k" * 32, str(ID), held) == (NOW_US + WEEK_US) // 1_000_000 * 1_000_000
        assert expires_us(b"l" * 32, str(ID), held) is None
        for other in (
            ID._replace(occurrence_us=ID.occurrence_us + 1),
            ID._replace(alarm="superheat-high"),
            ID._replace(path=ID.path._replace(module="m2")),
        ):
            assert expires_us(b"k" * 32, str(other), held) is None
        expiry, _, half = held.partition(".")
        assert expires_us(b"k" * 32, str(ID), f"{int(expiry, 16) + 1:x}.{half}") is None

    @given(st.text(max_size=60))
    def test_whatever_is_given_instead_is_none(self, text):
        assert expires_us(b"k" * 32, str(ID), text) is None
        AlarmId.read(text)

    def test_an_id_is_read_as_it_was_written_and_can_stand_in_a_url(self):
        assert AlarmId.read(str(ID)) == ID
        assert set(str(ID)) <= set("abcdefghijklmnopqrstuvwxyz0123456789-_.~")  # unreserved: RFC 3986, 2.3
        for text in ("", "a.b.c.d", f"{ID}0" * 9, str(ID).upper(), f"{ID}\n", str(ID).replace(".", "/")):
            assert AlarmId.read(text) is None


class Site:
    """A module whose alarm stands; an agent that works off commands where it is started."""

    def __init__(self, directory, **more):
        self.plan = plan(directory, alarms={"shadow_days": 0}, **more)
        self.store = Store.open(self.plan.store_url)
        self.one = World(self.plan, self.store)
        self.alarms = Alarms(self.store, Announcer(self.store, self.plan))
        self.one.assessor.alarms = self.alarms
        self.one.receive(told(0, 60, lambda now: WET_K if now >= 20 else HEALTHY_K))
        self.one.work(60)

    @property
    def alarm_id(self):
        return str(AlarmId.of(self.plan.modules[0].path, LOW, self.one.watched.lives[LOW]))

    @property
    def token(self):
        return token(self.store.secret(SECRET), self.alarm_id, NOW_US)

    def ask(self, alarm_id=None, held=None, who="A. Fitter", note="", now_us=NOW_US, wait_s=5.0):
        alarm_id, held = alarm_id or self.alarm_id, held or self.token
        return acknowledge(self.store, self.plan, alarm_id, held, who, note, now_us, wait_s)

    def look(self, held=None, now_us=NOW_US):
        return acknowledgeable(self.store, self.plan, self.alarm_id, held or self.token, now_us)

    def work_off(self, now_us=NOW_US):
        work_off_commands(self.store, self.alarms, [self.one.watched], now_us)


@pytest.fixture
def site(tmp_path):
    made = Site(tmp_path)
    yield made
    made.store.close()


@pytest.fixture
def agent(site):
    """Looks for commands as a running agent does, in a thread of its own."""
    stop = threading.Event()

    def work():
        while not stop.wait(0.05):
            site.work_off()

    with only_agent(site.store.path):
        thread = threading.Thread(target=work)
        thread.start()
        yield
        stop.set()
        thread.join(10)


def test_it_goes_through_the_running_agent_and_once(site, agent):
    first = site.look()
    assert first.outcome is Outcome.OPEN
    assert first.text == "The alarm still stands; it began 25 Nov 08:20 UTC. Nobody has acknowledged it yet."
    done = site.ask(note="going there at 6")
    assert done.outcome is Outcome.DONE
    assert done.text == (
        "superheat-low at hill-house/one/m1 is acknowledged by A. Fitter at 25 Nov 09:01 UTC "
        "(going there at 6). The alarm still stands; it began 25 Nov 08:20 UTC."
    )
    life = site.one.watched.lives[LOW]
    assert (life.acknowledged_by, life.note) == ("A. Fitter", "going there at 6")
    assert life.acknowledged_us == NOW_US
    again = site.ask(who="B. Night")
    assert again.outcome is Outcome.REFUSED
    assert again.text == (
        "superheat-low at hill-house/one/m1 is acknowledged already, by A. Fitter "
        "at 25 Nov 09:01 UTC (going there at 6). The alarm still stands; it began 25 Nov 08:20 UTC."
    )
    assert (site.look().outcome, site.look().text) == (again.outcome, again.text)


def test_where_no_agent_runs_it_waits_for_one(site):
    waits = site.ask(wait_s=0.2)
    assert waits.outcome is Outcome.WAITING and "A. Fitter at 25 Nov 09:01 UTC is kept" in waits.text
    site.work_off()
    assert site.one.watched.lives[LOW].state.acknowledged


def test_a_token_that_does_not_fit_is_told_nothing_of_alarms(site):
    expiry, _, half = site.token.partition(".")
    for held in ("x", f"{expiry}.{half[::-1]}", token(b"k" * 32, site.alarm_id, NOW_US)):
        done = site.ask(held=held)
        assert done.outcome is Outcome.FORBIDDEN
        assert done.text.startswith("This token does not belong to this alarm; ")
        assert "superheat" not in done.text and held not in done.text.split()
        assert site.look(held) == done
    assert site.ask(alarm_id="no.such.module.superheat-low.1").outcome is Outcome.FORBIDDEN
    assert site.store.waiting_commands() == []


def test_an_old_one_says_until_when_it_held(site):
    done = site.ask(now_us=NOW_US + WEEK_US)
    assert done.outcome is Outcome.EXPIRED
    assert done.text.startswith("This link worked until 2025-12-02 09:01 UTC; take that of a newer notice")
    assert site.look(now_us=NOW_US + WEEK_US) == done
    assert site.ask(now_us=NOW_US + WEEK_US - 1_000_000, wait_s=0.1).outcome is Outcome.WAITING


def test_one_of_an_occurrence_before_says_that_it_came_anew(site):
    before, held = site.alarm_id, site.token
    site.one.receive(told(60, 100))
    site.one.work(100)
    assert site.ask(before, held, wait_s=0.1).outcome is Outcome.WAITING  # over, and still to be acknowledged
    site.work_off(minute(101))
    gone = site.ask(before, held)
    assert (gone.outcome, "there is nothing to acknowledge" in gone.text) == (Outcome.REFUSED, True)
    site.one.receive(told(100, 160, lambda _: WET_K))
    site.one.work(160)
    anew = site.ask(before, held)
    assert anew.outcome is Outcome.REFUSED
    assert "the notice was of an earlier occurrence; it has come anew since then" in anew.text
    assert not site.one.watched.lives[LOW].state.acknowledged


def test_late_readings_that_move_its_beginning_leave_the_token_as_it_is(site):
    held, alarm_id = site.token, site.alarm_id
    life = site.one.watched.lives[LOW]
    site.one.watched.lives[LOW] = life._replace(since_us=life.since_us - 5 * MINUTE_US)
    assert site.alarm_id == alarm_id
    assert site.ask(alarm_id, held, wait_s=0.1).outcome is Outcome.WAITING


def test_a_secret_that_is_deleted_ends_every_token_before(site):
    held = site.token
    with site.store._writing() as connection:
        connection.exec_driver_sql("DELETE FROM secret WHERE name = 'ack'")
    assert site.ask(held=held).outcome is Outcome.FORBIDDEN
    assert site.ask(wait_s=0.1).outcome is Outcome.WAITING


def test_a_module_that_is_gone(site, tmp_path):
    module = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
    systems = {"one": {"refrigerant": "R-410A", "modules": {"m9": module}}}
    held, alarm_id = site.token, site.alarm_id
    other = plan(tmp_path, systems=systems)
    done = acknowledge(site.store, other, alarm_id, held, "A", "", NOW_US, 0.1)
    assert done.outcome is Outcome.UNKNOWN and "no longer configured" in done.text


@pytest.mark.parametrize(
    ("who", "note", "said"),
    [("  ", "", "Give your name"), ("A\nB", "", "can be printed"), ("A", "x" * 301, "up to 300 characters")],
)
def test_a_name_is_needed_and_printable(site, who, note, said):
    done = site.ask(who=who, note=note)
    assert done.outcome is Outcome.REFUSED and said in done.text
    assert site.store.waiting_commands() == []


def test_one_that_is_withdrawn_says_why(site):
    give(site.store, site.plan.modules[0], Kind.SHELVE, "A", NOW_US, LOW, why="x", until_us=NOW_US + WEEK_US)
    site.work_off()
    held, alarm_id = site.token, site.alarm_id
    site.one.receive((at + 1_000_000, name, value) for at, name, value in told(19, 60))
    site.one.work(62)
    assert site.one.transitions(LOW)[-1] == "withdrawn"
    done = site.ask(alarm_id, held, now_us=minute(62) + GRACE_US)
    assert done.outcome is Outcome.REFUSED and "it is withdrawn: late readings" in done.text


def test_no_secret_and_no_token_is_in_a_log(site, agent, caplog, capfd):
    held = site.token
    site.ask(held="0." + "A" * 22)
    site.ask()
    shown = "".join([record.getMessage() for record in caplog.records] + list(capfd.readouterr()))
    assert held not in shown and "A" * 22 not in shown
    assert site.store.secret(SECRET).hex() not in shown + repr(site.store)
