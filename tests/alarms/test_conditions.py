"""What the figures of a grid time say about each alarm: guard bands to the safe side, limits, doubt."""

import numpy as np
import pytest

from agent.alarms import CATALOGUE, CONDITIONS, conditions
from agent.alarms.byhour import JUDGES
from agent.assess import Cause
from tests.alarms.stretches import stretch


def found(alarm, *rows, catalogue=CATALOGUE, probe=None, **more):
    codes = conditions(stretch(*rows, **more), catalogue, probe)[alarm]
    return [str(CONDITIONS[code]) for code in codes]


class TestSuperheatLow:
    """Limit 2 K, deadband 1 K; second best 0.5 K."""

    @pytest.mark.parametrize(
        ("value", "below", "above", "condition"),
        [
            (1.9, 1.9, 1.9, "beyond"),  # saturation is just within reach
            (1.9, 1.8, 1.9, "inside"),  # under the limit, yet liquid is excluded
            (2.0, 5.0, 5.0, "inside"),  # at the limit is not under it, however wide the doubt
            (2.5, 5.0, 0.1, "inside"),
            (2.99, 0.1, 0.1, "inside"),
            (3.0, 2.9, 5.0, "clear"),  # limit and deadband
            (3.0, 3.0, 5.0, "inside"),  # but not while saturation is within reach
            (9.0, 20.0, 20.0, "inside"),
            (0.5, 0.6, 1.4, "beyond_doubt"),  # with all uncertainty still under the limit
            (0.5, 0.6, 1.5, "beyond"),  # 0.5 + 1.5 is the limit itself
            (0.5, 0.4, 0.4, "inside"),  # certainly low, certainly no liquid
            (0.0, 0.4, 0.4, "beyond_doubt"),
            (-3.0, 0.5, 0.5, "beyond_doubt"),
            (-3.0, 0.5, 9.0, "beyond"),
        ],
    )
    def test_the_guard_band_lies_to_the_safe_side(self, value, below, above, condition):
        assert found("superheat-low", (value, below, above)) == [condition]

    @pytest.mark.parametrize(
        ("value", "condition"),
        [(0.6, "inside"), (0.5, "inside"), (0.4, "beyond"), (1.5, "clear"), (1.4, "inside")],
    )
    def test_second_best_has_its_own_limit(self, value, condition):
        row = (value, 0.5, 5.0, "decided", "second_best")
        assert found("superheat-low", row) == [condition]

    def test_after_the_accumulator_near_zero_is_normal(self):
        row = (0.1, 0.5, 0.1, "decided", "after_accumulator")
        assert found("superheat-low", row) == ["inside"]
        assert found("superheat-high", (25.0, 0.5, 0.1, "decided", "after_accumulator")) == ["beyond"]

    @pytest.mark.parametrize("standing", ["covering", "second_best"])
    def test_only_a_fit_probe_leaves_no_doubt(self, standing):
        assert found("superheat-low", (0.0, 0.4, 0.4, "decided", standing)) == ["beyond"]

    @pytest.mark.parametrize(
        ("cause", "condition"),
        [("spread", "possible"), ("slope", "possible"), ("change", "unknown"), ("gaps", "unknown")],
    )
    def test_a_low_value_that_moves_is_possible(self, cause, condition):
        row = (1.0, 2.0, 0.5, "not_settled")
        assert found("superheat-low", row, cause=Cause(cause)) == [condition]
        assert found("superheat-low", (2.5, 2.6, 0.5, "not_settled"), cause=Cause(cause)) == ["unknown"]

    def test_the_lowest_of_what_is_left_is_possible(self):
        """A probe that another contradicts, or whose partner is missing; none is proven right."""
        low, high = (1.0, 2.0, 0.5), (9.0, 1.0, 1.0)
        disagree = {"cause": Cause.DISAGREEMENT}
        assert found("superheat-low", (*low, "not_decidable"), **disagree) == ["possible"]
        assert found("superheat-low", (*high, "not_decidable"), **disagree) == ["unknown"]
        assert found("superheat-low", (*low, "missing", "covering"), cause=Cause.READING) == ["possible"]
        assert found("superheat-low", (*low, "not_decidable"), cause=Cause.CONTRADICTION) == ["unknown"]

    def test_a_late_probe_near_saturation_is_weak_evidence(self):
        """A healthy accumulator that holds liquid gives off saturated gas: common practice, no source.

        Outlet 0 K and a rise of 1 to 1.5 K leave less than 2 K at the compressor, with no liquid in it.
        """
        low, high = (0.3, 0.5, 0.5), (1.9, 1.8, 0.5)
        unknown, dry = (np.nan, np.nan, np.nan, "missing"), (9.0, 1.0, 1.0)
        assert found("superheat-low", unknown, dry, late=low) == ["possible", "possible"]
        near = (2.5, 2.6, 0.5)  # its own figure cannot exclude saturation
        assert found("superheat-low", near, late=low) == ["beyond"]
        assert found("superheat-low", unknown, dry, late=high) == ["unknown", "clear"]
        assert found("superheat-low", (0.0, 0.4, 0.4), late=low) == ["beyond_doubt"]

    @pytest.mark.parametrize("standing", ["fit", "covering"])
    def test_other_standings_have_the_usual_limit(self, standing):
        assert found("superheat-low", (1.9, 5.0, 5.0, "decided", standing)) == ["beyond"]

    @pytest.mark.parametrize("status", ["not_settled", "not_decidable", "missing", "not_measurable"])
    def test_what_is_not_decided_is_unknown(self, status):
        value = 1.0 if status == "not_settled" else np.nan
        assert found("superheat-low", (value, 5.0, 5.0, status)) == ["unknown"]
        assert found("superheat-high", (value + 30, 0.1, 0.1, status)) == ["unknown"]

    def test_a_site_may_set_its_own_limit(self):
        changed = CATALOGUE | {
            "superheat-low": CATALOGUE["superheat-low"].with_limits(limit_k=4.0, deadband_k=0.5)
        }
        rows = [(3.9, 5.0, 5.0), (4.0, 5.0, 5.0), (4.5, 4.0, 5.0)]
        assert found("superheat-low", *rows, catalogue=changed) == ["beyond", "inside", "clear"]


