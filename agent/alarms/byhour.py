"""The alarms that take hours to tell: at the end of every whole hour each is judged by its own function."""

from __future__ import annotations

from collections.abc import Mapping

from agent.alarms.catalogue import PROBE_UNFIT
from agent.alarms.drift import PROBE_DRIFT, probe_drift
from agent.alarms.entry import Entry
from agent.alarms.finding import Finding, Judge, Past
from agent.alarms.identity import LAYOUT_DOUBT, layout_doubt
from agent.alarms.oil import OIL_RETURN_ABSENT, OIL_RETURN_EXCESS, oil_return_absent, oil_return_excess
from agent.alarms.supervisor import probe_unfit

WINDOW_HOURS = 72  # that an hour is judged by; design choice, no source

JUDGES: Mapping[str, Judge] = {
    OIL_RETURN_ABSENT.name: oil_return_absent,
    OIL_RETURN_EXCESS.name: oil_return_excess,
    PROBE_UNFIT.name: probe_unfit,  # where no probe is stated, see `with_supervisor`
    PROBE_DRIFT.name: probe_drift,
    LAYOUT_DOUBT.name: layout_doubt,
}


def judge(past: Past, catalogue: Mapping[str, Entry]) -> dict[str, Finding]:
    """The findings of every alarm that is judged by the hour, at the end of the last hour of the past."""
    return {name: JUDGES[name](past, entry) for name, entry in catalogue.items() if entry.by_hour}
