"""What a supervisor's superheat is made of is found for every way of making it, and only where it can be.

The supervisor of these tests is put together here, from the readings before they are rounded and with
saturation from CoolProp itself, so that it shares no code with what looks for it.
"""

from dataclasses import replace
from functools import cache

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from agent.assess import SECOND, Samples, Signal, assess
from agent.assess.byhour.hours import HOUR_US, Hour, Part, Residual, Stats
from agent.assess.byhour.summing import hours_of
from agent.assess.byhour.supervisor import FEWEST_HOURS, Verdict, identify, pooled
from agent.assess.candidates import Candidate, Pressure, Saturation, candidates
from agent.assess.signals import SUPERVISOR
from agent.piping import RETURN, Layout
from tests.assess.world import START_US, STEP_US, grid, module, samples

FLUIDS = {"R-410A": "R410A", "R-407C": "R407C", "R-32": "R32"}
ATMOSPHERE_PA = 101_325.0  # US Standard Atmosphere 1976
SHOWN = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND, step=0.1)
SHIFT_PA = {"as_is": 0.0, "gauge_for_absolute": -ATMOSPHERE_PA, "absolute_for_gauge": ATMOSPHERE_PA}
HOURS = 8


def of(refrigerant="R-410A", **changes):
    return replace(module(signals={SUPERVISOR: SHOWN}, **changes), refrigerant=refrigerant)


def pressure_pa(minutes):
    """A load that comes and goes within hours; dew of R-410A between -4 and 4 degC."""
    return 800e3 + 90e3 * np.sin(minutes / 47)


PROBES = {
    "suction_pipe": lambda m: 8.0 + 2.5 * np.sin(m / 47 - 0.4),
    "outdoor_coil_gas": lambda m: 60.0 + 3.0 * np.sin(m / 31),
    "compressor_inlet": lambda m: 19.0 + 1.5 * np.sin(m / 71),
}


@cache
def saturation_c(refrigerant, quality, pascal):
    return PropsSI("T", "P", pascal, "Q", quality, FLUIDS[refrigerant]) - 273.15


def shown(refrigerant, probe, saturation, pressure, *, late_min=0.5, off_k=0.0, step=0.1):
    """What a supervisor would publish that scans its readings half a minute before the gateway does."""
    quality = {"dew": 1, "bubble": 0}[saturation]

    def value(minutes):
        at = minutes - late_min
        pascal = round(pressure_pa(at) + SHIFT_PA[pressure], -2)
        superheat = PROBES[probe](at) - saturation_c(refrigerant, quality, pascal) + off_k
        return np.round(superheat / step) * step

    return value


def hours(module_, supervisor, minutes=HOURS * 60, **changed):
    values = PROBES | {"suction_pressure": lambda m: np.round(pressure_pa(m), -3), SUPERVISOR: supervisor}
    given = samples(module_, START_US + minutes * 60 * SECOND, **(values | changed))
    return hours_of(assess(module_, grid(minutes), given, STEP_US), STEP_US)


def found(refrigerant="R-410A", *, of_module=None, mode="cooling", **made):
    this = of_module or of(refrigerant)
    made = {"probe": "suction_pipe", "saturation": "dew", "pressure": "as_is"} | made
    return identify(hours(this, shown(refrigerant, **made)), this, mode)


@pytest.mark.parametrize("pressure", Pressure)
@pytest.mark.parametrize("saturation", Saturation)
@pytest.mark.parametrize("probe", PROBES)
@pytest.mark.parametrize("refrigerant", ["R-407C", "R-410A"])
def test_every_way_of_making_it_is_found(refrigerant, probe, saturation, pressure):
    """The glide of R-407C is 6.3 K at 0 degC and that of R-410A 0.1 K (CoolProp 8.0.0): the one tells the
    lines apart, the other does not, and the probe and the pressure are known all the same."""
    known = found(refrigerant, probe=probe, saturation=saturation, pressure=pressure)
    assert known.verdict is Verdict.IDENTIFIED, known.text
    assert known.probe == probe
    assert {match.candidate.pressure for match in known.group} == {pressure}
    lines = {match.candidate.saturation for match in known.group}
    assert lines == ({saturation} if refrigerant == "R-407C" else set(Saturation))
    assert known.group[0].rms_k < 0.3
    assert known.runner_up.rms_k > 1.0
    assert known.runner_up.candidate not in {match.candidate for match in known.group}


def test_the_lines_of_a_pure_refrigerant_are_one():
    known = found("R-32", probe="compressor_inlet")
    assert (known.verdict, known.probe) == (Verdict.IDENTIFIED, "compressor_inlet")
    dew, bubble = known.group
    assert (dew.candidate.saturation, bubble.candidate.saturation) == tuple(Saturation)
    assert dew.rms_k == pytest.approx(bubble.rms_k, abs=1e-6)
    assert known.said == "made of compressor_inlet against dew or bubble"


