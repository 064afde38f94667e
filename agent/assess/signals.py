"""The signals that the assessment knows by name; probes, transducers and valves are named by the layout."""

from __future__ import annotations

MODE_SIGNAL = "mode"
REVERSING_VALVE = "reversing_valve"  # 0 cooling, 1 heating
OUTDOOR_FAN = "outdoor_fan"  # 0 stopped, 1 running
FAN_SPEED = "outdoor_fan_speed"
FAN_SHARE = "outdoor_fan_share"
FAN_SIGNALS = (OUTDOOR_FAN, FAN_SPEED, FAN_SHARE)
FLAGS = ("defrost", "oil_recovery")  # signals of their own, 1 while it is under way
OUTDOOR_AIR = "outdoor_air"
LIQUID_LINE = "liquid_line"  # known wherever no liquid side is described
SUPERVISOR = "supervisor_superheat"  # as somebody else's system makes it, K


def speed_of(compressor: str) -> str:
    """The signal of a compressor's speed [Hz]."""
    return f"compressor_{compressor}_speed"


def current_of(compressor: str) -> str:
    """The signal of a compressor's current [A]."""
    return f"compressor_{compressor}_current"
