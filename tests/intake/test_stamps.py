"""What a time stamp means, and how far a gateway's clock is off."""

import calendar
import random
import time
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from zoneinfo import ZoneInfo

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from agent.intake.stamps import ClockOffset, NoSuchTimeError, Stamps

SECOND_US = 1_000_000
HOUR_US = 3_600_000_000
TOLERANCE_US = 120 * SECOND_US
BERLIN = Stamps(ZoneInfo("Europe/Berlin"))

# Rules of all kinds: an hour of daylight saving, half an hour of it, none, a day left out (2011-12-30), and
# the southern half of the year.
ZONES = ("Europe/Berlin", "Australia/Lord_Howe", "Asia/Kathmandu", "Pacific/Apia", "America/Santiago", "UTC")


def us(year: int, month: int, day: int, hour: int = 0, minute: int = 0) -> int:
    """A calendar time as if it were UTC."""
    return calendar.timegm((year, month, day, hour, minute, 0)) * SECOND_US


@pytest.mark.parametrize(
    ("stamp_us", "expected_us"),
    [
        (1_700_000_000 * SECOND_US, 1_700_000_000 * SECOND_US),
        (1_700_000_000_123 * SECOND_US, 1_700_000_000_123_000),
        (100_000_000_000 * SECOND_US, 100_000_000 * SECOND_US),  # 1973 in ms; in seconds it is the year 5138
        (99_999_999_999 * SECOND_US, 99_999_999_999 * SECOND_US),
        (0, 0),
        (-5 * SECOND_US, -5 * SECOND_US),
        (10**400, 10**397),
    ],
)
def test_milliseconds_are_known_by_their_size(stamp_us: int, expected_us: int) -> None:
    assert Stamps().utc_us(stamp_us, 0, TOLERANCE_US) == expected_us


@pytest.mark.parametrize("stamp_us", [-1, -(10**30), 10**30])
def test_a_stamp_that_no_calendar_holds_passes_as_it_is(stamp_us: int) -> None:
    assert BERLIN.utc_us(stamp_us, 0, TOLERANCE_US) == Stamps().utc_us(stamp_us, 0, TOLERANCE_US)


# Summer time in the European Union begins and ends at 01:00 UTC on the last Sundays of March and October
# (directive 2000/84/EC, articles 2 and 3; from memory): in 2026 on 29 March and 25 October.
@pytest.mark.parametrize(
    ("wall_us", "utc_us"),
    [
        (us(2026, 1, 15, 12), us(2026, 1, 15, 11)),
        (us(2026, 7, 15, 12), us(2026, 7, 15, 10)),
        (us(2026, 3, 29, 1, 59), us(2026, 3, 29, 0, 59)),
        (us(2026, 3, 29, 3, 0), us(2026, 3, 29, 1, 0)),
        (us(2026, 10, 25, 1, 59), us(2026, 10, 24, 23, 59)),
        (us(2026, 10, 25, 3, 0), us(2026, 10, 25, 2, 0)),
    ],
)
def test_wall_time_becomes_utc(wall_us: int, utc_us: int) -> None:
    assert BERLIN.utc_us(wall_us, utc_us, TOLERANCE_US) == utc_us
    assert BERLIN.utc_us(wall_us * 1000, utc_us, TOLERANCE_US) == utc_us  # milliseconds


@pytest.mark.parametrize("minute", [0, 30, 59])
def test_the_hour_left_out_is_no_time(minute: int) -> None:
    stamp_us = us(2026, 3, 29, 2, minute)
    with pytest.raises(NoSuchTimeError, match=f"2026-03-29 02:{minute:02} does not exist in Europe/Berlin"):
        BERLIN.utc_us(stamp_us, stamp_us, TOLERANCE_US)


@pytest.mark.parametrize(
    ("arrival_us", "expected_us"),
    [
        (us(2026, 10, 25, 0, 30), us(2026, 10, 25, 0, 30)),  # at once, the first time round
        (us(2026, 10, 25, 0, 50), us(2026, 10, 25, 0, 30)),
        (us(2026, 10, 25, 1, 10), us(2026, 10, 25, 0, 30)),  # late; the second is nearer, yet still to come
        (us(2026, 10, 25, 1, 28) + SECOND_US, us(2026, 10, 25, 1, 30)),  # its clock is a little fast
        (us(2026, 10, 25, 1, 30), us(2026, 10, 25, 1, 30)),
        (us(2026, 10, 26), us(2026, 10, 25, 1, 30)),
    ],
)
def test_in_the_repeated_hour_the_arrival_decides(arrival_us: int, expected_us: int) -> None:
    assert BERLIN.utc_us(us(2026, 10, 25, 2, 30), arrival_us, TOLERANCE_US) == expected_us


@pytest.fixture
def wall_clock(monkeypatch: pytest.MonkeyPatch) -> Iterator[Callable[[str, int], int]]:
    """What a clock in a zone shows, in seconds as if they were UTC, by the C library."""

    def shows(zone: str, utc_s: int) -> int:
        monkeypatch.setenv("TZ", zone)
        time.tzset()
        return calendar.timegm(time.localtime(utc_s))

    yield shows
    monkeypatch.undo()
    time.tzset()


