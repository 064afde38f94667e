"""What a replay reads: the same as grid time by grid time, and no row twice."""

from itertools import pairwise

import numpy as np
import pytest

from agent.service.replay.remembering import Readings
from tests.service.site import STEP_US, minute, plan, told, world

MINUTES = 240


class Counting:
    """A store that notes which times were read of it."""

    def __init__(self, store):
        self._store = store
        self.spans = []

    def readings(self, ids, from_us, to_us, moved):
        self.spans.append((from_us, to_us))
        return self._store.readings(ids, from_us, to_us, moved)

    def kept_from_us(self):
        return self._store.kept_from_us()


@pytest.fixture(scope="module")
def one(tmp_path_factory):
    folder = tmp_path_factory.mktemp("remembering")
    with world(folder, site=plan(folder, assess={"step_s": 30})) as one:
        one.receive(told(0, MINUTES, every_s=60))
        yield one


def test_pieces_one_after_the_other_read_no_row_twice(one, monkeypatch):
    monkeypatch.setattr("agent.service.replay.remembering.SPAN_US", 3600 * 1_000_000)
    epoch = one.watched.plan.epochs[0]
    counting = Counting(one.store)

    def readings(store):
        return Readings(store, one.watched.signal_ids, {}, STEP_US, minute(MINUTES))

    running = readings(counting)
    for first in range(0, MINUTES, 40):
        grid_us = np.arange(minute(first), minute(first + 40), STEP_US)
        found, afresh = running.given(epoch, grid_us), readings(one.store).given(epoch, grid_us)
        assert found.keys() == afresh.keys()
        for name, samples in afresh.items():
            np.testing.assert_array_equal(found[name].time_us, samples.time_us)
            np.testing.assert_array_equal(found[name].value, samples.value)
    assert any(len(samples.time_us) for samples in found.values())
    assert len(counting.spans) > 1
    assert all(later[0] == earlier[1] + 1 for earlier, later in pairwise(counting.spans))
