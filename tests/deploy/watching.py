"""Prometheus on the shipped files, hurried."""

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path

from tests.deploy.broker import DEPLOY
from tests.mosquitto import free_port
from tests.prometheus import Prometheus
from tests.service.processes import eventually

FIRST = "prometheus-rules.yml"


class Watching(Prometheus):
    """A running one, and the alerts that it knows."""

    def alerts(self) -> set[str]:
        """Names of the alerts that stand or wait."""
        return {each["labels"]["alertname"] for each in (self.ask("alerts") or {"alerts": []})["alerts"]}

    def comes_to(self, alerts: set[str], what: str) -> None:
        """Wait until these stand or wait, and no others; in vain, it says which do."""
        try:
            eventually(lambda: self.alerts() == alerts, what)
        except AssertionError as error:
            raise AssertionError(f"{error}; there are {self.ask('alerts')}, {self.ask('targets')}") from None


@contextmanager
def watching(
    directory: Path,
    metrics_port: int,
    alertmanager_port: int | None = None,
    rules: Sequence[str] = (FIRST,),
    hurried: bool = False,
) -> Iterator[Watching]:
    """`rules`: the files that are loaded; `hurried`: an alert waits seconds in place of minutes."""
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
    with Watching(directory, text) as made:
        yield made
        assert [r for g in made.ask("rules")["groups"] for r in g["rules"] if r["health"] != "ok"] == []
