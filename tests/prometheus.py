"""A real Prometheus for one test: its own free port on loopback, its own directory."""

import json
import shutil
import subprocess
import urllib.error
import urllib.parse
import urllib.request
from contextlib import ExitStack
from pathlib import Path
from types import TracebackType
from typing import Any, Self

import pytest

from tests.mosquitto import free_port
from tests.service.processes import eventually, process

PROGRAM = shutil.which("prometheus")
PROMTOOL = shutil.which("promtool")
MARKS = [
    pytest.mark.service,
    pytest.mark.skipif(PROGRAM is None or PROMTOOL is None, reason="prometheus is not installed"),
]
STARTING = 503


def needs_prometheus(test: Any) -> Any:
    """Marks a test or a class; a whole module says `pytestmark = MARKS`."""
    for mark in MARKS:
        test = mark(test)
    return test


class Prometheus:
    """`directory` holds its data and log, and its configuration, which is written there."""

    def __init__(self, directory: Path, config: str) -> None:
        self.directory = directory
        self.port = free_port()
        self._config = config
        self._until_the_end = ExitStack()

    def __enter__(self) -> Self:
        self.directory.mkdir(parents=True, exist_ok=True)
        config, log = self.directory / "prometheus.yml", self.directory / "prometheus.log"
        config.write_text(self._config)
        command = [
            str(PROGRAM),
            f"--config.file={config}",
            f"--storage.tsdb.path={self.directory / 'data'}",
            f"--web.listen-address=127.0.0.1:{self.port}",
        ]
        with self._until_the_end as starting:
            began = starting.enter_context(process(command, log))
            eventually(lambda: began.poll() is not None or self.ask("rules"), "prometheus answers")
            assert began.poll() is None, log.read_text()
            self._until_the_end = starting.pop_all()
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self._until_the_end.close()

    def ask(self, path: str, **query: str) -> Any:
        """The data of an answer; None where it does not answer yet. An error of a query raises."""
        url = f"http://127.0.0.1:{self.port}/api/v1/{path}?{urllib.parse.urlencode(query)}"
        try:
            with urllib.request.urlopen(url, timeout=10) as answer:
                return json.load(answer)["data"]
        except urllib.error.HTTPError as error:
            if error.code == STARTING:
                return None
            raise RuntimeError(f"{query}: {error.read().decode()}") from None
        except OSError:
            return None

    def result(self, expression: str) -> list[dict[str, Any]]:
        """What an instant query finds now, as it is answered."""
        found: list[dict[str, Any]] = self.ask("query", query=expression)["result"]
        return found

    def query(self, expression: str) -> list[tuple[dict[str, str], float]]:
        """Labels and value of every series that an instant query finds now."""
        return [(series["metric"], float(series["value"][1])) for series in self.result(expression)]


def scraping(directory: Path, target_port: int, **how: Any) -> Prometheus:
    """One that scrapes one target on loopback every second; `how`: what its scrape has beside."""
    targets = [{"targets": [f"127.0.0.1:{target_port}"]}]
    scrape = {"job_name": "one", "static_configs": targets, **how}
    config = {"global": {"scrape_interval": "1s"}, "scrape_configs": [scrape]}
    return Prometheus(directory, json.dumps(config))


def lint(text: bytes) -> str:
    """What promtool finds wrong with a scraped text; empty where it finds nothing and ends with 0."""
    assert PROMTOOL is not None, "promtool is not installed"
    done = subprocess.run([PROMTOOL, "check", "metrics"], input=text, capture_output=True, check=False)
    found = (done.stdout + done.stderr).decode()
    return found or (f"promtool ended with {done.returncode}" if done.returncode else "")
