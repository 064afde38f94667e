"""Clients that are slow, silent, many or rude, over real sockets: nobody else waits for them."""

import contextlib
import socket
import ssl
import threading
import time
from pathlib import Path

import pytest

from agent.outlets.web import connections
from tests.certificates import Authority
from tests.service.processes import eventually
from tests.service.served import TOKEN, SmallSite, guarded, metrics, served, trusting

ASK = b"GET /metrics HTTP/1.1\r\nHost: localhost\r\n\r\n"
BRIEF = ASK.replace(b"/metrics", b"/visit/one/m1")


def is_closed(made, within_s):
    """Whether the other side closes the connection within that time; what came before is passed over."""
    made.settimeout(within_s)
    try:
        while made.recv(65536):
            pass
    except TimeoutError:
        return False
    except OSError:
        return True
    return True


def took_s(agent, path="/metrics", **more):
    began = time.monotonic()
    assert agent.get(path, **more).status_code == 200
    return time.monotonic() - began


@contextlib.contextmanager
def many(agent, number, sends):
    made = [agent.socket(sends) for _ in range(number)]
    try:
        yield made
    finally:
        for each in made:
            each.close()


@pytest.mark.parametrize(
    "sends",
    [
        b"",  # half open
        b"GET / HTTP/1.1\r\nHost: localhost\r\nX-Slow: ",
        b"POST /alarms/x/ack HTTP/1.1\r\nHost: localhost\r\nContent-Length: 5000\r\n\r\nby=",
        ASK,  # kept alive
    ],
)
def test_two_hundred_connections_hold_up_nobody(sends):
    with served() as agent, many(agent, 200, sends):
        assert max(took_s(agent) for _ in range(20)) < 2
        assert took_s(agent, "/") < 2


def test_no_more_than_so_many_are_held(monkeypatch):
    monkeypatch.setattr(connections, "MOST_CONNECTIONS", 20)
    with served() as agent, many(agent, 50, b"") as made:
        agent.get("/healthz")
        gone = sum(is_closed(each, 0.01) for each in made)
        assert 30 <= gone <= 31
        assert all(is_closed(each, 0.5) for each in made[:30]), "who has been there longest leaves"


def test_who_holds_many_shuts_out_no_other_machine(monkeypatch):
    monkeypatch.setattr(connections, "MOST_CONNECTIONS", 20)
    elsewhere = ("127.0.0.9", 0)
    with (
        served() as agent,
        socket.create_connection(("127.0.0.1", agent.port), source_address=elsewhere) as other,
        many(agent, 50, b"GET / HTTP/1.1\r\n"),
    ):
        other.sendall(ASK)
        other.settimeout(5)
        assert other.recv(100).startswith(b"HTTP/1.1 200")


@pytest.mark.parametrize("parts", [[b"GET / HT"], [b"GET / HTTP/1.1\r\n"] + [b"X-Drip: 1\r\n"] * 40])
def test_a_request_that_drips_in_is_cut_off(monkeypatch, parts):
    monkeypatch.setattr(connections, "REQUEST_S", 1)
    with served() as agent, agent.socket() as slow:
        began = time.monotonic()
        with contextlib.suppress(OSError):
            for part in parts:
                slow.sendall(part)
                time.sleep(0.05)
        assert is_closed(slow, 5)
        assert time.monotonic() - began < 5


def test_so_is_the_second_request_of_a_connection_and_a_body(monkeypatch):
    monkeypatch.setattr(connections, "REQUEST_S", 1)
    for sends in (
        ASK + b"GET / HTT",
        b"POST /alarms/x/ack HTTP/1.1\r\nHost: localhost\r\nContent-Length: 9\r\n\r\nb",
    ):
        with served() as agent, agent.socket(sends) as slow:
            assert is_closed(slow, 8), sends


def test_who_does_not_read_the_answer_is_cut_off(monkeypatch):
    monkeypatch.setattr(connections, "STALLED_S", 1)
    made = 0

    def endless():
        nonlocal made
        while True:
            made += 1
            yield "x" * 65_536

    class Long(SmallSite):
        def history(self, *asked):
            return endless()

    ask = f"GET /history/one/m1.csv HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {TOKEN}\r\n\r\n"
    with guarded(Long()) as agent, agent.socket(ask.encode()) as deaf:
        deaf.recv(100)
        time.sleep(3)
        given_up = made
        assert is_closed(deaf, 5)
        assert made == given_up, "nothing more is made of it"
        assert took_s(agent, token=TOKEN) < 2


