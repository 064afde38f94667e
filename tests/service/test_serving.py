"""What the real server answers, over real sockets: pages, sentences, tokens, and the headers of each."""

import base64
import csv
import gzip
import io
import ssl
import threading

import pytest

from agent.outlets.web.safety import MOST_WRONG
from agent.service.serving import Serving
from agent.settings.http import HttpSettings
from tests.certificates import PASSPHRASE, Authority, encrypted
from tests.mosquitto import free_port
from tests.service.served import ALARM_TOKEN, NOW_US, OLD_TOKEN, TOKEN, SmallSite, guarded, served, trusting

HOUR_US = 3_600_000_000
ODD = "<b>&\"'\n\u00e4\u96ea"
PATHS = ("/", "/metrics", "/readyz", "/healthz", "/visit/one/m1", "/history/one/m1.csv", "/nowhere")


class TestPages:
    def test_each_has_its_kind(self):
        with served() as agent:
            kinds = {
                "/": "text/html; charset=utf-8",
                "/visit/one/m1": "text/html; charset=utf-8",
                "/metrics": "text/plain; version=0.0.4; charset=utf-8",
                "/healthz": "text/plain; charset=utf-8",
                "/readyz": "text/plain; charset=utf-8",
            }
            for path, kind in kinds.items():
                answer = agent.get(path)
                assert (answer.status_code, answer.headers["content-type"]) == (200, kind), path
            assert agent.get("/healthz").text == "ok\n"
            assert agent.get("/metrics").text == "dewline_up 1\n"

    def test_head_says_the_same_without_a_body(self):
        with guarded() as agent:
            for path in PATHS:
                got, head = agent.get(path, token=TOKEN), agent.ask("HEAD", path, token=TOKEN)
                assert head.status_code == got.status_code and head.content == b"", path
                assert head.headers["content-type"] == got.headers["content-type"], path

    def test_it_is_ready_or_says_why_not(self):
        with served(SmallSite(reasons=["the broker is not connected", "n1 lags"])) as agent:
            answer = agent.get("/readyz")
            assert (answer.status_code, answer.text) == (
                503,
                "not ready\nthe broker is not connected\nn1 lags\n",
            )
            agent.site.reasons = []
            assert agent.get("/readyz").text == "ready\n"
            assert agent.get("/healthz").status_code == 200

    def test_a_page_that_stays_still(self):
        with served() as agent:
            agent.get("/")
            agent.get("/?still")
            assert agent.site.asked == [False, True]

    def test_the_brief_looks_back_as_far_as_it_is_told(self):
        with served() as agent:
            assert agent.get("/visit/one/m1").text.endswith("None")
            assert agent.get("/visit/one/m1?since=7d").text.endswith(str(7 * 24 * HOUR_US))
            assert agent.get("/visit/one/m1?since=93d").text == "a brief looks back 92 days at most\n"
            assert "no length of time" in agent.get("/visit/one/m1?since=soon").text

    def test_what_is_not_there_is_said_in_a_sentence(self):
        with served() as agent:
            for path, sentence in {
                "/nowhere": "There is no such page here.\n",
                "/visit/one/m2": "there is one/m1 alone\n",
                "/visit/one/m1/": "There is no such page here.\n",
                "/visit/%2e%2e/%2e%2e/etc/passwd": "There is no such page here.\n",
            }.items():
                answer = agent.get(path)
                assert (answer.status_code, answer.text) == (404, sentence), path
                assert answer.headers["content-type"] == "text/plain; charset=utf-8"

    @pytest.mark.parametrize("method", ["POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "PROPFIND"])
    def test_other_methods_are_refused(self, method):
        with guarded() as agent:
            for path in PATHS[:-1]:
                answer = agent.ask(method, path, token=TOKEN)
                assert answer.status_code == 405, path
                assert set(answer.headers["allow"].split(", ")) == {"GET", "HEAD"}
                assert "not asked in that way" in answer.text

    def test_a_page_that_goes_wrong_is_a_sentence_and_a_line_in_the_log(self, caplog):
        class Broken(SmallSite):
            def status(self, *, still):
                raise RuntimeError(f"secret {TOKEN}")

        with served(Broken()) as agent:
            answer = agent.get("/")
            assert (answer.status_code, answer.text) == (500, "This went wrong; the agent's log says how.\n")
            assert_safe(answer)
            assert agent.get("/healthz").status_code == 200
        assert "GET '/' could not be answered" in caplog.text

    def test_metrics_are_packed_where_that_is_asked_for(self):
        with served() as agent:
            plain = agent.get("/metrics", headers={"accept-encoding": "identity"})
            assert "content-encoding" not in plain.headers
            with agent.socket(
                b"GET /metrics HTTP/1.1\r\nHost: localhost\r\nAccept-Encoding: gzip\r\n"
                b"Connection: close\r\n\r\n"
            ) as asking:
                got = b"".join(iter(lambda: asking.recv(65536), b""))
            head, _, body = got.partition(b"\r\n\r\n")
            assert b"content-encoding: gzip" in head.lower()
            assert gzip.decompress(body) == b"dewline_up 1\n"

    def test_more_briefs_at_once_than_can_be_made_soon_are_told_to_come_again(self):
        release = threading.Event()
        with served(SmallSite(waits=release)) as agent:
            asking = b"GET /visit/one/m1 HTTP/1.1\r\nHost: localhost\r\n\r\n"
            waiting = [agent.socket(asking) for _ in range(12)]
            try:
                first = next(filter(None, (_received(each) for each in waiting)))
                assert first.startswith(b"HTTP/1.1 503") and b"retry-after: 5" in first.lower()
                assert agent.get("/").status_code == agent.get("/metrics").status_code == 200
            finally:
                release.set()
                for each in waiting:
                    each.close()


def _received(made):
    made.settimeout(0.5)
    try:
        return made.recv(4096)
    except TimeoutError:
        return b""


class TestHistory:
    def test_without_a_token_there_is_none_and_it_says_what_to_do(self):
        with served() as agent:
            answer = agent.get("/history/one/m1.csv")
            assert answer.status_code == 403 and "token_env or token_file under http" in answer.text

    def test_with_one_it_comes_as_csv(self):
        with guarded() as agent:
            answer = agent.get("/history/one/m1.csv", token=TOKEN)
            assert answer.headers["content-type"] == "text/csv; charset=utf-8"
            assert answer.headers["content-disposition"] == 'attachment; filename="one-m1-assessments.csv"'
            assert list(csv.reader(io.StringIO(answer.text, newline=""))) == [
                ["time", "value"],
                ["2025-11-25T08:00:00Z", "1"],
            ]

    @pytest.mark.parametrize(
        ("query", "asked"),
        [
            ("", (NOW_US - 24 * HOUR_US, NOW_US, False)),
            ("?since=7d&what=readings", (NOW_US - 168 * HOUR_US, NOW_US, True)),
            ("?from=2025-11-25T07:00:00Z", (NOW_US - HOUR_US, NOW_US, False)),
            (
                "?from=2025-11-25T07:00:00%2B01:00&to=2025-11-25T07:30:00.5-00:30&what=assessments",
                (NOW_US - 2 * HOUR_US, NOW_US + 500_000, False),
            ),
        ],
    )
    def test_which_stretch_of_time(self, query, asked):
        with guarded() as agent:
            assert agent.get(f"/history/one/m1.csv{query}", token=TOKEN).status_code == 200
            assert agent.site.asked == [asked]

    @pytest.mark.parametrize(
        ("query", "sentence"),
        [
            ("?since=yesterday", "no length of time; right would be 30m, 24h or 7d"),
            ("?since=900w&what=alarms", "right would be assessments or readings"),
            ("?from=2025-11-25T07:00:00", "from is no time; right would be 2026-11-20T14:00:00Z"),
            ("?from=2025-11-25T07:00:00+01:00", "whose + is written %2B in an address"),
            ("?to=2025-11-25T07:00:00Z", "from is missing beside to"),
            ("?from=2025-11-26&to=2025-11-25", "from lies after to"),
            ("?from=2025-11-25&since=1h", "not for both"),
        ],
    )
    def test_what_is_wrong_with_a_query_is_said(self, query, sentence):
        with guarded() as agent:
            answer = agent.get(f"/history/one/m1.csv{query}", token=TOKEN)
            assert answer.status_code == 400 and sentence in answer.text

    @pytest.mark.parametrize(
        ("kept_us", "query", "since"),
        [
            (NOW_US - 2 * HOUR_US, "since=3h&what=readings", "2025-11-25T06:00:00Z"),
            (NOW_US - 2 * HOUR_US, "from=2025-11-25T05:00:00Z&what=readings", "2025-11-25T06:00:00Z"),
            (NOW_US - 2 * HOUR_US, "since=2h&what=readings", None),
            (NOW_US - 2 * HOUR_US, "since=3h", None),  # assessments stay
            (None, "since=3h&what=readings", None),
        ],
    )
    def test_since_when_readings_are_kept_where_more_is_asked_for(self, kept_us, query, since):
        with guarded(SmallSite(kept_us=kept_us)) as agent:
            answer = agent.get(f"/history/one/m1.csv?{query}", token=TOKEN)
            assert answer.status_code == 200
            assert answer.headers.get("dewline-readings-since") == since

    def test_one_that_breaks_on_its_way_is_no_whole_one(self, caplog):
        def breaking():
            yield "time\r\n"
            raise RuntimeError("the disk is gone")

        class Breaking(SmallSite):
            def history(self, *asked):
                return breaking()

        with guarded(Breaking()) as agent:
            head = f"GET /history/one/m1.csv HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {TOKEN}\r\n"
            with agent.socket(f"{head}\r\n".encode()) as asking:
                got = b"".join(iter(lambda: asking.recv(65536), b""))
            assert b"time\r\n" in got and not got.endswith(b"0\r\n\r\n")


class TestToken:
    def test_nothing_but_life_without_it(self):
        with guarded() as agent:
            for path in PATHS:
                answer = agent.get(path)
                assert answer.status_code == (200 if path == "/healthz" else 401), path
                assert_safe(answer)
            refused = agent.get("/")
            assert refused.headers.get_list("www-authenticate") == [
                'Bearer realm="dewline"',
                'Basic realm="dewline", charset="UTF-8"',
            ]

    def test_as_a_bearer_token_or_as_the_password_of_anybody(self):
        with guarded() as agent:
            basic = base64.b64encode(f"crew:{TOKEN}".encode()).decode()
            for right in (f"Bearer {TOKEN}", f"bearer  {TOKEN}", f"Basic {basic}", f"bAsIc {basic}"):
                assert agent.get("/", headers={"authorization": right}).status_code == 200, right
            assert agent.get("/", auth=("", TOKEN)).status_code == 200

    @pytest.mark.parametrize(
        "wrong",
        [
            "Bearer",
            "",
            f"Bearer {TOKEN}x",
            f"Bearer {TOKEN[:-1]}",
            f"Bearer {TOKEN.upper()}",
            f"Token {TOKEN}",
            TOKEN,
            "Basic !!!",
            "Basic " + base64.b64encode(TOKEN.encode()).decode(),
            "Basic " + base64.b64encode(f"{TOKEN}:".encode()).decode(),
        ],
    )
    def test_what_is_not_it(self, wrong):
        with guarded() as agent:
            answer = agent.get("/", headers={"authorization": wrong})
            assert answer.status_code == 401 and answer.text == "That is not the agent's token.\n"

    def test_no_way_around_by_another_spelling_of_the_path(self):
        with guarded() as agent:
            for path in (
                "//",
                "/healthz/../",
                "/healthz%0a",
                "/HEALTHZ",
                "/alarms/a/b/ack",
                "/alarms/x/../../",
            ):
                got = agent.say(
                    f"GET {path} HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n".encode()
                )
                assert got.startswith(b"HTTP/1.1 401"), path

    def test_who_is_wrong_too_often_waits_and_shuts_out_nobody_else_from_there(self):
        """Behind a proxy all have one address."""
        with guarded() as agent:
            for _ in range(MOST_WRONG):
                assert agent.get("/", token="guess").status_code == 401
            answer = agent.get("/", token="guess")
            assert answer.status_code == 429 and answer.headers["retry-after"] == "60"
            assert agent.get("/", token=TOKEN).status_code == 200
            assert agent.get("/healthz").status_code == 200

    def test_no_header_of_a_proxy_makes_another_address_of_it(self):
        with guarded() as agent:
            for number in range(MOST_WRONG):
                agent.get("/", token="guess", headers={"x-forwarded-for": f"192.0.2.{number}"})
            assert agent.get("/", token="guess").status_code == 429


class TestAcknowledging:
    ID = "hill-house.one.m1.superheat-low.1764057600000000"

    def test_looking_changes_nothing_and_shows_one_button(self):
        with guarded() as agent:
            for path, action in ((f"/alarms/{self.ID}/ack", "ack"), (f"/alarms/{self.ID}", f"{self.ID}/ack")):
                for method in ("GET", "HEAD"):
                    answer = agent.ask(method, f"{path}?token={ALARM_TOKEN}")
                    assert answer.status_code == 200
                    assert_safe(answer)
                page = agent.get(f"{path}?token={ALARM_TOKEN}").text
                assert page.count("<button") == 1 and f'action="{action}"' in page
                assert f'name="token" value="{ALARM_TOKEN}"' in page
                assert "<h1>Acknowledge superheat-low at hill-house/one/m1</h1>" in page
                assert "The alarm still stands." in page
            assert agent.site.acknowledged == []

    @pytest.mark.parametrize(
        ("query", "status", "sentence"),
        [
            ("?token=guess", 403, "That token does not allow it."),
            ("", 403, "That token does not allow it."),
            (f"?token={OLD_TOKEN}", 410, "This link worked until yesterday."),
        ],
    )
    def test_a_link_that_opens_nothing_says_so_at_once_and_shows_no_form(self, query, status, sentence):
        with guarded() as agent:
            for path in (f"/alarms/{self.ID}", f"/alarms/{self.ID}/ack"):
                answer = agent.get(f"{path}{query}")
                assert answer.status_code == status and sentence in answer.text
                assert "<form" not in answer.text and "/visit/" not in answer.text
                assert_safe(answer)

    def test_guesses_are_counted_as_they_are_elsewhere(self):
        with guarded() as agent:
            for _ in range(MOST_WRONG):
                assert agent.get(f"/alarms/{self.ID}?token=guess").status_code == 403
            assert agent.get(f"/alarms/{self.ID}?token=guess").status_code == 429
            assert agent.get(f"/alarms/{self.ID}?token={ALARM_TOKEN}").status_code == 200

    def test_who_comes_second_reads_who_was_first_and_goes_on_to_the_brief(self):
        with guarded() as agent:
            form = {"token": ALARM_TOKEN, "by": "B. Night", "note": "going there at 6"}
            page = {"headers": {"accept": "text/html"}}
            done = agent.ask("POST", f"/alarms/{self.ID}/ack", data=form, **page)
            assert '<a href="../../visit/one/m1">' in done.text
            again = agent.get(f"/alarms/{self.ID}?token={ALARM_TOKEN}")
            assert again.status_code == 409 and "<form" not in again.text
            assert "acknowledged already, by B. Night (going there at 6)" in again.text
            assert '<a href="../visit/one/m1">' in again.text

    def test_a_form_does_it_and_says_so_on_a_page(self):
        with guarded() as agent:
            form = {"token": ALARM_TOKEN, "by": " A. Fitter ", "note": "on my way"}
            answer = agent.ask("POST", f"/alarms/{self.ID}/ack", data=form, headers={"accept": "text/html"})
            assert answer.status_code == 200 and "A. Fitter sees to it." in answer.text
            assert "<form" not in answer.text
            assert agent.site.acknowledged == [(self.ID, "A. Fitter", "on my way")]

    def test_so_does_a_command_line(self):
        with guarded() as agent:
            path = f"/alarms/{self.ID}/ack?token={ALARM_TOKEN}"
            answer = agent.ask("POST", path, data={"by": "crew"})
            assert (answer.status_code, answer.text) == (200, "crew sees to it.\n")

    def test_another_token_does_not_even_the_agents_own(self):
        with guarded() as agent:
            for token in ("", "guess", TOKEN):
                form = {"token": token, "by": "crew"}
                answer = agent.ask("POST", f"/alarms/{self.ID}/ack", data=form, token=TOKEN)
                assert (answer.status_code, answer.text) == (403, "That token does not allow it.\n")
            assert agent.site.acknowledged == []
            for _ in range(MOST_WRONG):
                agent.ask("POST", f"/alarms/{self.ID}/ack", data={"by": "crew"})
            answer = agent.ask("POST", f"/alarms/{self.ID}/ack", data={"by": "crew"})
            assert answer.status_code == 429
            answer = agent.ask("POST", f"/alarms/{self.ID}/ack", data={"token": ALARM_TOKEN, "by": "crew"})
            assert answer.status_code == 200  # behind a proxy all have one address

    @pytest.mark.parametrize(
        ("form", "kind", "status", "sentence"),
        [
            (b"", "application/x-www-form-urlencoded", 400, "by is missing"),
            (b"by=", "application/x-www-form-urlencoded", 400, "by is missing"),
            (b"by=a%0ab", "application/x-www-form-urlencoded", 400, "that can be printed"),
            (b"by=" + b"x" * 301, "application/x-www-form-urlencoded", 400, "up to 300 characters"),
            (b'{"by": "crew"}', "application/json", 400, "right would be application/x-www-form-urlencoded"),
            (b"by=\xff", "application/x-www-form-urlencoded", 400, ""),
            (b"&".join([b"a=1"] * 11), "application/x-www-form-urlencoded", 400, ""),
            (b"by=" + b"x" * 9000, "application/x-www-form-urlencoded", 413, "no more than 8192 bytes"),
        ],
    )
    def test_a_form_that_is_none(self, form, kind, status, sentence):
        with guarded() as agent:
            path = f"/alarms/{self.ID}/ack?token={ALARM_TOKEN}"
            answer = agent.ask("POST", path, content=form, headers={"content-type": kind})
            assert answer.status_code == status and sentence in answer.text
            assert agent.site.acknowledged == []
            assert_safe(answer)

    def test_whatever_somebody_types_is_shown_as_typed(self):
        with guarded() as agent:
            page = agent.get("/alarms/%3Cscript%3E%22'&/ack?token=%22%3E%3Cscript%3E").text
            assert "<script" not in page and "&lt;script&gt;&#34;&#39;" in page
            name = "<b>&\"'\u00e4\u96ea"
            form = {"token": ALARM_TOKEN, "by": name}
            answer = agent.ask("POST", f"/alarms/{self.ID}/ack", data=form, headers={"accept": "text/html"})
            assert (
                "<b>" not in answer.text and "&lt;b&gt;&amp;&#34;&#39;\u00e4\u96ea sees to it." in answer.text
            )


class TestHost:
    def test_on_this_machine_by_its_own_names_only(self):
        with served(public_url="https://dewline.example") as agent:
            names = ("localhost", "127.0.0.1", "LOCALHOST:1", "[::1]:9464", "dewline.example", "127.0.0.2:80")
            for name in names:
                assert agent.get("/", headers={"host": name}).status_code == 200, name
            for name in (
                "rebound.example",
                "localhost.rebound.example",
                "127.0.0.1.rebound.example",
                "",
                "[",
                "0",
            ):
                answer = agent.get("/healthz", headers={"host": name})
                assert answer.status_code == 421 and "http.public_url" in answer.text, name
            assert agent.say(b"GET / HTTP/1.0\r\n\r\n").startswith(b"HTTP/1.1 421")


class TestTls:
    def test_with_certificate_and_token(self, tmp_path):
        authority = Authority(tmp_path / "authority")
        certificate, key = authority.issue("127.0.0.1")
        files = {"cert_file": str(certificate), "key_file": str(encrypted(key))}
        environment = {"DEWLINE_TOKEN": TOKEN, "PASSPHRASE": PASSPHRASE}
        with served(
            environment=environment, token_env="DEWLINE_TOKEN", key_password_env="PASSPHRASE", **files
        ) as agent:
            assert agent.base.startswith("https://")
            trusted = trusting(authority.certificate)
            assert agent.get("/metrics", verify=trusted).status_code == 401
            assert agent.get("/metrics", verify=trusted, token=TOKEN).text == "dewline_up 1\n"
            old = trusting(authority.certificate)
            old.maximum_version = ssl.TLSVersion.TLSv1_2
            assert agent.get("/healthz", verify=old).status_code == 200
            with pytest.warns(DeprecationWarning):
                old.minimum_version = ssl.TLSVersion.TLSv1
                old.maximum_version = ssl.TLSVersion.TLSv1_1
            old.set_ciphers("ALL:@SECLEVEL=0")
            with agent.socket() as made, pytest.raises(ssl.SSLError):
                old.wrap_socket(made, server_hostname="127.0.0.1")
            assert b"200" not in agent.say(b"GET /healthz HTTP/1.1\r\nHost: localhost\r\n\r\n")

    @pytest.mark.parametrize(
        ("token", "sentence"),
        [
            ("", "http: the environment variable DEWLINE_TOKEN does not hold a token"),
            ("4711", "http: the token of token_env is too short or not plain text; right would be 16 char"),
            ("open sesame \u00e4 4711 0815", "too short or not plain text"),
        ],
    )
    def test_a_token_that_is_none(self, token, sentence):
        settings = HttpSettings(port=free_port(), token_env="DEWLINE_TOKEN")
        with pytest.raises(ValueError, match=sentence) as raised:
            Serving(settings, {"DEWLINE_TOKEN": token})
        assert not token or token not in str(raised.value)

    def test_a_certificate_that_is_none(self, tmp_path):
        (tmp_path / "text").write_text(PASSPHRASE)
        files = {"cert_file": str(tmp_path / "text"), "key_file": str(tmp_path / "text")}
        with pytest.raises(ValueError, match="http: cert_file .*/text holds no certificate") as raised:
            Serving(HttpSettings(port=free_port(), **files), {})
        assert PASSPHRASE not in str(raised.value)


def assert_safe(answer):
    """What OWASP's Secure Headers Project has for pages without script, from memory."""
    policy = dict(part.split(" ", 1) for part in answer.headers["content-security-policy"].split("; "))
    assert policy["default-src"] == policy["frame-ancestors"] == policy["base-uri"] == "'none'"
    assert "script-src" not in policy and policy["form-action"] == "'self'"
    assert answer.headers["x-content-type-options"] == "nosniff"
    assert answer.headers["referrer-policy"] == "no-referrer"
    assert answer.headers["cache-control"] == "no-store"
    assert "server" not in answer.headers
    assert "Traceback" not in answer.text


def test_every_answer_carries_the_headers():
    with guarded() as agent:
        for path in PATHS:
            for token in (None, TOKEN, "guess"):
                assert_safe(agent.get(path, token=token))
        assert_safe(agent.ask("DELETE", "/", token=TOKEN))
        assert_safe(agent.get("/", headers={"host": "rebound.example"}))
        assert_safe(agent.get("/" + "x" * 3000, token=TOKEN))


def test_a_port_that_is_taken_is_named():
    with served() as agent, pytest.raises(OSError, match=f"127.0.0.1:{agent.port}: Address already in use"):
        Serving(HttpSettings(port=agent.port), {})


def test_an_address_that_is_none_is_named():
    with pytest.raises(OSError, match="http cannot be served on nowhere.invalid:"):
        Serving(HttpSettings(host="nowhere.invalid", port=free_port()), {})
