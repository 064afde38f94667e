"""A real mosquitto for one test: its own free port on loopback, its own directory, its own config."""

import shutil
import signal
import socket
import subprocess
import time
from pathlib import Path
from types import TracebackType
from typing import Any

import pytest

PROGRAM = shutil.which("mosquitto") or shutil.which("mosquitto", path="/usr/sbin:/usr/local/sbin")
MARKS = [pytest.mark.service, pytest.mark.skipif(PROGRAM is None, reason="mosquitto is not installed")]


def needs_mosquitto(test: Any) -> Any:
    """Marks a test or a class; a whole module says `pytestmark = MARKS`."""
    for mark in MARKS:
        test = mark(test)
    return test


class Mosquitto:
    """`directory` holds its config, database and log; `config` is added to the lines every test needs."""

    def __init__(self, directory: Path, config: str = "", persistence: bool = True) -> None:
        self.directory = directory
        self.port = free_port()
        self._config = config
        self._persistence = persistence
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> "Mosquitto":
        self.start()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.stop()

    def start(self) -> None:
        """Starts, or starts again on the same port; returns when it accepts connections."""
        assert PROGRAM is not None, "mosquitto is not installed"
        self.directory.mkdir(parents=True, exist_ok=True)
        config = self.directory / "mosquitto.conf"
        config.write_text(
            f"listener {self.port} 127.0.0.1\n"
            "allow_anonymous true\n"
            f"persistence {'true' if self._persistence else 'false'}\n"
            f"persistence_location {self.directory}/\n"
            "max_queued_messages 1000000\n"
            "user root\n"  # started by root it would change to a user who cannot write here
            f"{self._config}\n"
        )
        with (self.directory / "mosquitto.log").open("ab") as log:
            self._process = subprocess.Popen([PROGRAM, "-c", str(config)], stdout=log, stderr=log)
        for _ in range(200):
            if self._process.poll() is not None:
                break
            with socket.socket() as probe:
                if probe.connect_ex(("127.0.0.1", self.port)) == 0:
                    return
            time.sleep(0.05)
        self.stop()
        raise RuntimeError((self.directory / "mosquitto.log").read_text())

    def stop(self) -> None:
        """As the system would: what persists is written."""
        self._end(signal.SIGTERM)

    def kill(self) -> None:
        """As a power cut would."""
        self._end(signal.SIGKILL)

    def _end(self, how: signal.Signals) -> None:
        if self._process is not None:
            self._process.send_signal(how)
            self._process.wait(10)
            self._process = None


def free_port() -> int:
    with socket.socket() as probe:
        probe.bind(("127.0.0.1", 0))
        return int(probe.getsockname()[1])
