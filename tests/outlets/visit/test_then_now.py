"""Then and now: medians of settled values of one mode, and what they say of machine and probe."""

from itertools import product

import pytest
from CoolProp.CoolProp import PropsSI

from agent.assess import HOUR_US, Assessment, Cause, Quantity, Said, Status
from agent.outlets.visit.then_now import LEVER, Change, Says, Settled, hours, judged, says, then_now
from agent.piping import Fitness

START_US = 1_764_057_600_000_000
STEP_US = 30_000_000
STILL = Change(0.0, 0.4)
FIGURES = {
    "return_superheat": (6.0, 1.7),
    "superheat_at:compressor_inlet": (8.0, 0.7),
    "oil_return_rise": (2.0, 1.8),
    "discharge_temperature:1": (65.0, 1.7),
    "saturated_suction": (6.6, 0.4),
    "saturated_condensing": (37.0, 0.7),
}


def assessments(begin_us, count, mode="cooling", status=Status.DECIDED, running=("1",), **changed):
    values = {name.replace(":", "_"): name for name in FIGURES}
    figures = FIGURES | {values[key]: (value, FIGURES[values[key]][1]) for key, value in changed.items()}
    cause = Cause.NONE if status is Status.DECIDED else Cause.SPREAD
    quantities = {
        name: Quantity(Said(status, cause, "", None, ("p",)), value, u, u)
        for name, (value, u) in figures.items()
    }
    fitness = {"compressor_inlet": (Fitness.MIXED, "why")}
    return [
        Assessment(begin_us + n * STEP_US, 1, mode, fitness, running, quantities, {}) for n in range(count)
    ]


def compared(then, now):
    return then_now("superheat-low", START_US, START_US + 2 * HOUR_US, then, now)


BEFORE = assessments(START_US - HOUR_US, 100)
WET = {"return_superheat": 0.1, "discharge_temperature_1": 61.0}


def test_the_hours_do_not_meet_and_a_young_alarm_has_as_much_of_it_as_it_stood():
    assert hours(START_US, START_US + 5 * HOUR_US) == (
        (START_US - HOUR_US, START_US - 1),
        (START_US + 4 * HOUR_US, START_US + 5 * HOUR_US),
    )
    assert hours(START_US, START_US + 60_000_000)[1] == (START_US, START_US + 60_000_000)


def test_medians_of_both_hours_and_what_they_say():
    found = compared(BEFORE, assessments(START_US, 100, **WET))
    rows = {row.name: (row.then, row.now) for row in found.rows}
    assert rows["return_superheat"] == (Settled(6.0, 1.7, ("p",)), Settled(0.1, 1.7, ("p",)))
    assert says(found) is Says.MACHINE
    assert says(compared(BEFORE, assessments(START_US, 100, return_superheat=0.1))) is Says.PROBE


def test_a_spike_does_not_move_a_median():
    spiked = [*assessments(START_US, 90), *assessments(START_US + 90 * STEP_US, 10, return_superheat=-30.0)]
    (row,) = [row for row in compared(BEFORE, spiked).rows if row.name == "return_superheat"]
    assert row.now.value == 6.0


def test_what_had_not_settled_has_a_word_and_no_figure():
    moving = assessments(START_US, 100, status=Status.NOT_SETTLED, **WET)
    found = compared(BEFORE, moving)
    assert {row.now for row in found.rows} == {"not settled"} and says(found) is Says.OPEN


def test_another_mode_is_not_compared():
    found = compared(assessments(START_US - HOUR_US, 100, mode="heating"), assessments(START_US, 100, **WET))
    assert {row.then for row in found.rows} == {"it did not run in cooling"} and says(found) is Says.OPEN
    assert compared(BEFORE, assessments(START_US, 100, mode="off")) is None
    assert compared(BEFORE, []) is None


def test_other_compressors_make_another_discharge():
    assert says(compared(BEFORE, assessments(START_US, 100, running=("1", "2"), **WET))) is Says.OPEN


@pytest.mark.parametrize(
    ("superheat", "discharges", "suction", "condensing", "said"),
    [
        (Change(-6, 1.7), [Change(-4, 1.7)], STILL, STILL, Says.MACHINE),
        (Change(-6, 1.7), [Change(-1.7, 1.7)], STILL, STILL, Says.PROBE),  # within its uncertainty
        (Change(-6, 1.7), [Change(-4, 1.7), Change(0, 1.7)], STILL, STILL, Says.OPEN),  # they disagree
        (Change(-6, 1.7), [Change(-4, 1.7)], STILL, Change(-2, 0.7), Says.OPEN),  # condensing took it along
        (Change(-6, 1.7), [Change(-4, 1.7)], Change(2, 0.4), STILL, Says.OPEN),  # and so does suction
        (Change(-6, 1.7), [Change(-4, 1.7)], STILL, Change(2, 0.7), Says.MACHINE),  # it fell all the same
        (Change(-6, 1.7), [Change(0, 1.7)], STILL, Change(2, 0.7), Says.OPEN),  # a rise may hide the fall
        (Change(-1.5, 1.7), [Change(-4, 1.7)], STILL, STILL, Says.OPEN),  # superheat did not surely move
        (Change(-3, 1.7), [Change(-0.5, 3.0)], STILL, STILL, Says.OPEN),  # too coarse to have shown it
        (Change(8, 1.7), [Change(9, 1.7)], STILL, STILL, Says.MACHINE),
        (Change(8, 1.7), [Change(-4, 1.7)], STILL, STILL, Says.OPEN),
        (Change(-6, 1.7), [], STILL, STILL, Says.OPEN),
        (None, [Change(-4, 1.7)], STILL, STILL, Says.OPEN),
        (Change(-6, 1.7), [Change(-4, 1.7)], None, STILL, Says.OPEN),
        (Change(-6, 1.7), [Change(-4, 1.7)], STILL, None, Says.OPEN),
    ],
)
def test_it_is_said_only_where_it_is_sure(superheat, discharges, suction, condensing, said):
    assert judged(superheat, discharges, suction, condensing) is said


def discharge_c(refrigerant, suction_c, condensing_c, superheat_k, efficiency):
    """Of a compression with an isentropic efficiency, by CoolProp."""
    low, high = (PropsSI("P", "T", c + 273.15, "Q", 1, refrigerant) for c in (suction_c, condensing_c))
    state = ("T", suction_c + superheat_k + 273.15, "P", low, refrigerant)
    h, s = PropsSI("H", *state), PropsSI("S", *state)
    out = h + (PropsSI("H", "S", s, "P", high, refrigerant) - h) / efficiency
    return PropsSI("T", "H", out, "P", high, refrigerant) - 273.15


@pytest.mark.parametrize("refrigerant", ["R410A", "R32"])
def test_a_kelvin_of_superheat_shows_at_the_discharge_and_one_of_saturation_moves_it_by_less_than_the_lever(
    refrigerant,
):
    """Against CoolProp, over the pressures that a VRF module runs at and efficiencies of 0.6 to 0.8."""
    for suction_c, condensing_c, efficiency in product((-15, -5, 5, 10), (30, 40, 50), (0.6, 0.7, 0.8)):
        here = discharge_c(refrigerant, suction_c, condensing_c, 5, efficiency)
        assert discharge_c(refrigerant, suction_c, condensing_c, 6, efficiency) - here > 1
        assert 0 < discharge_c(refrigerant, suction_c, condensing_c + 1, 5, efficiency) - here < LEVER
        assert 0 < here - discharge_c(refrigerant, suction_c + 1, condensing_c, 5, efficiency) < LEVER
