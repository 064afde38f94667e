"""Secrets come from the environment or from files, never from the configuration, and are never printed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from agent.settings.model import BrokerSettings


def password(broker: BrokerSettings, environment: Mapping[str, str]) -> str | None:
    """The password for the broker; None where none is configured. Raises ValueError that names the place."""
    if broker.password_env is not None and broker.password_file is not None:
        raise ValueError("broker: state password_env or password_file, not both")
    if broker.password_env is not None:
        found = environment.get(broker.password_env)
        if not found:
            raise ValueError(
                f"broker: the environment variable {broker.password_env} does not hold a password"
            )
        return found
    if broker.password_file is None:
        return None
    try:
        found = Path(broker.password_file).read_text(encoding="utf-8").rstrip("\r\n")
    except (OSError, UnicodeDecodeError) as error:
        raise ValueError(f"broker: password_file {broker.password_file} cannot be read: {error}") from None
    if not found:
        raise ValueError(f"broker: password_file {broker.password_file} is empty")
    return found
