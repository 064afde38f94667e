"""Sentences about what is wrong in the configuration: what was found, and what would be right."""

from __future__ import annotations

import difflib
from collections.abc import Iterable, Mapping
from pathlib import PurePath
from typing import Annotated, Any, NamedTuple, get_args, get_origin

from agent.settings.model import PREFIX, TOPIC, Settings
from agent.settings.names import NAME
from agent.settings.source import Where

LONGEST = 80  # of a value in a sentence
# Who misreads them writes the secret itself.
SECRET_PLACES = (
    "password_env",
    "password_file",
    "key_password_env",
    "key_password_file",
    "token_env",
    "token_file",
)
_GONE = {
    ("metrics",): "metrics is called http now; right would be http with the same host and port, and where "
    "other machines reach it cert_file, key_file and token_env or token_file too",
}
_RIGHT = {
    "model_type": "a mapping",
    "dict_type": "a mapping",
    "string_type": "text",
    "float_type": "a number",
    "finite_number": "a finite number",
    "int_type": "a whole number",
    "bool_type": "true or false",
    "too_short": "at least one entry",
    "string_too_short": "text that is not empty",
    NAME: "a name of small letters, digits, - and _",
    TOPIC: "a topic without + and #",
    PREFIX: "a topic without + and #, and without / at its end",
}


class Wrong(NamedTuple):
    """One thing wrong: the keys that lead there, whether the key itself is meant, and the sentence."""

    where: Where
    message: str
    at_key: bool


def wrong(error: Mapping[str, Any]) -> Wrong:
    """An error that pydantic found in the settings."""
    where, kind = error["loc"], error["type"]
    if kind == "missing":
        return Wrong(where, f"{where[-1]} is missing", False)
    if kind == "extra_forbidden" and where in _GONE:
        return Wrong(where, _GONE[where], True)
    if kind in ("extra_forbidden", "invalid_key"):
        return Wrong(where, f"unknown key {where[-1]!r}{meant(str(where[-1]), keys_beside(where))}", True)
    found = "a value that is not shown" if where and where[-1] in SECRET_PLACES else shown(error["input"])
    if "[key]" in where:
        return Wrong(
            where[: where.index("[key]")], f"found the key {found}; right would be {_RIGHT[NAME]}", True
        )
    right = _RIGHT.get(error.get("ctx", {}).get("pattern", kind))
    return Wrong(where, f"found {found}; right would be {right or _said(error['msg'])}", False)


def meant(name: str, known: Iterable[str]) -> str:
    """The end of a sentence about an unknown name: what was meant, or what there is."""
    names = sorted(known)
    likely = close(name, names)
    if likely is not None:
        return f"; did you mean {likely!r}?"
    return f"; there are {', '.join(names)}" if names else ""


def close(name: str, known: Iterable[str]) -> str | None:
    """The name that was probably meant."""
    lower = {each.lower(): each for each in known}
    found = difflib.get_close_matches(name.lower(), lower, n=1)
    return lower[found[0]] if found else None


def shown(value: object) -> str:
    """A value as a finding shows it: short, and in the words of YAML."""
    if value is None:
        return "nothing"
    if isinstance(value, bool):
        return str(value).lower()
    if isinstance(value, dict | list):
        return f"{'a' if value else 'an empty'} {'mapping' if isinstance(value, dict) else 'list'}"
    if isinstance(value, str) and "://" in value and not value.startswith("sqlite:"):
        return repr(f"{value.partition('://')[0]}://...")  # a URL may hold a password
    text = repr(value)
    return text if len(text) <= LONGEST else f"{text[:LONGEST]}..."


def variable(name: str, key: str) -> str:
    """The environment variable that a key names. What does not look like one may be the secret itself."""
    return f"the environment variable {name}" if name.isupper() else f"the environment variable of {key}"


def file(name: str, key: str) -> str:
    """The file that a key names. Where a secret is looked for, the last word may be the secret itself."""
    return f"the file of {key} in {PurePath(name).parent}" if key in SECRET_PLACES else f"the file {name}"


def _said(message: str) -> str:
    return message.removeprefix("Input should be ")


def keys_beside(where: Where) -> list[str]:
    """The keys that may stand where an unknown one was found."""
    here: Any = Settings
    for key in where[:-1]:
        here = here.model_fields[key].annotation if hasattr(here, "model_fields") else get_args(here)[-1]
        while type(None) in get_args(here) or get_origin(here) is Annotated:
            here = get_args(here)[0]
    return [field.alias or name for name, field in here.model_fields.items()]
