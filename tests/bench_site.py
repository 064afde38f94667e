"""A module of the bench watched for days on a real store, without a broker: what it sends is decoded, kept,
assessed and told as the agent does it."""

from collections import Counter
from collections.abc import Iterable, Iterator
from pathlib import Path
from typing import Any

from agent.service.tell.announcing import Announcer
from agent.service.work.alarming import Alarms
from agent.service.work.assessing import Assessor
from agent.service.work.registering import register
from agent.settings import Plan, load
from agent.settings.notices import RouteSettings
from agent.store import Store
from demo_feed.bench import ARRANGEMENTS, Gateway, Unit, play
from tests.bench.configuration import configuration
from tests.bench.path import point_map_of, receive
from tests.scenarios.scenario import DAY_US, HOUR_US, START_US
from tests.service.site import SECOND_US, write

ROUTE = "desk"
Sent = list[tuple[int, bytes]]


def sent(arrangement: str, days: float, silent: Iterable[str] = (), **unit: Any) -> Sent:
    """What the gateway of a module sends, with its times."""
    end_us = START_US + round(days * DAY_US)
    gateway = Gateway(silent=frozenset(silent))
    played = play(Unit(ARRANGEMENTS[arrangement], **unit), gateway, "a", START_US, end_us)
    return [(each.time_us, each.payload) for each in played if each.payload is not None]


def settings(arrangement: str, first_payload: bytes, step_s: int = 60, **unit: Any) -> dict[str, Any]:
    """The right configuration for it, whose alarms are told from the first day on."""
    fluid = Unit(ARRANGEMENTS[arrangement], **unit).refrigerant
    body, _ = configuration(Gateway(), fluid, arrangement, first_payload)
    body["assess"]["step_s"] = step_s
    return body | {"alarms": {"shadow_days": 0}}


class Bench:
    """The module on a store; `restart` is what a new process on another configuration does."""

    def __init__(self, directory: Path, body: dict[str, Any], name: str = "site") -> None:
        self.directory, self.name = directory, name
        directory.mkdir(parents=True, exist_ok=True)
        self.store = Store.open(f"sqlite:///{directory / name}.db")
        self.restart(body, START_US)

    def __enter__(self) -> "Bench":
        return self

    def __exit__(self, *_: object) -> None:
        self.store.close()

    def restart(self, body: dict[str, Any], now_us: int) -> None:
        url = f"sqlite:///{self.name}.db"
        self.file = write(self.directory, body | {"store": {"url": url}}, f"{self.name}.yaml")
        self.plan: Plan = load(self.file)
        self.module = self.plan.modules[0]
        self.watched = register(self.store, self.plan, now_us)[0]
        assess = self.plan.settings.assess
        self.step_us = assess.step_s * SECOND_US
        self.grace_us = assess.grace_s * SECOND_US
        told = Announcer(self.store, self.plan, [RouteSettings(name=ROUTE, url_env="CREW_URL")])
        self.alarms = Alarms(self.store, told)
        self.assessor = Assessor(self.store, self.step_us, self.grace_us, self.alarms)
        self.points = point_map_of(self.store, self.plan, self.watched, START_US)

    def live(self, payloads: Sent, every_us: int = 6 * HOUR_US) -> None:
        """As it comes, worked off every few hours."""
        refused: Counter[str] = Counter()
        for now_us, batch in _batches(payloads, every_us):
            receive(self.store, self.points, batch, refused)
            self.assessor.work_off(self.watched, now_us + self.grace_us)

    @property
    def notices(self) -> list[tuple[str, int, str]]:
        """Route, time and subject of all that was to be sent."""
        words = ("HIGH", "MEDIUM", "LOW", "OVER", "PAST")
        return self.store.notices_between(0, 2**62, words)


def _batches(payloads: Iterable[tuple[int, bytes]], every_us: int) -> Iterator[tuple[int, Sent]]:
    batch: Sent = []
    for time_us, payload in payloads:
        if batch and time_us // every_us != batch[0][0] // every_us:
            yield time_us // every_us * every_us, batch
            batch = []
        batch.append((time_us, payload))
    if batch:
        yield (batch[0][0] // every_us + 1) * every_us, batch
