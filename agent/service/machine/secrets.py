"""Secrets come from the environment or from files, never from the configuration, and are never printed."""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from pathlib import Path

from agent.settings.http import HttpSettings
from agent.settings.kinds import Section
from agent.settings.model import BrokerSettings, Settings
from agent.settings.notices import ALERTMANAGER
from agent.settings.sentences import file, variable
from agent.settings.source import Where

NEEDED = "the agent needs it where it runs"
SHORTEST_TOKEN = 16  # characters; no number of tries that the limits allow finds one of them


def absent(settings: Settings, environment: Mapping[str, str]) -> Iterator[tuple[Where, str]]:
    """What the configuration takes from the environment or a file, and is not there on this machine."""
    sections: list[tuple[Where, Section | None]] = [
        (("broker",), settings.broker),
        (("http",), settings.http),
        *((("notices", "routes", number), route) for number, route in enumerate(settings.notices.routes)),
        (("notices", ALERTMANAGER), settings.notices.alertmanager),
    ]
    places = [((*at, key), getattr(of, key)) for at, of in sections if of for key in type(of).model_fields]
    for where, name in places:
        is_variable, is_file = (str(where[-1]).endswith(end) for end in ("_env", "_file"))
        if name is None or not (is_variable or is_file):
            continue
        if is_variable and not environment.get(name):
            yield where, f"{variable(name, str(where[-1]))} is not set here; {NEEDED}"
        elif is_file and not os.access(name, os.R_OK):
            yield where, f"{file(name, str(where[-1]))} cannot be read here; {NEEDED}"


def password(broker: BrokerSettings, environment: Mapping[str, str]) -> str | None:
    """The password for the broker; None where none is configured. Raises ValueError that names the place."""
    return secret("broker", "password", broker.password_env, broker.password_file, environment)


def token(http: HttpSettings, environment: Mapping[str, str]) -> str | None:
    """The token that readers must show; otherwise as ``password``. One that can be guessed is refused."""
    found = secret("http", "token", http.token_env, http.token_file, environment)
    if found is not None and (len(found) < SHORTEST_TOKEN or not found.isascii() or not found.isprintable()):
        key = "token_env" if http.token_env is not None else "token_file"
        right = f"{SHORTEST_TOKEN} characters or more of printable ASCII, such as of `openssl rand -hex 24`"
        raise ValueError(f"http: the token of {key} is too short or not plain text; right would be {right}")
    return found


def key_password(at: str, of: BrokerSettings | HttpSettings, environment: Mapping[str, str]) -> str | None:
    """The passphrase of the key in ``key_file``; otherwise as ``password``."""
    return secret(at, "key_password", of.key_password_env, of.key_password_file, environment)


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
