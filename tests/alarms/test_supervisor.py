"""The supervisor's own superheat, held by the hour against what its probe is worth in the mode."""

from dataclasses import replace

import numpy as np
import pytest

from agent.alarms import CATALOGUE, Condition, Past, conditions, judge, with_supervisor
from agent.alarms.supervisor import probe_unfit
from agent.assess import SECOND, Signal
from agent.assess.byhour.baseline import Baseline
from agent.assess.byhour.hours import HOUR_US, Hour, Part, Residual, Stats
from agent.assess.signals import SUPERVISOR
from agent.piping import RETURN, Layout
from tests.alarms.stretches import stretch
from tests.assess.byhour.test_supervisor import hours, of, shown
from tests.assess.world import START_US, STEP_US, module
from tests.piping.layouts import layout as drawn
from tests.piping.layouts import shipped

ENTRY = with_supervisor(CATALOGUE, None, [SUPERVISOR])["probe-unfit"]
UNPROVEN = Layout.from_mapping(shipped("two-pipe-twin-unproven"))


def judged(this, given):
    past = Past(this, Baseline(), tuple(given))
    found = judge(past, {ENTRY.name: ENTRY})[ENTRY.name]
    assert found == probe_unfit(past, ENTRY)
    return found


def found(refrigerant="R-410A", **made):
    made = {"probe": "suction_pipe", "saturation": "dew", "pressure": "as_is"} | made
    this = of(refrigerant)
    return judged(this, hours(this, shown(refrigerant, **made)))


def test_a_probe_after_the_oil_return_is_unfit_and_by_how_much_it_misleads():
    condition, facts = found(probe="compressor_inlet")
    assert condition is Condition.BEYOND
    assert facts.probe == "compressor_inlet"
    # settled readings of the two pipes are 11 K apart on the average, against the same dew line
    assert facts.misleads_k == pytest.approx(11.0, abs=0.5)
    assert facts.value_k == pytest.approx(19.0 - 0.1, abs=0.7)  # dew of R-410A at 800 kPa is near 0.1 degC
    for words in (
        "is mixed in cooling",
        "oil_return",
        "residual 0.",
        "the next, ",
        "more than return superheat",
    ):
        assert words in facts.text


def test_a_fit_probe_is_clear():
    condition, facts = found()
    assert (condition, facts.probe) == (Condition.CLEAR, "suction_pipe")
    assert facts.misleads_k == pytest.approx(0.0, abs=0.3)


@pytest.mark.parametrize(
    ("refrigerant", "saturation", "pressure", "condition"),
    [
        ("R-410A", "dew", "gauge_for_absolute", Condition.BEYOND),  # 4 K of superheat too much (computed)
        ("R-410A", "dew", "absolute_for_gauge", Condition.BEYOND),  # 3.5 K too little (computed)
        ("R-407C", "bubble", "as_is", Condition.BEYOND),  # glide 6.3 K at 0 degC (CoolProp 8.0.0)
        ("R-410A", "bubble", "as_is", Condition.CLEAR),  # glide 0.1 K (CoolProp 8.0.0)
        ("R-32", "bubble", "as_is", Condition.CLEAR),  # none
    ],
)
def test_a_wrong_pressure_or_line_counts_where_it_matters(refrigerant, saturation, pressure, condition):
    known = found(refrigerant, saturation=saturation, pressure=pressure)
    assert known.condition is condition, known.facts.text
    assert known.facts.probe == "suction_pipe"
    if condition is Condition.BEYOND:
        assert "if the pressure here is right" in known.facts.text


def test_within_what_the_instruments_allow_a_shift_does_not_matter():
    """The superheat of this suction pipe is known to several K only: one atmosphere is less."""
    this = of()
    rough = replace(this.signals["suction_pressure"], half_width=200e3)
    this = replace(this, signals=this.signals | {"suction_pressure": rough})
    known = judged(this, hours(this, shown("R-410A", "suction_pipe", "dew", "gauge_for_absolute")))
    assert known.condition is Condition.CLEAR
    assert "which does not matter here" in known.facts.text


