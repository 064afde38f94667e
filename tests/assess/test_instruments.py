"""A module's instruments behind a superheat: each signal's own, and the loss that is or is not stated."""

from dataclasses import replace

import pytest

from agent.assess import superheat_at
from agent.assess.instruments import loss_pa, uncertainty
from agent.thermo import dew_temperature
from tests.assess.world import module

PRESSURE_PA = 800_000.0


def test_a_signal_that_the_module_does_not_have_adds_nothing():
    assert uncertainty(module(), "no_such_signal") == 0.0
    assert uncertainty(module(), "suction_pipe") > 0.0


def test_an_unknown_loss_widens_to_the_side_where_it_may_lie():
    """Higher pressure at the probe means a higher dew temperature there: superheat may be lower."""
    given = module()
    assert loss_pa(given, "suction_pipe") == (0.0, given.unknown_loss_pa)
    found = superheat_at(given, "suction_pipe", 10.0, PRESSURE_PA)
    assert found.below > found.above
    sure = superheat_at(replace(given, unknown_loss_pa=0.0), "suction_pipe", 10.0, PRESSURE_PA)
    assert sure.below == sure.above == pytest.approx(found.above)
    assert sure.value == found.value


def test_a_known_loss_corrects_the_value():
    given = replace(module(), known_loss_pa={"suction_pipe": 20_000.0})
    assert loss_pa(given, "suction_pipe") == (20_000.0, 20_000.0)
    found = superheat_at(given, "suction_pipe", 10.0, PRESSURE_PA)
    assert found.value == pytest.approx(10.0 - dew_temperature(given.refrigerant, PRESSURE_PA + 20_000.0))
