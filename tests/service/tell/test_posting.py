"""Alarms that stand, on a real Alertmanager: grouped, resolved, and mended after a restart of either side.

The API is that of prometheus-alertmanager 0.25 (`/api/v2/alerts`, its OpenAPI in api/v2/openapi.yaml).
"""

import re
import threading
import time
from contextlib import contextmanager
from datetime import datetime

import pytest

from agent.outlets.notices.alertmanager import Alertmanager
from agent.service import now_us
from agent.service.commands.commanding import work_off_commands
from agent.service.commands.giving import give
from agent.service.look.looking import look
from agent.service.tell import posting
from agent.service.tell.announcing import Announcer
from agent.service.tell.posting import Poster, open_alertmanager
from agent.service.work.alarming import Alarms
from agent.service.work.order import Kind
from agent.service.work.registering import register
from agent.settings.notices import AlertmanagerSettings
from agent.store import Store
from tests.alertmanager import MARKS, PASSWORD, USER, RealAlertmanager
from tests.certificates import Authority
from tests.receivers import DrippingReceiver, MailReceiver, Webhook
from tests.service.processes import eventually
from tests.service.site import HEALTHY_K, WET_K, World, minute, plan, told

pytestmark = MARKS

LOW = "superheat-low"
ROUTE = {
    "receiver": "crew",
    "group_by": ["site", "system"],
    "group_wait": "1s",
    "group_interval": "1s",
    "repeat_interval": "4h",
}


def hooked(hook):
    return {"route": ROUTE, "receivers": [{"name": "crew", "webhook_configs": [{"url": hook.url}]}]}


def statuses(hook):
    """Of each notification its status and the modules of its alerts, with theirs."""
    return [
        (each["status"], [(one["labels"]["module"], one["status"]) for one in each["alerts"]])
        for each in hook.accepted
    ]


class Site:
    """Two modules, as wet as they are told to be; the readings are of long ago, the clock is not."""

    def __init__(self, directory, **more):
        module = {"layout": "two-pipe-twin-late", "signal_set": "polled"}
        systems = {"one": {"refrigerant": "R-32", "modules": {"m1": module, "m2": module}}}
        self.plan = plan(directory, systems=systems, alarms={"shadow_days": 0}, **more)
        self.store = Store.open(self.plan.store_url)
        self.alarms = Alarms(self.store, Announcer(self.store, self.plan))
        self.worlds, self.opened = [], []
        for watched in register(self.store, self.plan, minute(0)):
            one = World(self.plan, self.store)
            one.watched, one.assessor.alarms = watched, self.alarms
            self.worlds.append(one)

    def wet(self, *numbers, from_minute=0, until=60):
        for number, one in enumerate(self.worlds, 1):
            superheat = WET_K if number in numbers else HEALTHY_K
            one.receive(told(from_minute, until, lambda _, superheat=superheat: superheat))
            one.work(until)

    def say(self, number, kind, **more):
        give(self.store, self.plan.modules[number - 1], kind, "A. Fitter", now_us(), LOW, **more)
        watched = [one.watched for one in self.worlds]
        assert work_off_commands(self.store, self.alarms, watched, now_us()) == 1

    def poster(self, url, every_s=60, **more):
        self.opened.append(Alertmanager(url, **more))
        return Poster(self.store, self.plan, self.opened[-1], every_s, now_us)

    def close(self):
        for each in self.opened:
            each.__exit__()
        self.store.close()


@pytest.fixture
def site(tmp_path):
    made = Site(tmp_path, http={"public_url": "https://dew.example"})
    yield made
    made.close()


@contextmanager
def running(poster):
    """As the agent runs it."""
    stop = threading.Event()
    thread = threading.Thread(target=poster.run, args=(stop,))
    thread.start()
    try:
        yield poster
    finally:
        stop.set()
        thread.join(30)
        assert not thread.is_alive()


