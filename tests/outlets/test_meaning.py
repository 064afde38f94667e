"""What an alarm means, in words of its own."""

from agent.alarms import CATALOGUE, NOTHING_FOUND
from agent.alarms.instruments import PROBE_FAILED
from agent.outlets.meaning import plainly


def test_every_alarm_on_the_grid_says_what_it_means():
    """Those by the hour, and a failed probe, say what was found in their own findings."""
    mute = [
        name
        for name, entry in CATALOGUE.items()
        if not entry.by_hour and name != PROBE_FAILED.name
        if plainly(entry, entry.priority, NOTHING_FOUND, None)[0] == f"{name} is raised"
    ]
    assert mute == []
