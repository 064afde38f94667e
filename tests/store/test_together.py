"""Threads, processes and a killed process on one store."""

import subprocess
import sys
import threading
from concurrent.futures import ThreadPoolExecutor

from agent.readings import Reading, Span
from agent.store import JournalEntry, Store
from tests.store.writer_to_kill import SIGNALS

BATCHES = 200


def batch(number):
    return [Reading(number * 1000 + i, 1 + i % 4, float(i), "degC", number, 1) for i in range(20)]


def add_batches(store, module_id, numbers):
    return sum(
        store.add_batch(batch(n), [], [Span(module_id, n * 1000, n * 1000 + 19)]).stored for n in numbers
    )


def test_intake_and_assessment_write_while_a_reader_looks_on(store, url, module_id):
    revision = store.open_revision(module_id, "{}", "first", 0)
    done = threading.Event()

    def assess():
        for n in range(BATCHES):
            cleared = [(dirty_id, None) for dirty_id, _ in store.dirty(module_id)]
            store.finish(
                module_id,
                revision.id,
                [(n, f'{{"cause": {n % 5}}}', "[]")],
                cleared=cleared,
                assessed_us=n,
                journal=[JournalEntry(module_id, "superheat-low", n, n, "raised", "{}")],
            )

    def look_on():
        seen = [0]
        with Store.open_readonly(url) as reader:
            while not done.is_set():
                seen.append(reader.readings([1], 0, BATCHES * 1000)[1].sample_us.size)
                assert reader.assessments(module_id, 0, BATCHES) is not None
            seen.append(reader.readings([1], 0, BATCHES * 1000)[1].sample_us.size)
        return seen

    with ThreadPoolExecutor(3) as pool:
        looking = pool.submit(look_on)
        try:
            working = [pool.submit(add_batches, store, module_id, range(BATCHES)), pool.submit(assess)]
            results = [work.result() for work in working]
        finally:
            done.set()
        seen = looking.result()
    assert results[0] == BATCHES * 20
    assert len(store.assessments(module_id, 0, BATCHES)) == len(store.journal(None, 0, BATCHES)) == BATCHES
    assert store.progress(module_id) == BATCHES - 1
    assert seen == sorted(seen)
    assert seen[-1] == BATCHES * 5
    assert all(size % 5 == 0 for size in seen)  # never a part of a batch


def test_two_stores_on_one_file_take_turns(store, url, module_id):
    with Store.open(url) as other, ThreadPoolExecutor(2) as pool:
        halves = [
            pool.submit(add_batches, one, module_id, range(start, 2 * BATCHES, 2))
            for start, one in enumerate((store, other))
        ]
        assert [half.result() for half in halves] == [BATCHES * 20] * 2


def test_stores_opened_at_once_make_one_schema(url):
    opening = "import sys; from agent.store import Store; Store.open(sys.argv[1]).close()"
    children = [subprocess.Popen([sys.executable, "-c", opening, url]) for _ in range(3)]
    assert [child.wait() for child in children] == [0, 0, 0]


def test_what_was_reported_as_committed_outlives_a_kill(url):
    next_number = 0
    for _ in range(2):
        with subprocess.Popen(
            [sys.executable, "-m", "tests.store.writer_to_kill", url, str(next_number)],
            stdout=subprocess.PIPE,
            text=True,
        ) as child:
            reported = [int(child.stdout.readline()) for _ in range(50)]
            child.kill()
            reported += [int(line) for line in child.stdout if line.endswith("\n")]
        assert reported == list(range(next_number, next_number + len(reported)))
        with Store.open(url) as store:
            found = store.readings(range(SIGNALS), 0, 2**62)
        sizes = {series.sample_us.size for series in found.values()}
        assert len(sizes) == 1  # whole batches only
        (committed,) = sizes
        assert committed - 1 in (
            reported[-1],
            reported[-1] + 1,
        )  # the last may have been killed before its report
        assert found[0].sample_us.tolist() == list(range(committed))
        next_number = committed
