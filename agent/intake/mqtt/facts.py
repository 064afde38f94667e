"""What is told of the connection."""

from dataclasses import dataclass


@dataclass(frozen=True)
class Facts:
    """The connection's health; counters since the start of the process.

    `connected` alone proves little: watch the age of `oldest_unacknowledged_us` and of `last_arrival_us`.
    """

    connected: bool
    subscribed: bool  # and the broker has answered this connection's subscription
    protocol: str  # "5" or "3.1.1"
    connects: int
    disconnects: int
    sessions_lost: int
    sheds: int
    callback_errors: int
    acks_dropped: int
    publishes_dropped: int
    subscriptions_refused: int
    last_reason: str | None  # why the last connection ended or did not come about
    last_arrival_us: int | None
    oldest_unacknowledged_us: int | None
    unconnected_since_us: int | None  # None while connected
    unreachable: int = 0  # attempts that found no broker
    turned_away: int = 0  # connections that the broker refused, for another reason than the version of MQTT
