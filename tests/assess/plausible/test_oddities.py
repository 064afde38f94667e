"""Fillers, words without a meaning, values that stand still, steps and periods, by the values alone."""

import numpy as np
import pytest

from agent.assess import CODE, SECOND, period_us, smallest_step
from agent.settings import Conversion, take
from agent.units import Dimension
from tests.assess.ordinary import EVERY_US, PRESSURES, TEMPERATURES, look, running
from tests.assess.world import START_US

DEGREES = Conversion(Dimension.TEMPERATURE, "degC")


def of_kind(found, kind):
    return [each for each in found.suspicions if each.kind == kind]


def a_signal(values, every_us=EVERY_US, conversion=DEGREES):
    times = START_US + every_us * np.arange(len(values))
    return take(conversion, times, values, [None] * len(values))


class TestFillers:
    """What gateways send for no value: common practice, no source."""

    @pytest.mark.parametrize(
        "number", [-999, -9999, 32767, -32768, 65535, 850, -127, 3276.7, -3276.8, 6553.5]
    )
    def test_a_number_that_stands_for_no_value(self, number):
        found = look(running() | {"suction_pipe": [11.4, number, number, number]})
        (only,) = found.suspicions
        assert (only.kind, only.signals) == ("filler", ("suction_pipe",))
        assert f"exactly {number} in 3 of 4 values" in only.seen

    def test_the_same_number_where_it_is_an_ordinary_value(self):
        assert look(running() | {"suction_pressure": [850.0, 851.0, 850.0, 850.0]}).suspicions == ()

    @pytest.mark.parametrize("number", [0, -1, 255])
    def test_one_and_the_same_number_everywhere(self, number):
        found = look(running() | {name: [number] * 4 for name in (*TEMPERATURES, *PRESSURES)})
        (only,) = found.suspicions
        assert only.kind == "filler" and set(only.signals) == {*TEMPERATURES, *PRESSURES}
        assert f"every measured value is {number}" in only.seen

    def test_zero_degrees_at_one_pipe_are_a_temperature(self):
        values = running(mode="heat", superheat_k=11.74) | {"outdoor_coil_gas": [0.0, 0.1, 0.0, 0.0]}
        assert look(values).suspicions == ()


class TestWords:
    def test_a_mode_that_the_configuration_does_not_know(self):
        (only,) = of_kind(look(running() | {"mode": ["cool", "COOLING", "cool", "cool"]}), "word")
        assert only.signals == ("mode",) and "'COOLING'" in only.seen
        assert "cool, defrost, heat, off" in only.seen and "nothing is judged" in only.would

    def test_a_code_without_a_meaning(self):
        (only,) = of_kind(look(running() | {"bypass_valve": [0, 0, 2, 2]}), "word")
        assert only.signals == ("bypass_valve",) and "'2'" in only.seen

    def test_text_where_no_values_are_stated(self):
        taken = a_signal(["open", "open"], conversion=Conversion(None))
        assert taken.strange == ("open",) and a_signal([1, 0], conversion=Conversion(None)).strange == ()

    def test_one_and_true_and_the_text_are_one(self):
        taken = a_signal(
            [1, 1.0, True, "1", "true"], conversion=Conversion(None, words={"1": CODE["cooling"]})
        )
        assert taken.strange == ("true",)


class TestStandingStill:
    MANY = 45  # of 30 s: more than 20 min

    def test_one_that_never_moves_while_the_others_do(self):
        found = look(running() | {"suction_pipe": [11.4] * self.MANY}, samples=self.MANY)
        (only,) = found.suspicions
        assert (only.kind, only.signals) == ("still", ("suction_pipe",))
        assert "exactly 11.4 in all 45 values over 22 min" in only.seen

    def test_outdoor_air_may_stand_still(self):
        assert look(running() | {"outdoor_air": [35.0] * self.MANY}, samples=self.MANY).suspicions == ()

    def test_too_short_to_tell_is_said(self):
        found = look(running() | {"suction_pipe": [11.4] * 4})
        assert found.suspicions == ()
        assert any("stands still: that takes 20 min" in each for each in found.cannot_tell)

    def test_long_enough_says_nothing_of_it(self):
        assert not any("stands still" in s for s in look(running(), samples=self.MANY).cannot_tell)

    def test_where_all_stand_still_it_is_the_whole_feed_and_no_single_signal(self):
        values = {k: [v] * self.MANY for k, v in running().items()}
        assert of_kind(look(values, samples=self.MANY), "still") == []


class TestSteps:
    def test_values_coarser_than_configured(self):
        pipe = [11.0 + (i % 2) for i in range(12)]
        (only,) = look(running() | {"suction_pipe": pipe}, samples=12).suspicions
        assert (only.kind, only.signals) == ("step", ("suction_pipe",))
        assert "11 changes" in only.seen and "10 times" in only.seen

    def test_values_on_the_configured_step(self):
        assert look(running(), samples=60).suspicions == ()

    def test_a_few_equal_strides_are_no_step(self):
        assert look(running() | {"suction_pipe": [11.0, 12.0, 13.0, 12.0]}).suspicions == ()

    @pytest.mark.parametrize(
        ("values", "step"),
        [
            ([1.0, 1.1, 1.3], 0.1),
            ([5, 5, 5], None),
            ([], None),
            ([0.1 + 0.2, 0.3], None),
            ([900e3, 910e3], 10e3),
        ],
    )
    def test_the_smallest_difference(self, values, step):
        found = smallest_step(np.array(values, float))
        assert found is None if step is None else found == pytest.approx(step)


class TestPeriods:
    def test_one_that_comes_less_often_than_configured(self):
        found = of_kind(look(running(), every_us=2 * EVERY_US), "period")
        assert {each.signals for each in found} == {(name,) for name in running()}
        assert "every 60 s, configured is every 30 s" in found[0].seen and "windows" in found[0].would

    def test_one_that_comes_less_often_than_its_values_last(self):
        found = of_kind(look(running(), every_us=5 * EVERY_US), "period")
        assert "missing between two reports (max_age_s 120)" in found[0].would

    @pytest.mark.parametrize("every_us", [EVERY_US // 2, EVERY_US, EVERY_US * 4 // 3])
    def test_one_that_comes_about_as_often(self, every_us):
        assert look(running(), every_us=every_us).suspicions == ()

    def test_a_gap_does_not_change_the_usual_time(self):
        times = np.array([0, 30, 60, 90, 400, 430]) * SECOND
        assert period_us(take(DEGREES, times, [1.0] * 6, [None] * 6)) == 30 * SECOND

    def test_one_value_has_no_period(self):
        assert period_us(a_signal([1.0])) is None
        assert period_us(a_signal([1.0, 1.1])) == EVERY_US and period_us(a_signal([1.0, 1.1]), 4) is None
