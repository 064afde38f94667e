"""The alarms: their catalogue, their conditions, when they are active, and their journal. Pure."""

from agent.alarms.catalogue import CATALOGUE, FEED_STALE, Entry, Limits, Priority
from agent.alarms.conditions import CONDITIONS, Condition, conditions
from agent.alarms.detection import ChangePoint, Detection, Occurrence, detect, occurrences
from agent.alarms.facts import Facts, active, cannot_prove_dry, facts, priority
from agent.alarms.journal import Line, Transition, next_announced, reconcile
from agent.alarms.life import Deed, Life, Telling
from agent.alarms.lifecycle import Event, RefusedError, State, StateName
from agent.alarms.rates import Load, Told, load
from agent.alarms.roots import PROBE_FAILED, ROOTS, Root, held_back

__all__ = [
    "CATALOGUE",
    "CONDITIONS",
    "FEED_STALE",
    "PROBE_FAILED",
    "ROOTS",
    "ChangePoint",
    "Condition",
    "Deed",
    "Detection",
    "Entry",
    "Event",
    "Facts",
    "Life",
    "Limits",
    "Line",
    "Load",
    "Occurrence",
    "Priority",
    "RefusedError",
    "Root",
    "State",
    "StateName",
    "Telling",
    "Told",
    "Transition",
    "active",
    "cannot_prove_dry",
    "conditions",
    "detect",
    "facts",
    "held_back",
    "load",
    "next_announced",
    "occurrences",
    "priority",
    "reconcile",
]
