"""A quiet hour that nobody measured: it must come out as the assessment judges real readings."""

from dataclasses import replace
from math import sqrt

import pytest

from agent.assess import SATURATED_SUCTION, SECOND, Signal, Status, typical, typical_dew_c
from agent.piping import RETURN, RISE, Layout, Standing
from agent.thermo import REFRIGERANTS
from tests.assess.world import EARLY, LATE, module
from tests.piping.layouts import shipped
from tests.settings.site import LAYOUTS


def returned(of, mode="cooling"):
    return typical(of, mode).quantities[RETURN]


@pytest.mark.parametrize("mode", ["cooling", "heating"])
def test_it_runs_at_the_dew_temperature_that_is_stated(mode):
    found = typical(module(), mode)
    assert found.mode == mode
    assert found.quantities[SATURATED_SUCTION].value == pytest.approx(typical_dew_c(mode), abs=0.005)


def test_the_uncertainty_is_that_of_the_instruments():
    """JCGM 100: limits 4.3.7, resolution F.2.2.1, combination 5.1.2, k = 2.

    Dew pressure of R-410A from memory of handbook tables: 796 kPa at 0 degC, 1083 kPa at 10 degC.
    """
    known = dict.fromkeys(LATE.suction_probes, 0.0)
    of = module(known_loss_pa=known)
    pipe, pressure = of.signals["suction_pipe"], of.signals["suction_pressure"]
    u_pipe = sqrt(pipe.half_width**2 / 3 + pipe.step**2 / 12)
    u_model = REFRIGERANTS["R-410A"].u_model_fraction * 934e3
    u_pressure = sqrt(pressure.half_width**2 / 3 + pressure.step**2 / 12 + u_model**2)
    expanded = 2 * sqrt(u_pipe**2 + (u_pressure / 28.7e3) ** 2)
    found = returned(of)
    assert found.below == found.above == pytest.approx(expanded, rel=0.02)


def test_a_loss_that_nobody_stated_widens_the_lower_side_alone():
    found = returned(module())
    assert found.below > found.above == returned(module(known_loss_pa={"suction_pipe": 0.0})).above


def test_what_is_not_there_is_said_in_the_words_of_the_assessment():
    blind = returned(module(without=["outdoor_coil_gas"]), "heating")
    assert (blind.said.status, blind.value) == (Status.NOT_MEASURABLE, None)
    early = typical(module(EARLY), "cooling").quantities[RISE]
    assert early.said.status is Status.NOT_MEASURABLE
    assert "no probe sits after the oil return" in early.said.text
    silent = ["compressor_1_speed", "compressor_2_speed", "discharge_pressure"]
    assert "no signal tells whether a compressor runs" in returned(module(without=silent)).said.text


def test_a_bypass_that_no_signal_tells_is_not_taken_for_shut():
    assert typical(module(), "cooling").quantities[RISE].decided
    unknown = typical(module(without=["bypass_valve"]), "cooling").quantities[RISE]
    assert unknown.said.status is Status.NOT_DECIDABLE
    assert "hot_gas_bypass is not known shut" in unknown.said.text


@pytest.mark.parametrize("every_s", [1, 45, 120, 600])
@pytest.mark.parametrize("on_change", [False, True])
def test_whatever_the_gateway_s_habits(every_s, on_change):
    """Values that come rarely are no less certain; whether they show hunting is another question."""
    habits = {"interval_us": every_s * SECOND, "max_age_us": 2 * every_s * SECOND}
    signals = {
        name: replace(signal, **habits, on_change=on_change and every_s < 120)
        for name, signal in module().signals.items()
    }
    found = returned(module(signals=signals))
    assert (found.said.status, found.said.standing) == (Status.DECIDED, Standing.FIT)


@pytest.mark.parametrize("file", sorted(LAYOUTS.glob("*.yaml")), ids=lambda file: file.stem)
def test_with_every_signal_of_a_shipped_layout_nothing_is_missing_or_unsettled(file):
    layout = Layout.from_mapping(shipped(file.stem))
    for mode in layout.modes:
        found = typical(module(layout), mode)
        assert found.mode == mode
        statuses = {quantity.said.status for quantity in found.quantities.values()}
        assert not statuses & {Status.MISSING, Status.NOT_SETTLED}


def test_a_mode_that_the_valve_tells_is_the_one_asked_for():
    """Signals that tell the mode agree with it: else the quiet hour would be a defrost or a contradiction."""
    state = Signal(max_age_us=120 * SECOND, interval_us=30 * SECOND)
    told = dict.fromkeys(("reversing_valve", "outdoor_fan", "defrost", "oil_recovery"), state)
    of = module(signals=module().signals | told)
    for mode in ("cooling", "heating"):
        assert typical(of, mode).mode == mode
        assert returned(of, mode).decided
