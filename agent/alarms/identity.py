"""Whether a module is piped as it is configured: evidence against its layout, which it never changes."""

from __future__ import annotations

from agent.alarms.condition import Condition
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.finding import Facts, Finding, Past, undecided
from agent.assess.byhour.baseline import LEARNT_MODES
from agent.assess.byhour.hours import Hour
from agent.assess.identity import Conclusion, Explains, identity

LAYOUT_DOUBT = Entry(
    name="layout-doubt",
    raised_when=(
        "Another layout of the library explains what the probes show, and the configured one does not, or "
        "only with a fault. The alarm names both; it never changes the layout."
    ),
    cause="Another piping explains what the probes show better than the configured one, or one is at fault.",
    consequence=(
        "The wrong probe may be taken for superheat: returning liquid can look healthy, and dry gas wet."
    ),
    first_response=(
        "Read the evidence (`dewline explain --evidence` of the module); look on site where the probes that "
        "it names are clamped: some pipes are very hot, fans start without warning; do not change the layout "
        "before somebody has seen the pipes, as a fault may look the same."
    ),
    priority=Priority.MEDIUM,
    limits=Limits(limit_k=None, second_best_k=None, deadband_k=0.0, on_delay_s=0, off_delay_s=0),
    by_hour=True,
)
_CONDITIONS = {
    Conclusion.SUPPORTED: Condition.CLEAR,
    Conclusion.DOUBTED: Condition.BEYOND,
    Conclusion.CANNOT_TELL: Condition.UNKNOWN,
}


def layout_doubt(past: Past, entry: Entry) -> Finding:
    """Another layout of the library explains what the configured one does not."""
    if not past.module.layout.is_known:
        return undecided("no layout is described")
    hours = _hours(past)
    found = identity(past.module, (), hours)
    if found.configured is not None and found.configured.explains is not Explains.EXPLAINS:
        found = identity(past.module, past.library, hours)
    probe = None
    if found.better:
        moved = [s for s, p in found.better[0].places.items() if s != p]
        probe = ", ".join(moved) or None
    return Finding(_CONDITIONS[found.conclusion], Facts(found.text, probe))


def _hours(past: Past) -> list[Hour]:
    """Those that taught what is usual, and those of late."""
    learnt = [hour for mode in LEARNT_MODES for hour in past.baseline.hours.get(mode, ())]
    every = {hour.from_us: hour for hour in (*learnt, *past.hours)}
    return [every[at] for at in sorted(every)]
