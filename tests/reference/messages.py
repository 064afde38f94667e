"""What programs read of the agent: the fields of its MQTT messages and the columns of its CSV.

The fields are those of messages made here; a field that nothing is said of ends the making of the page.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import replace
from typing import Any

from agent.alarms import CATALOGUE
from agent.assess import (
    AT_PROBE,
    DISCHARGE_MARGIN,
    DISCHARGE_SUPERHEAT,
    DISCHARGE_TEMPERATURE,
    PRESSURE_RATIO,
    SATURATED_CONDENSING,
    SUBCOOLING,
    Assessment,
    Status,
)
from agent.outlets import ModuleView, alarm_messages, assessment_message, assessment_rows, status_topic
from agent.outlets.terminal.history import READING_COLUMNS
from agent.outlets.web.server import READINGS_SINCE
from agent.piping import Fitness, Standing
from agent.settings import ModulePath
from tests.outlets.views import ALARM, assessment, decided, shown
from tests.reference.markdown import code, joined, page, table

_OF = {AT_PROBE: "PROBE"} | dict.fromkeys(
    (DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN), "COMPRESSOR"
)


def _any_of(words: Iterable[str]) -> str:
    return joined((code(str(word)) for word in words), "or")


_PATH = ModulePath("SITE", "SYSTEM", "MODULE")
_HEAD = (
    "For programs: SI and UTC at every site. Times are RFC 3339, to the second. `null`, or an empty field, "
    "means that there is none, never zero; the status beside it says which of the four reasons holds.",
)
_OVER_MQTT = (
    "All are JSON, retained, at QoS 1, under the agent's own prefix (`broker.prefix`, here `dewline`). "
    "The agent publishes nowhere else."
)
_FIELDS = {
    "site": "the building",
    "system": "the refrigerant circuit",
    "module": "the outdoor module",
    "newest_reading": "sample time of the newest reading; null: there was never one",
    "alarms[]": "those that stand, each with the fields of the alarm message below",
    "notes[]": "sentences on what these instruments cannot do",
    "time": "the grid time that is assessed; null: nothing is assessed yet",
    "mode": "the mode then; null where nothing is assessed yet",
    "mode_reason": "why it is taken for this mode, where that takes words",
    "running_compressors[]": "their numbers in the layout",
    "fitness.PROBE.fitness": f"what the probe is worth: {_any_of(Fitness)}",
    "fitness.PROBE.reason": "why, in a sentence",
    "quantities.NAME.status": _any_of(Status),
    "quantities.NAME.cause": "one word for why it is not decided; null where it is",
    "quantities.NAME.reason": "the same, or why this probe, in a sentence",
    "quantities.NAME.in_doubt": "a sentence, while `layout-doubt` stands or the figure cannot be; else null",
    "quantities.NAME.standing": f"how good the probes are for it: {_any_of(Standing)}",
    "quantities.NAME.probes[]": "which probes it rests on",
    "quantities.NAME.value": "K for superheat and differences, degC for temperatures, none for the ratio",
    "quantities.NAME.uncertainty_below": "expanded uncertainty (k = 2) downwards, in the unit of the value",
    "quantities.NAME.uncertainty_above": "the same upwards",
    "alarm": "its name in the [catalogue](alarms.md)",
    "active": "whether its condition stands",
    "priority": "`high`, `medium` or `low`; absent while it does not stand",
    "since": "since when its condition holds; absent while it does not stand",
    "text": "what it says, with its figures; absent while it does not stand",
    "probe": "the probe that it rests on",
    "value_k": "the figure that it rests on, K",
    "below_k": "its uncertainty downwards, K",
    "above_k": "its uncertainty upwards, K",
    "limit_k": "the limit that it is held against, K",
    "misleads_k": "what the site's own probe shows too much, K",
    "state": "the state's name in ISA-18.2 and IEC 62682",
    "changed": "when the state changed, by the time of the readings",
    "known": "when that came to be known",
    "acknowledged": "when somebody acknowledged it",
    "acknowledged_by": "who",
    "note": "what is being done about it",
    "held_back_by": "the alarm from which it follows",
    "shelved_until": "until when nobody is told of it",
    "shelved_by": "who shelved it",
    "shelved_why": "why",
    "out_of_service_by": "who took it out of service",
    "out_of_service_why": "why",
    "withdrawn": "why its newest occurrence was withdrawn",
    "shadow": "whether the module is new: its alarms are shown and not sent",
    "of_unit_before": "whether it stood already when another unit came to stand here",
    "first_response": "what to look at first",
}
_COLUMNS = {
    "time": "grid time, or sample time of a reading",
    "mode": "the mode then",
    "status": "of return superheat",
    "probe": "the probes that return superheat rests on, with a space between",
    "reason": "why this probe, or why there is no value",
    "uncertainty_below_kelvin": "of return superheat, expanded (k = 2), downwards",
    "uncertainty_above_kelvin": "the same upwards",
    "alarms": "those that stand, with a space between",
    "signal": "the signal's name in the layout",
    "value": "as received",
    "unit": "as received; empty where the payload states none",
}
_ENDS = {
    "_status": "status of the quantity beside it",
    "_celsius": "degC",
    "_kelvin": "K",
    "pressure_ratio": "discharge to suction pressure, both absolute",
}


def messages() -> str:
    view = shown(_whole(), alarms=[ALARM], path=_PATH)
    assessed = assessment_message("dewline", view)
    assert assessed is not None
    alarm = next(
        each for each in alarm_messages("dewline", view, CATALOGUE) if each.topic.endswith(ALARM.name)
    )
    return page(
        "Messages and files for programs",
        *_HEAD,
        "## Over MQTT",
        _OVER_MQTT,
        f"### {code(status_topic('dewline', 'CLIENT_ID'))}",
        "The text `online`, or `offline` once the agent has gone or is not heard any more.",
        f"### {code(assessed.topic)}",
        "Each time that a module is assessed. `dewline status --json` prints the same.",
        _fields(json.loads(assessed.payload)),
        f"NAME is one of {_any_of(_quantities(view))}.",
        f"### {code(alarm.topic.replace(ALARM.name, 'ALARM'))}",
        "One for each alarm of the catalogue, whether it stands or not.",
        _fields(json.loads(alarm.payload)),
        "## As CSV",
        "`dewline history MODULE --format csv`, and `/history/SYSTEM/MODULE.csv` over HTTP. A row for "
        "each grid time. The columns of one compressor stand for as many as the module has.",
        table(("column", "is"), [(code(name), _column(name)) for name in _columns(view)]),
        "With `--readings`, or `&what=readings`, a row for each reading as it was received. Where that "
        "begins before what is kept (`keep_readings_days`), the answer's field "
        f"{code(READINGS_SINCE)} says since when readings are:",
        table(("column", "is"), [(code(name), _column(name)) for name in READING_COLUMNS]),
    )


def _whole() -> Assessment:
    """An assessment with every quantity that a module may have."""
    highside = (SATURATED_CONDENSING, PRESSURE_RATIO, SUBCOOLING)
    discharge = (f"{each}1" for each in (DISCHARGE_TEMPERATURE, DISCHARGE_SUPERHEAT, DISCHARGE_MARGIN))
    plain = assessment()
    return replace(
        plain, quantities={**plain.quantities, **{n: decided(5.0) for n in (*highside, *discharge)}}
    )


def _quantities(view: ModuleView) -> Iterable[str]:
    """The names of all quantities; of those of a probe or a compressor once."""
    assert view.assessment is not None
    named = (name.partition(":") for name in view.assessment.quantities)
    return dict.fromkeys(kind + (f":{_OF[kind + colon]}" if colon else "") for kind, colon, _ in named)


def _fields(body: Mapping[str, Any]) -> str:
    paths = dict.fromkeys(_paths(body))
    return table(("field", "is"), [(code(path), _FIELDS[path]) for path in paths])


def _paths(body: Mapping[str, Any], above: str = "") -> Iterator[str]:
    """The names of all fields; what the module or the layout names is written in capitals."""
    for key, value in body.items():
        name = {"fitness.": "PROBE", "quantities.": "NAME"}.get(above, key)
        if isinstance(value, dict):
            yield from _paths(value, f"{above}{name}.")
        else:
            yield f"{above}{name}{'[]' if isinstance(value, list) else ''}"


def _columns(view: ModuleView) -> Iterable[str]:
    assert view.assessment is not None
    (row,) = assessment_rows([view.assessment], {})
    return row


def _column(name: str) -> str:
    return _COLUMNS.get(name) or next(said for end, said in _ENDS.items() if name.endswith(end))
