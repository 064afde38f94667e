"""A copy of the store: consistent while others write, whole or not there at all."""

import resource
import sqlite3
import stat
import threading
from contextlib import closing

import pytest

from agent.readings import Reading
from agent.store import DamagedError, Store, StoreError, back_up, backing_up

MANY = 40_000
LAST_GOOD = backing_up.SQLITE + b" the last good one"


def batch(number, count=100):
    """Readings that belong together: a consistent copy has all of a batch or none."""
    return [Reading(number * count + each, 1, 1.5, "degC", 1, 1) for each in range(count)]


def held(path):
    with closing(sqlite3.connect(f"file:{path}?mode=ro", uri=True)) as connection:
        return [time for (time,) in connection.execute("SELECT sample_us FROM reading ORDER BY 1")]


def left_beside(target):
    return [path.name for path in target.parent.iterdir() if path.name.startswith(f".{target.name}")]


@pytest.fixture
def full(store, url):
    store.add_batch(batch(0, MANY))
    return url


def test_it_holds_what_was_there_when_it_began_however_much_is_written_meanwhile(
    full, store, tmp_path, monkeypatch
):
    """Each step of the copy waits for another commit: a copy that began anew each time would never end."""
    steps, written = [], []

    def write(done, total):
        steps.append((done, total))
        store.add_batch(batch(MANY + len(steps)))
        written.append(len(steps))

    monkeypatch.setattr(backing_up, "STEP_PAGES", 16)
    copied = back_up(full, tmp_path / "copy.db", progress=write)
    assert len(written) > 10
    assert [done for done, _ in steps] == sorted(done for done, _ in steps)
    assert steps[-1][0] == steps[-1][1]
    assert held(tmp_path / "copy.db") == list(range(MANY))
    assert copied.readings == MANY
    assert copied.size_bytes == (tmp_path / "copy.db").stat().st_size
    assert len(held(store.path)) == MANY + 100 * len(written)


def test_a_batch_is_in_it_whole_or_not_at_all(store, url, tmp_path):
    ended = threading.Event()

    def write():
        number = 0
        while not ended.is_set():
            store.add_batch(batch(number))
            number += 1

    writer = threading.Thread(target=write)
    writer.start()
    try:
        found = [held(back_up(url, tmp_path / f"{number}.db").path) for number in range(10)]
    finally:
        ended.set()
        writer.join()
    assert all(times == list(range(len(times))) and len(times) % 100 == 0 for times in found)
    assert len(found[-1]) > len(found[0])


def test_it_is_one_file_that_its_owner_alone_can_read_and_that_opens_as_a_store(full, tmp_path):
    copied = back_up(full, tmp_path / "copy.db")
    assert stat.S_IMODE(copied.path.stat().st_mode) == 0o600
    assert sorted(path.name for path in tmp_path.iterdir() if "copy" in path.name) == ["copy.db"]
    with Store.open(f"sqlite:///{copied.path}") as store:
        assert store.add_batch(batch(0, MANY)).duplicates == MANY


def test_a_file_that_is_there_stays_unless_told(full, tmp_path):
    target = tmp_path / "copy.db"
    target.write_bytes(LAST_GOOD)
    with pytest.raises(StoreError, match=r"copy\.db is there already: name another file, or say --force"):
        back_up(full, target)
    assert target.read_bytes() == LAST_GOOD
    back_up(full, target, force=True)
    assert len(held(target)) == MANY
    assert left_beside(target) == []


@pytest.mark.parametrize("end", ["", "-wal", ".lock"])
def test_it_never_takes_the_place_of_the_store(full, store, end):
    own = store.path.with_name(store.path.name + end)
    with pytest.raises(StoreError, match="belongs to the store itself"):
        back_up(full, own, force=True)
    link = store.path.with_name("link")
    link.symlink_to(own)
    with pytest.raises(StoreError, match="belongs to the store itself"):
        back_up(full, link, force=True)


def test_a_damaged_store_gives_no_copy_and_the_one_before_stays(url, tmp_path):
    with Store.open(url) as store:
        store.add_batch(batch(0, MANY))
    whole = (tmp_path / "store.db").read_bytes()
    middle = len(whole) // 2 // 4096 * 4096
    (tmp_path / "store.db").write_bytes(whole[:middle] + b"\xff" * 8192 + whole[middle + 8192 :])
    target = tmp_path / "copy.db"
    target.write_bytes(LAST_GOOD)
    with pytest.raises(DamagedError, match="is damaged .*keep the copies that you have"):
        back_up(url, target, force=True)
    assert target.read_bytes() == LAST_GOOD
    assert left_beside(target) == []


def test_told_to_end_it_leaves_nothing(full, tmp_path):
    def end(done, total):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        back_up(full, tmp_path / "copy.db", progress=end)
    assert not (tmp_path / "copy.db").exists()
    assert left_beside(tmp_path / "copy.db") == []


def test_what_cannot_be_copied_or_written(url, store, tmp_path):
    with pytest.raises(StoreError, match="no store at .*nowhere: there is nothing to copy"):
        back_up(f"sqlite:///{tmp_path / 'nowhere'}", tmp_path / "copy.db")
    with pytest.raises(StoreError, match="cannot be written in .*/away: No such file or directory"):
        back_up(url, tmp_path / "away" / "copy.db")
    with pytest.raises(StoreError, match="is a folder: name a file in it"):
        back_up(url, tmp_path)
    (tmp_path / "site.yaml").write_text("site: hill-house\n" * 100)
    for force in (False, True):
        with pytest.raises(StoreError, match="is there already" if not force else "is no copy of a store"):
            back_up(url, tmp_path / "site.yaml", force=force)
    assert (tmp_path / "site.yaml").read_text().startswith("site: hill-house")
    (tmp_path / "other.db").write_text("site: hill-house\n" * 100)
    with pytest.raises(StoreError, match="file is not a database"):
        back_up(f"sqlite:///{tmp_path / 'other.db'}", tmp_path / "copy.db")
    (tmp_path / "empty.db").touch()
    with pytest.raises(StoreError, match="is empty: there is nothing to copy"):
        back_up(f"sqlite:///{tmp_path / 'empty.db'}", tmp_path / "copy.db")


def test_a_file_that_cannot_grow_leaves_nothing(full, tmp_path):
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (200_000, hard))
    try:
        with pytest.raises(StoreError, match="the copy could not be written: .*; make room on the disk"):
            back_up(full, tmp_path / "copy.db")
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
    assert not (tmp_path / "copy.db").exists()
    assert left_beside(tmp_path / "copy.db") == []
