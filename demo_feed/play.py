"""The whole site in step: the samples of all modules in the order of their times, and the truth beside them.

Pure: start, end of the backlog and seed in, samples out, without end. It reads no clock.
"""

from collections.abc import Iterator
from typing import NamedTuple

from demo_feed.module import STEP_S, ModuleSimulation, Truth
from demo_feed.senml import encode
from demo_feed.sensors import Gateway
from demo_feed.site import modules

STEP_US = int(STEP_S * 1_000_000)
TRUTH_EVERY_US = 30_000_000
WARM_UP_US = 3_600_000_000  # lets pipes and wandering values reach their usual state before anything is sent


class Sample(NamedTuple):
    time_us: int
    topic: str
    payload: bytes


class Played(NamedTuple):
    """One step of the site; truth only at multiples of 30 s."""

    time_us: int
    samples: list[Sample]
    truths: list[Truth]


def play(seed: str, start_us: int, end_us: int) -> Iterator[Played]:
    """Every step from `start_us` on; `end_us` is the end of the backlog, to which the stories are tied."""
    site = [(module, ModuleSimulation(module, seed, end_us), Gateway(module, seed)) for module in modules()]
    first_us = -(-start_us // STEP_US) * STEP_US
    time_us = first_us - WARM_UP_US
    while True:
        samples, truths = [], []
        for module, simulation, gateway in site:
            moment = simulation.step(time_us)
            points = gateway.points(moment)
            if time_us < first_us:
                continue
            if not time_us % TRUTH_EVERY_US:
                truths.append(moment.truth)
            values = gateway.to_send(time_us, points)
            if values:
                sample_us = time_us + round(module.poll_offset_s * 1e6)
                samples.append(Sample(sample_us, module.topic, encode(sample_us, values, gateway.unit)))
        if time_us >= first_us:
            yield Played(time_us, sorted(samples), truths)
        time_us += STEP_US
