"""Wet compression, a hot discharge and subcooling: conditions, evidence, and how soon to look."""

from dataclasses import replace

import numpy as np
import pytest

from agent.alarms import CATALOGUE, CONDITIONS, Detection, conditions, facts, priority
from agent.assess import (
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    SUBCOOLING,
    Assessment,
    Cause,
    Quantity,
    Said,
    Signal,
    Status,
    assess,
)
from agent.assess.module import SECOND
from agent.assess.stretch import Track
from agent.piping import COMPRESSOR_INLET, RETURN, Standing
from tests.alarms.stretches import stretch
from tests.assess.world import LATE, STEP_US, TRANSDUCER, grid, module, samples

WET, HOT = "discharge-superheat-low", "discharge-temperature-high"
ROW = (9.0, 1.0, 1.0)  # a comfortable return superheat
UNSURE = (9.0, 1.0, 1.0, "not_settled")


def with_tracks(tracks, running=None, row=ROW, **more):
    """A stretch of one grid time: each track (value, below, above, status, standing)."""
    base = stretch(row, **more)
    phrases = list(base.phrases)
    found = dict(base.tracks)
    for name, (value, below, above, *words) in tracks.items():
        status, standing = (*words, *("decided", "fit")[len(words) :])
        phrases.append(Said(Status(status), Cause.NONE, f"of {name}", Standing(standing), ("pipe",)))
        found[name] = Track(
            *(np.array([x], float) for x in (value, below, above)), np.array([len(phrases) - 1])
        )
    states = {name: np.array([state]) for name, state in (running or {"1": 1, "2": 1}).items()}
    return type(base)(
        **{
            **{field: getattr(base, field) for field in base.__dataclass_fields__},
            "tracks": found,
            "phrases": tuple(phrases),
            "running": states,
        }
    )


def condition(alarm, tracks, catalogue=CATALOGUE, **more):
    return str(CONDITIONS[conditions(with_tracks(tracks, **more), catalogue)[alarm][0]])


def margins(**of):
    return {f"{DISCHARGE_MARGIN}{name[1:]}": row for name, row in of.items()}


NOTHING = (np.nan, np.nan, np.nan, "not_decidable", "fit")
ABSENT = (np.nan, np.nan, np.nan, "not_measurable", "not_measurable")


