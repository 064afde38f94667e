"""What a person at a desk does about an alarm, by its priority. Common practice, no source."""

from __future__ import annotations

from agent.alarms import FEED_STALE, Entry, Priority

_WHEN = {
    Priority.HIGH: (
        "call {} now. Whether the module is to be stopped is for whoever is responsible for the plant to say."
    ),
    Priority.MEDIUM: "tell {} on the next working day.",
    Priority.LOW: "have {} look at it at the next visit.",
}
_CONTRACTOR = "the refrigeration contractor"
_OF_READINGS = "whoever looks after the gateway and its network"


def urgency_words(priority: Priority, entry: Entry | None) -> str:
    """Whom to tell and how soon. ``entry`` None: an alarm that the catalogue no longer has."""
    whom = _OF_READINGS if entry is not None and entry.name == FEED_STALE.name else _CONTRACTOR
    words = _WHEN[priority].format(whom)
    return words[0].upper() + words[1:]
