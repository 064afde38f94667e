"""Readings by hand against telemetry.

Uncertainties: JCGM 100:2008, 4.3.7 (limits are rectangular half-widths), F.2.2.1 (steps), 5.1.2 (combined),
6.3.3 (k = 2), each worked out here anew. Saturation of R-410A: check
values by CoolProp 8.0.0 and teqp 0.23.2.
"""

from dataclasses import replace
from math import sqrt

import numpy as np
import pytest

from agent.assess import CODE, SECOND, Samples, Side
from agent.assess.by_hand.handheld import ByHand, Kind, Of, Verdict, compare
from agent.piping import Layout
from tests.assess.world import LATE, START_US, THERMISTOR, TRANSDUCER, mode_by, module, samples
from tests.piping.layouts import shipped

MINUTE_US = 60 * SECOND
AT_US = START_US + 45 * MINUTE_US
LATE_MODULE = module(LATE, signals={"discharge_pressure": TRANSDUCER, "discharge_1": THERMISTOR})
UNPROVEN = module(Layout.from_mapping(shipped("two-pipe-twin-unproven")))


def clamp(value, place="compressor_inlet", kind=Kind.PROBE, side=None, at_us=AT_US, half_width=0.5):
    return ByHand(at_us, kind, place, side, value, half_width)


def gauge(value_pa, place="suction_pressure", half_width=8e3):
    return ByHand(AT_US, Kind.TRANSDUCER, place, None, value_pa, half_width)


def compared(*by_hand, of=LATE_MODULE, **telemetry):
    at = {each.at_us: samples(of, each.at_us, **telemetry) for each in by_hand}
    return compare(of, by_hand, at)


def one(hand, **more):
    (found,) = compared(hand, **more).readings
    return found


class TestAProbe:
    def test_two_half_kelvin_instruments_without_steps(self):
        """Check value of JCGM 100 4.3.7: two limits of 0.5 K give U = 0.8165 K."""
        of = replace(
            LATE_MODULE, signals=LATE_MODULE.signals | {"compressor_inlet": replace(THERMISTOR, step=0.0)}
        )
        found = one(clamp(19.2), of=of)
        assert found.u_k == pytest.approx(0.8165, abs=5e-5)
        assert (found.verdict, found.difference_k) == (Verdict.AGREES, pytest.approx(0.8))
        assert one(clamp(19.18), of=of).verdict is Verdict.DIFFERS

    def test_the_probes_step_and_the_clamps_accuracy_count(self):
        coarse = replace(THERMISTOR, half_width=1.0, step=1.0)
        of = replace(LATE_MODULE, signals=LATE_MODULE.signals | {"compressor_inlet": coarse})
        found = one(clamp(18.5, half_width=0.2), of=of)
        assert found.u_k == pytest.approx(2 * sqrt(0.2**2 / 3 + 1.0**2 / 3 + 1.0**2 / 12))
        assert found.verdict is Verdict.DIFFERS

    def test_sentences(self):
        assert one(clamp(19.7)).text == (
            "19.7 degC by hand, 20.0 degC by telemetry: they agree within ±0.8 K"
        )
        assert one(clamp(17.6)).text == (
            "17.6 degC by hand, 20.0 degC by telemetry: 2.4 K more than by hand, beyond the ±0.8 K that both "
            "instruments explain"
        )
        assert "2.0 K less than by hand" in one(clamp(22.0)).text

    def test_of_the_discharge_too(self):
        assert one(clamp(75.4, "discharge_1")).verdict is Verdict.AGREES

    @pytest.mark.parametrize(
        ("telemetry", "why"),
        [
            ({"compressor_inlet": None}, "compressor_inlet had no reading then that was at most 120 s old"),
            ({"compressor_inlet": lambda m: 20.0 + 0.13 * m}, "compressor_inlet is drifting"),
            (
                {"compressor_inlet": lambda m: 20.0 + 2 * float(round(2 * m) % 2)},
                "compressor_inlet is swinging",
            ),
            ({"mode": mode_by(40, "heating", "cooling")}, "the mode changed a short while ago"),
            ({"mode": CODE["defrost"]}, "nothing is judged in mode defrost"),
            (
                {"bypass_valve": lambda m: float(m >= 43)},
                "a valve or a compressor switched a short while ago",
            ),
        ],
    )
    def test_what_had_not_settled_is_not_judged(self, telemetry, why):
        found = one(clamp(12.0), **telemetry)
        assert found.verdict is Verdict.CANNOT_TELL
        assert found.text.endswith(f"cannot tell, {why}")

    def test_figures_are_given_though_they_are_not_judged(self):
        found = one(clamp(12.0), mode=mode_by(40, "heating", "cooling"))
        assert (found.telemetry, found.difference_k) == (20.0, pytest.approx(8.0))
        gone = one(clamp(12.0), compressor_inlet=None)
        assert (gone.telemetry, gone.difference_k, gone.u_k) == (None, None, None)

    def test_a_probe_without_a_signal(self):
        found = one(clamp(40.0, "discharge_2"))
        assert found.text == "40.0 degC by hand: cannot tell, no readings of discharge_2 come"

    def test_a_reading_older_than_its_age_does_not_count(self):
        """Read 121 s ago with 120 s allowed: missing, as in a frame. 119 s: it counts."""
        for age_s, verdict in ((119, Verdict.AGREES), (121, Verdict.CANNOT_TELL)):
            given = samples(LATE_MODULE, AT_US)
            last = given["compressor_inlet"]
            kept = last.time_us <= AT_US - age_s * SECOND
            times = np.append(last.time_us[kept][:-1], AT_US - age_s * SECOND)
            given["compressor_inlet"] = Samples(times, last.value[kept])
            (found,) = compare(LATE_MODULE, [clamp(20.0)], {AT_US: given}).readings
            assert found.verdict is verdict

    def test_at_a_standstill_what_has_come_to_rest_is_judged(self):
        still = {"mode": CODE["off"], "compressor_1_speed": 0.0, "suction_pipe": 20.0}
        assert one(clamp(20.2), **still).verdict is Verdict.AGREES