class TestWet:
    @pytest.mark.parametrize(
        ("row", "expected"),
        [
            ((-10.1, 10.0, 10.0), "beyond_doubt"),
            ((-10.0, 10.0, 10.0), "inside"),  # inside the band nothing is decided
            ((0.0, 10.0, 10.0), "inside"),
            ((10.0, 10.0, 10.0), "inside"),
            ((10.1, 10.0, 10.0), "clear"),
            ((-30.0, 10.0, 10.0, "not_settled"), "unknown"),  # a pipe holds heat
            ((-30.0, 10.0, 10.0, "not_decidable"), "unknown"),
        ],
    )
    def test_of_one_compressor(self, row, expected):
        assert condition(WET, margins(_1=row), running={"1": 1}, row=UNSURE) == expected

    @pytest.mark.parametrize(
        ("second", "state", "expected"),
        [
            ((20.0, 10.0, 10.0), 1, "clear"),
            ((-20.0, 10.0, 10.0), 1, "beyond_doubt"),
            (NOTHING, 0, "clear"),  # it stands
            (NOTHING, 1, "inside"),  # it runs, and is not told of
            (NOTHING, -1, "inside"),
            (ABSENT, 1, "clear"),  # nobody could ever tell of it
        ],
    )
    def test_of_two_any_is_wet_and_all_that_run_are_dry(self, second, state, expected):
        tracks = margins(_1=(20.0, 10.0, 10.0), _2=second)
        assert condition(WET, tracks, running={"1": 1, "2": state}, row=UNSURE) == expected

    @pytest.mark.parametrize(
        ("row", "expected"),
        [
            (ROW, "beyond"),  # either liquid joins after that probe, or the discharge probe reads low
            ((1.9, 1.9, 1.9), "beyond_doubt"),  # it is not clear of zero
            ((9.0, 1.0, 1.0, "decided", "second_best"), "beyond_doubt"),
            ((9.0, 1.0, 1.0, "not_settled"), "beyond_doubt"),
        ],
    )
    def test_a_fit_return_superheat_that_is_clear_of_zero_takes_the_doubt_to_the_probe(self, row, expected):
        assert condition(WET, margins(_1=(-20.0, 10.0, 10.0)), running={"1": 1}, row=row) == expected

    @pytest.mark.parametrize(
        ("margin", "cause", "expected"),
        [
            (-10.1, Cause.FALLING, "possible"),  # the hot shell makes it read too hot, and yet it is cold
            (-10.1, Cause.SPREAD, "possible"),
            (-9.9, Cause.FALLING, "unknown"),
            (-10.1, Cause.SLOPE, "unknown"),  # it rises: a shell that is still cold
        ],
    )
    def test_gas_that_falls_or_swings_and_is_too_cold_is_possible(self, margin, cause, expected):
        base = with_tracks(margins(_1=(margin, 10.0, 10.0, "not_settled")), running={"1": 1}, row=UNSURE)
        phrases = (*base.phrases[:-1], base.phrases[-1]._replace(cause=cause))
        found = conditions(replace(base, phrases=phrases))[WET][0]
        assert str(CONDITIONS[found]) == expected

    def test_without_a_margin_it_is_unknown(self):
        assert condition(WET, {}) == condition(WET, margins(_1=ABSENT)) == "unknown"

    @pytest.mark.parametrize(
        ("row", "margin", "expected"),
        [
            ((1.9, 1.9, 1.9), -20.0, "beyond_doubt"),  # the discharge agrees
            ((1.9, 1.9, 1.9), -5.0, "beyond"),
            ((1.9, 1.9, 1.9), 20.0, "beyond"),  # a dry discharge takes nothing away
            ((9.0, 1.0, 1.0), -20.0, "clear"),  # that is for the alarm on the discharge
        ],
    )
    def test_superheat_low_is_sure_where_the_discharge_agrees(self, row, margin, expected):
        assert condition("superheat-low", margins(_1=(margin, 10.0, 10.0)), row=row) == expected


class TestHot:
    """Warn 105 degC, act 115 degC: common practice, no source."""

    @pytest.mark.parametrize(
        ("value", "expected"),
        [
            (100.0, "clear"),
            (100.1, "inside"),
            (104.9, "inside"),
            (105.0, "beyond"),
            (114.9, "beyond"),
            (115.0, "beyond_doubt"),
            (np.nan, "unknown"),
        ],
    )
    @pytest.mark.parametrize("status", ["decided", "not_settled", "not_decidable"])
    def test_whatever_the_words_are(self, value, expected, status):
        tracks = {DISCHARGE_TEMPERATURE + "1": (value, 1.0, 1.0, status)}
        for mode in ("cooling", "defrost", "oil_recovery", "unknown"):
            assert condition(HOT, tracks, mode=mode) == expected

    def test_a_few_minutes_after_a_defrost_are_ordinary(self):
        """Common practice, no source."""
        limits = CATALOGUE[HOT].limits
        assert (limits.on_delay_s, limits.urgent_on_delay_s) == (600, 120)

    def test_the_hottest_counts(self):
        tracks = {
            DISCHARGE_TEMPERATURE + n: (t, 1.0, 1.0) for n, t in (("1", 90.0), ("2", 108.0), ("3", np.nan))
        }
        assert condition(HOT, tracks) == "beyond"

    def test_a_site_may_set_its_own_limits(self):
        own = CATALOGUE | {HOT: CATALOGUE[HOT].with_limits(limit_c=95.0, urgent_c=100.0)}
        tracks = {DISCHARGE_TEMPERATURE + "1": (101.0, 1.0, 1.0)}
        assert condition(HOT, tracks, own) == "beyond_doubt"
        assert condition(HOT, tracks) == "inside"


