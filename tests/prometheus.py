"""A real Prometheus for one test: its own free port on loopback, its own directory, one target."""

import json
import shutil
import subprocess
import time
import urllib.error
import urllib.parse
import urllib.request
from pathlib import Path
from types import TracebackType
from typing import Any

import pytest

from tests.mosquitto import free_port

PROGRAM = shutil.which("prometheus")
PROMTOOL = shutil.which("promtool")
MARKS = [
    pytest.mark.service,
    pytest.mark.skipif(PROGRAM is None or PROMTOOL is None, reason="prometheus is not installed"),
]


def needs_prometheus(test: Any) -> Any:
    """Marks a test or a class; a whole module says `pytestmark = MARKS`."""
    for mark in MARKS:
        test = mark(test)
    return test


class Prometheus:
    """Scrapes one target on loopback every second; `directory` holds its config, data and log.

    `how`: what the scrape's configuration has beside, such as `scheme`.
    """

    def __init__(self, directory: Path, target_port: int, **how: Any) -> None:
        self.directory = directory
        self.port = free_port()
        targets = [{"targets": [f"127.0.0.1:{target_port}"]}]
        self._scrape = {"job_name": "one", "static_configs": targets, **how}
        self._process: subprocess.Popen[bytes] | None = None

    def __enter__(self) -> "Prometheus":
        assert PROGRAM is not None, "prometheus is not installed"
        self.directory.mkdir(parents=True, exist_ok=True)
        config = self.directory / "prometheus.yml"
        config.write_text(json.dumps({"global": {"scrape_interval": "1s"}, "scrape_configs": [self._scrape]}))
        arguments = [
            PROGRAM,
            f"--config.file={config}",
            f"--storage.tsdb.path={self.directory / 'data'}",
            f"--web.listen-address=127.0.0.1:{self.port}",
        ]
        with (self.directory / "prometheus.log").open("ab") as log:
            self._process = subprocess.Popen(arguments, stdout=log, stderr=log, cwd=self.directory)
        for _ in range(300):
            if self._process.poll() is not None:
                break
            try:
                with urllib.request.urlopen(f"http://127.0.0.1:{self.port}/-/ready", timeout=5):
                    return self
            except OSError:
                time.sleep(0.1)
        self._end()
        raise RuntimeError((self.directory / "prometheus.log").read_text())

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._end()

    def query(self, expression: str) -> list[tuple[dict[str, str], float]]:
        """Labels and value of every series that an instant query finds now."""
        asked = urllib.parse.urlencode({"query": expression})
        url = f"http://127.0.0.1:{self.port}/api/v1/query?{asked}"
        try:
            with urllib.request.urlopen(url, timeout=10) as answer:
                body = json.load(answer)
        except urllib.error.HTTPError as error:
            raise RuntimeError(f"{expression}: {error.read().decode()}") from None
        return [(series["metric"], float(series["value"][1])) for series in body["data"]["result"]]

    def _end(self) -> None:
        if self._process is not None:
            self._process.terminate()
            try:
                self._process.wait(10)
            except subprocess.TimeoutExpired:
                self._process.kill()
                self._process.wait(10)
            self._process = None


def lint(text: bytes) -> str:
    """What promtool finds wrong with a scraped text; empty where it finds nothing and ends with 0."""
    assert PROMTOOL is not None, "promtool is not installed"
    done = subprocess.run([PROMTOOL, "check", "metrics"], input=text, capture_output=True, check=False)
    found = (done.stdout + done.stderr).decode()
    return found or (f"promtool ended with {done.returncode}" if done.returncode else "")
