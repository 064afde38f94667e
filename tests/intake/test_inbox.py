"""The inbox by count, by time and by bytes, with real threads."""

import threading
from concurrent.futures import ThreadPoolExecutor

import pytest

from agent.intake.inbox import Inbox, Message

PATIENCE_S = 10.0  # far more than any of these takes


def message(number: int, size: int = 10) -> Message:
    return Message(1, number, 1, "t", b"x" * size, False, 1_000 + number)


def mids(batch: list[Message]) -> list[int]:
    return [taken.mid for taken in batch]


def test_takes_by_count_in_order_of_arrival() -> None:
    inbox = Inbox(100_000)
    assert all(inbox.put(message(number), 0) for number in range(5))
    assert len(inbox) == 5
    assert mids(inbox.take(3, PATIENCE_S)) == [0, 1, 2]
    assert mids(inbox.take(2, PATIENCE_S)) == [3, 4]
    assert len(inbox) == 0


def test_takes_what_is_there_once_the_first_has_waited_long_enough() -> None:
    inbox = Inbox(100_000)
    inbox.put(message(1), 0)
    assert mids(inbox.take(1_000, 0.01)) == [1]


def test_waits_for_the_first_message_and_then_for_the_rest_of_the_batch() -> None:
    inbox = Inbox(100_000)
    with ThreadPoolExecutor(1) as pool:
        taken = pool.submit(inbox.take, 3, PATIENCE_S)
        for number in range(3):
            inbox.put(message(number), 0)
        assert mids(taken.result(PATIENCE_S)) == [0, 1, 2]


def test_refuses_what_has_no_room_and_takes_it_once_there_is() -> None:
    inbox = Inbox(2_000)
    assert inbox.put(message(1, 1_500), 0)
    assert not inbox.put(message(2, 1_500), 0.01)
    with ThreadPoolExecutor(1) as pool:
        put = pool.submit(inbox.put, message(3, 1_500), PATIENCE_S)
        assert mids(inbox.take(1, 0)) == [1]
        assert put.result(PATIENCE_S)
    assert mids(inbox.take(1, 0)) == [3]


def test_a_full_inbox_is_taken_at_once_though_the_batch_is_small() -> None:
    inbox = Inbox(2_000)
    inbox.put(message(1, 1_500), 0)
    with ThreadPoolExecutor(2) as pool:
        taken = pool.submit(inbox.take, 1_000, 2 * PATIENCE_S)
        put = pool.submit(inbox.put, message(2, 1_500), PATIENCE_S)
        assert put.result(PATIENCE_S)
        assert mids(taken.result(PATIENCE_S)) == [1]


def test_a_message_larger_than_the_bound_passes_alone() -> None:
    inbox = Inbox(1_000)
    assert inbox.put(message(1, 5_000), 0)
    assert not inbox.put(message(2), 0)
    assert mids(inbox.take(10, 0)) == [1]
    assert inbox.put(message(2), 0)


def test_room_means_half_empty() -> None:
    inbox = Inbox(2_000)
    for number in range(5):
        inbox.put(message(number, 0), 0)
    assert not inbox.wait_for_room(0.01)
    inbox.take(3, 0)
    assert inbox.wait_for_room(0)


def test_closing_gives_out_what_is_left_and_then_nothing() -> None:
    inbox = Inbox(100_000)
    for number in range(3):
        inbox.put(message(number), 0)
    inbox.close()
    assert not inbox.put(message(9), PATIENCE_S)
    assert mids(inbox.take(2, PATIENCE_S)) == [0, 1]
    assert mids(inbox.take(2, PATIENCE_S)) == [2]
    assert inbox.take(2, PATIENCE_S) == []


@pytest.mark.parametrize("full", [False, True])
def test_closing_wakes_whoever_waits(full: bool) -> None:
    inbox = Inbox(1_000)
    waiting = threading.Event()

    def wait() -> bool | list[Message]:
        waiting.set()
        return inbox.put(message(2, 900), PATIENCE_S) if full else inbox.take(1, PATIENCE_S)

    if full:
        inbox.put(message(1, 900), 0)
    with ThreadPoolExecutor(1) as pool:
        result = pool.submit(wait)
        waiting.wait(PATIENCE_S)
        inbox.close()
        assert not result.result(PATIENCE_S)


def test_nothing_is_lost_or_turned_round_between_two_threads() -> None:
    inbox = Inbox(5_000)

    def put_all() -> None:
        for number in range(5_000):
            assert inbox.put(message(number), PATIENCE_S)
        inbox.close()

    with ThreadPoolExecutor(1) as pool:
        done = pool.submit(put_all)
        taken: list[int] = []
        while batch := inbox.take(7, 0.05):
            taken += mids(batch)
        done.result(PATIENCE_S)
    assert taken == list(range(5_000))


def test_a_bound_of_nothing_is_refused() -> None:
    with pytest.raises(ValueError, match="max_bytes is 0"):
        Inbox(0)
