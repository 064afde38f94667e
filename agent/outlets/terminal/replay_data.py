"""A replay beside what is recorded, for a program: plain data."""

from __future__ import annotations

from typing import Any

from agent.alarms import Occurrence
from agent.assess.compared import QuantityCompared
from agent.outlets.terminal.replay import ReplayReport, sentences
from agent.outlets.times import iso


def replay_mapping(report: ReplayReport) -> dict[str, Any]:
    """The same as plain data; None where nothing was decided. Counts are of grid times, ``step_s`` apart."""
    compared = report.compared
    return {
        "module": str(report.path),
        "from": iso(report.from_us),
        "to": iso(report.to_us),
        "step_s": report.step_us / 1e6,
        "differs": report.differs,
        "changes": report.changes,
        "notes": report.notes,
        "sentences": list(sentences(report)),
        "verdict": report.verdict or None,
        "assessed": {"recorded": compared.recorded, "replayed": compared.replayed},
        "not_recorded": compared.unrecorded,
        "changed": compared.changed,
        "quantities": {name: _quantity(each) for name, each in compared.quantities.items()},
        "beyond_limit": {
            name: dict(zip(("recorded", "replayed"), each, strict=True))
            for name, each in compared.beyond.items()
        },
        "alarms": {
            alarm: [
                {
                    "fate": each.fate,
                    "recorded": _times_of(each.recorded),
                    "replayed": _times_of(each.replayed),
                    "notices": report.notices.get((alarm, each.recorded.since_us), 0) if each.recorded else 0,
                }
                for each in found
            ]
            for alarm, found in report.alarms.items()
        },
        "limits": [
            {
                "alarm": each.alarm,
                "changes": {key: {"now": was, "proposed": now} for key, was, now in each.changes},
                "now": each.now._asdict(),
                "proposed": each.proposed._asdict(),
                "limit_within_uncertainty": each.within[0] if each.within else None,
                "decided": each.within[1] if each.within else None,
            }
            for each in report.limits
        ],
    }


def _quantity(each: QuantityCompared) -> dict[str, Any]:
    sides = {"recorded": each.recorded, "replayed": each.replayed}
    found: dict[str, Any] = {
        side: {e.mode: e._asdict() | {"probes": dict(e.probes)} for e in of} for side, of in sides.items()
    }
    return found | {"difference": each.differ._asdict() if each.differ else None}


def _times_of(each: Occurrence | None) -> dict[str, str | None] | None:
    if each is None:
        return None
    cleared = None if each.cleared_us is None else iso(each.cleared_us)
    return {"since": iso(each.since_us), "raised": iso(each.raised_us), "cleared": cleared}
