"""What goes out over MQTT: retained JSON under the agent's own prefix. Knows topics, but no broker."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, NamedTuple

import orjson

from agent.alarms import Entry
from agent.assess import Assessment
from agent.outlets.alarm_words import state_mapping
from agent.outlets.doubt import before, impossible, in_doubt
from agent.outlets.times import iso
from agent.outlets.view import ModuleView, StandingAlarm
from agent.piping import RISE


class Outgoing(NamedTuple):
    """A message to publish, retained, at QoS 1."""

    topic: str
    payload: bytes


def status_topic(prefix: str, client_id: str) -> str:
    """Where the agent says online or offline."""
    return f"{prefix}/agent/{client_id}"


def assessment_message(prefix: str, view: ModuleView) -> Outgoing | None:
    """The latest assessment of a module, every quantity with its status and reason."""
    if view.assessment is None:
        return None
    return Outgoing(f"{prefix}/{view.path}/assessment", orjson.dumps(as_mapping(view)))


def alarm_messages(prefix: str, view: ModuleView, catalogue: Mapping[str, Entry]) -> Iterator[Outgoing]:
    """Every alarm of the catalogue, active or not, so that a retained one never outlives its end."""
    standing = {alarm.name: alarm for alarm in view.alarms}
    for name in catalogue:
        body = {
            **view.path._asdict(),
            "mode": view.assessment.mode if view.assessment else None,
            "time": iso(view.assessment.grid_us) if view.assessment else None,
            **(_alarm(standing[name]) if name in standing else {"alarm": name, "active": False}),
            **state_mapping(view.lives, name),
            "first_response": catalogue[name].first_response,
        }
        yield Outgoing(f"{prefix}/{view.path}/alarm/{name}", orjson.dumps(body))


def as_mapping(view: ModuleView) -> dict[str, Any]:
    """A module's view as plain data, for JSON."""
    found: dict[str, Any] = {
        **view.path._asdict(),
        "newest_reading": iso(view.newest_us) if view.newest_us is not None else None,
        "alarms": [_alarm(alarm) | state_mapping(view.lives, alarm.name) for alarm in view.alarms],
        "notes": view.notes,
    }
    return found | (_assessment(view, view.assessment) if view.assessment else {"time": None})


def _assessment(view: ModuleView, assessment: Assessment) -> dict[str, Any]:
    cannot_be = impossible(assessment, view.layout) if view.layout else None
    return {
        "time": iso(assessment.grid_us),
        "mode": assessment.mode,
        "mode_reason": assessment.mode_reason or None,
        "running_compressors": assessment.running,
        "fitness": {
            probe: {"fitness": verdict, "reason": reason}
            for probe, (verdict, reason) in assessment.fitness.items()
        },
        "quantities": {
            name: {
                "status": quantity.said.status,
                "cause": quantity.said.cause or None,
                "reason": quantity.said.text,
                "in_doubt": before((in_doubt(view, name), cannot_be if name == RISE else None), "") or None,
                "standing": quantity.said.standing,
                "probes": quantity.said.probes,
                "value": quantity.value,
                "uncertainty_below": quantity.below,
                "uncertainty_above": quantity.above,
            }
            for name, quantity in assessment.quantities.items()
        },
    }


def _alarm(alarm: StandingAlarm) -> dict[str, Any]:
    return {
        "alarm": alarm.name,
        "active": True,
        "priority": alarm.priority,
        "since": iso(alarm.since_us) if alarm.since_us is not None else None,
        **alarm.facts._asdict(),
    }
