import pytest

from agent.store import Assessment, StoreError

COOLING, HEATING = '{"mode": "cooling"}', '{"mode": "heating"}'


@pytest.fixture
def revision(store, module_id):
    return store.open_revision(module_id, '{"layout": "early"}', "first", 0)


def test_late_data_overwrites_inside_a_revision(store, module_id, revision, rows):
    store.finish(module_id, revision.id, [(0, COOLING, "[1]"), (60, COOLING, "[2]"), (120, HEATING, "[3]")])
    store.finish(module_id, revision.id, [(60, HEATING, "[2.5]")])
    assert store.assessments(module_id, 0, 120) == [
        Assessment(0, revision.id, COOLING, "[1]"),
        Assessment(60, revision.id, HEATING, "[2.5]"),
        Assessment(120, revision.id, HEATING, "[3]"),
    ]
    assert [a.grid_us for a in store.assessments(module_id, 1, 119)] == [60]
    assert rows("SELECT count(*) FROM basis") == [(2,)]


def test_a_new_revision_keeps_the_old(store, module_id, revision):
    store.finish(module_id, revision.id, [(0, COOLING, "[1]"), (60, COOLING, "[2]")])
    later = store.open_revision(module_id, '{"layout": "late"}', "seen on site", 500)
    store.finish(module_id, later.id, [(60, HEATING, "[9]"), (120, HEATING, "[8]")])
    assert [(a.grid_us, a.revision_id, a.figures) for a in store.assessments(module_id, 0, 120)] == [
        (0, revision.id, "[1]"),
        (60, later.id, "[9]"),
        (120, later.id, "[8]"),
    ]
    assert [a.figures for a in store.assessments(module_id, 0, 120, revision.id)] == ["[1]", "[2]"]
    assert store.latest_assessment(module_id) == Assessment(120, later.id, HEATING, "[8]")
    store.finish(module_id, revision.id, [(120, COOLING, "[0]")])
    assert store.latest_assessment(module_id) == Assessment(120, later.id, HEATING, "[8]")


def test_a_module_without_assessments(store, module_id):
    assert store.assessments(module_id, 0, 100) == []
    assert store.latest_assessment(module_id) is None
    assert store.progress(module_id) is None


def test_progress_never_goes_back(store, module_id, revision):
    for assessed_us, expected in ((60, 60), (30, 60), (None, 60), (90, 90)):
        store.finish(module_id, revision.id, [], assessed_us=assessed_us)
        assert store.progress(module_id) == expected


def test_a_piece_of_work_is_written_whole_or_not_at_all(store, module_id, revision, rows):
    unknown_revision = revision.id + 1
    with pytest.raises(StoreError, match="FOREIGN KEY"):
        store.finish(module_id, unknown_revision, [(0, COOLING, "[1]")], assessed_us=60)
    assert store.progress(module_id) is None
    assert rows("SELECT count(*) FROM basis") == [(0,)]
    store.finish(module_id, revision.id, [(0, COOLING, "[1]")])  # the basis rolled back is not taken as known
    assert store.latest_assessment(module_id) == Assessment(0, revision.id, COOLING, "[1]")


def test_more_bases_than_are_remembered(store, module_id, revision, rows, monkeypatch):
    monkeypatch.setattr("agent.store.store.MOST_BASES", 3)
    for time in range(20):
        store.finish(module_id, revision.id, [(time, f'{{"cause": {time % 7}}}', "[]")])
    assert rows("SELECT count(*) FROM basis") == [(7,)]
    assert [a.basis for a in store.assessments(module_id, 0, 20)] == [
        f'{{"cause": {t % 7}}}' for t in range(20)
    ]
