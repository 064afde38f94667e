"""Secrets come from the environment or from files, never from the configuration, and are never printed."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from agent.settings.model import BrokerSettings, Settings
from agent.settings.notices import ALERTMANAGER
from agent.settings.sentences import file, variable
from agent.settings.source import Where

NEEDED = "the agent needs it where it runs"


def absent(settings: Settings, environment: Mapping[str, str]) -> Iterator[tuple[Where, str]]:
    """What the configuration takes from the environment or a file, and is not there on this machine."""
    broker = settings.broker
    at_broker: Where = ("broker",)
    places: list[tuple[Where, str | None, bool]] = [
        ((*at_broker, "password_env"), broker.password_env, True),
        ((*at_broker, "password_file"), broker.password_file, False),
        ((*at_broker, "ca_file"), broker.ca_file, False),
        ((*at_broker, "cert_file"), broker.cert_file, False),
        ((*at_broker, "key_file"), broker.key_file, False),
        ((*at_broker, "key_password_env"), broker.key_password_env, True),
        ((*at_broker, "key_password_file"), broker.key_password_file, False),
    ]
    for number, route in enumerate(settings.notices.routes):
        where: Where = ("notices", "routes", number)
        places += [((*where, "url_env"), route.url_env, True), ((*where, "url_file"), route.url_file, False)]
    if (to := settings.notices.alertmanager) is not None:
        at: Where = ("notices", ALERTMANAGER)
        places += [
            ((*at, "password_env"), to.password_env, True),
            ((*at, "password_file"), to.password_file, False),
            ((*at, "token_env"), to.token_env, True),
            ((*at, "token_file"), to.token_file, False),
            ((*at, "ca_file"), to.ca_file, False),
        ]
    for where, name, is_variable in places:
        if name is None:
            continue
        if is_variable and not environment.get(name):
            yield where, f"{variable(name, str(where[-1]))} is not set here; {NEEDED}"
        elif not is_variable and not os.access(name, os.R_OK):
            yield where, f"{file(name, str(where[-1]))} cannot be read here; {NEEDED}"


def password(broker: BrokerSettings, environment: Mapping[str, str]) -> str | None:
    """The password for the broker; None where none is configured. Raises ValueError that names the place."""
    return secret("broker", "password", broker.password_env, broker.password_file, environment)


def key_password(broker: BrokerSettings, environment: Mapping[str, str]) -> str | None:
    """The passphrase of the key in ``key_file``; otherwise as ``password``."""
    at = "broker"
    return secret(at, "key_password", broker.key_password_env, broker.key_password_file, environment)


def secret(
    at: str, key: str, name: str | None, path: str | None, environment: Mapping[str, str]
) -> str | None:
    """What a variable or a file holds, for a key of a place in the configuration; None without either.

    Raises ValueError that names the place.
    """
    what = "token" if key == "token" else "password"
    if name is not None and path is not None:
        raise ValueError(f"{at}: state {key}_env or {key}_file, not both")
    if name is not None:
        found = environment.get(name)
        if not found:
            raise ValueError(f"{at}: {variable(name, f'{key}_env')} does not hold a {what}")
        return found
    if path is None:
        return None
    place = file(path, f"{key}_file")
    try:
        found = Path(path).read_text(encoding="utf-8").rstrip("\r\n")
    except OSError as error:
        raise ValueError(f"{at}: {place} cannot be read: {error.strerror}") from None
    except UnicodeDecodeError:  # which shows a byte of it
        raise ValueError(f"{at}: {place} is not UTF-8 text") from None
    if not found:
        raise ValueError(f"{at}: {place} is empty")
    return found