def test_what_stands_is_there_with_its_words_and_goes_when_it_is_over(site, tmp_path):
    with Webhook() as hook, RealAlertmanager(tmp_path / "am", hooked(hook)) as there:
        site.wet(1, 2)
        poster = site.poster(there.url)
        poster.post()
        poster.post()
        found = {each["labels"]["module"]: each for each in there.alerts()}
        assert found["m1"]["labels"] == {
            "alertname": LOW,
            "site": "hill-house",
            "system": "one",
            "module": "m1",
            "priority": "high",
        }
        said = found["m1"]["annotations"]
        assert said["summary"] == "Liquid is very likely coming back at hill-house/one/m1."
        assert said["description"].startswith(
            "Sure, if piping and instruments are as described: all of it under 2 K.\n"
            "Somebody should see to it now"
        )
        assert "\nBegan 2025-11-25 08:" in said["description"]
        assert "\nFirst: See which indoor units call" in said["description"]
        assert "R-32 is mildly flammable (A2L)" in said["cautions"]
        assert said["acknowledge"] == "dewline ack one/m1 superheat-low --by NAME"
        assert said["acknowledge_link"].startswith(
            "https://dew.example/alarms/hill-house.one.m1.superheat-low."
        )
        assert found["m1"]["startsAt"].startswith("2025-11-25T09:00:45")  # when it became known
        eventually(lambda: statuses(hook))
        assert statuses(hook) == [("firing", [("m1", "firing"), ("m2", "firing")])]  # of one group
        site.wet(2, from_minute=60, until=120)
        poster.post()
        eventually(lambda: len(statuses(hook)) == 2)
        assert sorted(statuses(hook)[1][1]) == [("m1", "resolved"), ("m2", "firing")]
        assert [each["labels"]["module"] for each in there.alerts()] == ["m2"]
        assert poster.counts() == {("alertmanager", "sent"): 3, ("alertmanager", "failed"): 0}


def test_a_restart_of_alertmanager_mends_itself_and_tells_nobody_twice(site, tmp_path, caplog):
    caplog.set_level("INFO", "agent.service.tell.posting")
    with Webhook() as hook, RealAlertmanager(tmp_path / "am", hooked(hook)) as there:
        site.wet(1)
        with running(site.poster(there.url, every_s=1)) as poster:
            eventually(lambda: statuses(hook))
            there.stop()
            eventually(lambda: poster.counts()["alertmanager", "failed"] >= 2)
            there.start()
            eventually(there.alerts)
            time.sleep(3)  # longer than a group waits
        assert statuses(hook) == [("firing", [("m1", "firing")])]
    first, last = (record for record in caplog.records if "Alertmanager" in record.message)  # a line a change
    assert first.message.startswith("Alertmanager does not take alarms, and is tried on: failed with Connect")
    assert "127.0.0.1" not in first.message
    assert (first.levelname, last.levelname) == ("WARNING", "INFO")


@pytest.mark.parametrize("ahead_s", [-300, 3600])
def test_it_is_told_and_over_when_it_is_whatever_the_clock_of_the_agent_says(site, tmp_path, caplog, ahead_s):
    """`Date` of an answer: RFC 9110, 6.6.1. Alertmanager judges `endsAt` by its own clock."""
    caplog.set_level("INFO", "agent")
    with Webhook() as hook, RealAlertmanager(tmp_path / "am", hooked(hook)) as there:
        site.wet(1, 2)
        site.opened.append(Alertmanager(there.url))
        clock = lambda: now_us() + ahead_s * 1_000_000  # noqa: E731
        poster = Poster(site.store, site.plan, site.opened[-1], 60, clock)
        poster.post()
        (ends, _) = [datetime.fromisoformat(each["endsAt"]).timestamp() for each in there.alerts()]
        assert abs(ends - time.time() - 240) < 5
        eventually(lambda: statuses(hook))
        assert statuses(hook) == [("firing", [("m1", "firing"), ("m2", "firing")])]
        site.wet(2, from_minute=60, until=120)
        poster.post()
        eventually(lambda: len(statuses(hook)) == 2)
        assert sorted(statuses(hook)[1][1]) == [("m1", "resolved"), ("m2", "firing")]
    (line,) = [each.getMessage() for each in caplog.records if "clock" in each.getMessage()]
    side = "behind" if ahead_s > 0 else "ahead of"
    assert re.fullmatch(rf"the clock of Alertmanager is \d+ s {side} this machine's: set both", line)


def test_where_an_answer_tells_no_time_our_clock_counts(site):
    with Webhook() as hook:  # its answers are without Date once it is left out
        hook.says_date = False
        site.wet(1)
        poster = site.poster(hook.url)
        poster.post()
    nothing, ((alert,)) = hook.accepted[0], hook.accepted[1]
    assert nothing == []
    assert abs(datetime.fromisoformat(alert["endsAt"]).timestamp() - time.time() - 240) < 5


