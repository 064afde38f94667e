"""What a module learns of itself, and that it is held."""

from dataclasses import replace

import pytest

from agent.assess.byhour.baseline import DAY_US, Baseline, learn, like, sought, usual
from agent.assess.byhour.hours import HOUR_US, Hour, Part, Stats

STEP_US = 30_000_000
DAY_0 = 19_675 * DAY_US


def stats(mean, u=0.5):
    return Stats(120, mean, mean, mean, 0.1, u, u)


def hour(number, rise=5.0, speed=50.0, air=30.0, settled=120, mode="cooling"):
    part = Part(
        120,
        settled,
        {"oil_return_rise": stats(rise)},
        {"compressor_1_speed": stats(speed, 0.0), "outdoor_air": stats(air, 0.0)},
    )
    return Hour(DAY_0 + number * HOUR_US, STEP_US, {mode: part}, {}, {"1": 120}, {"1": 120}, {"1": 0})


def test_it_counts_from_the_day_after_it_is_complete():
    hours = [hour(n) for n in range(10)]
    baseline = learn(hours, 0, 8)
    assert baseline.from_us == {"cooling": DAY_0 + DAY_US}
    assert len(baseline.of("cooling")) == 8
    assert baseline.lacking("cooling") is None


def test_it_says_how_much_is_missing():
    baseline = learn([hour(n) for n in range(5)], 0, 8)
    assert baseline.of("cooling") == ()
    assert baseline.lacking("cooling") == "learning what is usual: 5 of 8 settled hours"
    assert baseline.lacking("heating") == "learning what is usual: 0 of 8 settled hours"


def test_later_hours_do_not_move_it():
    hours = [hour(n) for n in range(8)]
    assert learn(hours, 0, 8) == learn([*hours, *(hour(n, rise=0.0) for n in range(8, 48))], 0, 8)


def test_hours_of_another_unit_do_not_count():
    hours = [hour(n, rise=9.0) for n in range(8)] + [hour(n) for n in range(8, 20)]
    baseline = learn(hours, DAY_0 + 8 * HOUR_US, 8)
    assert usual(baseline, "cooling", "oil_return_rise", 50.0).median == 5.0


def test_hours_that_hardly_settled_do_not_count():
    assert not learn([hour(n, settled=20) for n in range(10)], 0, 8).hours


def with_quantity(number, name, value, below, above):
    whole = hour(number)
    part = whole.parts["cooling"]
    found = Stats(120, value, value, value, 0.1, below, above)
    return replace(whole, parts={"cooling": replace(part, quantities={**part.quantities, name: found})})


@pytest.mark.parametrize(
    ("name", "value", "below", "above", "is_learnt"),
    [
        ("return_superheat", 0.4, 0.7, 0.7, False),
        ("return_superheat", -0.9, 0.7, 0.7, False),
        ("return_superheat", 0.8, 0.7, 0.7, True),
        ("return_superheat", 1.0, 1.6, 0.7, True),  # downwards a loss is allowed for, which it may not have
        ("discharge_margin:1", -6.0, 5.0, 5.0, False),  # below all that a dry compressor may give off
        ("discharge_margin:1", -4.0, 5.0, 5.0, True),
    ],
)
def test_an_hour_in_which_liquid_may_have_come_back_is_not_learnt(name, value, below, above, is_learnt):
    """Saturated gas has no superheat left; the instruments' own uncertainty decides what is near zero."""
    odd = [with_quantity(n, name, value, below, above) for n in range(8)]
    baseline = learn([*odd, *(hour(n) for n in range(8, 20))], 0, 8)
    assert (baseline.of("cooling")[0].from_us == odd[0].from_us) is is_learnt
    assert learn(odd, 0, 8).from_us == ({"cooling": DAY_0 + DAY_US} if is_learnt else {})


def test_more_hours_are_looked_at_than_are_needed():
    """A store hands over the first ones only: the dry ones that follow must be among them."""
    assert sought("cooling", 8) > 8


def test_a_baseline_is_not_given_before_it_counts():
    hours = [hour(n) for n in range(10)]
    assert learn(hours, 0, 8, until_us=DAY_0 + DAY_US - 1).from_us == {}
    assert learn(hours, 0, 8, until_us=DAY_0 + DAY_US).from_us != {}


def test_usual_is_taken_at_like_speed_and_air():
    slow = [hour(n, rise=8.0, speed=30.0) for n in range(6)]
    fast = [hour(n, rise=4.0, speed=60.0) for n in range(6, 12)]
    cold = [hour(n, rise=3.0, speed=60.0, air=10.0) for n in range(12, 16)]
    baseline = learn([*slow, *fast, *cold], 0, 16)
    assert usual(baseline, "cooling", "oil_return_rise", 31.0).median == 8.0
    assert usual(baseline, "cooling", "oil_return_rise", 62.0, 29.0).median == 4.0
    assert usual(baseline, "cooling", "oil_return_rise", 45.0) is None
    assert usual(baseline, "cooling", "oil_return_rise", None).hours == 16


def test_where_no_speed_is_known_all_hours_are_alike():
    part = hour(0).parts["cooling"]
    blind = [replace(hour(n), parts={"cooling": replace(part, signals={})}, known={"1": 0}) for n in range(8)]
    assert len(like(learn(blind, 0, 8), "cooling", 50.0)) == 8


def test_nothing_learnt_is_nothing_usual():
    assert usual(Baseline(), "cooling", "oil_return_rise", 50.0) is None
    assert usual(learn([hour(n) for n in range(8)], 0, 8), "cooling", "subcooling", 50.0) is None
    assert usual(
        learn([hour(n) for n in range(8)], 0, 8), "cooling", "oil_return_rise", 50.0
    ).uncertainty == (pytest.approx(0.5))


def test_what_counts_already_stays_whatever_else_is_asked_for():
    cooling, heating = [hour(n) for n in range(8)], [hour(n, mode="heating") for n in range(30, 38)]
    before = learn(cooling, 0, 8, DAY_0 + DAY_US)
    after = learn(heating, 0, 8, DAY_0 + 2 * DAY_US, before)
    assert after == learn([*cooling, *heating], 0, 8, DAY_0 + 2 * DAY_US)
    assert set(after.from_us) == {"cooling", "heating"}


def test_what_does_not_count_yet_is_learnt_from_what_is_asked_for():
    few = learn([hour(n) for n in range(5)], 0, 8, DAY_0 + DAY_US)
    assert learn([hour(n, rise=7.0) for n in range(8)], 0, 8, DAY_0 + DAY_US, few).of("cooling")[0] == hour(
        0, 7.0
    )
