"""What readings by hand may mislead to: exchanged signals, readings that contradict each other, gauges.

Uncertainties: JCGM 100:2008, 4.3.7 (limits are rectangular half-widths).
"""

import pytest

from agent.assess import Side
from agent.assess.by_hand.handheld import ByHand, Kind, Of, Shown, Verdict
from tests.assess.by_hand.test_handheld import AT_US, LATE_MODULE, MINUTE_US, clamp, compared, gauge, one

# By telemetry of the made world: suction_pipe 8 degC, compressor_inlet 20, accumulator_outlet 5.


class TestExchanged:
    def test_a_clamp_that_reads_like_another_probe_says_so_first(self):
        found = one(clamp(8.2))
        assert (found.verdict, found.like) == (Verdict.DIFFERS, "suction_pipe")
        assert found.text == (
            "8.2 degC by hand, 20.0 degC by telemetry: it is what suction_pipe reads (8.0 degC): perhaps the "
            "two signals are exchanged; 11.8 K more than by hand, beyond the ±0.8 K that both instruments "
            "explain"
        )
        assert found.advice.startswith("Measure beside suction_pipe too")

    def test_one_that_reads_like_no_other_says_nothing_of_it(self):
        found = one(clamp(14.0))
        assert found.like == "" and "exchanged" not in found.text
        assert "ten pipe diameters from a joint" in found.advice

    def test_two_of_them_explain_each_other(self):
        hands = [clamp(8.2), clamp(19.8, "suction_pipe", at_us=AT_US - 5 * MINUTE_US)]
        (found,) = compared(*hands).concluded
        assert (found.of, found.verdict, {found.probe, found.like}) == (
            Of.EXCHANGED,
            Verdict.DIFFERS,
            {"suction_pipe", "compressor_inlet"},
        )
        assert "exchanged signals explain both; correct the points, not the layout" in found.text

    def test_both_like_the_same_probe_is_no_exchange(self):
        hands = [clamp(8.2), clamp(8.1, "accumulator_outlet", at_us=AT_US - 5 * MINUTE_US)]
        assert [each.of for each in compared(*hands).concluded] == []

    def test_its_difference_is_no_offset(self):
        hands = [clamp(8.2, at_us=AT_US - n * MINUTE_US) for n in range(3)]
        assert compared(*hands).concluded == ()

    def test_clamps_beside_an_inlet_that_read_crosswise_do_not_deny_the_layout(self):
        hands = (
            clamp(12.0, "oil_return", Kind.INLET, Side.AHEAD, AT_US - 5 * MINUTE_US),
            clamp(20.0, "oil_return", Kind.INLET, Side.AFTER),
        )
        first, *sides = compared(*hands, suction_pipe=20.0, compressor_inlet=12.0).concluded
        assert first.of is Of.EXCHANGED and first.verdict is Verdict.DIFFERS
        assert {each.probe for each in sides} == {"suction_pipe", "compressor_inlet"}
        assert not any(each.contradicts_layout for each in sides)
        assert {each.side for each in sides} == {Side.CANNOT_TELL}


class TestContradiction:
    def test_readings_further_apart_than_their_own_errors_tell_nothing(self):
        """Two clamps right within 0.5 K and a step of 0.1 K: no true value lies within both 1.4 K apart."""
        hands = [clamp(19.3), clamp(20.7, at_us=AT_US - 20 * MINUTE_US)]
        (found,) = compared(*hands).concluded
        assert (found.of, found.verdict) == (Of.OFFSET, Verdict.CANNOT_TELL)
        assert found.text == (
            "compressor_inlet against 2 readings by hand, -0.7 to +0.7 K: cannot tell, the readings "
            "contradict each other"
        )

    def test_what_two_right_clamps_can_read_is_no_contradiction(self):
        """Each right within 0.5 K, so that they may be 1.0 K apart."""
        hands = [clamp(19.5), clamp(20.5, at_us=AT_US - 20 * MINUTE_US)]
        assert compared(*hands).concluded[0].verdict is Verdict.AGREES


class TestShownAsGiven:
    def test_a_gauge_pressure_in_its_unit_and_from_its_reference(self):
        """101.325 kPa is the standard atmosphere (ISO 2533)."""
        shown = Shown("bar gauge", "bar", 1e5, 101325.0)
        hand = gauge(920e3 + 101325.0)._replace(shown=shown)
        text = one(hand, suction_pressure=886e3 + 101325.0).text
        assert text.startswith("9.20 bar gauge by hand, 8.86 bar gauge by telemetry: 0.34 bar less ")
        assert "K of dew temperature" in text

    @pytest.mark.parametrize(
        ("shown", "expected"),
        [
            (Shown(), "1021.3 kPa absolute"),
            (Shown("psi absolute", "psi", 6894.757), "148.1 psi absolute"),  # NIST SP 811
            (Shown("MPa absolute", "MPa", 1e6), "1.021 MPa absolute"),
            (Shown("Pa absolute", "Pa", 1.0), "1021325 Pa absolute"),
        ],
    )
    def test_units(self, shown, expected):
        assert shown.figure(1_021_325.0) == expected

    def test_what_differs_asks_for_the_gauge(self):
        assert one(gauge(500e3)).advice.startswith("Gauge for absolute? Another port?")


class TestBesideAnInlet:
    def pair(self, ahead, after):
        return (
            ByHand(AT_US - 5 * MINUTE_US, Kind.INLET, "oil_return", Side.AHEAD, ahead, 0.5),
            ByHand(AT_US, Kind.INLET, "oil_return", Side.AFTER, after, 0.5),
        )

    def test_two_that_confirm_are_filed_under_that(self):
        readings = compared(*self.pair(12.0, 20.0), suction_pipe=12.2).readings
        assert [each.verdict for each in readings] == [Verdict.AGREES, Verdict.AGREES]

    def test_two_that_deny_are_filed_under_that(self):
        found = compared(*self.pair(12.0, 20.0), suction_pipe=12.2, compressor_inlet=12.3)
        assert {each.verdict for each in found.readings} == {Verdict.DIFFERS}

    def test_the_other_way_round_it_asks_whether_they_are_exchanged(self):
        found = compared(*self.pair(20.0, 12.0))
        assert found.concluded[0].advice == "Are the two clamps, or the two sides, exchanged?"
        assert {each.verdict for each in found.readings} == {Verdict.CANNOT_TELL}


def test_how_far_by_hand_is_from_telemetry():
    assert one(clamp(120.0)).far_k == pytest.approx(100.0)
    beside = ByHand(AT_US, Kind.INLET, "oil_return", Side.AFTER, 120.0, 0.5)
    probes = [20.0] + [40.0] * ("outdoor_coil_gas" in LATE_MODULE.layout.suction_probes)
    assert one(beside).far_k == pytest.approx(120.0 - max(probes))
    assert one(clamp(120.0), compressor_inlet=None).far_k is None