def test_a_brief_that_takes_long_holds_up_nothing_else():
    release = threading.Event()
    with served(SmallSite(waits=release)) as agent, agent.socket(BRIEF) as waiting:
        assert max(took_s(agent, path) for path in ("/", "/metrics", "/readyz", "/healthz")) < 2
        release.set()
        waiting.settimeout(10)
        assert waiting.recv(100).startswith(b"HTTP/1.1 200")


def test_it_ends_though_a_page_is_still_being_made():
    release = threading.Event()
    try:
        with served(SmallSite(waits=release)) as agent, agent.socket(BRIEF), many(agent, 5, b"GET"):
            agent.get("/healthz")
            began = time.monotonic()
        assert time.monotonic() - began < 10
    finally:
        release.set()


@pytest.mark.parametrize(
    ("sends", "status"),
    [
        (b"GET /" + b"x" * 3000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n", 414),
        (b"GET /?" + b"x" * 3000 + b" HTTP/1.1\r\nHost: localhost\r\n\r\n", 414),
        (b"GET / HTTP/1.1\r\nHost: localhost\r\nX: " + b"x" * 17_000 + b"\r\n\r\n", 431),
        (b"GET / HTTP/1.1\r\nHost: localhost\r\n" + b"X: y\r\n" * 20_000 + b"\r\n", 431),
        (b"GET / HTTP/1.1\r\nHost: localhost\r\nHost: other\r\n\r\n", 400),
        (b"GET / HTTP/1.1\r\n\r\n", 400),
        (b"GET http://rebound.example/ HTTP/1.1\r\nHost: rebound.example\r\n\r\n", 421),
        (b"GET / HTTP/1.1\r\nHost: localhost\r\nA: b\nC: d\x00\r\n\r\n", 400),
        (
            b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: 1\r\nTransfer-Encoding: chunked\r\n\r\n",
            405,
        ),
        (b"POST / HTTP/1.1\r\nHost: localhost\r\nContent-Length: -1\r\n\r\n", 400),
        (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03", 400),
        (b"\x00" * 40_000, 400),
        (b"hello\r\n\r\n", 400),
    ],
)
def test_what_is_no_request_or_too_big_a_one(sends, status, caplog):
    with served() as agent:
        got = agent.say(sends)
        assert got[9:12] in (str(status).encode(), b"400") and b"Traceback" not in got
        assert took_s(agent) < 2
    assert caplog.text == ""


def test_a_body_without_end_that_nobody_asked_for_is_not_kept(monkeypatch):
    monkeypatch.setattr(connections, "REQUEST_S", 1)
    with served() as agent, agent.socket() as endless:
        endless.sendall(b"GET / HTTP/1.1\r\nHost: localhost\r\nTransfer-Encoding: chunked\r\n\r\n")
        sent = 0
        began = time.monotonic()
        with contextlib.suppress(OSError):
            while time.monotonic() - began < 10:
                endless.sendall(b"10000\r\n" + b"x" * 65_536 + b"\r\n")
                sent += 1
        assert time.monotonic() - began < 5


def test_a_tls_handshake_that_never_comes(tmp_path):
    authority = Authority(tmp_path / "authority")
    certificate, key = authority.issue("127.0.0.1")
    with (
        guarded(cert_file=str(certificate), key_file=str(key)) as agent,
        many(agent, 200, b""),
        many(agent, 20, b"\x16\x03\x01"),
    ):
        verify = trusting(authority.certificate)
        assert max(took_s(agent, verify=verify, token=TOKEN) for _ in range(5)) < 3
        with agent.socket() as made, pytest.raises(ssl.SSLError):
            ssl.create_default_context().wrap_socket(made, server_hostname="127.0.0.1")


def test_sockets_that_were_closed_are_given_back(tmp_path):
    with served() as agent:
        agent.get("/healthz")
        before = _descriptors()
        with many(agent, 100, b"GET / HTTP/1.1\r\n"):
            assert _descriptors() >= before + 100
        eventually(lambda: _descriptors() <= before + 2, "the descriptors of closed connections")


def _descriptors():
    return len(list(Path("/proc/self/fd").iterdir()))


def test_scrapes_beside_many_who_ask_for_pages():
    stop = threading.Event()

    def pester(agent):
        while not stop.is_set():
            with contextlib.suppress(OSError):
                agent.say(b"GET / HTTP/1.1\r\nHost: localhost\r\nConnection: close\r\n\r\n")

    with served(scrape=metrics) as agent:
        threads = [threading.Thread(target=pester, args=(agent,)) for _ in range(10)]
        for each in threads:
            each.start()
        try:
            assert max(took_s(agent) for _ in range(20)) < 2
        finally:
            stop.set()
            for each in threads:
                each.join()
