"""Seven hours of the invented site, played once."""

import json
from collections import defaultdict
from itertools import takewhile

import pytest

from demo_feed.play import play

END_US = 1_764_057_600_000_000 + 7_300_000  # 2025-11-25, not on the grid
HOUR_US = 3_600_000_000


class Recorded:
    """What was sent and what was so: `packs[module]` = (time_us, {name: value}); `truths[module]`."""

    def __init__(self, hours, live_hours=0.5, seed="quince"):
        self.samples = []
        self.truths = defaultdict(list)
        self.packs = defaultdict(list)
        until_us = END_US + live_hours * HOUR_US
        for played in takewhile(
            lambda each: each.time_us < until_us, play(seed, END_US - hours * HOUR_US, END_US)
        ):
            self.samples += played.samples
            for truth in played.truths:
                self.truths[truth.module].append(truth)
        for sample in self.samples:
            records = json.loads(sample.payload)
            values = {record["n"]: record.get("v", record.get("vs")) for record in records}
            self.packs[sample.topic.rsplit("/", 1)[1]].append((sample.time_us, values))

    def joined(self, module):
        """(truth, values) at the times of the truth, values carried forward where only changes are sent."""
        packs, known, place = self.packs[module], {}, 0
        for truth in self.truths[module]:
            while place < len(packs) and packs[place][0] < truth.time_us + 15_000_000:
                known = known | packs[place][1]
                place += 1
            if known:
                yield truth, known


@pytest.fixture(scope="session")
def recorded():
    return Recorded(hours=7)
