"""A module whose piping nobody has described, from its configuration to what the outlets say of it."""

import io
import json

import numpy as np
from rich.console import Console

from agent.alarms import Condition, conditions
from agent.assess import SECOND, assess, load_assessment
from agent.outlets import render
from agent.outlets.messages import assessment_message
from agent.outlets.view import view
from tests.settings.site import changed, plan

STEP_US = 30 * SECOND
GRID_US = 1_764_072_000 * SECOND + STEP_US * np.arange(4)


def test_from_configuration_to_what_is_shown(tmp_path):
    """Dew at 800 kPa of R-410A lies near 0.1 degC (see the tests of saturation)."""
    data = changed(("systems", "north", "modules", "n1"), {"layout": "unknown", "signal_set": "polled"})
    planned = plan(tmp_path, data).modules[0]
    absolute_pa = planned.conversions["suction_pressure"].reference_pa
    received = {"mode": 1, "suction_pipe": 8.0, "suction_pressure": (800e3 - absolute_pa) / 1e3}
    received |= {"compressor_1_speed": 50, "compressor_inlet": 20.0, "bypass_valve": 0}
    times_us = np.arange(GRID_US[0] - 7200 * SECOND, GRID_US[-1] + 1, STEP_US)
    flickers = 0.1 * (np.arange(len(times_us)) % 20 == 13)  # as what is measured does
    samples = {
        name: planned.conversions[name].samples(
            times_us, (value + flickers * (name == "suction_pipe")).tolist(), [None] * len(times_us)
        )
        for name, value in received.items()
    }
    stretch = assess(planned.module, GRID_US, samples, STEP_US)
    found = conditions(stretch, planned.catalogue, planned.configured_probe)
    names = list(Condition)
    assert names[found["watch-blind"][-1]] == "beyond"
    assert {str(names[found[name][-1]]) for name in found if name != "watch-blind"} <= {"unknown", "clear"}
    (grid_us, basis, figures) = list(stretch.records(found, names))[-1]
    shown = view(planned, load_assessment(grid_us, 1, basis, figures), {}, grid_us)

    message = json.loads(assessment_message("dewline", shown).payload)
    assert message["mode"] == "cooling"
    quantities = message["quantities"]
    assert quantities["saturated_suction"]["status"] == "decided"
    assert abs(quantities["saturated_suction"]["value"]) < 0.5
    others = {name: body for name, body in quantities.items() if name != "saturated_suction"}
    assert {body["status"] for body in others.values()} == {"not_decidable"}
    assert {body["reason"] for body in others.values()} == {"the layout is not known"}

    out = io.StringIO()
    Console(width=120, file=out).print(render([shown], grid_us))
    assert "north/n1 cooling" in " ".join(out.getvalue().split())
    assert "not decidable" in out.getvalue()
    assert "the layout is not known" in out.getvalue()
    assert "not measurable" not in out.getvalue()