def test_without_a_decided_return_superheat_the_bias_is_not_told():
    this = of()
    given = hours(this, shown("R-410A", "compressor_inlet", "dew", "as_is"), suction_pipe=None)
    condition, facts = judged(this, given)
    assert condition is Condition.BEYOND
    assert facts.misleads_k is None
    assert "by how much it misleads cannot be told" in facts.text


def test_what_cannot_be_told_apart_is_judged_only_where_it_does_not_matter():
    this = of()
    made = shown("R-410A", "suction_pipe", "dew", "as_is")
    alike = {"compressor_inlet": lambda m: 8.1 + 2.5 * np.sin(m / 47 - 0.4)}
    condition, facts = judged(this, hours(this, made, **alike))
    assert condition is Condition.UNKNOWN
    assert "it matters which" in facts.text


def test_a_side_that_the_layout_leaves_open_is_not_judged():
    this = module(UNPROVEN, signals={SUPERVISOR: Signal(120 * SECOND, 30 * SECOND, step=0.1)})
    known = judged(this, by_hand("second_suction"))
    assert known.condition is Condition.UNKNOWN


def by_hand(probe, mode="cooling", first=0, count=8):
    part = Part(
        120,
        120,
        {RETURN: Stats(120, 6.0, 5.0, 7.0, 0.2, 1.5, 0.8)},
        {"suction_pressure": Stats(120, 8e5, 8e5, 8e5, 0.0), SUPERVISOR: Stats(120, 10.0, 9.0, 11.0, 0.2)},
        {f"{probe}/dew/as_is": Residual(120, 0.0, 1.2), RETURN: Residual(120, 480.0, 2000.0)},
    )
    return [
        Hour(START_US + n * HOUR_US, STEP_US, {mode: part}, {}, {"1": 120}, {"1": 120}, {"1": 0})
        for n in range(first, first + count)
    ]


def test_one_mode_of_several_is_enough():
    """The outdoor coil's pipe holds hot gas in cooling and returning vapour in heating."""
    this = of()
    clear = by_hand("outdoor_coil_gas", "heating")
    assert judged(this, clear).condition is Condition.CLEAR
    known = judged(
        this, [*by_hand("outdoor_coil_gas", "cooling"), *by_hand("outdoor_coil_gas", "heating", 8)]
    )
    assert known.condition is Condition.BEYOND
    assert "high side in cooling" in known.facts.text


def test_a_branch_counts_as_its_compressor_mostly_ran():
    layout = Layout.from_mapping(shipped("two-pipe-twin-branches"))
    this = module(layout, signals={SUPERVISOR: Signal(120 * SECOND, 30 * SECOND, step=0.1)})
    for probe in layout.suction_probes:
        fitness = layout.fitness("cooling", dict.fromkeys(layout.valves, False), ["1"])[probe]
        known = judged(this, by_hand(probe))
        assert (known.condition is Condition.CLEAR) == (fitness.verdict == "fit"), (probe, known)


@pytest.mark.parametrize(("ran", "verdict"), [(60, "idle"), (61, "mixed")])
def test_a_compressor_that_ran_for_half_the_time_did_not_mostly_run(ran, verdict):
    layout = Layout.from_mapping(shipped("two-pipe-twin-branches"))
    this = module(layout, signals={SUPERVISOR: Signal(120 * SECOND, 30 * SECOND, step=0.1)})
    both = [
        replace(hour, running={"1": 120, "2": ran}, known={"1": 120, "2": 120}) for hour in by_hand("inlet_2")
    ]
    assert f"inlet_2 is {verdict} in cooling" in judged(this, both).facts.text


