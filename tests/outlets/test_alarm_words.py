"""One way to say since when an alarm stands, in status, on pages and in briefs."""

import pytest

from agent.alarms import Life
from agent.outlets.alarm_words import SHOWN_LATE_US, is_late, over_words, since_words

BEGAN_US = 1_800_000_000_000_000  # 2027-01-15 08:00 UTC, invented
STANDS = Life(Life().state._replace(active=True), since_us=BEGAN_US)


@pytest.mark.parametrize(
    ("later_us", "words"),
    [
        (None, "since 15 Jan 08:00 UTC"),
        (SHOWN_LATE_US, "since 15 Jan 08:00 UTC"),
        (SHOWN_LATE_US + 1, "since 15 Jan 08:00 UTC, known 15 Jan 09:00 UTC"),
    ],
)
def test_what_became_known_much_later_says_when(later_us, words):
    life = STANDS._replace(known_us=None if later_us is None else BEGAN_US + later_us)
    assert since_words(BEGAN_US, life) == words


def test_its_own_delay_makes_nothing_late():
    life = STANDS._replace(known_us=BEGAN_US + SHOWN_LATE_US + 60)
    assert is_late(BEGAN_US, life, 59) and not is_late(BEGAN_US, life, 60)
    assert not is_late(None, life)


def test_what_does_not_stand_says_when_it_did():
    assert over_words(STANDS) == ""
    over = STANDS._replace(state=Life().state)
    assert over_words(over) == "stood from 15 Jan 08:00 UTC, over now"
    withdrawn = STANDS._replace(withdrawn="the layout was another")
    assert over_words(withdrawn) == "was taken to stand from 15 Jan 08:00 UTC"
