"""A layout in which a probe's side of some inlets was open, with the side that was found.

Works on plain data: it moves the probe on its path, so that nothing else has to know of it.
"""

from __future__ import annotations

import copy
from collections.abc import Mapping
from typing import Any


def with_side(mapping: Mapping[str, Any], probe: str, side: str) -> dict[str, Any]:
    """The layout's data with a probe put ``ahead`` of or ``after`` the inlets that it leaves open for it.

    Raises ValueError where nothing is open for the probe, or the inlets are not on its path.
    """
    found = copy.deepcopy(dict(mapping))
    unproven = dict(found.get("unproven") or {})
    if probe not in unproven:
        raise ValueError(f"layout {found.get('layout')} leaves no side open for {probe}")
    inlets = [{"inlet": name} for name in unproven.pop(probe)]
    found["unproven"] = unproven
    for path in found["suction_side"]:
        if {"probe": probe} in path and all(inlet in path for inlet in inlets):
            path.remove({"probe": probe})
            at = [path.index(inlet) for inlet in inlets]
            path.insert(min(at) if side == "ahead" else max(at) + 1, {"probe": probe})
            return found
    raise ValueError(f"{probe} and the inlets left open for it are not on one path of suction_side")
