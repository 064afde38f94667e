import sqlite3
from contextlib import closing

import pytest

from agent.store import DetectionChange, JournalEntry


@pytest.fixture
def revision_id(store, module_id):
    return store.open_revision(module_id, "{}", "first", 0).id


@pytest.fixture
def detect(store, module_id, revision_id):
    def replace(from_us, *changes, revision=revision_id):
        store.finish(
            module_id,
            revision,
            [],
            detections=[DetectionChange(*change) for change in changes],
            detections_from_us=from_us,
        )

    return replace


def test_a_state_holds_from_its_change_until_the_next(store, module_id, revision_id, detect):
    detect(0, ("superheat-low", 10, "a"), ("superheat-low", 50, "b"), ("probe-failed", 30, "c"))
    assert store.detection_states(module_id, revision_id, 10) == {}
    assert store.detection_states(module_id, revision_id, 11) == {"superheat-low": "a"}
    assert store.detection_states(module_id, revision_id, 50) == {"superheat-low": "a", "probe-failed": "c"}
    assert store.detection_states(module_id, revision_id, 51) == {"superheat-low": "b", "probe-failed": "c"}
    assert store.detections(module_id, revision_id, 10, 30) == [
        DetectionChange("superheat-low", 10, "a"),
        DetectionChange("probe-failed", 30, "c"),
    ]


def test_changes_at_and_after_a_time_are_replaced(store, module_id, revision_id, detect):
    detect(0, ("superheat-low", 10, "a"), ("superheat-low", 50, "b"), ("probe-failed", 60, "c"))
    detect(50, ("superheat-low", 55, "d"))
    assert [c.state for c in store.detections(module_id, revision_id, 0, 100)] == ["a", "d"]
    detect(55)
    assert [c.state for c in store.detections(module_id, revision_id, 0, 100)] == ["a"]


def test_revisions_keep_their_own_states(store, module_id, revision_id, detect):
    detect(0, ("superheat-low", 10, "a"))
    later = store.open_revision(module_id, '{"layout": "late"}', "seen on site", 0).id
    detect(0, ("superheat-low", 10, "z"), revision=later)
    assert store.detection_states(module_id, revision_id, 99) == {"superheat-low": "a"}
    assert store.detection_states(module_id, later, 99) == {"superheat-low": "z"}


def test_detections_need_the_time_from_which_they_hold(store, module_id, revision_id):
    with pytest.raises(ValueError, match="without the time"):
        store.finish(module_id, revision_id, [], detections=[DetectionChange("superheat-low", 1, "a")])


def test_journal_keeps_event_time_and_knowledge_time(store, module_id, revision_id):
    other_path = ("hill-house", "east", "module-2")
    other = store.register_modules([other_path])[other_path]
    entries = [
        JournalEntry(module_id, "superheat-low", 100, 100, "raised", "{}"),
        JournalEntry(module_id, "superheat-low", 50, 200, "found late", '{"by": "late data"}'),
    ]
    store.finish(module_id, revision_id, [], journal=entries)
    third = JournalEntry(other, "watch-blind", 100, 100, "raised", "{}")
    store.finish(other, revision_id, [], journal=[third])
    found = store.journal(None, 0, 1000)
    assert [entry._replace(id=None) for entry in found] == [entries[1], entries[0], third]
    assert [entry.id for entry in found] == [2, 1, 3]
    assert [entry.event_us for entry in store.journal(module_id, 51, 1000)] == [100]


@pytest.mark.parametrize("change", ["UPDATE alarm_journal SET body = ''", "DELETE FROM alarm_journal"])
def test_journal_refuses_change(store, module_id, revision_id, change):
    entry = JournalEntry(module_id, "superheat-low", 100, 100, "raised", "{}")
    store.finish(module_id, revision_id, [], journal=[entry])
    with (
        closing(sqlite3.connect(store.path)) as connection,
        pytest.raises(sqlite3.IntegrityError, match="append-only"),
    ):
        connection.execute(change)
    assert [found._replace(id=None) for found in store.journal(None, 0, 1000)] == [entry]
