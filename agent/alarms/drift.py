"""Probes that have come apart from those that share their body, seen while the module stands for long."""

from __future__ import annotations

from agent.alarms.condition import Condition
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.finding import Facts, Finding, Past, undecided
from agent.assess.byhour.drift import PERIODS, Shift, drift
from agent.assess.byhour.equalising import Apart, equalising

PROBE_DRIFT = Entry(
    name="probe-drift",
    raised_when=(
        "At rest two probes that share a body stand apart otherwise than when that was learnt, in two "
        "separate periods; or suction and discharge pressure, that met at rest when learnt, stand steadily "
        "apart."
    ),
    cause=(
        "Two probes on one piece of pipe, or the suction and discharge transducer, no longer agree while "
        "the module stands."
    ),
    consequence="Superheat and differences made with the one that drifts are wrong by as much.",
    first_response=(
        "Isolated, after a night of standing, hold a reference thermometer to both; of pressures, have a "
        "gauge compared (it opens the circuit: for certified people only). Look at clamp, paste and "
        "insulation, and whether something warms one of them: sun, heater, neighbour."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=0, off_delay_s=0),
    by_hour=True,
)


def probe_drift(past: Past, entry: Entry) -> Finding:
    """A pair has come apart in each of the last periods at rest, beyond twice its expanded uncertainty."""
    apart = equalising(past.module, past.baseline, past.hours)
    if apart and apart.beyond:
        return Finding(Condition.BEYOND, _pressure_facts(apart))
    probes = _of_probes(past)
    if apart is None or probes.condition is Condition.BEYOND:
        return probes
    if apart.is_apart(apart.differences_pa[-1]):
        text = f"{_pressure_figures(apart)}; it takes the same in {PERIODS} separate times of standing"
        return Finding(Condition.INSIDE, Facts(text))
    if probes.condition is Condition.UNKNOWN and any(map(apart.is_apart, apart.differences_pa)):
        return Finding(Condition.CLEAR, Facts(f"{_pressure_figures(apart)}: they meet again"))
    return probes


def _of_probes(past: Past) -> Finding:
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


def _pressure_facts(apart: Apart) -> Facts:
    text = f"{_pressure_figures(apart)}, in each of the last {PERIODS} times of standing: "
    text += "one of the two has drifted"
    if apart.differences_pa[-1] < 0:
        text += ", or a valve that holds pressure tight"
    if apart.culprit:
        text += (
            "; saturation at rest against the coldest of suction probes and outdoor air "
            f"speaks for {apart.culprit}"
        )
    return Facts(text, apart.culprit or f"{apart.suction}, {apart.discharge}")


def _pressure_figures(apart: Apart) -> str:
    one, other, difference_pa = apart.suction, apart.discharge, apart.differences_pa[-1]
    if difference_pa < 0:
        one, other = other, one
    return (
        f"at rest {one} reads {abs(difference_pa) / 1e3:.0f} kPa more than {other}; they met when learnt "
        f"(U of the difference {apart.u_pa / 1e3:.0f} kPa)"
    )
