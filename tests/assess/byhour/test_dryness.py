"""What a module's dry hours tell of its compressors."""

import pytest
from CoolProp.CoolProp import PropsSI

from agent.assess import DISCHARGE_MARGIN, DISCHARGE_SUPERHEAT
from agent.assess.byhour.baseline import DAY_US, learn
from agent.assess.byhour.dryness import BEYOND, HEAT_OR_CLAMP, dry_efficiencies, dry_history
from agent.assess.byhour.hours import HOUR_US, Hour, Part, Stats
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


def hour(
    number, suction_k=10.0, discharge_k=None, u=0.0, margins=120, mode="cooling", speed_hz=50.0, **without
):
    discharge_k = DRY[suction_k] if discharge_k is None else discharge_k
    quantities = {
        RETURN: stats(suction_k, u),
        DISCHARGE_SUPERHEAT + "1": stats(discharge_k, u),
        DISCHARGE_MARGIN + "1": stats(5.0, 10.0, margins),
    }
    signals = {
        "suction_pressure": stats(P1),
        "discharge_pressure": stats(P2),
        "compressor_1_speed": stats(speed_hz),
        "bypass_valve": stats(0.0),
        **dict.fromkeys(EARLY.suction_probes, stats(15.0)),
    }
    given = {name: each for name, each in without.items() if each is not None}
    quantities |= {name: each for name, each in given.items() if name in quantities}
    signals |= {name: each for name, each in given.items() if name in signals}
    without = {name for name, each in without.items() if each is None}
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
    found = told([hour(n, suction_k) for n, suction_k in enumerate((10.0, 5.0) * 3)])
    assert found.speeds_hz == (50.0,) * 6
    assert found.ratios == pytest.approx((P2 / P1, P2 / P1))
    assert (found.least, found.most) == pytest.approx((0.65 - BEYOND, 0.65 + BEYOND), abs=0.003)


def test_uncertainty_widens_it():
    narrow, wide = told([hour(n) for n in range(6)]), told([hour(n, u=1.0) for n in range(6)])
    assert wide.least < narrow.least - 0.01 and wide.most > narrow.most + 0.01


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
        {"compressor_1_speed": None},
        {"bypass_valve": None},  # not known shut
        {"bypass_valve": stats(1.0)},
        {"suction_pipe": None, "outdoor_coil_gas": None},  # what is left is after the accumulator
        {RETURN: stats(10.0, number=100)},  # undecided for a while: it may have been near zero
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
    found = told([hour(n, discharge_k=15.0) for n in range(6)])  # more than one
    assert found.why == HEAT_OR_CLAMP and not found.speeds_hz
    assert told([hour(n, discharge_k=140.0) for n in range(6)]) is None  # under a quarter
    assert told([hour(n, discharge_k=105.0) for n in range(6)]).least == 0.3  # never under the lowest


def test_a_slow_compressor_that_loses_half_its_heat_teaches_more_than_one():
    """R-410A 5/45 degC, 10 K in: lumped 0.6 / (1 - 0.45) = 1.09 gives 23.4 K (common practice, no source)."""
    p1, p2 = (PropsSI("P", "T", t + 273.15, "Q", 1, "R410A") for t in (5.0, 45.0))
    h1, s1 = (PropsSI(what, "P", p1, "T", 288.15, "R410A") for what in ("H", "S"))
    h2 = h1 + (PropsSI("H", "P", p2, "S", s1, "R410A") - h1) / 1.09
    gas_k = PropsSI("T", "P", p2, "H", h2, "R410A") - 318.15
    slow = told([hour(n, discharge_k=gas_k, speed_hz=25.0) for n in range(6)])
    assert (slow.least, slow.most) == pytest.approx((1.04, 1.14), abs=0.01)
    assert told([hour(n, discharge_k=gas_k) for n in range(6)]).why == HEAT_OR_CLAMP  # at 50 Hz


def test_modes_are_apart():
    found = dry_history(OF, learn([hour(n) for n in range(6)], 0, 6))
    assert list(found) == ["cooling"] and list(found["cooling"]) == ["1"]