def test_an_answer_that_drips_in_is_a_failure_and_the_end_comes_within_seconds(site, monkeypatch):
    monkeypatch.setattr(posting, "ANSWER_S", 0.5)
    site.wet(1)
    with DrippingReceiver() as bad:
        poster = site.poster(bad.url.replace("json:", "http:").partition("/?")[0])
        for _ in range(5):
            poster.post()
        assert poster.counts() == {("alertmanager", "sent"): 0, ("alertmanager", "failed"): 5}
        assert bad.asked == 3  # no more than so many hang
        monkeypatch.setattr(posting, "ANSWER_S", 60)
        stop = threading.Event()
        thread = threading.Thread(
            target=site.poster(bad.url.replace("json:", "http:")[:-7]).run, args=(stop,)
        )
        thread.start()
        eventually(lambda: bad.asked == 4)
        stop.set()
        thread.join(5)
        assert not thread.is_alive()


def test_a_restart_of_the_agent_goes_on_and_its_silence_ends_what_stood(site, tmp_path):
    with Webhook() as hook, RealAlertmanager(tmp_path / "am", hooked(hook)) as there:
        site.wet(1)
        with running(site.poster(there.url, every_s=1)):
            eventually(lambda: statuses(hook))
        with running(site.poster(there.url, every_s=1)):  # another process, that knows only the store
            time.sleep(6)  # longer than what was posted before holds
            assert len(there.alerts()) == 1
        assert statuses(hook) == [("firing", [("m1", "firing")])]
        eventually(lambda: not there.alerts(), patience_s=6)  # 4 periods
        eventually(lambda: len(statuses(hook)) == 2)
        assert statuses(hook)[1] == ("resolved", [("m1", "resolved")])


def test_what_people_put_aside_is_not_posted_and_an_acknowledged_one_says_so(site, tmp_path):
    with Webhook() as hook, RealAlertmanager(tmp_path / "am", hooked(hook)) as there:
        site.wet(1, 2)
        poster = site.poster(there.url)
        site.say(1, Kind.ACKNOWLEDGE, why="on my way")
        site.say(2, Kind.SHELVE, why="part ordered", until_us=now_us() + 3_600_000_000)
        poster.post()
        (only,) = there.alerts()
        assert only["labels"]["module"] == "m1" and "acknowledged" not in only["labels"]
        assert only["annotations"]["acknowledged"].startswith("by A. Fitter at ")
        assert only["annotations"]["acknowledged"].endswith(" (on my way)")
        assert "acknowledge" not in only["annotations"]


def test_a_change_is_posted_without_waiting_for_the_next_time(site, tmp_path):
    with Webhook() as hook, RealAlertmanager(tmp_path / "am", hooked(hook)) as there:
        site.wet()

        def show(poster):
            for view in look(site.store, site.plan, now_us()):
                poster.look_at(view)

        with running(site.poster(there.url, every_s=180)) as poster:
            show(poster)
            eventually(lambda: poster.counts()["alertmanager", "sent"] >= 2)
            before = poster.counts()["alertmanager", "sent"]
            show(poster)
            time.sleep(2)
            assert poster.counts()["alertmanager", "sent"] == before  # no news
            site.wet(1, from_minute=60, until=120)
            show(poster)
            eventually(there.alerts, patience_s=5)


def test_a_label_that_tells_the_priority_only_rises_while_it_stands(site, tmp_path):
    """A label that goes to and fro would be a new alert each time."""
    with Webhook() as hook, RealAlertmanager(tmp_path / "am", hooked(hook)) as there:
        site.worlds[0].receive(told(0, 60, lambda _: 0.8))  # under the limit, yet not beyond doubt
        site.worlds[0].work(60)
        poster = site.poster(there.url)
        poster.post()
        ((labels, posted),) = poster._posted.items()
        assert labels[-1] == ("priority", "medium")
        for before, then in (("low", "medium"), ("high", "high")):
            was = (*labels[:-1], ("priority", before))
            poster._posted = {was: posted._replace(labels=was)}
            poster.post()
            assert [each[-1][1] for each in poster._posted] == [then]


