"""The cases: each arrangement in each season that it has, configured rightly, not at all, or as another."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property
from random import Random

from agent.piping.graph import NOT_KNOWN
from demo_feed.bench import ARRANGEMENTS, Arrangement, Gateway, Renaming, Unit, neutral
from tests.bench.hours import Spell
from tests.identity.looks import Seen, alike, duties_of, explains

SPELL_DAYS = {"cooling": 3, "heating": 2, "simultaneous": 2}  # of a week in which the weather turns
EVERY_S = 5 * 3600.0  # the bypass opens for 40 min in settled running


class Kind(StrEnum):
    RIGHT = "right"
    UNKNOWN = "unknown"
    MISLABELLED = "mislabelled"


@dataclass(frozen=True)
class Case:
    """``names``: under which name each true suction probe is sent."""

    truth: Arrangement
    seasons: tuple[str, ...]
    days: int
    kind: Kind
    configured: str
    names: Mapping[str, str]
    seed: str
    bypass: bool = True  # it opens in settled running too

    @property
    def name(self) -> str:
        return f"{self.truth.name}, {'+'.join(self.seasons)}, {self.kind}"

    @property
    def spells(self) -> list[Spell]:
        fluid = "R32" if self.truth.injection else "R410A"
        unit = Unit(
            self.truth, refrigerant=fluid, own_shells=True, bypass_every_s=EVERY_S if self.bypass else 0.0
        )
        several = len(self.seasons) > 1
        lengths = _lengths(self.seasons, self.days) if several else (self.days,)
        return [Spell(replace(unit, season=s), n) for s, n in zip(self.seasons, lengths, strict=True)]

    @property
    def gateway(self) -> Gateway:
        return Gateway(renamed=(Renaming(self.names),))

    @property
    def seen(self) -> Seen:
        """What a wrong layout has no name for is left out."""
        known = self.truth if self.kind is not Kind.MISLABELLED else ARRANGEMENTS[self.configured]
        return Seen(
            compressors=min(self.truth.compressors, known.compressors),
            injection=bool(self.truth.injection and known.injection),
            bypass=self.bypass and self.truth.bypass_valve and known.bypass_valve,
            each_stood=self.days > 1,
        )

    @cached_property
    def equals(self) -> frozenset[str]:
        """The layouts that this telemetry cannot tell apart, by the piping."""
        return alike(self.truth, duties_of(self.seasons), self.seen)

    @property
    def is_decidable(self) -> bool:
        """Whether the telemetry contradicts what is configured, by the piping."""
        if self.kind is not Kind.MISLABELLED:
            return False
        duties = duties_of(self.seasons)
        return not explains(self.configured, self.truth, duties, self.seen, self.names)


def _lengths(seasons: tuple[str, ...], days: int) -> tuple[int, ...]:
    later = [SPELL_DAYS[season] for season in seasons[1:]]
    return (days - sum(later), *later)


def cases(days: int, seed: str = "a", bypass: bool = True) -> Iterator[Case]:
    """All of them. A week also has those in which the seasons turn."""
    for truth in ARRANGEMENTS.values():
        spans = [(mode,) for mode in truth.modes]
        if days >= 7 and len(truth.modes) > 1:
            spans.append(truth.modes)
        for seasons in spans:
            own_seed = f"{seed}/{truth.name}/{'+'.join(seasons)}"
            for kind in Kind:
                configured, names = _configured(truth, seasons, kind, own_seed)
                yield Case(truth, seasons, days, kind, configured, names, own_seed, bypass)


def _configured(
    truth: Arrangement, seasons: tuple[str, ...], kind: Kind, seed: str
) -> tuple[str, Mapping[str, str]]:
    probes = truth.suction_probes
    if kind is Kind.RIGHT:
        return truth.name, {name: name for name in probes}
    if kind is Kind.UNKNOWN:
        return NOT_KNOWN, neutral(probes, seed).names
    chance = Random(f"{seed}/wrong file")
    room = [a for a in ARRANGEMENTS.values() if a is not truth and len(a.suction_probes) >= len(probes)]
    likely = [each for each in room if set(duties_of(seasons)) <= set(each.modes)]
    wrong = chance.choice(likely or room)
    return wrong.name, dict(zip(probes, chance.sample(wrong.suction_probes, len(probes)), strict=True))
