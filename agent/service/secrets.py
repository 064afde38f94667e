"""Secrets come from the environment or from files, never from the configuration, and are never printed."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path

from agent.settings.model import BrokerSettings


def password(broker: BrokerSettings, environment: Mapping[str, str]) -> str | None:
    """The password for the broker; None where none is configured. Raises ValueError that names the place."""
    return _secret("password", broker.password_env, broker.password_file, environment)


def key_password(broker: BrokerSettings, environment: Mapping[str, str]) -> str | None:
    """The passphrase of the key in ``key_file``; otherwise as ``password``."""
    return _secret("key_password", broker.key_password_env, broker.key_password_file, environment)


def _secret(key: str, variable: str | None, file: str | None, environment: Mapping[str, str]) -> str | None:
    if variable is not None and file is not None:
        raise ValueError(f"broker: state {key}_env or {key}_file, not both")
    if variable is not None:
        found = environment.get(variable)
        if not found:
            raise ValueError(f"broker: the environment variable {variable} does not hold a password")
        return found
    if file is None:
        return None
    try:
        found = Path(file).read_text(encoding="utf-8").rstrip("\r\n")
    except OSError as error:
        raise ValueError(f"broker: {key}_file {file} cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:  # which shows a byte of it
        raise ValueError(f"broker: {key}_file {file} is not UTF-8 text") from None
    if not found:
        raise ValueError(f"broker: {key}_file {file} is empty")
    return found
