"""The modes, and the code that stands for each on the grid."""

from __future__ import annotations

MODES = ("unknown", "off", "starting", "cooling", "heating", "simultaneous", "defrost", "oil_recovery")
TRANSIENT_MODES = ("starting", "defrost", "oil_recovery")
CODE = {mode: code for code, mode in enumerate(MODES)}