class TestSuperheatHigh:
    """Limit 14 K, deadband 2 K; second best 20 K."""

    @pytest.mark.parametrize(
        ("value", "below", "condition"),
        [
            (15.0, 0.9, "beyond"),
            (15.0, 1.0, "inside"),  # the full uncertainty reaches the limit
            (30.0, 17.0, "inside"),
            (14.5, 0.0, "beyond"),
            (14.0, 0.0, "inside"),
            (12.1, 0.1, "inside"),
            (12.0, 0.1, "clear"),
            (-5.0, 0.1, "clear"),
        ],
    )
    def test_it_takes_the_full_uncertainty(self, value, below, condition):
        assert found("superheat-high", (value, below, 0.0)) == [condition]
        assert found("superheat-high", (value, below, 99.0)) == [condition]

    @pytest.mark.parametrize(("value", "condition"), [(20.2, "beyond"), (19.0, "inside"), (18.0, "clear")])
    def test_second_best_has_its_own_limit(self, value, condition):
        assert found("superheat-high", (value, 0.1, 0.1, "decided", "second_best")) == [condition]

    def test_it_is_never_urgent(self):
        assert found("superheat-high", (99.0, 0.1, 0.1)) == ["beyond"]


class TestProbeUnfit:
    ROW = (5.0, 1.0, 1.0)

    @pytest.mark.parametrize("fitness", ["partial", "mixed", "idle", "high_side", "unproven"])
    def test_any_verdict_but_fit(self, fitness):
        assert found("probe-unfit", self.ROW, probe="probe", fitness=fitness) == ["beyond"]

    def test_fit(self):
        assert found("probe-unfit", self.ROW, probe="probe") == ["clear"]

    def test_no_probe_configured(self):
        assert found("probe-unfit", self.ROW, fitness="mixed") == ["clear"]

    @pytest.mark.parametrize("mode", ["off", "starting", "defrost", "oil_recovery", "unknown"])
    def test_in_a_transient_mode_it_is_unknown(self, mode):
        assert found("probe-unfit", self.ROW, probe="probe", fitness="idle", mode=mode) == ["unknown"]

    def test_it_does_not_take_a_decided_value(self):
        row = (np.nan, np.nan, np.nan, "missing")
        assert found("probe-unfit", row, probe="probe", fitness="mixed") == ["beyond"]


