"""Prometheus on the shipped files, hurried."""

import json
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

from tests.deploy.broker import DEPLOY
from tests.mosquitto import free_port
from tests.prometheus import PROGRAM
from tests.service.processes import eventually, process

FIRST = "prometheus-rules.yml"
STARTING = 503


class Watching:
    """A running one, and what it is asked."""

    def __init__(self, port: int) -> None:
        self._port = port

    def ask(self, path: str, **query: str) -> Any:
        """The data of an answer; None where it does not answer yet. An error of a query raises."""
        url = f"http://127.0.0.1:{self._port}/api/v1/{path}?{urllib.parse.urlencode(query)}"
        try:
            with urllib.request.urlopen(url, timeout=10) as answer:
                return json.load(answer)["data"]
        except urllib.error.HTTPError as error:
            if error.code == STARTING:
                return None
            raise RuntimeError(f"{query}: {error.read().decode()}") from None
        except OSError:
            return None

    def alerts(self) -> set[str]:
        """Names of the alerts that stand or wait."""
        return {each["labels"]["alertname"] for each in (self.ask("alerts") or {"alerts": []})["alerts"]}

    def comes_to(self, alerts: set[str], what: str) -> None:
        """Wait until these stand or wait, and no others; in vain, it says which do."""
        try:
            eventually(lambda: self.alerts() == alerts, what)
        except AssertionError as error:
            raise AssertionError(f"{error}; there are {self.ask('alerts')}, {self.ask('targets')}") from None

    def result(self, expression: str) -> list[dict[str, Any]]:
        found: list[dict[str, Any]] = self.ask("query", query=expression)["result"]
        return found


@contextmanager
def watching(
    directory: Path,
    metrics_port: int,
    alertmanager_port: int | None = None,
    rules: Sequence[str] = (FIRST,),
    hurried: bool = False,
) -> Iterator[Watching]:
    """`rules`: the files that are loaded; `hurried`: an alert waits seconds in place of minutes."""
    port = free_port()
    directory.mkdir()
    for name in rules:
        text = (DEPLOY / name).read_text()
        (directory / name).write_text(text.replace("for: 2m", "for: 2s") if hurried else text)
    text = (DEPLOY / "prometheus.yml").read_text()
    for old, new in {
        "scrape_interval: 15s": "scrape_interval: 1s",
        "evaluation_interval: 15s": "evaluation_interval: 1s",
        "127.0.0.1:9464": f"127.0.0.1:{metrics_port}",
        "127.0.0.1:9093": f"127.0.0.1:{alertmanager_port or free_port()}",
        f"rule_files: [{FIRST}]": f"rule_files: [{', '.join(rules)}]",
    }.items():
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    (directory / "prometheus.yml").write_text(text)
    command = [
        str(PROGRAM),
        f"--config.file={directory / 'prometheus.yml'}",
        f"--storage.tsdb.path={directory / 'data'}",
        f"--web.listen-address=127.0.0.1:{port}",
    ]
    made = Watching(port)
    with process(command, directory / "prometheus.log"):
        eventually(lambda: made.ask("rules"), "prometheus answers")
        yield made
        assert [r for g in made.ask("rules")["groups"] for r in g["rules"] if r["health"] != "ok"] == []