class TestATransducer:
    def test_pressures_are_judged_in_pascal_and_told_in_kelvin_too(self):
        """R-410A dew near 666 kPa: 0.045045 K/kPa (JCGM 100 case of the check values)."""
        of = LATE_MODULE
        found = one(gauge(666.325e3), of=of, suction_pressure=696.325e3)
        expected = 2 * sqrt(10e3**2 / 3 + 1e3**2 / 12 + 8e3**2 / 3)
        assert found.u_k == pytest.approx(0.045045e-3 * expected, rel=1e-3)
        assert found.difference_k == pytest.approx(30 * 0.045045, rel=0.03)
        assert found.verdict is Verdict.DIFFERS
        assert found.text == (
            "666.3 kPa absolute by hand, 696.3 kPa absolute by telemetry: 30.0 kPa more than by hand "
            "(1.3 K of dew temperature), beyond the ±14.8 kPa that both instruments explain"
        )
        assert one(gauge(690e3), of=of, suction_pressure=696.325e3).verdict is Verdict.AGREES

    def test_the_discharge(self):
        assert one(gauge(2510e3, "discharge_pressure", 25e3)).verdict is Verdict.AGREES

    def test_outside_the_table_there_is_no_figure_in_kelvin(self):
        found = one(gauge(3e3))
        assert (found.difference_k, found.u_k) == (None, None) and found.verdict is Verdict.DIFFERS


class TestAnOffset:
    def times(self, *values):
        return [clamp(value, at_us=AT_US - 20 * MINUTE_US * n) for n, value in enumerate(values)]

    def offset(self, *values, **more):
        found = compared(*self.times(*values), **more).concluded
        return found[0] if found else None

    def test_one_reading_is_none(self):
        assert self.offset(18.0) is None

    def test_limits_of_hand_instruments_do_not_average_out_but_scatter_does(self):
        found = self.offset(17.8, 18.0, 18.2)
        scatter = 0.2  # standard deviation of 1.8, 2.0, 2.2 (JCGM 100 4.2.2)
        assert found.of is Of.OFFSET and found.probe == "compressor_inlet"
        assert found.difference_k == pytest.approx(2.0)
        assert found.u_k == pytest.approx(2 * sqrt(0.5**2 / 3 + scatter**2 / 3))
        assert found.verdict is Verdict.DIFFERS
        assert found.text == (
            "from 3 readings by hand compressor_inlet reads +2.0 K ±0.6: an offset beyond its "
            "limit of error (0.5 K)"
        )

    def test_one_that_the_limit_of_error_covers(self):
        found = self.offset(19.3, 19.3)
        assert found.verdict is Verdict.AGREES
        assert found.text.endswith("+0.7 K ±0.6: an offset that its limit of error (0.5 K) still covers")

    def test_none_that_could_be_told(self):
        assert self.offset(19.8, 20.1).text.endswith("no offset that they could tell")

    def test_what_could_not_be_judged_does_not_count(self):
        assert self.offset(17.8, 18.0, mode=CODE["defrost"]) is None