def test_what_the_c_library_shows_as_wall_time_is_found_again(wall_clock: Callable[[str, int], int]) -> None:
    @settings(max_examples=300, deadline=None)
    @given(st.sampled_from(ZONES), st.integers(978_307_200, 2_145_916_800))  # 2001 to 2038
    def found_again(zone: str, utc_s: int) -> None:
        stamps = Stamps(ZoneInfo(zone))
        wall_us = wall_clock(zone, utc_s) * SECOND_US
        assert stamps.utc_us(wall_us, utc_s * SECOND_US, TOLERANCE_US) == utc_s * SECOND_US

    found_again()


def test_each_hour_about_a_change_is_found_again(wall_clock: Callable[[str, int], int]) -> None:
    """Every ten minutes of two days about each change of 2026, and of the day that Apia left out."""
    changes = [(2026, 3, 28), (2026, 10, 24), (2026, 4, 4), (2026, 9, 5), (2026, 10, 3), (2011, 12, 29)]
    for zone in ZONES:
        stamps = Stamps(ZoneInfo(zone))
        for day in changes:
            begin_s = int(datetime(*day, tzinfo=UTC).timestamp())
            for utc_s in range(begin_s, begin_s + 2 * 86_400, 600):
                wall_us = wall_clock(zone, utc_s) * SECOND_US
                assert stamps.utc_us(wall_us, utc_s * SECOND_US, TOLERANCE_US) == utc_s * SECOND_US


class Gateway:
    """Sends each 30 s; its clock is behind by `behind_s`; a message is under way for 0.05 to 2 s."""

    def __init__(self, behind_s: float, seed: int = 1) -> None:
        self.behind_us = int(behind_s * SECOND_US)
        self.now_us = 1_700_000_000 * SECOND_US
        self.shortest_us = 10**12
        self._chance = random.Random(seed)
        self.offset = ClockOffset()

    def send(self, messages: int, kept_back_s: float = 0) -> None:
        for _ in range(messages):
            self.now_us += 30 * SECOND_US
            delay_us = int(self._chance.uniform(0.05, 2) * SECOND_US + kept_back_s * SECOND_US)
            self.shortest_us = min(self.shortest_us, delay_us)
            self.offset.hear(self.now_us - self.behind_us, self.now_us + delay_us)

    def send_backlog(self, messages: int, oldest_s: float) -> None:
        """All at once, the oldest first, as after an outage."""
        for number in range(messages):
            taken_us = self.now_us - int((oldest_s - number * oldest_s / messages) * SECOND_US)
            self.offset.hear(taken_us - self.behind_us, self.now_us)


@pytest.mark.parametrize("behind_s", [95, -60, 0, 3600, -3600])
def test_a_clock_that_is_off_is_known_to_the_shortest_delay(behind_s: float) -> None:
    gateway = Gateway(behind_s)
    assert gateway.offset.offset_us is None
    gateway.send(100)
    assert gateway.offset.offset_us == gateway.behind_us + gateway.shortest_us


@pytest.mark.parametrize("behind_s", [95, -60])
def test_a_backlog_does_not_spoil_what_is_known(behind_s: float) -> None:
    gateway = Gateway(behind_s)
    gateway.send(60)
    known_us = gateway.offset.offset_us
    gateway.send_backlog(500, oldest_s=86_400)
    assert gateway.offset.offset_us == known_us
    for _ in range(10):
        gateway.send(2)
        gateway.send_backlog(20, oldest_s=3_000)
    assert gateway.behind_us <= gateway.offset.offset_us <= gateway.behind_us + 2 * SECOND_US


def test_after_a_backlog_the_first_message_in_time_tells() -> None:
    gateway = Gateway(95)
    gateway.send_backlog(100, oldest_s=50_000)
    assert gateway.offset.offset_us >= gateway.behind_us  # too much, never too little
    gateway.send(1)
    assert gateway.offset.offset_us == gateway.behind_us + gateway.shortest_us


def test_a_clock_set_forward_is_known_at_once_and_one_set_back_after_an_hour() -> None:
    gateway = Gateway(0)
    gateway.send(120)
    gateway.behind_us = -HOUR_US
    gateway.send(1)
    assert -HOUR_US <= gateway.offset.offset_us <= -HOUR_US + 2 * SECOND_US
    gateway.behind_us = 0
    gateway.send(118)
    assert gateway.offset.offset_us < -HOUR_US + 2 * SECOND_US
    gateway.send(4)
    assert 0 <= gateway.offset.offset_us <= 2 * SECOND_US


@given(
    st.lists(st.tuples(st.integers(0, 600), st.integers(0, 5_000)), min_size=1, max_size=200),
    st.integers(-100_000, 100_000),
)
def test_never_less_than_the_truth_nor_more_than_the_last_delay(
    steps: list[tuple[int, int]], behind_s: int
) -> None:
    clock, now_s = ClockOffset(), 1_700_000_000
    for step_s, delay_s in steps:
        now_s += step_s
        clock.hear((now_s - delay_s - behind_s) * SECOND_US, now_s * SECOND_US)
        assert behind_s * SECOND_US <= clock.offset_us <= (behind_s + delay_s) * SECOND_US


def test_a_flood_of_messages_needs_no_more_memory() -> None:
    clock, now_us = ClockOffset(), 1_700_000_000 * SECOND_US
    for number in range(20_000):  # a second apart, each later than the one before
        clock.hear(now_us - number, now_us)
        now_us += SECOND_US
    assert len(clock._delays) <= 361