class TestSubcooling:
    """3 to 12 K: common practice, no source."""

    @pytest.mark.parametrize(
        ("row", "low", "high"),
        [
            ((2.0, 1.5, 0.9), "beyond", "clear"),
            ((2.0, 1.5, 1.0), "inside", "clear"),
            ((4.0, 1.5, 0.9), "clear", "clear"),
            ((12.0, 1.5, 0.9), "clear", "inside"),
            ((13.5, 1.5, 0.9), "clear", "inside"),
            ((13.6, 1.5, 0.9), "clear", "beyond"),
            ((13.6, 1.5, 0.9, "decided", "upper_bound"), "clear", "unknown"),
            ((1.0, 1.5, 0.9, "decided", "upper_bound"), "beyond", "unknown"),
            ((1.0, 1.5, 0.9, "decided", "second_best"), "unknown", "unknown"),
            ((1.0, 1.5, 0.9, "not_settled"), "unknown", "unknown"),
        ],
    )
    def test_with_the_full_uncertainty(self, row, low, high):
        assert condition("subcooling-low", {SUBCOOLING: row}) == low
        assert condition("subcooling-high", {SUBCOOLING: row}) == high

    @pytest.mark.parametrize("mode", ["simultaneous", "defrost", "starting"])
    def test_other_modes_are_not_judged(self, mode):
        assert condition("subcooling-low", {SUBCOOLING: (0.0, 0.5, 0.5)}, mode=mode) == "unknown"


def quantity(value, below=10.0, above=10.0, status="decided", probe="discharge_1", reason="as set"):
    words = Said(Status(status), Cause.NONE, reason, Standing.FIT, (probe,))
    return Quantity(words, value, *((below, above) if value is not None else (None, None)))


def assessment(**more):
    found = {
        RETURN: quantity(9.0, 1.0, 1.0, probe="suction_pipe"),
        COMPRESSOR_INLET: quantity(12.0, 1.0, 1.0, probe="compressor_inlet"),
    }
    return Assessment(0, 1, "cooling", {}, None, found | more, {})


class TestFacts:
    def test_a_wet_discharge_speaks_over_a_comfortable_probe(self):
        wet = {DISCHARGE_MARGIN + "1": quantity(-15.0), DISCHARGE_SUPERHEAT + "1": quantity(5.0, 2.0, 2.0)}
        found = facts(CATALOGUE[WET], assessment(**wet), None)
        assert found.text == (
            "liquid, or a discharge probe or pressure that reads low: discharge superheat of compressor 1 is "
            "5.0 K at discharge_1; saturated suction would give 10 to 30 K. suction_pipe shows a comfortable "
            "9.0 K of superheat all the same: either liquid joins after that probe, or the discharge probe "
            "reads low"
        )
        assert (found.probe, found.value_k, found.above_k) == ("discharge_1", -15.0, 10.0)

    def test_inside_the_band_and_without_any(self):
        inside = {DISCHARGE_MARGIN + "1": quantity(-5.0), DISCHARGE_SUPERHEAT + "1": quantity(15.0)}
        text = facts(CATALOGUE[WET], assessment(**inside), None).text
        assert text.endswith("between these nothing is decided") and "comfortable" not in text
        assert "diluted" not in text
        thin = {DISCHARGE_MARGIN + "1": quantity(-5.0), DISCHARGE_SUPERHEAT + "1": quantity(9.0)}
        text = facts(CATALOGUE[WET], assessment(**thin), None).text
        assert text.endswith("oil in a high-side shell may be diluted; no proof of wet suction")
        stands = {
            DISCHARGE_MARGIN + "1": quantity(None, status="not_decidable", reason="compressor 1 stands")
        }
        assert facts(CATALOGUE[WET], assessment(**stands), None).text.endswith("compressor 1 stands")
        assert facts(CATALOGUE[WET], assessment(), None).text.endswith("discharge is measured")

    def test_superheat_low_says_that_the_discharge_agrees(self):
        wet = {DISCHARGE_MARGIN + "1": quantity(-15.0), RETURN: quantity(1.0, 1.0, 1.0, probe="suction_pipe")}
        text = facts(CATALOGUE["superheat-low"], assessment(**wet), None).text
        assert text.endswith(
            "limit 2 K; the discharge of compressor 1 agrees: it is colder than saturated suction makes it"
        )

    def test_a_hot_discharge(self):
        hot = {
            DISCHARGE_TEMPERATURE + "1": quantity(90.0),
            DISCHARGE_TEMPERATURE + "2": quantity(
                118.04, status="not_settled", probe="discharge_2", reason="discharge_2 is drifting"
            ),
        }
        found = facts(CATALOGUE[HOT], assessment(**hot), None)
        assert found.text == (
            "discharge of compressor 2 is 118.0 degC at discharge_2, limit 105 degC, urgent from 115 degC; "
            "not settled: discharge_2 is drifting"
        )
        assert found.value_k is found.limit_k is None
        assert "cannot be told now" in facts(CATALOGUE[HOT], assessment(), None).text

    def test_subcooling(self):
        found = facts(
            CATALOGUE["subcooling-low"],
            assessment(subcooling=quantity(1.0, 1.5, 0.9, probe="liquid_line")),
            None,
        )
        assert found.text == "subcooling 1.0 K (-1.5 +0.9) at liquid_line, limit 3 K"
        assert (found.value_k, found.limit_k) == (1.0, 3.0)
        assert "cannot be told" in facts(CATALOGUE["subcooling-high"], assessment(), None).text


