"""Real receivers of notices on loopback, that answer as told for a while and then accept."""

import asyncio
import threading
import warnings
from contextlib import suppress
from email import message_from_bytes
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer

import orjson
from aiosmtpd.controller import Controller

from agent.outlets.notices.routes import Route
from tests.mosquitto import free_port

with warnings.catch_warnings():
    warnings.simplefilter("ignore", DeprecationWarning)  # the library asks for a module on its way out
    Route("once", "json://127.0.0.1")


def without_pauses(route):
    """The same route; its library spares mail servers by some seconds between messages."""
    for service in route._sender:
        service.request_rate_per_sec = 0
    return route


class HttpReceiver:
    """Takes JSON posts. `answers` are the codes of the next ones, "slow" for none in time; then 200.

    `location`: where every answer leads; `most`: longer bodies are refused, by 413.
    """

    def __init__(self, port=None, answers=(), location=None, most=None):
        self.port = port or free_port()
        self.answers = list(answers)
        self._location, self._most = location, most
        self.accepted = []  # subject and body
        self.asked = 0
        self._released = threading.Event()

    @property
    def url(self):
        return f"json://127.0.0.1:{self.port}/?rto=0.3"

    def __enter__(self):
        receiver = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                text = orjson.loads(self.rfile.read(int(self.headers["Content-Length"])))
                receiver.asked += 1
                answer = receiver.answers.pop(0) if receiver.answers else 200
                if receiver._most is not None and len(text["message"]) > receiver._most:
                    answer = 413
                if answer == "slow":
                    receiver._released.wait(10)
                    self.close_connection = True
                    return
                if answer == 200:
                    receiver.accepted.append((text["title"], text["message"]))
                self.send_response(answer)
                if receiver._location:
                    self.send_header("Location", receiver._location)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_):
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", self.port), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,))
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._released.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class DrippingReceiver:
    """Answers that it takes a post, a byte at a time and without an end, until it is `released`."""

    def __init__(self):
        self.port = free_port()
        self.released = threading.Event()
        self.asked = 0

    @property
    def url(self):
        return f"json://127.0.0.1:{self.port}/?rto=4"

    def __enter__(self):
        dripping = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                self.rfile.read(int(self.headers["Content-Length"]))
                dripping.asked += 1
                self.wfile.write(b"HTTP/1.1 200 OK\r\nContent-Length: 0\r\nX-Drip: ")
                with suppress(OSError):  # whoever asked has gone
                    while not dripping.released.wait(0.1):
                        self.wfile.write(b"a")
                    self.wfile.write(b"\r\n\r\n")
                self.close_connection = True

            def log_message(self, *_):
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", self.port), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,))
        self._thread.start()
        return self

    def __exit__(self, *_):
        self.released.set()
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()


class MailReceiver:
    """Takes mail. `answers` are the replies to the next messages, "slow" for none in time; then 250."""

    def __init__(self, port=None, answers=()):
        self.port = port or free_port()
        self.answers = list(answers)
        self.messages = []
        self.asked = 0

    @property
    def url(self):
        people = "from=agent@hill-house.example&to=crew@hill-house.example"
        return f"mailto://127.0.0.1:{self.port}/?{people}&mode=insecure&cto=0.5"

    @property
    def accepted(self):
        """Subject and body."""
        texts = [(m["Subject"], m.get_payload(decode=True).decode("utf-8")) for m in self.messages]
        return [(subject, text.replace("\r\n", "\n")) for subject, text in texts]

    async def handle_RCPT(self, server, session, envelope, address, options):
        self.asked += 1
        answer = self.answers.pop(0) if self.answers else "250 OK"
        if answer == "slow":
            await asyncio.sleep(1.5)  # longer than the route waits
        elif not answer.startswith("250"):
            return answer
        envelope.rcpt_tos.append(address)
        return "250 OK"

    async def handle_DATA(self, server, session, envelope):
        self.messages.append(message_from_bytes(envelope.content))
        return "250 OK"

    def __enter__(self):
        self._controller = Controller(self, hostname="127.0.0.1", port=self.port)
        self._controller.start()
        return self

    def __exit__(self, *_):
        self._controller.stop()


class Webhook:
    """Takes whatever JSON is posted, with its headers; `answers` as for HttpReceiver."""

    def __init__(self, answers=()):
        self.port = free_port()
        self.answers = list(answers)
        self.accepted = []  # bodies
        self.headers = []
        self.says_date = True

    @property
    def url(self):
        return f"http://127.0.0.1:{self.port}"

    def __enter__(self):
        hook = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self):
                text = orjson.loads(self.rfile.read(int(self.headers["Content-Length"])))
                answer = hook.answers.pop(0) if hook.answers else 200
                hook.headers.append((self.path, dict(self.headers)))
                if answer == 200:
                    hook.accepted.append(text)
                self.send_response(answer) if hook.says_date else self.send_response_only(answer)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *_):
                pass

        self._server = ThreadingHTTPServer(("127.0.0.1", self.port), Handler)
        self._thread = threading.Thread(target=self._server.serve_forever, args=(0.05,))
        self._thread.start()
        return self

    def __exit__(self, *_):
        self._server.shutdown()
        self._server.server_close()
        self._thread.join()