class TestWhatMistakesDo:
    """R-410A near -5.5 degC dew (CoolProp 8.0.0): gauge read as absolute gives 8.7 degF too much superheat,
    absolute read as gauge 7.8 degF too little, bubble for dew 0.2 degF too much."""

    @pytest.mark.parametrize(
        ("saturation", "pressure", "more_degf"),
        [
            ("dew", "gauge_for_absolute", 8.7),
            ("dew", "absolute_for_gauge", -7.8),
            ("bubble", "as_is", 0.2),
        ],
    )
    def test_candidates_differ_by_it(self, saturation, pressure, more_degf):
        this = of()
        steady = {"suction_pressure": 666.325e3, "suction_pipe": 0.0, SUPERVISOR: 5.5}
        (hour,) = hours(this, 5.5, 60, **steady)
        offsets = {
            name: residual.total / residual.number
            for name, residual in hour.parts["cooling"].residuals.items()
        }
        wrong, plain = offsets[f"suction_pipe/{saturation}/{pressure}"], offsets["suction_pipe/dew/as_is"]
        assert (plain - wrong) * 1.8 == pytest.approx(more_degf, abs=0.1)


class TestOffset:
    def test_its_own_calibration_is_told_and_does_not_matter(self):
        known = found("R-407C", off_k=0.7)
        assert known.probe == "suction_pipe"
        assert known.group[0].offset_k == pytest.approx(0.7, abs=0.1)
        assert known.group[0].spread_k < 0.3

    def test_more_than_can_be_explained_fits_nothing(self):
        known = found(off_k=2.0)
        assert (known.verdict, known.probe) == (Verdict.NONE_FITS, None)
        assert "nearest is suction_pipe against dew" in known.text
        assert "offset +2.0" in known.text

    def test_unless_the_site_says_how_wrong_it_may_be(self):
        wide = of()
        wide = replace(wide, signals=wide.signals | {SUPERVISOR: replace(SHOWN, half_width=1.5)})
        assert found(of_module=wide, off_k=2.0).probe == "suction_pipe"

    def test_following_counts_before_lying_near(self):
        """A probe that lies nearer on the average, and does not follow, loses to one that does."""
        alike = {"compressor_inlet": lambda m: PROBES["suction_pipe"](m) + 0.6 + 0.8 * np.sin(m / 29)}
        this = of()
        given = hours(this, shown("R-410A", "suction_pipe", "dew", "as_is", off_k=0.6), **alike)
        known = identify(given, this, "cooling")
        assert known.probe == "suction_pipe"
        nearer = known.match(Candidate("compressor_inlet", Saturation.DEW, Pressure.AS_IS))
        assert abs(nearer.offset_k) < abs(known.group[0].offset_k)
        assert nearer.rms_k == pytest.approx(known.group[0].rms_k, abs=0.1)


def test_probes_that_read_alike_cannot_be_told_apart():
    this = of()
    alike = {"compressor_inlet": lambda m: PROBES["suction_pipe"](m) + 0.1}
    known = identify(hours(this, shown("R-410A", "suction_pipe", "dew", "as_is"), **alike), this, "cooling")
    assert (known.verdict, known.probe) == (Verdict.NOT_DISTINGUISHABLE, None)
    assert {match.candidate.probe for match in known.group} == {"suction_pipe", "compressor_inlet"}
    assert "suction_pipe against dew or bubble, or compressor_inlet against" in known.text


def test_a_figure_in_whole_kelvin_hides_small_differences_and_not_large_ones():
    coarse = of()
    coarse = replace(coarse, signals=coarse.signals | {SUPERVISOR: replace(SHOWN, step=1.0)})
    known = found(of_module=coarse, probe="compressor_inlet", step=1.0)
    assert known.probe == "compressor_inlet"
    near = {"compressor_inlet": lambda m: PROBES["suction_pipe"](m) + 0.4}
    made = shown("R-410A", "suction_pipe", "dew", "as_is", step=1.0)
    unsure = identify(hours(coarse, made, **near), coarse, "cooling")
    assert unsure.verdict is Verdict.NOT_DISTINGUISHABLE


def test_a_probe_that_nobody_maps_is_not_taken_for_another():
    known = identify(
        hours(of(), lambda m: 11.5 + np.sin(m / 13)), of(), "cooling"
    )  # between the two, with a life of its own
    assert known.verdict is Verdict.NONE_FITS
    assert known.group == ()
    assert "could be explained" in known.text


def test_it_takes_settled_hours():
    this = of()
    given = hours(this, shown("R-410A", "suction_pipe", "dew", "as_is"))
    assert identify(given[: FEWEST_HOURS - 1], this, "cooling").verdict is Verdict.TOO_FEW
    assert identify(given[:FEWEST_HOURS], this, "cooling").verdict is Verdict.IDENTIFIED
    assert identify(given, this, "heating").verdict is Verdict.TOO_FEW


