"""What was heard of a site, for a program: plain data, each figure with its unit in its name."""

from __future__ import annotations

from typing import Any

from agent.assess import SECOND
from agent.outlets.terminal.heard import HeardModule, HeardSignal, HeardSite
from agent.outlets.terminal.listening import next_step
from agent.units import Dimension

_NAMES = {
    Dimension.TEMPERATURE: "value_celsius",
    Dimension.PRESSURE: "value_pascals_absolute",
    Dimension.FREQUENCY: "value_hertz",
    Dimension.CURRENT: "value_amperes",
    Dimension.RATIO: "value_ratio",
    Dimension.DIFFERENCE: "value_kelvin",
}


def heard_mapping(site: HeardSite) -> dict[str, Any]:
    """All that was heard. ``fine``: what the exit code says."""
    return {
        "broker": site.broker,
        "listened_seconds": round(site.listened_us / SECOND, 1),
        "store_seconds": _seconds(site.from_store_us),
        "filters": site.filters,
        "messages": site.messages,
        "fine": site.is_fine,
        "modules": [_module(module) for module in site.modules],
        "unmapped": [
            {
                "topic": each.topic,
                "name": each.name or None,
                "count": each.count,
                "value": each.value,
                "unit": each.unit,
                "reason": each.reason or None,
                "detail": each.detail or None,
                "may_be": each.likely,
            }
            for each in site.unmapped
        ],
        "more_unmapped": site.more_unmapped,
        "notes": site.notes,
        "next": next_step(site),
    }


def _module(module: HeardModule) -> dict[str, Any]:
    return {
        **module.path._asdict(),
        "topic": module.topic,
        "layout": module.layout,
        "refrigerant": module.refrigerant,
        "clock_behind_seconds": _seconds(module.clock_behind_us),
        "signals": {signal.name: _signal(signal) for signal in module.signals},
        "refused": module.refused,
        "suspicions": [each._asdict() for each in module.findings.suspicions],
        "cannot_tell": module.findings.cannot_tell,
    }


def _signal(signal: HeardSignal) -> dict[str, Any]:
    value = (
        {_NAMES[Dimension(signal.dimension)]: signal.value}
        if signal.dimension
        else {"meaning": signal.meaning}
    )
    return {
        "state": signal.state.value.replace(" ", "_"),
        "detail": signal.detail or None,
        "point": signal.point,
        "count": signal.count,
        "raw": signal.raw,
        "unit": signal.unit or None,
        **value,
        "age_seconds": _seconds(signal.age_us),
        "period_seconds": _seconds(signal.period_us),
        "configured_period_seconds": _seconds(signal.every_us),
        "max_age_seconds": _seconds(signal.max_age_us),
        "on_change": signal.on_change,
        "step_seen": signal.step_seen,
        "step": signal.step,
        "accuracy": signal.accuracy,
    }


def _seconds(microseconds: int | None) -> float | None:
    return None if microseconds is None else round(microseconds / SECOND, 1)
