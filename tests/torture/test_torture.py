"""A few trials, shortened; `python -m tests.torture` runs all of them. And that the count sees a loss."""

import sqlite3
from contextlib import closing

import pytest

from tests.mosquitto import MARKS
from tests.service.processes import eventually
from tests.torture.count import Kept, compare
from tests.torture.run import torture
from tests.torture.stream import readings_of
from tests.torture.trials import trials

pytestmark = MARKS

PAST_S = 6.0
BRIEF = [
    trial._replace(past_s=PAST_S)
    for trial in trials(4, PAST_S, "brief")
    if trial.name in ("agent: 4 x SIGKILL", "broker: SIGTERM, agent away", "two agents on one store")
]


@pytest.fixture(scope="module")
def world(tmp_path_factory):
    with torture(tmp_path_factory.mktemp("torture"), "brief", "90m", 300) as made:
        yield made


@pytest.mark.parametrize("trial", BRIEF, ids=lambda trial: trial.name)
def test_nothing_is_lost(world, trial):
    outcome = world.run(trial)
    assert outcome.broken == []
    assert outcome.tally.assessed > 2 * 170
    assert outcome.tally.occurrences > 0
    assert outcome.tally.is_whole, outcome.tally.unlike


def test_the_count_sees_what_is_gone(world, tmp_path):
    calm = world.calm.kept
    until_us = world.end_us // 30_000_000 * 30_000_000
    past = readings_of(message for message in world.messages if message.sample_us <= until_us)
    eventually(
        lambda: (
            calm.count(until_us) >= len(past)
            and calm.progress_us() >= until_us
            and not calm.has_dirty(until_us)
        ),
        "the undisturbed agent to be done with the past",
    )
    copy = Kept(tmp_path / "copy.db")
    with closing(sqlite3.connect(calm.path)) as source, closing(sqlite3.connect(copy.path)) as target:
        source.backup(target)
    published = {key for key in copy.readings() if key[2] <= until_us}
    assert published == past
    published = set(copy.readings())
    assert compare(copy, published, calm, until_us).is_whole

    entry = "INSERT INTO alarm_journal (module_id, alarm, event_us, known_us, transition, body)"
    changes = [
        "DELETE FROM reading WHERE sample_us = (SELECT min(sample_us) FROM reading) AND signal_id IN"
        " (SELECT signal_id FROM reading ORDER BY sample_us LIMIT 3)",
        "DELETE FROM assessment WHERE module_id = 1 AND grid_us IN"
        " (SELECT grid_us FROM assessment WHERE module_id = 1 ORDER BY grid_us LIMIT 5)",
        f"UPDATE assessment SET figures = '[]' WHERE module_id = 1 AND grid_us = {until_us}",
        f"{entry} SELECT module_id, alarm, event_us, known_us, 'withdrawn', body FROM alarm_journal"
        " WHERE transition IN ('raised', 'found_late') AND alarm <> 'feed-stale' LIMIT 1",
        f"{entry} VALUES (1, 'superheat-low', {until_us}, 0, 'found_late', json_object('since_us', 7))",
    ]
    with closing(sqlite3.connect(copy.path)) as connection, connection:
        for change in changes:
            assert connection.execute(change).rowcount > 0, change
    found = compare(copy, published, calm, until_us)
    assert (found.lost, found.doubled, found.missing, found.different) == (3, 0, 5, 1)
    assert (found.alarms_lost, found.alarms_doubled) == (1, 1)
    assert not found.is_whole
    assert compare(copy, set(), calm, until_us).doubled == len(published) - 3