def test_a_supervisor_that_publishes_none():
    assert identify([], module(), "cooling").verdict is Verdict.NOT_PUBLISHED
    this = module()
    given = samples(this, START_US + HOUR_US)
    assert assess(this, grid(60), given, STEP_US).residuals == {}


def test_without_a_described_piping_nothing_is_named():
    nowhere = of(layout=Layout.unknown(["1"]))
    assert candidates(nowhere) == []
    assert identify([], nowhere, "cooling").verdict is Verdict.NONE_FITS


def test_where_something_is_missing_there_is_no_residual():
    this = of()
    (hour,) = hours(this, 5.0, 60, compressor_inlet=None)
    residuals = hour.parts["cooling"].residuals
    assert "suction_pipe/dew/as_is" in residuals
    assert not any(name.startswith("compressor_inlet") for name in residuals)
    (hour,) = hours(this, None, 60)
    assert not hour.parts["cooling"].residuals


def test_it_is_held_against_return_superheat_too():
    this = of()
    steady = {"suction_pressure": 800e3, "suction_pipe": 8.0, "compressor_inlet": 20.0}
    (hour,) = hours(this, 19.9, 60, **steady)
    difference = pooled([hour], "cooling", RETURN)
    assert difference.number == 120
    assert difference.total / difference.number == pytest.approx(12.0, abs=0.1)


def test_a_name_comes_back_as_its_candidate():
    for each in candidates(of()):
        assert Candidate.of(each.name) == each
    assert len(candidates(of())) == 3 * 2 * 3


def by_hand(residuals, number=120):
    """Hours with the residuals' means and spreads given: name to (offset, spread)."""
    part = Part(
        number,
        number,
        {},
        {"suction_pressure": Stats(number, 8e5, 8e5, 8e5, 0.0)},
        {
            name if "/" in name else f"{name}/dew/as_is": Residual(
                number, number * offset, number * (offset**2 + spread**2)
            )
            for name, (offset, spread) in residuals.items()
        },
    )
    return [
        Hour(START_US + n * HOUR_US, STEP_US, {"cooling": part}, {}, {"1": 120}, {"1": 120}, {"1": 0})
        for n in range(8)
    ]


@pytest.mark.parametrize(
    ("residuals", "probes"),
    [
        ({"suction_pipe": (0.0, 0.05), "compressor_inlet": (12.0, 0.05)}, ["suction_pipe"]),
        ({"suction_pipe": (0.0, 0.05), "compressor_inlet": (0.75, 0.05)}, ["suction_pipe"]),
        (
            {"suction_pipe": (0.0, 0.05), "compressor_inlet": (0.4, 0.05)},
            ["suction_pipe", "compressor_inlet"],
        ),
        ({"suction_pipe": (0.75, 0.1), "compressor_inlet": (0.1, 0.6)}, ["suction_pipe"]),
        ({"suction_pipe": (0.5, 0.3), "compressor_inlet": (-0.6, 0.3)}, ["suction_pipe", "compressor_inlet"]),
        ({"suction_pipe": (0.0, 1.5), "compressor_inlet": (3.0, 0.1)}, []),
        ({"suction_pipe/dew/gauge_for_absolute": (0.1, 0.2), "suction_pipe": (4.0, 0.4)}, ["suction_pipe"]),
        ({"suction_pipe/dew/gauge_for_absolute": (0.6, 0.2), "suction_pipe": (-3.4, 0.4)}, []),
        ({"suction_pipe": (0.6, 0.2), "suction_pipe/bubble/as_is": (0.5, 0.2)}, ["suction_pipe"] * 2),
    ],
)
def test_the_rule_by_figures(residuals, probes):
    known = identify(by_hand(residuals), of(), "cooling")
    assert [match.candidate.probe for match in known.group] == probes


def test_a_probe_that_hardly_reads_proves_nothing():
    given = by_hand({"suction_pipe": (0.5, 0.2)})
    rare = Residual(3, 0.0, 0.0)
    given = [
        replace(
            hour,
            parts={
                "cooling": replace(
                    hour.parts["cooling"],
                    residuals=hour.parts["cooling"].residuals | {"compressor_inlet/dew/as_is": rare},
                )
            },
        )
        for hour in given
    ]
    assert identify(given, of(), "cooling").probe == "suction_pipe"


@pytest.mark.parametrize("seed", range(2))
def test_any_cutting_of_the_time_gives_the_same_residuals(seed):
    this = of()
    rng = np.random.default_rng(seed)
    given = samples(this, START_US + 4 * HOUR_US, **PROBES)
    gone = rng.random(len(given[SUPERVISOR].time_us)) < 0.3
    given[SUPERVISOR] = Samples(
        given[SUPERVISOR].time_us,
        np.where(gone, np.nan, given[SUPERVISOR].value + rng.normal(size=len(gone))),
    )
    whole = hours_of(assess(this, grid(240), given, STEP_US), STEP_US)
    later = hours_of(assess(this, grid(240)[120:], given, STEP_US), STEP_US)
    assert later == whole[1:]
