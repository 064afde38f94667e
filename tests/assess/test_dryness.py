"""What a module's dry hours tell of its compressors."""

import pytest

from agent.assess import DISCHARGE_MARGIN, DISCHARGE_SUPERHEAT
from agent.assess.baseline import DAY_US, learn
from agent.assess.dryness import BEYOND, dry_efficiencies, dry_history
from agent.assess.hours import HOUR_US, Hour, Part, Stats
from agent.piping import RETURN
from agent.thermo import dew_pressure
from tests.assess.world import EARLY, module

P1, P2 = (dew_pressure("R-410A", c) for c in (5.0, 45.0))
OF = module(EARLY)
# R-410A 5/45 degC, isentropic efficiency 0.65, no heat loss: superheat 10 K gives 40.3 K, 5 K gives 34.5 K
# (computed with CoolProp 8.0.0; a published table was not found).
DRY = {10.0: 40.3, 5.0: 34.5}


def stats(mean, u=0.0, number=120):
    return Stats(number, mean, mean, mean, 0.1, u, u)


def hour(number, suction_k=10.0, discharge_k=None, u=0.0, margins=120, mode="cooling", **without):
    discharge_k = DRY[suction_k] if discharge_k is None else discharge_k
    quantities = {
        RETURN: stats(suction_k, u),
        DISCHARGE_SUPERHEAT + "1": stats(discharge_k, u),
        DISCHARGE_MARGIN + "1": stats(5.0, 10.0, margins),
    }
    signals = {"suction_pressure": stats(P1), "discharge_pressure": stats(P2)}
    kept = {name: each for name, each in (quantities | signals).items() if name not in without}
    part = Part(
        120,
        120,
        {name: each for name, each in kept.items() if name in quantities},
        {name: each for name, each in kept.items() if name in signals},
    )
    return Hour(
        DAY_US * 19_675 + number * HOUR_US, 30_000_000, {mode: part}, {}, {"1": 120}, {"1": 120}, {"1": 0}
    )


def told(hours):
    return dry_efficiencies(OF, learn(hours, 0, len(hours)), "cooling").get("1")


def test_the_efficiency_comes_out_as_it_went_in():
    low, high = told([hour(n, suction_k) for n, suction_k in enumerate((10.0, 5.0) * 3)])
    assert (low, high) == pytest.approx((0.65 - BEYOND, 0.65 + BEYOND), abs=0.003)


def test_uncertainty_widens_it():
    narrow, wide = told([hour(n) for n in range(6)]), told([hour(n, u=1.0) for n in range(6)])
    assert wide[0] < narrow[0] - 0.01 and wide[1] > narrow[1] + 0.01


@pytest.mark.parametrize(
    "changes",
    [
        {"suction_k": 2.0, "discharge_k": 31.0},  # not far enough above zero
        {"u": 8.1},  # or not surely
        {"margins": 119},  # something cooled the discharge for a while
        {RETURN: None},
        {DISCHARGE_SUPERHEAT + "1": None},
        {"suction_pressure": None},
        {"discharge_pressure": None},
    ],
)
def test_hours_that_do_not_count(changes):
    assert told([hour(n, **changes) for n in range(6)]) is None
    assert told([hour(n, **changes) for n in range(3)] + [hour(n) for n in range(3, 9)]) is not None


def test_it_takes_several_hours_and_a_complete_baseline():
    assert told([hour(n) for n in range(3)]) is None
    assert told([hour(n) for n in range(4)]) is not None
    incomplete = learn([hour(n) for n in range(6)], 0, 12)
    assert dry_history(OF, incomplete) == {}


def test_what_lies_beyond_any_compressor_does_not_count():
    assert told([hour(n, discharge_k=15.0) for n in range(6)]) is None  # more than one: a probe reads low
    low, _ = told([hour(n, discharge_k=63.0) for n in range(6)])
    assert low == 0.4  # never outside the general band


def test_modes_are_apart():
    found = dry_history(OF, learn([hour(n) for n in range(6)], 0, 6))
    assert list(found) == ["cooling"] and list(found["cooling"]) == ["1"]
