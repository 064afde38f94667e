"""Wrong tokens by address, without a clock or a socket."""

import pytest

from agent.outlets.web import safety
from agent.outlets.web.safety import MOST_WRONG, WRONG_S, Wrongs, address_of


class Clock:
    now = 0.0

    def __call__(self):
        return self.now


def test_too_many_within_the_time_and_no_longer():
    clock = Clock()
    wrongs = Wrongs(clock)
    for _ in range(MOST_WRONG):
        assert not wrongs.too_many("192.0.2.1")
        wrongs.add("192.0.2.1")
        clock.now += 1
    assert wrongs.too_many("192.0.2.1") and not wrongs.too_many("192.0.2.2")
    clock.now = WRONG_S - 0.5
    assert wrongs.too_many("192.0.2.1")
    clock.now = WRONG_S
    assert not wrongs.too_many("192.0.2.1")


def test_many_addresses_take_no_more_room_than_is_set(monkeypatch):
    monkeypatch.setattr(safety, "MOST_REMEMBERED", 3)
    wrongs = Wrongs(Clock())
    for _ in range(MOST_WRONG):
        for last in (1, 2, 3):
            wrongs.add(f"192.0.2.{last}")
    wrongs.add("192.0.2.4")
    assert [wrongs.too_many(f"192.0.2.{last}") for last in (1, 2, 3, 4)] == [False, True, True, False]
    assert len(wrongs._of) == 3


@pytest.mark.parametrize(
    ("client", "address"),
    [
        (("192.0.2.1", 5), "192.0.2.1"),
        (("2001:db8:1:2:3:4:5:6", 5), "2001:db8:1:2::/64"),
        (("fe80::1%eth0", 5), "fe80::/64"),
        (None, ""),
    ],
)
def test_whom_it_is_counted_for(client, address):
    assert address_of({"client": client}) == address
