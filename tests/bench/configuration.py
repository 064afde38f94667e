"""The agent's configuration for a module on the bench, from what its gateway sends."""

import json
from functools import cache
from typing import Any

from agent.piping import Layout
from agent.piping.graph import NOT_KNOWN
from agent.settings import load_layout
from agent.settings.model import AssessSettings, ModuleSettings, Settings
from agent.settings.signals import known_signals
from demo_feed.bench import Gateway
from tests.service.site import ROOT

LAYOUTS = ROOT / "config" / "layouts"
LEARNING_HOURS = 24
NAMES = {"R410A": "R-410A", "R32": "R-32", "R407C": "R-407C", "R134a": "R-134a"}
MODES = ("off", "cooling", "heating", "simultaneous", "defrost", "oil_recovery")
COIL_ROLES = ("evaporator", "condenser", "idle")


@cache
def library() -> tuple[Layout, ...]:
    """Every layout that comes with the product."""
    return tuple(load_layout(path) for path in sorted(LAYOUTS.glob("*.yaml")))


def configuration(
    gateway: Gateway, fluid: str, layout: str, first_payload: bytes, configured_probe: str | None = None
) -> tuple[dict[str, Any], tuple[str, ...]]:
    """The configuration, and signals that are sent and that the agent has no name for.

    ``fluid``: as the bench names it. ``layout``: a name from the library, or ``unknown``.
    """
    sent = [record["n"] for record in json.loads(first_payload)]
    known = sent if layout == NOT_KNOWN else known_signals(load_layout(LAYOUTS / f"{layout}.yaml"))
    signals = {name: _signal(name, gateway) for name in sent if name in known}
    module: dict[str, Any] = {"layout": layout, "signal_set": "bench"}
    if configured_probe:
        module["configured_probe"] = configured_probe
    assess: dict[str, Any] = {"step_s": 30}
    body: dict[str, Any] = {
        "site": "bench",
        "elevation_m": 120,
        "layouts": str(LAYOUTS),
        "store": {"url": "sqlite:///store.db"},
        "broker": {"telemetry": "plant"},
        "assess": assess,
        "signal_sets": {
            "bench": {
                "every_s": gateway.poll_s,
                "max_age_s": 1200 if gateway.on_change else max(4 * gateway.poll_s, 120),
                "on_change": gateway.on_change,
                "signals": signals,
            }
        },
        "systems": {"one": {"refrigerant": NAMES[fluid], "modules": {"m1": module}}},
    }
    for model, place in ((ModuleSettings, module), (AssessSettings, assess), (Settings, body)):
        if "learning_hours" in model.model_fields:
            place["learning_hours"] = LEARNING_HOURS
            break
    return body, tuple(name for name in sent if name not in known)


def _signal(name: str, gateway: Gateway) -> dict[str, Any]:
    """What a person would write: the class of the instruments, whatever they really do."""
    instrument = gateway.instrument
    if name == "mode":
        return {"values": {mode: mode for mode in MODES}}
    if name == "supervisor_superheat":
        return {"unit": "K"}
    if name.endswith("_pressure"):
        accuracy = instrument.limit(name) / 1e3
        return {
            "unit": "kPa", "reference": "absolute", "accuracy": accuracy, "step": gateway.pressure_step_kpa
        }  # fmt: skip
    if name.endswith("_speed"):
        return {"unit": "Hz"}
    if name.endswith("_current"):
        return {"unit": "A"}
    if name.endswith(("_expansion", "_share")) or name == "injection_valve":
        return {"unit": "/"}
    if name.endswith("coil_valve"):
        return {"values": {role: role for role in COIL_ROLES}}
    if name.endswith("_valve"):
        return {"values": {0: "shut", 1: "open"}}
    return {"unit": "degC", "accuracy": instrument.limit(name), "step": gateway.temperature_step}
