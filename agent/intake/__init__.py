"""From the broker to readings: the connection, the inbox, the payload decoder and the point map.

A message comes in at `mqtt`, waits in `inbox`, and `pointmap` turns it into readings with the help of
`payloads` and `stamps`; what cannot be used it gives a reason from `refusals`. Nothing here knows the store:
who takes messages from the inbox acknowledges them after the commit.
"""

from agent.intake.inbox import Inbox, Message
from agent.intake.mqtt import BrokerSettings, Connection, Facts, covers
from agent.intake.pointmap import Decoded, Point, PointMap
from agent.intake.stamps import Stamps

__all__ = [
    "BrokerSettings",
    "Connection",
    "Decoded",
    "Facts",
    "Inbox",
    "Message",
    "Point",
    "PointMap",
    "Stamps",
    "covers",
]