def test_priority_does_not_hang_on_the_return_probe():
    second_best = Said(Status.DECIDED, Cause.NONE, "", Standing.SECOND_BEST, ("suction_pipe",))
    then = assessment(**{RETURN: Quantity(second_best, 9.0, 1.0, 1.0)})
    sure, beyond = (Detection(active=True, level=level) for level in ("beyond_doubt", "beyond"))
    assert priority(CATALOGUE[WET], sure, then) == "high"
    assert priority(CATALOGUE[HOT], sure, then) == "high"
    assert priority(CATALOGUE[HOT], beyond, then) == "medium"
    assert priority(CATALOGUE["superheat-low"], sure, then) == "low"


def test_a_warm_late_probe_over_wet_compression():
    """Hot gas from the oil return lifts the late probe to 20 K while liquid comes with it."""
    clamp = Signal(120 * SECOND, 30 * SECOND, 1.0, 0.1)
    of = module(
        LATE, signals={"discharge_pressure": TRANSDUCER, "discharge_1": clamp}, without=("suction_pipe",)
    )
    given = samples(of, int(grid(20)[-1]), compressor_inlet=20.0, discharge_1=45.0)  # 41.2 degC is dew
    found = assess(of, grid(20), given, STEP_US)
    late = found.tracks[COMPRESSOR_INLET]
    assert late.value[-1] - late.below[-1] > 15
    codes = conditions(found)
    assert str(CONDITIONS[codes[WET][-1]]) == "beyond_doubt"
    assert str(CONDITIONS[codes["superheat-low"][-1]]) == "unknown"


class TestLateProbe:
    """The compressor inlet reads 1.3 K behind an accumulator: the discharge tells what that means."""

    LATE = (1.3, 1.6, 1.0)

    @pytest.mark.parametrize(
        ("margin", "expected"),
        [
            ((10.1, 10.0, 10.0), "clear"),
            ((0.0, 10.0, 10.0), "possible"),
            (NOTHING, "possible"),
            ((-10.1, 10.0, 10.0), "beyond_doubt"),
        ],
    )
    def test_the_discharge_tells(self, margin, expected):
        """Common practice, no source: an accumulator's outlet is saturated while it holds liquid."""
        assert condition("superheat-low", margins(_1=margin), late=self.LATE) == expected

    def test_a_discharge_that_is_decided_watches_what_the_accumulator_hides(self):
        row = (0.1, 0.5, 0.1, "decided", "after_accumulator")
        assert condition("watch-blind", margins(_1=(0.0, 10.0, 10.0)), row=row) == "clear"
        assert condition("watch-blind", margins(_1=NOTHING), row=row) == "beyond"
