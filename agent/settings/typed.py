"""From plain data to settings: keys and types, with every mistake told.

What is wrong is taken out, and where the rest needs it something harmless is put in its place, so that the
meaning of the rest is looked at in the same go; ``unusable`` says of what nothing more can be said.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from typing import Any

from pydantic import ValidationError

from agent.settings.model import (
    BrokerSettings,
    Settings,
    SignalSetSettings,
    SignalSettings,
    StoreSettings,
    SystemSettings,
)
from agent.settings.ranges import MODULE, STAND_IN, Expansion
from agent.settings.sentences import Wrong, close, keys_beside, wrong
from agent.settings.source import Where

_GONE = object()
_ANY = "*"

_SIGNAL_SET = SignalSetSettings(every_s=1e-6, max_age_s=1e9, signals={})
_SYSTEM = SystemSettings(refrigerant="R-32", modules={STAND_IN: MODULE})

# Of a module: what the rest of it can be judged without.
_BESIDE = ("configured_probe", "pressure_loss_kpa", "unknown_loss_kpa", "runs_above_hz", "runs_above_a")

# What can be taken out for itself, the finer first, and what stands in for it meanwhile.
_PARTS: Mapping[Where, Any] = {
    ("signal_sets", _ANY, "signals", _ANY): SignalSettings(),
    ("signal_sets", _ANY, "signals"): {},
    ("signal_sets", _ANY, "every_s"): _SIGNAL_SET.every_s,
    ("signal_sets", _ANY, "max_age_s"): _SIGNAL_SET.max_age_s,
    ("signal_sets", _ANY, _ANY): _GONE,
    ("signal_sets", _ANY): _SIGNAL_SET,
    ("signal_sets",): {},
    **{("systems", _ANY, "modules", _ANY, key): _GONE for key in _BESIDE},
    ("systems", _ANY, "modules", _ANY): MODULE,
    ("systems", _ANY, "modules"): _SYSTEM.modules,
    ("systems", _ANY, "refrigerant"): _SYSTEM.refrigerant,
    ("systems", _ANY, _ANY): _GONE,
    ("systems", _ANY): _SYSTEM,
    ("systems",): {STAND_IN: _SYSTEM},
    ("limits", _ANY): _GONE,
    ("site",): "site",
    ("elevation_m",): 0.0,
    ("store",): StoreSettings(url="sqlite:///store.db"),
    ("broker",): BrokerSettings(telemetry="telemetry"),
    (_ANY,): _GONE,
}


def typed(expansion: Expansion, say: Callable[[Wrong], None]) -> tuple[Settings, frozenset[Where]] | None:
    """Settings of what can be used, and what cannot; None where nothing can."""
    try:
        settings = Settings.model_validate(expansion.data)
        unusable = expansion.unusable
    except ValidationError as error:
        found = [dict(each) for each in error.errors(include_url=False)]
        for each in _without_followers(found, expansion):
            say(wrong(each))
        if not isinstance(expansion.data, dict):
            return None
        data, unusable = expansion.data, set(expansion.unusable)
        for part in {part: None for each in found for part in _parts(each)}:
            data = _without(data, part)
            # Where a name is none, nobody knows what the names that lead there mean.
            unusable |= {part} if part[-1] != "[key]" else {part[:-1], part[:-2]}
        try:
            settings = Settings.model_validate(data)
        except ValidationError:
            return None
    _take_out(settings, unusable)
    return settings, frozenset(unusable)


def _without_followers(found: Iterable[dict[str, Any]], expansion: Expansion) -> Iterator[dict[str, Any]]:
    """Not what a module lacks only because its template is wrong."""
    found = list(found)
    broken = {str(each["loc"][1]) for each in found if each["loc"][:1] == ("templates",) and each["loc"][1:]}
    for each in found:
        written = expansion.written.get(each["loc"][:4])
        if not (each["type"] == "missing" and written and written.template in broken):
            yield each


def _parts(error: dict[str, Any]) -> Iterator[Where]:
    """What an error makes unusable: where it is and, for a misspelled key, the one that was meant."""
    where: Where = error["loc"]
    if error["type"] != "extra_forbidden":
        yield _part(where)
        return
    yield where
    name = close(str(where[-1]), keys_beside(where))
    if name is not None:
        yield _part((*where[:-1], name))


def _part(where: Where) -> Where:
    """The part of the settings to take out; for a bad name of one, ended by the word ``[key]``."""
    part = next((where[: len(pattern)] for pattern in _PARTS if _fits(where, pattern)), where)
    return (*part, "[key]") if where[len(part) :][:1] == ("[key]",) else part


def _fits(where: Where, pattern: Where) -> bool:
    return len(where) >= len(pattern) and all(p in (_ANY, w) for p, w in zip(pattern, where, strict=False))


def _stand_in(part: Where) -> Any:
    fitting = (value for of, value in _PARTS.items() if len(of) == len(part) and _fits(part, of))
    return next(fitting, _GONE)


def _without(data: Any, part: Where) -> Any:
    """Data with something harmless in place of a part; a name that is none becomes another."""
    if part[-1] == "[key]":
        named = part[:-1]
        return _replaced(_replaced(data, named, _GONE), (*named[:-1], STAND_IN), _stand_in(named))
    return _replaced(data, part, _stand_in(part))


def _replaced(data: Any, path: Where, value: Any) -> Any:
    """Data with another value at a path; what it is made of stays untouched, for aliases share it."""
    key, rest = path[0], path[1:]
    if isinstance(data, list) and isinstance(key, int):
        return [_replaced(each, rest, value) if number == key else each for number, each in enumerate(data)]
    if not isinstance(data, dict):
        return data
    inner = _replaced(data.get(key), rest, value) if rest else value
    return {k: v for k, v in data.items() if k != key} if inner is _GONE else data | {key: inner}


def _take_out(settings: Settings, unusable: set[Where]) -> None:
    """The stand-ins of what has a name leave again: nobody shall take them for real."""

    def is_out(*path: str) -> bool:
        return path in unusable or path[-1] == STAND_IN

    for group, below in (("signal_sets", "signals"), ("systems", "modules")):
        described = getattr(settings, group)
        for name in list(described):
            if is_out(group, name):
                del described[name]
                continue
            inner = getattr(described[name], below)
            for each in [each for each in inner if is_out(group, name, below, each)]:
                del inner[each]
