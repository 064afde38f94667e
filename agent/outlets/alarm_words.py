"""An alarm's state in words, and as data: one way to say it in status, in the list and in messages."""

from __future__ import annotations

from typing import Any

from agent.alarms import CATALOGUE, Condition, Life, StateName
from agent.alarms.identity import LAYOUT_DOUBT
from agent.outlets.doubt import is_in_doubt
from agent.outlets.shown import SI, Display
from agent.outlets.times import iso
from agent.outlets.view import Lives, ModuleView, StandingAlarm

SHOWN_LATE_US = 3_600_000_000  # between raised and known: from then on both are shown
UNACKNOWLEDGED = (
    StateName.UNACKNOWLEDGED,
    StateName.RETURNED_UNACKNOWLEDGED,
    StateName.LATCHED_UNACKNOWLEDGED,
)


def state_words(lives: Lives, name: str, display: Display = SI) -> str:
    """The state's name, who brought it about and why, and whether it is sent; empty where it is normal."""
    state, life = lives.standing(name), lives.of.get(name, Life())
    if state is StateName.NORMAL:
        return f"withdrawn: {life.withdrawn}" if life.withdrawn else ""
    match state:
        case StateName.SHELVED:
            words = f"shelved until {display.day_time(life.state.shelved_until_us)} by {life.shelved_by}"
            words += _because(life.shelved_why)
        case StateName.OUT_OF_SERVICE:
            words = f"out of service by {life.removed_by}{_because(life.removed_why)}"
        case StateName.SUPPRESSED:
            words = f"suppressed by design, held back by {life.held_by}"
        case StateName.ACKNOWLEDGED | StateName.LATCHED_ACKNOWLEDGED if life.acknowledged_by:
            words = f"{state} {acknowledged_words(life, display)}"
        case _:
            words = str(state)
    words += before_words(lives, name)
    return f"{words}, in shadow" if lives.shadow else words


def acknowledged_words(life: Life, display: Display = SI) -> str:
    """By whom, when and with which note; without a time where an older version kept none."""
    at = "" if life.acknowledged_us is None else f" at {display.day_time(life.acknowledged_us)}"
    return f"by {life.acknowledged_by}{at}{_because(life.note)}"


def before_words(lives: Lives, name: str) -> str:
    """Of an alarm that stood before the unit was replaced; empty of any other."""
    return ", of the unit that stood here before" if lives.of_unit_before(name) else ""


def since_words(since_us: int | None, life: Life, display: Display = SI) -> str:
    """Since when it stands; when that became known, where that was much later."""
    since = f"since {display.day_time(since_us)}"
    return f"{since}, known {display.day_time(life.known_us)}" if is_late(since_us, life) else since


def is_late(since_us: int | None, life: Life, delay_us: int = 0) -> bool:
    """Whether it became known much later than it began. ``delay_us``: what its own delay makes of that."""
    known_us = life.known_us
    return None not in (since_us, known_us) and (known_us or 0) - (since_us or 0) > SHOWN_LATE_US + delay_us


def over_words(life: Life, display: Display = SI) -> str:
    """When it stood, or was taken to; empty of one that stands."""
    if life.withdrawn:
        return f"was taken to stand from {display.day_time(life.since_us)}"
    return "" if life.state.active else f"stood from {display.day_time(life.since_us)}, over now"


def found_words(alarm: StandingAlarm, view: ModuleView | None, display: Display = SI) -> str:
    """The evidence now, whether it is in doubt, and where it made the alarm urgent and is weaker now."""
    entry, assessment = CATALOGUE.get(alarm.name), view.assessment if view else None
    condition = assessment.conditions.get(alarm.name) if assessment else None
    urgent = entry is not None and entry.urgent is not None and alarm.priority is entry.urgent
    weaker = urgent and condition not in (None, Condition.BEYOND_DOUBT)
    found = display.words(alarm.facts.text)
    text = f"without doubt before, now weaker: {found}" if weaker else found
    return f"IN DOUBT ({LAYOUT_DOUBT.name}): {text}" if view and is_in_doubt(view, alarm.name) else text


def shadow_words(lives: Lives, display: Display = SI) -> str:
    """What is said of a new module; empty where its alarms are sent."""
    if not lives.shadow:
        return ""
    return f"in shadow until {display.day_time(lives.shadow_ends_us)}: its alarms are shown and not sent"


def unit_words(unconfirmed_us: int | None, module: str, display: Display = SI) -> str:
    """What is said of a unit that was replaced; empty where its layout is confirmed."""
    if unconfirmed_us is None:
        return ""
    return (
        f"another unit stands here since {display.day_time(unconfirmed_us)}; its layout is not confirmed: "
        f"`dewline service {module} confirm` once somebody has seen it"
    )


def state_mapping(lives: Lives, name: str) -> dict[str, Any]:
    """The state as plain data, for JSON; null for what does not hold."""
    life = lives.of.get(name, Life())
    shelved = life.state.is_shelved(lives.at_us)
    return {
        "state": lives.standing(name),
        "changed": _iso(life.changed_us),
        "known": _iso(life.known_us),
        "acknowledged": _iso(life.acknowledged_us),
        "acknowledged_by": life.acknowledged_by or None,
        "note": life.note or None,
        "held_back_by": life.held_by or None,
        "shelved_until": _iso(life.state.shelved_until_us) if shelved else None,
        "shelved_by": life.shelved_by if shelved else None,
        "shelved_why": life.shelved_why if shelved else None,
        "out_of_service_by": life.removed_by or None,
        "out_of_service_why": life.removed_why or None,
        "withdrawn": life.withdrawn or None,
        "shadow": lives.shadow,
        "of_unit_before": lives.of_unit_before(name),
    }


def _because(why: str) -> str:
    return f" ({why})" if why else ""


def _iso(time_us: int | None) -> str | None:
    return None if time_us is None else iso(time_us)
