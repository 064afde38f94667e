"""Where and as whom to connect, and what for."""

import ssl
from dataclasses import dataclass, field


@dataclass(frozen=True)
class BrokerSettings:
    """Where and as whom to connect; raises ValueError for what a broker would misunderstand or refuse."""

    host: str
    port: int
    client_id: str  # fixed: the broker keeps what was not acknowledged under this name
    prefix: str  # the agent publishes under it and nowhere else; ends in "/"
    status_topic: str
    subscriptions: tuple[str, ...]
    session_expiry_s: int  # longer than the longest outage of the agent
    keepalive_s: int = 60
    receive_maximum: int = 1000
    username: str | None = None
    password: str | None = field(default=None, repr=False)
    tls: ssl.SSLContext | None = None
    max_queued_messages: int = 10_000
    reconnect_min_s: int = 1
    reconnect_max_s: int = 60
    ended: tuple[str, ...] = ()  # filters of configurations before, that a kept session may still have
    looks_on: bool = False  # beside the agent: keeps no session, leaves no will, says and publishes nothing

    def __post_init__(self) -> None:
        if not self.client_id:
            raise ValueError("client_id is empty; right is a fixed name, or the broker keeps nothing")
        if self.session_expiry_s <= 0:
            raise ValueError(f"session_expiry_s is {self.session_expiry_s}; right is above 0")
        if self.keepalive_s <= 0:
            raise ValueError(f"keepalive_s is {self.keepalive_s}; right is above 0")
        if not 1 <= self.receive_maximum <= 65_535:
            raise ValueError(f"receive_maximum is {self.receive_maximum}; right is 1 to 65535")
        if len(self.prefix) < 2 or not self.prefix.endswith("/") or set(self.prefix) & set("+#\0"):
            raise ValueError(f'prefix is "{self.prefix}"; right is a topic that ends in "/", no wildcards')
        self.check_own(self.status_topic)
        if not self.subscriptions:
            raise ValueError("subscriptions is empty; right is at least one topic filter")
        for topic_filter in self.subscriptions:
            _check_filter(topic_filter)

    def check_own(self, topic: str) -> None:
        """Raises ValueError for a topic that is not the agent's own: it never writes to equipment."""
        if not topic.startswith(self.prefix) or topic == self.prefix or set(topic) & set("+#\0"):
            raise ValueError(f'topic is "{topic}"; right is a topic under "{self.prefix}", no wildcards')


def _check_filter(topic_filter: str) -> None:
    levels = topic_filter.split("/")
    wildcards_alone = all(level in ("+", "#") or not set(level) & set("+#") for level in levels)
    if not topic_filter or "\0" in topic_filter or not wildcards_alone or "#" in levels[:-1]:
        raise ValueError(
            f'the topic filter "{topic_filter}" is not one; right is levels with "/" between, '
            '"+" for a whole level, "#" for the last'
        )
