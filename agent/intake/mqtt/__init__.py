"""The agent's one connection to the broker: telemetry in, the agent's own topics out.

Knows nothing of payloads, signals or the store. `connection` says what happens when, `library` is the client
that carries it, `unacknowledged` what may come again, `settings` what it is told, and `facts` what it tells.
"""

from agent.intake.mqtt.connection import OFFLINE, ONLINE, Connection
from agent.intake.mqtt.facts import Facts
from agent.intake.mqtt.library import covers
from agent.intake.mqtt.settings import BrokerSettings

__all__ = ["OFFLINE", "ONLINE", "BrokerSettings", "Connection", "Facts", "covers"]