@pytest.mark.parametrize(("open_for", "verdict"), [(0.4, "fit"), (0.5, "partial"), (0.6, "partial")])
def test_a_pipe_counts_as_its_valves_mostly_stood(open_for, verdict):
    """Vapour of an open subcooler's bypass comes back past the suction pipe; common practice, no source."""
    layout = Layout.from_mapping(shipped("two-pipe-single-late-subcooler"))
    this = module(layout, signals={SUPERVISOR: Signal(120 * SECOND, 30 * SECOND, step=0.1)})
    part = by_hand("suction_pipe")[0].parts["cooling"]
    part = replace(part, signals={**part.signals, "subcooler_valve": Stats(120, open_for, 0.0, 1.0, 0.1)})
    given = [replace(hour, parts={"cooling": part}) for hour in by_hand("suction_pipe")]
    known = judged(this, given)
    assert f"suction_pipe is {verdict} in cooling" in known.facts.text
    assert known.condition is (Condition.CLEAR if verdict == "fit" else Condition.BEYOND)


@pytest.mark.parametrize(
    ("shift_k", "words", "condition"),
    [(1.2, "makes 1.2 K more of it", Condition.BEYOND), (-1.2, "makes 1.2 K less of it", Condition.CLEAR)],
)
def test_a_shift_is_held_against_what_is_allowed_on_its_own_side(shift_k, words, condition):
    """Return superheat here is known to -1.5 +0.8 K."""
    this = of()
    part = by_hand("suction_pipe")[0].parts["cooling"]
    residuals = {
        "suction_pipe/dew/as_is": Residual(120, 120 * shift_k, 120 * (shift_k**2 + 0.01)),
        "suction_pipe/dew/gauge_for_absolute": Residual(120, 0.0, 1.2),
        RETURN: Residual(120, 120 * shift_k, 120 * (shift_k**2 + 0.01)),
    }
    part = replace(part, residuals=residuals)
    known = judged(this, [replace(hour, parts={"cooling": part}) for hour in by_hand("suction_pipe")])
    assert (known.condition, words in known.facts.text) == (condition, True), known.facts.text


def test_a_pipe_that_alone_covers_what_returns_is_relied_on():
    """A bypass that joins after the accumulator does not return ahead of it."""
    this = drawn(
        "evaporator:coil probe:ahead vessel:accumulator junction:j",
        "inlet:subcooler_bypass junction:j",
        "junction:j transducer:p compressor:1",
        inlets={"subcooler_bypass": {"effect": "cools"}},
    )
    known = judged(
        module(this, signals={SUPERVISOR: Signal(120 * SECOND, 30 * SECOND, step=0.1)}), by_hand("ahead")
    )
    assert known.condition is Condition.CLEAR, known
    assert "ahead is partial in cooling" in known.facts.text


def test_it_says_why_nothing_can_be_told():
    this = of()
    for given, words in ((by_hand("suction_pipe", count=3), "3 of 6 settled hours"), ([], "no steady mode")):
        condition, facts = judged(this, given)
        assert condition is Condition.UNKNOWN
        assert words in facts.text
    condition, facts = judged(module(), by_hand("suction_pipe"))
    assert condition is Condition.UNKNOWN
    assert "publishes no superheat" in facts.text


def test_a_stated_probe_is_judged_at_every_grid_time_and_nothing_else():
    assert ENTRY.by_hour and not CATALOGUE["probe-unfit"].by_hour
    assert with_supervisor(CATALOGUE, "suction_pipe", [SUPERVISOR]) is CATALOGUE
    assert with_supervisor(CATALOGUE, None, ["suction_pipe"]) is CATALOGUE
    assert with_supervisor(CATALOGUE, None, [SUPERVISOR]).keys() == CATALOGUE.keys()
    assert "charge" not in ENTRY.first_response


def test_what_is_judged_by_the_hour_has_no_condition_at_a_grid_time():
    rows = stretch((6.0, 1.0, 1.0))
    assert "probe-unfit" in conditions(rows, CATALOGUE)
    assert "probe-unfit" not in conditions(rows, with_supervisor(CATALOGUE, None, [SUPERVISOR]))
