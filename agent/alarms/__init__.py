"""The alarms: their catalogue, their conditions, when they are active, and their journal. Pure."""

from agent.alarms.byhour import WINDOW_HOURS, judge
from agent.alarms.catalogue import CATALOGUE, FEED_STALE
from agent.alarms.condition import CODE, CONDITIONS, Condition
from agent.alarms.conditions import conditions
from agent.alarms.detection import ChangePoint, Detection, Occurrence, detect, occurrences
from agent.alarms.entry import Entry, Limits, Priority
from agent.alarms.facts import NOTHING_FOUND, active, cannot_prove_dry, facts, priority
from agent.alarms.finding import Facts, Finding, Past
from agent.alarms.journal import Line, Transition, next_announced, reconcile

__all__ = [
    "CATALOGUE",
    "CODE",
    "CONDITIONS",
    "FEED_STALE",
    "ChangePoint",
    "Condition",
    "Detection",
    "Entry",
    "Facts",
    "Finding",
    "Limits",
    "Line",
    "NOTHING_FOUND",
    "Occurrence",
    "Past",
    "Priority",
    "Transition",
    "WINDOW_HOURS",
    "active",
    "cannot_prove_dry",
    "conditions",
    "detect",
    "facts",
    "judge",
    "next_announced",
    "occurrences",
    "priority",
    "reconcile",
]
