"""The catalogue: starting limits and words for every alarm."""

import pytest

from agent.alarms import CATALOGUE


def test_starting_limits():
    # common practice, no source: return superheat below 2 K for 10 min is wet, above 14 K starved
    low, high = CATALOGUE["superheat-low"].limits, CATALOGUE["superheat-high"].limits
    assert (low.limit_k, low.on_delay_s) == (2.0, 600)
    assert high.limit_k == 14.0


@pytest.mark.parametrize("entry", CATALOGUE.values(), ids=CATALOGUE)
def test_every_entry_is_whole(entry):
    assert CATALOGUE[entry.name] is entry
    for words in (entry.raised_when, entry.cause, entry.consequence, entry.first_response):
        assert words.endswith(".")
    assert entry.limits.deadband_k >= 0
    assert min(entry.limits.on_delay_s, entry.limits.off_delay_s) >= 0


@pytest.mark.parametrize("entry", CATALOGUE.values(), ids=CATALOGUE)
def test_the_first_response_is_what_a_person_does_and_no_text_has_done(entry):
    """A notice shows the figures itself; nobody is told to switch anything, or to change the charge."""
    words = entry.first_response
    assert not words.startswith(("Compare", "Read which", "Read return", "Read subcooling"))
    for never in ("Switch", "switch off", "Stop the", "Shut", " charge", "Open the"):
        assert never not in words


def test_an_accumulator_holds_some_of_the_liquid_back_and_nobody_sees_how_much():
    """Common practice, no source: the vessel is there to hold liquid back for a time."""
    consequence = CATALOGUE["superheat-low"].consequence
    assert "accumulator behind that probe holds some of it back for a time" in consequence
    assert "how much has passed is not seen" in consequence


def test_a_value_that_is_only_second_best_has_the_wider_limit():
    low, high = CATALOGUE["superheat-low"].limits, CATALOGUE["superheat-high"].limits
    assert low.second_best_k < low.limit_k
    assert high.second_best_k > high.limit_k


def test_a_sites_own_limits_leave_the_rest():
    low = CATALOGUE["superheat-low"]
    changed = low.with_limits(limit_k=3.0, deadband_k=None, on_delay_s=0.0)
    assert (changed.limits.limit_k, changed.limits.on_delay_s) == (3.0, 0.0)
    assert changed.limits.deadband_k == low.limits.deadband_k
    assert CATALOGUE["superheat-low"].limits.limit_k == 2.0


@pytest.mark.parametrize(
    ("name", "limit_k", "wider"), [("superheat-low", 0.3, min), ("superheat-high", 25.0, max)]
)
def test_second_best_stays_wider_under_a_sites_own_limit(name, limit_k, wider):
    limits = CATALOGUE[name].with_limits(limit_k=limit_k).limits
    assert wider(limits.limit_k, limits.second_best_k) == limits.second_best_k


def test_whether_it_latches_is_the_sites_to_say():
    """An option of ISA-18.2-2016; no alarm here latches by itself."""
    low = CATALOGUE["superheat-low"]
    assert not any(entry.latching for entry in CATALOGUE.values())
    latching = low.with_limits(latching=True)
    assert latching.latching and latching.with_limits(limit_k=3.0).latching
    assert not latching.with_limits(latching=False).latching
