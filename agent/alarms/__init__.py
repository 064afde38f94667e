"""The alarms: their catalogue, their conditions, when they are active, and their journal. Pure."""

from agent.alarms.catalogue import CATALOGUE, FEED_STALE, Entry, Limits, Priority
from agent.alarms.conditions import CONDITIONS, Condition, conditions
from agent.alarms.detection import ChangePoint, Detection, Occurrence, detect, occurrences
from agent.alarms.facts import Facts, active, cannot_prove_dry, facts, priority
from agent.alarms.journal import Line, Transition, next_announced, reconcile

__all__ = [
    "CATALOGUE",
    "CONDITIONS",
    "FEED_STALE",
    "ChangePoint",
    "Condition",
    "Detection",
    "Entry",
    "Facts",
    "Limits",
    "Line",
    "Occurrence",
    "Priority",
    "Transition",
    "active",
    "cannot_prove_dry",
    "conditions",
    "detect",
    "facts",
    "next_announced",
    "occurrences",
    "priority",
    "reconcile",
]
