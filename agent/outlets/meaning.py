"""What an alarm most likely means, how sure that is, and its cause, in words that its evidence bears."""

from __future__ import annotations

from collections.abc import Mapping

from agent.alarms import FEED_STALE, Condition, Entry, Facts, Priority
from agent.alarms.catalogue import PROBE_UNFIT, SUPERHEAT_HIGH, SUPERHEAT_HUNTING, SUPERHEAT_LOW, WATCH_BLIND
from agent.alarms.facts import SECOND_BEST
from agent.alarms.highside import (
    DISCHARGE_SUPERHEAT_LOW,
    DISCHARGE_TEMPERATURE_HIGH,
    SUBCOOLING_HIGH,
    SUBCOOLING_LOW,
)
from agent.assess import Assessment
from agent.piping import RETURN

_SURE_PIPING = "Sure, if the piping is as described"
_SURE_BLIND = "Sure: superheat cannot be decided"
# What an alarm most likely means, and how sure that is, by the condition it rests on.
_PLAIN: Mapping[str, Mapping[str, tuple[str, str]]] = {
    SUPERHEAT_LOW.name: {
        Condition.POSSIBLE: ("liquid is possibly coming back", "Unsure: the values have not settled"),
        Condition.BEYOND: ("liquid may be coming back", "Likely: saturation cannot be excluded"),
        Condition.BEYOND_DOUBT: (
            "liquid is very likely coming back",
            "Sure: no doubt is left",
        ),
    },
    SUPERHEAT_HIGH.name: {
        Condition.BEYOND: (
            "too little refrigerant, or a pipe gains heat",
            "Sure: high by more than its uncertainty",
        ),
    },
    SUPERHEAT_HUNTING.name: {
        Condition.BEYOND: (
            "an expansion valve does not find its place",
            "Sure: the swing exceeds its uncertainty",
        ),
    },
    PROBE_UNFIT.name: {Condition.BEYOND: ("the site's own superheat figure misleads", _SURE_PIPING)},
    WATCH_BLIND.name: {
        Condition.BEYOND: ("liquid coming back would go unnoticed", _SURE_BLIND),
        Condition.BEYOND_DOUBT: ("liquid coming back would go unnoticed", _SURE_BLIND),
    },
    DISCHARGE_SUPERHEAT_LOW.name: {
        Condition.POSSIBLE: (
            "liquid may be coming to the compressor",
            "Unsure: gas too cold, still moving",
        ),
        Condition.BEYOND: (
            "liquid comes to the compressor",
            "Likely: gas too cold, or probe loose",
        ),
        Condition.BEYOND_DOUBT: (
            "liquid comes to the compressor",
            "Sure: the discharge is too cold",
        ),
    },
    DISCHARGE_TEMPERATURE_HIGH.name: {
        Condition.BEYOND: ("the discharge gas is too hot", "As sure as its probe"),
        Condition.BEYOND_DOUBT: ("the discharge gas is far too hot", "As sure as its probe"),
    },
    SUBCOOLING_LOW.name: {
        Condition.BEYOND: ("bubbles may reach the expansion valves", "Sure: low by more than its uncertainty")
    },
    SUBCOOLING_HIGH.name: {
        Condition.BEYOND: ("liquid stands in the condenser", "Sure: high by more than its uncertainty")
    },
    FEED_STALE.name: {Condition.BEYOND: ("readings do not come as they should", "Sure: seen by arrival")},
}
# Where the evidence leaves no doubt, in place of the cause that holds for every priority.
_SURE_CAUSES = {
    SUPERHEAT_LOW.name: "The returning vapour is saturated, or nearly so: very likely with liquid in it."
}
RESTS_ON_RETURN = (SUPERHEAT_LOW.name, SUPERHEAT_HIGH.name)


def plainly(entry: Entry, priority: Priority, found: Facts, assessment: Assessment | None) -> tuple[str, str]:
    """What the alarm most likely means, and how sure that is."""
    name = entry.name
    known = _PLAIN.get(name, {})
    condition = assessment.conditions.get(name) if assessment else None
    usual = known.get(Condition.BEYOND, (f"{name} is raised", "As sure as what was found"))
    sentence, sure = known.get(
        condition or Condition.BEYOND, (usual[0], "Unsure: not beyond its limit just now")
    )
    if condition == Condition.BEYOND_DOUBT and name == SUPERHEAT_LOW.name:
        sure = _low_surely(found)
    elif priority is Priority.HIGH and entry.urgent and condition is not None:
        sure = "Sure when it was raised, weaker now"
    if assessment is not None and name in RESTS_ON_RETURN:
        returned = assessment.quantities[RETURN]
        if returned.decided and returned.said.standing in SECOND_BEST:
            sure = "Less sure: read at a second-best probe"
    return sentence, sure


# How soon somebody should look; common practice, no source.
HOW_SOON = {
    Priority.HIGH: "now",
    Priority.MEDIUM: "on the next working day",
    Priority.LOW: "at the next visit",
}
_URGENCY = {
    Priority.HIGH: f"Somebody should see to it {HOW_SOON[Priority.HIGH]}, by day or night.",
    Priority.MEDIUM: f"Somebody should see to it {HOW_SOON[Priority.MEDIUM]}.",
    Priority.LOW: "It can wait for the next visit.",
}
_TO_STOP = "Whether the module is to be stopped is for whoever is responsible for the plant"


def urgency(priority: Priority) -> str:
    """How soon somebody should see to it."""
    return _URGENCY[priority]


def to_stop(entry: Entry, priority: Priority) -> str:
    """Who decides whether what may break goes on running; empty where nothing of the kind threatens."""
    if not entry.may_break:
        return ""
    return f"{_TO_STOP}: ask {'now' if priority is Priority.HIGH else 'them'}."


def cause(entry: Entry, assessment: Assessment | None) -> str:
    """The cause; where the evidence leaves no doubt, the sure one."""
    condition = assessment.conditions.get(entry.name) if assessment else None
    return _SURE_CAUSES.get(entry.name, entry.cause) if condition == Condition.BEYOND_DOUBT else entry.cause


def _low_surely(found: Facts) -> str:
    """By what low superheat is beyond doubt: its own figures, or a discharge that is too cold as well."""
    value, above, limit = found.value_k, found.above_k, found.limit_k
    if value is None or above is None or limit is None or value + above >= limit:
        return "Sure: the discharge is too cold as well"
    return f"Sure, if piping and instruments are as described: all of it under {limit:g} K"
