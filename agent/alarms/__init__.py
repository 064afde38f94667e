"""The alarms: their catalogue, their conditions, when they are active, and their journal. Pure."""

from agent.alarms.byhour import WINDOW_HOURS, judge
from agent.alarms.catalogue import CATALOGUE, FEED_STALE
from agent.alarms.compared import Fate, OccurrenceCompared, Rate, compare_occurrences, rate
from agent.alarms.condition import CODE, CONDITIONS, Condition
from agent.alarms.conditions import conditions
from agent.alarms.detection import LEVELS, ChangePoint, Detection, Occurrence, detect, occurrences
from agent.alarms.entry import Entry, Limits, Priority, rank
from agent.alarms.facts import NOTHING_FOUND, active, cannot_prove_dry, facts, priority
from agent.alarms.finding import Facts, Finding, Past
from agent.alarms.instruments import PROBE_FAILED
from agent.alarms.journal import Line, Transition, next_announced, reconcile
from agent.alarms.life import EVERYBODY, LATE_READINGS, Deed, Life
from agent.alarms.lifecycle import Event, RefusedError, State, StateName
from agent.alarms.rates import Load, Told, load
from agent.alarms.roots import ROOTS, Root, held_back
from agent.alarms.supervisor import with_supervisor
from agent.alarms.telling import Moment, Repeat, Said, Telling

__all__ = [
    "CATALOGUE",
    "CODE",
    "CONDITIONS",
    "FEED_STALE",
    "LATE_READINGS",
    "LEVELS",
    "PROBE_FAILED",
    "ROOTS",
    "ChangePoint",
    "Condition",
    "Deed",
    "Detection",
    "EVERYBODY",
    "Entry",
    "Event",
    "Facts",
    "Fate",
    "Finding",
    "Life",
    "Limits",
    "Line",
    "Load",
    "Moment",
    "NOTHING_FOUND",
    "Occurrence",
    "OccurrenceCompared",
    "Past",
    "Priority",
    "Rate",
    "RefusedError",
    "Repeat",
    "Root",
    "Said",
    "State",
    "StateName",
    "Telling",
    "Told",
    "Transition",
    "WINDOW_HOURS",
    "active",
    "cannot_prove_dry",
    "compare_occurrences",
    "conditions",
    "detect",
    "facts",
    "held_back",
    "judge",
    "load",
    "next_announced",
    "occurrences",
    "priority",
    "rank",
    "rate",
    "reconcile",
    "with_supervisor",
]
