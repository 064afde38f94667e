"""How a cause is weighed: each sign it should bring counts for it where seen, against it where contrary."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from typing import NamedTuple

from agent.assess.causes.faults import EITHER, FAULTS, HEATING_WEIGHT, HOT, SILENT, Expected
from agent.assess.causes.offsets import Offset, offsets, unclear
from agent.assess.causes.signs import OF_A_COMPRESSOR, Sign, base, is_above_air, label
from agent.assess.module import Module

# Design choices, no source.
UNEXPLAINED = 0.5  # weight of a sign that a fault says nothing of ...
NOT_BY_SENSOR = 2.0  # ... and of one that a sensor does not touch: it explains all, or it is another thing
UNMOVED = 1.5  # weight of all that a sensor leaves alone, together
FULL = 4.0  # strength from which a sign counts in full; of a weaker one its share
MUTE = 1 / 3  # of its weight that a sign counts for in the sum where it is lacking or says nothing
_GAUGES = (
    "Gauges open the circuit: leave them to certified people, after the equipment's instructions, and only "
    "where the display leaves a doubt."
)
_SHOULD = {1: "risen", -1: "fallen", EITHER: "stayed"}


class LikelyCause(NamedTuple):
    """What might be behind the signs. ``score``: -1 (all against) to 1 (all that it should bring is seen)."""

    name: str
    title: str
    score: float
    evidence_for: tuple[str, ...]
    evidence_against: tuple[str, ...]
    missing: tuple[str, ...]
    next_looks: tuple[str, ...]  # look and read only


class Candidate(NamedTuple):
    name: str
    title: str
    expects: Mapping[str, Expected]  # by sign; by kind where there is no such sign
    looks: tuple[str, ...]
    unexplained: float = UNEXPLAINED
    misfits: frozenset[str] = frozenset()  # signs that moved by another amount than they should
    is_ordinary: bool = False  # a sensor, off by no more than it may be anyway


class Weighed(NamedTuple):
    candidate: Candidate
    cause: LikelyCause
    support: tuple[float, ...]  # strengths of the moved signs that speak for it


def candidates(module: Module, mode: str, seen: Mapping[str, Sign]) -> Iterator[Candidate]:
    """Every fault, leaking valves for each compressor, and every sensor that would explain a sign."""
    for fault in FAULTS:
        if "{}" not in fault.title:
            title = f"{fault.title}{_coil(fault.name, mode)}"
            yield Candidate(fault.name, title, _by_sign(fault.expects, seen), fault.looks)
            continue
        for name in module.layout.compressors:
            expects = _by_sign(fault.expects, seen, name)
            yield Candidate(f"{fault.name}:{name}", fault.title.format(name), expects, fault.looks)
    for offset in offsets(module, mode, seen):
        yield _sensor(module, offset, seen)


def _coil(fault: str, mode: str) -> str:
    indoor_in = {"condenser_fouled": "heating", "evaporator_fouled": "cooling"}.get(fault)
    return "" if indoor_in is None else " (indoor units)" if indoor_in == mode else " (outdoor coil)"


def _by_sign(
    expects: Mapping[str, Expected], seen: Mapping[str, Sign], compressor: str | None = None
) -> dict[str, Expected]:
    """Signs of one kind share its weight. ``compressor``: only its own signs count."""
    found: dict[str, Expected] = {}
    for kind, expected in expects.items():
        names = [name for name in seen if base(name) == kind]
        found |= dict.fromkeys(names, SILENT)
        if compressor is not None and kind in OF_A_COMPRESSOR:
            names = [kind + compressor]
        counted = [name for name in names if name in seen and not seen[name].why] or names[:1] or [kind]
        found |= dict.fromkeys(counted, expected._replace(weight=expected.weight / len(counted)))
    return found


def _sensor(module: Module, offset: Offset, seen: Mapping[str, Sign]) -> Candidate:
    mute = unclear(offset.sensor, module)
    others = [name for name in seen if base(name) not in mute and name not in offset.effects]
    expects = dict.fromkeys(seen, SILENT)
    expects |= dict.fromkeys(others, Expected(EITHER, UNMOVED / (len(others) or 1)))
    for name, effect in offset.effects.items():
        is_mute = name in seen and not seen[name].why and name not in offset.fits | offset.misfits
        expects[name] = SILENT if is_mute else Expected(1 if effect * offset.size_k > 0 else -1)
    is_pressure = offset.sensor in (module.layout.suction_transducer, module.layout.discharge_transducer)
    kelvin = "K of saturation" if is_pressure else "K"
    size = f"{abs(offset.size_k):.1f} {kelvin} too {'high' if offset.size_k > 0 else 'low'}"
    looks: tuple[str, ...] = (
        f"Compare {offset.sensor} with the equipment's own service display at the same minute.",
    )
    if is_pressure:
        looks += (_GAUGES,)
    else:
        hot = f" ({HOT})" if offset.sensor in module.layout.discharge_probes else ""
        looks += (f"Read a clamp of your own beside it{hot}, and compare.",)
        looks += (f"Look whether {offset.sensor} sits firmly, insulated and in the place the layout says.",)
    title = f"sensor: {offset.sensor} reads {size}"
    name = f"sensor:{offset.sensor}"
    return Candidate(name, title, expects, looks, NOT_BY_SENSOR, offset.misfits, offset.is_ordinary)


def weigh(candidate: Candidate, mode: str, seen: Mapping[str, Sign]) -> Weighed:
    """The cause with its evidence, and how strong the signs are that support it."""
    scales = _Scales(candidate, mode, seen)
    for name, expected in candidate.expects.items():
        if expected.weight:
            scales.put(name, expected)
    for name, sign in seen.items():
        if sign.direction and name not in candidate.expects:
            words = f"{said(sign, mode)}, which it does not explain"
            scales.contradict(words, candidate.unexplained * _share(sign))
    return scales.weighed()


class _Scales:
    def __init__(self, candidate: Candidate, mode: str, seen: Mapping[str, Sign]) -> None:
        self.candidate, self.mode, self.seen = candidate, mode, seen
        self.score = self.total = 0.0
        self.speaks_for: list[str] = []
        self.against: list[str] = []
        self.missing: list[tuple[str, str]] = []
        self.unmoved: list[str] = []
        self.support: list[float] = []

    def put(self, name: str, expected: Expected) -> None:
        sign = self.seen.get(name)
        if sign is None or sign.why:
            self.total += MUTE * expected.weight
            self.missing.append((name, sign.why if sign else "not measured"))
            return
        words = said(sign, self.mode)
        if name in self.candidate.misfits:
            self.contradict(f"{words}, by another amount than it should", expected.weight)
        elif not sign.direction:
            self.stayed(sign, expected)
        elif sign.direction == expected.direction:
            self.score += expected.weight * _share(sign)
            self.total += expected.weight
            self.speaks_for.append(words)
            self.support.append(abs(sign.strength))
        else:
            weight = expected.weight if expected.direction else self.candidate.unexplained
            self.contradict(f"{words}; it should have {_SHOULD[expected.direction]}", weight * _share(sign))

    def stayed(self, sign: Sign, expected: Expected) -> None:
        speaks = expected.direction == EITHER or expected.telling
        self.total += expected.weight if speaks else MUTE * expected.weight
        if expected.direction == EITHER:
            self.score += expected.weight
            self.unmoved.append(sign.kind.label)
        elif expected.telling:
            self.score -= expected.weight / 2
            self.against.append(f"{said(sign, self.mode)}; it should have {_SHOULD[expected.direction]}")

    def contradict(self, words: str, weight: float) -> None:
        self.score -= weight
        self.total += weight
        self.against.append(words)

    def weighed(self) -> Weighed:
        if self.unmoved:
            self.speaks_for.append(f"as usual, as they should be: {', '.join(dict.fromkeys(self.unmoved))}")
        share = HEATING_WEIGHT if self.mode == "heating" else 1.0
        cause = LikelyCause(
            self.candidate.name,
            self.candidate.title,
            round(share * self.score / (self.total or 1.0), 3),
            tuple(self.speaks_for),
            tuple(self.against),
            unknown(self.missing),
            self.candidate.looks,
        )
        return Weighed(self.candidate, cause, tuple(self.support))


def _share(sign: Sign) -> float:
    """Of its weight that a moved sign counts for."""
    return min(1.0, abs(sign.strength) / FULL)


def said(sign: Sign, mode: str) -> str:
    """A known sign in words, with its figures."""
    kind = sign.kind
    now, was, by = (
        f"{kind.factor * value:.{kind.digits}f}"
        for value in (sign.now, sign.now - sign.deviation, abs(sign.deviation))
    )
    unit = f" {kind.unit}" if kind.unit else ""
    from_air = is_above_air(sign.name, mode)
    level = f" {kind.level_unit}" if kind.level_unit and not from_air else unit
    figures = f"({now}{level}, usually {was}{level}{', counted from outdoor air' if from_air else ''})"
    if not sign.direction:
        return f"{label(sign.name)} as usual {figures}"
    side = "above" if sign.deviation > 0 else "below"
    return f"{label(sign.name)} {by}{unit} {side} usual {figures}"


def unknown(names: Iterable[tuple[str, str]]) -> tuple[str, ...]:
    """Signs and why each is unknown, a sentence for each reason."""
    by_why: dict[str, list[str]] = {}
    for name, why in names:
        by_why.setdefault(why, []).append(label(name))
    return tuple(f"{', '.join(labels)}: {why}" for why, labels in by_why.items())
