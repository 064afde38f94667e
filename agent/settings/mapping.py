"""Where each signal's values come in: on which topic, at which point of which kind of payload.

The mapping is written down beside the readings, so that they can be read anew when it is mended. Knows
nothing of the store, the broker and the decoders.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from typing import Any, Literal, NamedTuple, Self

import orjson
from jsonpointer import JsonPointer, JsonPointerException

from agent.readings import Moved

Kind = Literal["senml", "json", "scalar"]
Address = tuple[str, str]  # topic, and name in the payload; "" where the payload is the value
SignalKey = tuple[str, str]  # path of the module, signal


class Payload(NamedTuple):
    """How the payloads on a topic are read."""

    kind: Kind = "senml"
    time: str | None = None  # of json: where the sample time stands; None: the arrival is the time

    def __str__(self) -> str:
        return f"{self.kind} with its time at {self.time}" if self.time else self.kind


class Mapped(NamedTuple):
    """What an address is."""

    path: str
    signal: str
    unit: str | None
    zone: str | None  # of the stamps; None: UTC
    payload: Payload

    def written(self) -> list[str | None]:
        """Bare where it is SenML in UTC, the usual case."""
        more = [self.zone, *self.payload] if self.payload != Payload() else [self.zone] if self.zone else []
        return [self.path, self.signal, self.unit, *more]

    @classmethod
    def read(cls, written: Sequence[Any]) -> Self:
        """What was written of an address."""
        path, signal, unit, *more = written
        return cls(path, signal, unit, more[0] if more else None, Payload(*more[1:]))


def default_point(kind: Kind, signal: str) -> str:
    """Where a signal is looked for unless the configuration says."""
    return f"/{signal}" if kind == "json" else signal


def point_problem(kind: Kind, point: str) -> str | None:
    """What is wrong with a point; None where it can be one."""
    if kind == "json":
        return pointer_problem(point)
    if kind == "scalar" and not all(level and not set(level) & set("+#\0") for level in point.split("/")):
        right = "right would be levels without + and #, such as temperatures/suction"
        return f"{point!r} cannot follow the module's topic; {right}"
    return None


def pointer_problem(pointer: str) -> str | None:
    """What is wrong with a JSON Pointer (RFC 6901); None where it is one."""
    try:
        JsonPointer(pointer)
    except JsonPointerException:
        if pointer.startswith("/"):
            return f"{pointer!r} is no JSON Pointer; ~ is written ~0 there, and / in a name ~1"
        return f"{pointer!r} is no JSON Pointer; right would be {'/' + pointer!r}"
    return None


def addresses(topic: str, kind: Kind, points: Mapping[str, str]) -> dict[Address, str]:
    """Where a module's signals come in; ``points``: point to signal."""
    if kind == "scalar":
        return {(f"{topic}/{point}", ""): signal for point, signal in points.items()}
    return {(topic, point): signal for point, signal in points.items()}


class Taken:
    """What modules have taken so far: no value belongs to two, and a topic has one kind of payload."""

    def __init__(self, own_prefix: str) -> None:
        self._own = f"{own_prefix}/"
        self._owners: dict[Address, str] = {}
        self._payloads: dict[str, tuple[Payload, str]] = {}

    def take(self, path: str, topic: str, payload: Payload, points: Mapping[str, str]) -> Iterator[str]:
        """What is wrong with another module's topic; each thing once, not for every point."""
        found = addresses(topic, payload.kind, points)
        topics = list(dict.fromkeys(each for each, _ in found)) or [topic]
        own = next((each for each in topics if f"{each}/".startswith(self._own)), None)
        if own is not None:
            yield f"topic {own} lies under broker.prefix, where the agent hears nothing"
        for each in topics:
            other_payload, other = self._payloads.setdefault(each, (payload, path))
            if other_payload != payload:
                yield f"topic {each} is {payload} here and {other_payload} for {other}; state another topic"
                break
        for each, name in found:
            other = self._owners.setdefault((each, name), path)
            if other != path:
                what = f"{name} on topic {each}" if name else f"topic {each}"
                yield f"{what} belongs to {other} already; state another topic"
                break


def topic_filters(found: Iterable[tuple[str, Kind]]) -> tuple[str, ...]:
    """What to subscribe to for topics of these kinds, so that no message comes twice.

    Beside a bare value its neighbours are heard too: one that nobody mapped is noticed.
    """
    kinds = dict(found)
    beside = {_parent(topic) for topic, kind in kinds.items() if kind == "scalar"}
    alone = {topic for topic in kinds if _parent(topic) not in beside}
    return tuple(sorted({f"{parent}/+" for parent in beside} | alone))


def ended_filters(older: Iterable[str], current: Collection[str]) -> tuple[str, ...]:
    """What earlier mappings (JSON) subscribed to and the current one does not."""
    found: set[str] = set()
    for body in older:
        found |= set(topic_filters((topic, mapped.payload.kind) for (topic, _), mapped in _mapped(body)))
    return tuple(sorted(found - set(current)))


def _parent(topic: str) -> str | None:
    parent, slash, _ = topic.rpartition("/")
    return parent if slash else None


def write_mapping(found: Mapping[Address, Mapped]) -> str:
    """JSON: topic to name to what it is."""
    body: dict[str, dict[str, list[str | None]]] = {}
    for (topic, name), mapped in found.items():
        body.setdefault(topic, {})[name] = mapped.written()
    return orjson.dumps(body, option=orjson.OPT_SORT_KEYS).decode()


def moved(older: Mapping[int, str], current: str, signal_ids: Mapping[SignalKey, int]) -> Moved:
    """Which readings that came in under an older mapping are another signal's by the current one.

    A reading belongs to the signal that its address has now. Where the address is gone, as when a gateway
    renamed its topics, it stays with the signal it had, unless readings of the same mapping have become that
    signal's: then it is nobody's.
    """
    now = _signals(current)
    found = {}
    for mapping_id, body in older.items():
        was = _signals(body)
        stated = {now[address] for address in was if address in now}
        changes: dict[int, int | None] = {}
        for address, signal in was.items():
            meant = now.get(address, None if signal in stated else signal)
            if meant != signal and signal in signal_ids:
                changes[signal_ids[signal]] = signal_ids.get(meant) if meant else None
        if changes:
            found[mapping_id] = changes
    return found


def _mapped(body: str) -> Iterator[tuple[Address, Mapped]]:
    """What `write_mapping` wrote."""
    for topic, names in orjson.loads(body).items():
        for name, written in names.items():
            yield (topic, name), Mapped.read(written)


def _signals(body: str) -> dict[Address, SignalKey]:
    return {address: (mapped.path, mapped.signal) for address, mapped in _mapped(body)}