class TestSuperheatHunting:
    """Limit 5 K, deadband 1.5 K, with the full uncertainty."""

    @pytest.mark.parametrize(
        ("swing", "condition"),
        [((5.2, 0.1, 0.1), "beyond"), ((5.1, 0.1, 0.1), "inside"), ((3.5, 0.1, 0.1), "clear")],
    )
    def test_it_takes_the_full_uncertainty(self, swing, condition):
        assert found("superheat-hunting", (5.0, 1.0, 1.0), swing=swing) == [condition]

    def test_without_a_swing_it_is_unknown(self):
        assert found("superheat-hunting", (5.0, 1.0, 1.0)) == ["unknown"]


class TestWatchBlind:
    UNDECIDED = (np.nan, np.nan, np.nan, "missing")

    def test_decided_or_standing_is_clear(self):
        assert found("watch-blind", (5.0, 1.0, 1.0)) == ["clear"]
        assert found("watch-blind", self.UNDECIDED, mode="off") == ["clear"]

    def test_after_the_accumulator_a_wet_return_cannot_be_told(self):
        row = (0.1, 0.5, 0.1, "decided", "after_accumulator")
        assert found("watch-blind", row) == ["beyond"]
        assert found("watch-blind", row, mode="off") == ["clear"]

    @pytest.mark.parametrize("mode", ["cooling", "defrost"])
    def test_running_and_undecided_is_blind(self, mode):
        assert found("watch-blind", self.UNDECIDED, mode=mode, lasted_s=60) == ["beyond"]

    def test_whether_it_runs_may_be_told_by_the_compressors_alone(self):
        assert found("watch-blind", self.UNDECIDED, mode="unknown") == ["unknown"]
        assert found("watch-blind", self.UNDECIDED, mode="unknown", running=["1"]) == ["beyond"]
        assert found("watch-blind", self.UNDECIDED, mode="unknown", running=[]) == ["unknown"]

    @pytest.mark.parametrize(("lasted_s", "condition"), [(1200, "beyond"), (1201, "beyond_doubt")])
    def test_a_transient_mode_that_does_not_end(self, lasted_s, condition):
        assert found("watch-blind", self.UNDECIDED, mode="defrost", lasted_s=lasted_s) == [condition]
        assert found("watch-blind", self.UNDECIDED, mode="cooling", lasted_s=lasted_s) == ["beyond"]


def test_each_grid_time_is_judged_on_its_own():
    rows = [
        (1.0, 2.0, 0.5),
        (9.0, 1.0, 1.0),
        (1.0, 2.0, 9.0, "decided", "second_best"),
        (np.nan, np.nan, np.nan, "missing"),
    ]
    assert found("superheat-low", *rows) == ["beyond_doubt", "clear", "inside", "unknown"]


def test_there_is_a_condition_for_every_alarm_in_event_time():
    by_assessment = [name for name, entry in CATALOGUE.items() if not (entry.by_wall_clock or entry.by_hour)]
    assert list(conditions(stretch((5.0, 1.0, 1.0)))) == by_assessment


def test_there_is_a_judge_for_every_alarm_by_the_hour():
    by_hour = {name for name, entry in CATALOGUE.items() if entry.by_hour}
    assert set(JUDGES) == by_hour | {"probe-unfit"}  # by the hour where the supervisor's own is heard