class TestASide:
    """A clamp ahead of the oil return at 12 degC and one after it at 20 degC."""

    def pair(self, ahead=12.0, after=20.0, inlet="oil_return", apart_min=5):
        return (
            clamp(ahead, inlet, Kind.INLET, Side.AHEAD, AT_US - apart_min * MINUTE_US),
            clamp(after, inlet, Kind.INLET, Side.AFTER),
        )

    def sides(self, *by_hand, **more):
        found = compared(*(by_hand or self.pair()), **more).concluded
        assert all(each.of is Of.SIDE and each.inlet for each in found)
        return {each.probe: each for each in found}

    def test_probes_that_sit_as_the_layout_has_them_confirm_it(self):
        found = self.sides(suction_pipe=12.2)
        assert {name: each.side for name, each in found.items()} == {
            "suction_pipe": Side.AHEAD,
            "compressor_inlet": Side.AFTER,
        }
        assert not any(each.contradicts_layout for each in found.values())
        assert found["compressor_inlet"].text == (
            "ahead of oil_return 12.0 degC by hand, after it 20.0, compressor_inlet 20.0 by telemetry: "
            "compressor_inlet sits after oil_return (within ±0.8 K), and layout two-pipe-twin-late "
            "says so: it is confirmed there"
        )

    def test_a_probe_that_sits_otherwise_denies_it(self):
        found = self.sides(suction_pipe=12.2, compressor_inlet=12.3)["compressor_inlet"]
        assert (found.side, found.verdict, found.contradicts_layout) == (Side.AHEAD, Verdict.DIFFERS, True)
        assert found.text.endswith(
            "sits ahead of oil_return (within ±0.8 K), and layout two-pipe-twin-late says after: "
            "this layout is denied"
        )

    def test_what_the_layout_leaves_open_is_told(self):
        found = self.sides(of=UNPROVEN, second_suction=20.2, suction_pipe=12.0, oil_valve=1.0)[
            "second_suction"
        ]
        assert (found.side, found.verdict) == (Side.AFTER, Verdict.AGREES)
        assert found.text.endswith("layout two-pipe-twin-unproven leaves that open")

    def test_the_probe_on_the_high_side_is_not_asked(self):
        of = module(LATE)
        assert "outdoor_coil_gas" in of.signals
        assert "outdoor_coil_gas" not in self.sides(of=of, suction_pipe=12.2, outdoor_coil_gas=12.0)

    def test_clamps_no_further_apart_than_their_errors_tell_nothing(self):
        (found,) = self.sides(*self.pair(12.0, 12.8)).values()
        assert (found.probe, found.side, found.verdict) == ("", Side.CANNOT_TELL, Verdict.CANNOT_TELL)
        assert "no more than the clamps' own errors (±0.8 K)" in found.text
        assert len(self.sides(*self.pair(12.0, 12.9), suction_pipe=12.2)) == 2

    def test_a_probe_like_both_or_like_neither(self):
        found = self.sides(*self.pair(12.0, 13.0), compressor_inlet=12.5, suction_pipe=9.0)
        assert found["compressor_inlet"].text.endswith("it reads like both clamps")
        assert found["suction_pipe"].text.endswith("it reads like neither clamp")
        assert {each.side for each in found.values()} == {Side.CANNOT_TELL}

    def test_a_difference_the_wrong_way_round_is_for_a_look_on_site(self):
        (found,) = self.sides(*self.pair(20.0, 12.0)).values()
        assert "the other way than oil_return works; look on site" in found.text

    def test_more_than_ten_minutes_apart_they_are_no_pair(self):
        assert self.sides(*self.pair(apart_min=11)) == {}

    def test_both_must_have_settled(self):
        found = self.sides(compressor_inlet=lambda m: 20.0 if m < 41 else 20 + 0.5 * (m - 41))
        assert found["compressor_inlet"].side is Side.CANNOT_TELL
        assert (
            "cannot tell where compressor_inlet sits, compressor_inlet is" in found["compressor_inlet"].text
        )

    def test_one_clamp_alone_says_what_it_takes(self):
        found = one(self.pair()[1])
        assert found.verdict is Verdict.CANNOT_TELL
        assert "with a clamp on the other side of oil_return within 10 min" in found.text
        for each in compared(*self.pair()).readings:
            assert each.text.endswith(
                "beside the clamp on the other side of oil_return, see what follows from both"
            )

    def test_of_an_inlet_that_a_corrected_layout_does_not_have_nothing_is_told(self):
        found = compared(*self.pair(inlet="subcooler"))
        assert found.concluded == ()
        assert found.readings[1].text.endswith(
            "cannot tell, layout two-pipe-twin-late has no inlet subcooler"
        )

    def test_a_cold_inlet_in_between_may_hide_a_warm_one(self):
        """Hot oil and then a cooling stream: the probe behind both may read as if it were ahead of both."""
        data = shipped("two-pipe-twin-late")
        data["inlets"]["hot_gas_bypass"] = {"effect": "cools", "valve": "bypass_valve"}
        of = module(Layout.from_mapping(data))
        hidden = {"suction_pipe": 12.2, "compressor_inlet": 12.2}
        found = self.sides(of=of, bypass_valve=1.0, **hidden)["compressor_inlet"]
        assert found.side is Side.CANNOT_TELL
        assert found.text.endswith("hot_gas_bypass joins in between and may undo what oil_return does")
        assert self.sides(of=of, bypass_valve=0.0, **hidden)["compressor_inlet"].side is Side.AHEAD