def test_by_mail_it_reads_as_it_was_written(site, tmp_path):
    with MailReceiver() as mail:
        config = {
            "global": {
                "smtp_smarthost": f"127.0.0.1:{mail.port}",
                "smtp_from": "am@hill-house.example",
                "smtp_require_tls": False,
            },
            "route": ROUTE,
            "receivers": [
                {
                    "name": "crew",
                    "email_configs": [
                        {
                            "to": "crew@hill-house.example",
                            "html": "",
                            "text": "{{ range .Alerts }}{{ .Annotations.summary }}\n"
                            "{{ .Annotations.description }}\n{{ .Annotations.acknowledge }}\n"
                            "{{ .Annotations.cautions }}\n{{ end }}",
                        }
                    ],
                }
            ],
        }
        with RealAlertmanager(tmp_path / "am", config) as there:
            site.wet(1)
            site.poster(there.url).post()
            (sent,) = eventually(lambda: mail.messages)
        (part,) = [each for each in sent.walk() if each.get_content_type() == "text/plain"]
        text = part.get_payload(decode=True).decode()
        assert "Liquid is very likely coming back at hill-house/one/m1." in text
        assert "Dewline is an aid: no diagnosis and no permission to work." in text
        assert "dewline ack one/m1 superheat-low --by NAME" in text


class TestSecured:
    def settings(self, there, authority, **more):
        return AlertmanagerSettings(url=there.url, ca_file=str(authority.certificate), **more)

    @pytest.fixture
    def authority(self, tmp_path):
        return Authority(tmp_path / "authority")

    @pytest.fixture
    def there(self, tmp_path, authority):
        config = {"route": {"receiver": "nobody"}, "receivers": [{"name": "nobody"}]}
        with RealAlertmanager(tmp_path / "am", config, secured=authority.issue("127.0.0.1")) as made:
            yield made

    def test_with_its_certificate_user_and_password(self, site, there, authority):
        site.wet(1)
        settings = self.settings(there, authority, username=USER, password_env="AM")
        with open_alertmanager(settings, {"AM": PASSWORD}) as to:
            Poster(site.store, site.plan, to, 60, now_us).post()
        assert len(there.alerts()) == 1

    @pytest.mark.parametrize(
        ("password", "known", "said"),
        [("wrong-sesame", True, "answered 401"), (PASSWORD, False, "failed with ConnectError")],
    )
    def test_what_is_refused_is_told_once_and_without_a_secret(
        self, site, there, authority, tmp_path, caplog, capfd, password, known, said
    ):
        site.wet(1)
        trusted = authority if known else Authority(tmp_path / "another")
        settings = self.settings(there, trusted, username=USER, password_env="AM")
        with open_alertmanager(settings, {"AM": password}) as to:
            poster = Poster(site.store, site.plan, to, 60, now_us)
            for _ in range(3):
                poster.post()
        assert poster.counts() == {("alertmanager", "sent"): 0, ("alertmanager", "failed"): 3}
        told_lines = [record.getMessage() for record in caplog.records]
        assert [line for line in told_lines if "Alertmanager" in line] == [
            f"Alertmanager does not take alarms, and is tried on: {said}"
        ]
        shown = "".join([*told_lines, *capfd.readouterr(), repr(to), repr(settings)])
        assert password not in shown
        assert there.alerts() == []


def test_a_bearer_token_goes_along_and_whatever_is_answered_is_told(site, tmp_path, caplog):
    """On a server of our own: Alertmanager itself has no bearer tokens, what stands before it may."""
    caplog.set_level("INFO")
    (tmp_path / "token").write_text("t0ken-of-ours\n")
    with Webhook(answers=[503, 302, 200]) as hook:
        settings = AlertmanagerSettings(url=hook.url, token_file=str(tmp_path / "token"))
        with open_alertmanager(settings, {}) as to:
            answers = [to.post([]).error for _ in range(3)]
    assert answers == ["answered 503", "answered 302", None]
    assert caplog.records == []
    path, headers = hook.headers[0]
    assert path == "/api/v2/alerts" and headers["Authorization"] == "Bearer t0ken-of-ours"


@pytest.mark.parametrize(
    ("more", "error", "sentence"),
    [
        ({"token_env": "AM"}, ValueError, "notices.alertmanager: .* AM does not hold a token"),
        ({"username": "u", "password_file": "/nowhere/at/all"}, ValueError, "cannot be read"),
        (
            {"ca_file": "/nowhere/ca.pem"},
            OSError,
            "notices.alertmanager: ca_file .* cannot be used",
        ),
    ],
)
def test_a_secret_or_certificate_that_is_not_there_is_named(more, error, sentence):
    with pytest.raises(error, match=sentence):
        open_alertmanager(AlertmanagerSettings(url="https://am.example", **more), {})
