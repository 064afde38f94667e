"""The hours of one module on the bench, as the agent comes to know them from what is sent."""

import tempfile
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import NamedTuple

from agent.assess import Hour, Module
from agent.assess.byhour.hours import HOUR_US
from agent.readings import EVER_US
from agent.settings import load
from demo_feed.bench import Gateway, Played, Unit, play
from tests.bench.configuration import configuration
from tests.bench.path import begun, worked_off
from tests.service.site import write

DAY_US = 24 * HOUR_US
START_US = 1_762_128_000_000_000  # 2025-11-03 00:00 UTC


class Known(NamedTuple):
    """A module as it is configured, and its hours, ascending."""

    module: Module
    hours: tuple[Hour, ...]


class Spell(NamedTuple):
    """The same module in one season for so many days."""

    unit: Unit
    days: float


def known(spells: Sequence[Spell], gateway: Gateway, layout: str, seed: str = "a") -> Known:
    """What is known after all spells. ``layout``: a name from the library, or ``unknown``."""
    first, played = begun(_played(spells, gateway, seed))
    body, _ = configuration(gateway, spells[0].unit.refrigerant, layout, first)
    with tempfile.TemporaryDirectory(prefix="bench-") as directory:
        plan = load(write(Path(directory), body))
        with worked_off(Path(directory), plan, played, START_US, DAY_US) as done:
            bodies = done.store.hours(done.watched.module_id, 0, EVER_US)
    return Known(plan.modules[0].module, tuple(Hour.load(each) for each in bodies))


def _played(spells: Sequence[Spell], gateway: Gateway, seed: str) -> Iterator[Played]:
    begins_us = START_US
    for spell in spells:
        ends_us = begins_us + round(spell.days * DAY_US)
        yield from play(spell.unit, gateway, seed, begins_us, ends_us)
        begins_us = ends_us
