"""Alertmanager on the shipped files, hurried, and a mail server that keeps what it was told."""

import shutil
import time
from collections.abc import Iterator
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest

from tests.alertmanager import MARKS as ALERTMANAGER
from tests.alertmanager import RealAlertmanager
from tests.deploy.broker import DEPLOY
from tests.receivers import MailReceiver

AMTOOL = shutil.which("amtool")
MARKS = [*ALERTMANAGER, pytest.mark.skipif(AMTOOL is None, reason="amtool is not installed")]
HURRIED = {
    "group_wait: 30s": "group_wait: 1s",
    "group_wait: 10s": "group_wait: 1s",
    "group_interval: 5m": "group_interval: 1s",
    "smtp_require_tls: true": "smtp_require_tls: false",
}


class Alertmanager(RealAlertmanager):
    """A running one on the shipped files: what it is posted, and what it sent."""

    def __init__(self, directory: Path, config: str, mail: MailReceiver) -> None:
        super().__init__(directory, config)
        self._mail = mail

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


def written(mail_port: int, changes: dict[str, str]) -> str:
    """The shipped file with only times, mail server and what the test changes put in."""
    text = (DEPLOY / "alertmanager.yml").read_text()
    put_in = {"mail.quince-court.example:587": f"127.0.0.1:{mail_port}", **HURRIED, **changes}
    for old, new in put_in.items():
        assert text.count(old) == 1, f"{old} stands {text.count(old)} times in the file"
        text = text.replace(old, new)
    return text


@contextmanager
def alertmanager(directory: Path, changes: dict[str, str] | None = None) -> Iterator[Alertmanager]:
    directory.mkdir(parents=True, exist_ok=True)
    shutil.copy(DEPLOY / "alertmanager.tmpl", directory)
    with MailReceiver() as mail, Alertmanager(directory, written(mail.port, changes or {}), mail) as made:
        yield made
