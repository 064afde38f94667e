"""Alertmanager on the shipped files, hurried, and a mail server that keeps what it was told."""

import json
import shutil
import time
import urllib.request
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.deploy.broker import DEPLOY
from tests.mosquitto import free_port
from tests.receivers import MailReceiver
from tests.service.processes import eventually, process

PROGRAM = shutil.which("prometheus-alertmanager") or shutil.which("alertmanager")
AMTOOL = shutil.which("amtool")
MARKS = [
    pytest.mark.service,
    pytest.mark.skipif(PROGRAM is None or AMTOOL is None, reason="alertmanager is not installed"),
]
HURRIED = {
    "group_wait: 30s": "group_wait: 1s",
    "group_wait: 10s": "group_wait: 1s",
    "group_interval: 5m": "group_interval: 1s",
    "smtp_require_tls: true": "smtp_require_tls: false",
}


class Alertmanager:
    """A running one: what it is posted, and what it sent."""

    def __init__(self, port: int, mail: MailReceiver) -> None:
        self.port = port
        self._mail = mail

    def ask(self, path: str, body: Any = None) -> Any:
        data = None if body is None else json.dumps(body).encode()
        head = {"Content-Type": "application/json"}
        request = urllib.request.Request(f"http://127.0.0.1:{self.port}{path}", data, head)
        with urllib.request.urlopen(request, timeout=10) as answer:
            text = answer.read()
        return json.loads(text) if text[:1] in (b"{", b"[") else text.decode()

    def post(self, alertname: str, *, over: bool = False, for_s: float = 600, **labels: str) -> None:
        """One alert, raised now; over, or standing for so long unless it is posted anew.

        With `startsAt` further back than `group_wait` Alertmanager would tell the first one at once, alone.
        """
        now = datetime.now(UTC)
        body = {
            "labels": {"alertname": alertname, **labels},
            "annotations": {
                "summary": f"{alertname} at {labels.get('module', 'the agent')}",
                "description": "return superheat 0.4 K at suction_pipe, limit 2 K",
                "cautions": "Before anyone goes to the module: an aid, no permission to work.",
            },
            "startsAt": now.isoformat(),
            "endsAt": (now if over else now + timedelta(seconds=for_s)).isoformat(),
        }
        self.ask("/api/v2/alerts", [body])

    def states(self) -> dict[str, str]:
        return {each["labels"]["alertname"]: each["status"]["state"] for each in self.ask("/api/v2/alerts")}

    @property
    def mails(self) -> list[tuple[str, str, str]]:
        """To whom, subject and text of each message, as they came."""
        return [
            (mail["To"], mail["Subject"], text.replace("\r\n", "\n"))
            for mail, text in zip(self._mail.messages, map(text_of, self._mail.messages), strict=True)
        ]

    def settle(self, seconds: float = 4.0) -> None:
        """Long enough for whatever is still to be told."""
        time.sleep(seconds)


def text_of(mail: Any) -> str:
    parts = [part for part in mail.walk() if not part.is_multipart()]
    assert [part.get_content_type() for part in parts] == ["text/plain"]
    return str(parts[0].get_payload(decode=True).decode("utf-8"))


def written(directory: Path, mail_port: int, changes: dict[str, str]) -> Path:
    """The shipped files with only times, mail server and what the test changes put in."""
    directory.mkdir(parents=True, exist_ok=True)
    text = (DEPLOY / "alertmanager.yml").read_text()
    put_in = {"mail.quince-court.example:587": f"127.0.0.1:{mail_port}", **HURRIED, **changes}
    for old, new in put_in.items():
        assert text.count(old) == 1, f"{old} stands {text.count(old)} times in the file"
        text = text.replace(old, new)
    (directory / "alertmanager.yml").write_text(text)
    shutil.copy(DEPLOY / "alertmanager.tmpl", directory)
    return directory / "alertmanager.yml"


@contextmanager
def alertmanager(directory: Path, changes: dict[str, str] | None = None) -> Iterator[Alertmanager]:
    port = free_port()
    with MailReceiver() as mail:
        command = [
            str(PROGRAM),
            f"--config.file={written(directory, mail.port, changes or {})}",
            f"--storage.path={directory / 'data'}",
            f"--web.listen-address=127.0.0.1:{port}",
            "--cluster.listen-address=",
        ]
        made = Alertmanager(port, mail)
        with process(command, directory / "alertmanager.log"):
            eventually(lambda: is_ready(made), "Alertmanager answers")
            yield made


def is_ready(made: Alertmanager) -> bool:
    try:
        made.ask("/-/ready")
    except OSError:
        return False
    return True
