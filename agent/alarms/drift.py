"""Probes that have come apart from those that share their body, seen while the module stands for long."""

from __future__ import annotations

from agent.alarms.condition import Condition
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.finding import Facts, Finding, Past, undecided
from agent.assess.drift import PERIODS, Shift, drift

PROBE_DRIFT = Entry(
    name="probe-drift",
    cause="Two probes on one piece of pipe no longer agree while the module stands.",
    consequence="Superheat and differences made with the one that drifts are wrong by as much.",
    first_response=(
        "Read both after a night of standing; hold a reference thermometer to both; look at clamp, paste "
        "and insulation, and whether something warms one of them: sun, heater, neighbour."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=0, off_delay_s=0),
    by_hour=True,
)


def probe_drift(past: Past, entry: Entry) -> Finding:
    """A pair has come apart in each of the last periods at rest, beyond twice its expanded uncertainty."""
    found = drift(past.module, past.baseline, past.hours)
    if found.lacking:
        return undecided(found.lacking)
    apart = found.beyond
    if apart:
        shift, culprit = max(apart, key=lambda each: abs(each[0].shift_k))
        return Finding(Condition.BEYOND, _facts(shift, culprit))
    latest = [shifts[-1] for shifts in found.pairs]
    worst = max(latest, key=lambda shift: abs(shift.shift_k) / shift.u_k)
    if worst.beyond:
        text = f"{_figures(worst)}; it takes the same in {PERIODS} separate times of standing"
        return Finding(Condition.INSIDE, Facts(text))
    return Finding(Condition.CLEAR, Facts(f"{_figures(worst)}: within what the probes can tell"))


def _facts(shift: Shift, culprit: str | None) -> Facts:
    whose = f"{culprit} has moved" if culprit else f"one of the two has moved: {shift.one} or {shift.other}"
    text = f"{_figures(shift)}, in each of the last {PERIODS} times of standing; {whose}"
    probes = culprit or f"{shift.one}, {shift.other}"
    return Facts(text, probes, shift.shift_k, shift.u_k, shift.u_k, 2 * shift.u_k)


def _figures(shift: Shift) -> str:
    usual = f"{shift.low_k:+.1f} to {shift.high_k:+.1f} K when learnt"
    if shift.low_k == shift.high_k == 0.0:
        usual = "as one piece of pipe they should read alike"
    return (
        f"at rest {shift.one} reads {shift.offset_k:+.1f} K against {shift.other}; {usual} "
        f"(U of the difference {shift.u_k:.1f} K)"
    )
