"""One module on the bench in step: what its gateway sends, and the truth beside it.

Pure: start, end and seed in, messages out. It reads no clock.
"""

from collections.abc import Iterator
from typing import NamedTuple

from demo_feed.bench.circuit import STEP_S
from demo_feed.bench.instruments import Gateway, Points
from demo_feed.bench.unit import Simulation, Truth, Unit
from demo_feed.senml import encode

TOPIC = "plant/bench/one/m1"
STEP_US = round(STEP_S * 1e6)
WARM_UP_US = 3 * 3_600_000_000
SENT_AFTER_US = 600_000  # a gateway asks its modules one after the other


class Played(NamedTuple):
    """One step. ``payload``: a SenML pack for TOPIC, None where nothing is sent."""

    time_us: int
    payload: bytes | None
    truth: Truth


def play(unit: Unit, gateway: Gateway, seed: str, start_us: int, end_us: int) -> Iterator[Played]:
    """Every step from `start_us` up to `end_us`, 30 s apart."""
    simulation = Simulation(unit, seed)
    points = Points(gateway, simulation.gas, simulation.season.duty, seed)
    first_us = -(-start_us // STEP_US) * STEP_US
    for time_us in range(first_us - WARM_UP_US, end_us, STEP_US):
        moment = simulation.step(time_us)
        values = points.at(time_us, moment)
        if time_us < first_us:
            continue
        sent = points.to_send(time_us, values)
        stamp_us = points.stamp_us(time_us + SENT_AFTER_US)
        payload = encode(stamp_us, sent, lambda _: None) if sent else None
        yield Played(time_us, payload, moment.truth)
