"""How the broker is reached: the same address, user, password and TLS for whoever connects."""

from __future__ import annotations

from collections.abc import Mapping

from agent.intake import BrokerSettings
from agent.outlets import status_topic
from agent.service.machine.secrets import password
from agent.service.machine.tls import tls_context
from agent.settings import Plan


def broker_settings(plan: Plan, environment: Mapping[str, str]) -> BrokerSettings:
    """The agent's own connection. Raises ValueError or OSError for a secret or certificate not there."""
    broker = plan.settings.broker
    return BrokerSettings(
        host=broker.host,
        port=broker.port,
        client_id=broker.client_id,
        prefix=f"{broker.prefix}/",
        status_topic=status_topic(broker.prefix, broker.client_id),
        subscriptions=plan.topic_filters,
        session_expiry_s=broker.session_expiry_s,
        keepalive_s=broker.keepalive_s,
        receive_maximum=broker.receive_maximum,
        username=broker.username,
        password=password(broker, environment),
        tls=tls_context(broker, environment),
    )
