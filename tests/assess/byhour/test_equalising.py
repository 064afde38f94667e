"""Transducers that met at rest when learnt, and stand steadily apart there now."""

import pytest

from agent.alarms import WINDOW_HOURS, Condition, Past
from agent.alarms.drift import PROBE_DRIFT, probe_drift
from agent.assess.byhour.baseline import learn
from tests.assess.byhour.test_drift import OF, REST, judged
from tests.assess.resting import REST_PA, hour, nights
from tests.assess.world import module

# U of the difference of two +-10 kPa transducers in steps of 1 kPa: 2 sqrt(2 (10^2 / 3 + 1 / 12)) = 16.4 kPa
# (JCGM 100:2008, 4.3.7, F.2.2.1). They met when learnt.
SUCTION_MORE = {"suction_pressure": REST_PA + 60e3}
DISCHARGE_MORE = {"discharge_pressure": REST_PA + 60e3}


def after(*hours, of=OF, then=REST):
    learnt = learn(nights(0, 4, **then), 0, 48)
    return probe_drift(Past(of, learnt, tuple(hours[-WINDOW_HOURS:])), PROBE_DRIFT)


def test_suction_pressure_reads_more():
    found = judged(REST, REST | SUCTION_MORE)
    assert found.condition is Condition.BEYOND
    assert found.facts.text == (
        "at rest suction_pressure reads 60 kPa more than discharge_pressure; they met when learnt (U of the "
        "difference 16 kPa), in each of the last 2 times of standing: one of the two has drifted; saturation "
        "at rest against the coldest of suction probes and outdoor air speaks for suction_pressure"
    )
    assert found.facts.probe == "suction_pressure"
    assert found.facts.value_k is None


def test_discharge_pressure_reads_more_or_a_valve_holds_it():
    found = judged(REST, REST | DISCHARGE_MORE)
    assert found.condition is Condition.BEYOND
    assert "discharge_pressure reads 60 kPa more than suction_pressure" in found.facts.text
    assert "or a valve that holds pressure tight" in found.facts.text
    assert found.facts.probe == "discharge_pressure"


def test_suction_pressure_reads_less():
    """The difference alone says that the discharge reads more; saturation says which one it is."""
    found = judged(REST, REST | {"suction_pressure": REST_PA - 60e3})
    assert found.condition is Condition.BEYOND
    assert found.facts.probe == "suction_pressure"


def test_outdoor_air_tells_as_well():
    then = {"outdoor_air": 0.5}
    assert judged(then, then | SUCTION_MORE).facts.probe == "suction_pressure"


@pytest.mark.parametrize("then", [{}, REST])
def test_otherwise_it_is_one_of_the_two(then):
    """Without temperatures, or where both moved against them."""
    now = {name: value - 10.0 for name, value in then.items()}
    found = judged(then, now | SUCTION_MORE)
    assert found.condition is Condition.BEYOND
    assert found.facts.probe == "suction_pressure, discharge_pressure"
    assert "speaks for" not in found.facts.text


@pytest.mark.parametrize(("apart_pa", "condition"), [(32e3, Condition.CLEAR), (34e3, Condition.BEYOND)])
def test_it_takes_twice_the_uncertainty(apart_pa, condition):
    """2 x 16.4 kPa; within that and 2 % of the pressure they count as met."""
    found = judged(REST, REST | {"suction_pressure": REST_PA + apart_pa})
    assert found.condition is condition


def test_one_night_is_not_enough():
    found = after(*nights(10, 2, **REST), *nights(12, 1, **(REST | SUCTION_MORE)))
    assert found.condition is Condition.INSIDE
    assert "it takes the same in 2 separate times" in found.facts.text


def test_it_takes_the_same_side():
    found = after(*nights(10, 1, **(REST | DISCHARGE_MORE)), *nights(11, 1, **(REST | SUCTION_MORE)))
    assert found.condition is Condition.INSIDE


def test_pressures_that_meet_again_clear():
    alone = module(OF.layout, signals=OF.signals, without=["outdoor_coil_gas", "accumulator_outlet"])
    found = after(*nights(10, 2, **(REST | SUCTION_MORE)), *nights(12, 1, **REST), of=alone)
    assert found.condition is Condition.CLEAR
    assert "they meet again" in found.facts.text


class TestNotTold:
    def test_while_one_moves(self):
        moves = REST | SUCTION_MORE | {"spreads": {"discharge_pressure": 20e3}}
        assert judged(REST, moves).condition is Condition.UNKNOWN

    def test_while_a_held_pressure_falls(self):
        """Common practice, no source: a check valve that holds the discharge leaks down over hours."""
        falling = [
            hour(
                24 * day + n, suction_pressure=REST_PA, discharge_pressure=REST_PA + 150e3 - 15e3 * (n - 22),
                **REST,
            )
            for day in (10, 11, 12)
            for n in range(22, 30)
        ]  # fmt: skip
        assert after(*falling).condition is Condition.UNKNOWN

    def test_while_a_sister_runs(self):
        assert judged(REST, REST | {"discharge_pressure": 3 * REST_PA}).condition is Condition.UNKNOWN

    def test_where_they_never_met(self):
        both = REST | SUCTION_MORE
        assert judged(both, both).condition is Condition.UNKNOWN

    def test_after_too_short_a_standing(self):
        assert judged(REST, REST | SUCTION_MORE, lasts=5).condition is Condition.UNKNOWN

    def test_before_it_is_learnt(self):
        hours = tuple(nights(10, 3, **(REST | SUCTION_MORE)))
        assert probe_drift(Past(OF, learn((), 0, 48), hours), PROBE_DRIFT).condition is Condition.UNKNOWN

    def test_without_discharge_pressure(self):
        of = module(OF.layout, without=["discharge_pressure"])
        found = after(*nights(10, 3, **(REST | SUCTION_MORE)), of=of)
        assert found.condition is not Condition.BEYOND
