"""What to measure by hand, in the order of what decides now: a card for each stretch of pipe."""

from __future__ import annotations

import shlex
from collections.abc import Hashable, Iterator
from typing import NamedTuple

from agent.assess import SUBCOOLING
from agent.assess.identity import Conclusion
from agent.outlets.shown import spaced
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.comparing import command, compared, gauge_unit
from agent.outlets.visit.site_work import HOT
from agent.outlets.visit.tables import used_modes
from agent.piping import (
    RETURN,
    RISE,
    STEADY_MODES,
    Fitness,
    Place,
    called,
    has_nothing_between,
    stretches,
    whereabouts,
)
from agent.units import Dimension

FIRST, BESIDE, GAUGES, ASKED = range(4)
SUSPECT = "this signal is under suspicion"
_PAIR = "with a clamp on the other side of the inlet within 10 minutes it tells on which side the probes sit"
_SHORT = "the drawing shows nothing between them, so that there may be no room"


class Card(NamedTuple):
    """One place to measure. ``reads``: what the module reads there; ``commands``: to copy and to fill in."""

    what: str
    where: str
    why: tuple[str, ...]
    reads: tuple[str, ...]
    commands: tuple[str, ...]
    rank: int
    warning: str = ""

    @property
    def is_first(self) -> bool:
        """Whether it decides now."""
        return self.rank == FIRST


def to_measure(brief: Brief) -> list[Card]:
    """What decides now first, then what may be compared, what opens the circuit, and what only if asked."""
    cards: dict[Hashable, Card] = {}
    for key, card in (*_probes(brief), *_inlets(brief), *_gauges(brief)):
        cards[key] = _together(cards[key], card) if key in cards else card
    return sorted(cards.values(), key=lambda each: each.rank)


def _together(one: Card, other: Card) -> Card:
    """Two points on one stretch of pipe: one clamp serves both."""
    nearer = one if one.rank <= other.rank else other
    return Card(
        f"{one.what}; also {other.what}",
        one.where,
        tuple(dict.fromkeys((*one.why, *other.why))),
        (*one.reads, *other.reads),
        (*one.commands, *other.commands),
        nearer.rank,
        one.warning or other.warning,
    )


def _probes(brief: Brief) -> Iterator[tuple[Hashable, Card]]:
    layout, signals = brief.module.module.layout, brief.module.module.signals
    on_pipes = (*layout.suction_probes, *layout.discharge_probes, *layout.liquid_probes)
    for probe in on_pipes if layout.is_known else _temperatures(brief):
        if probe not in signals:
            continue
        rank, why = _worth(brief, probe)
        if probe in brief.suspects:
            rank, why = FIRST, SUSPECT
        yield (
            _stretch_of(brief, probe),
            Card(
                probe,
                _where(brief, probe),
                (why,),
                (compared(brief, probe, hot=_is_hot(brief, probe)),),
                (command(brief, f"--probe {shlex.quote(probe)}", brief.display.temperature_unit),),
                rank,
                HOT if _is_hot(brief, probe) else "",
            ),
        )


def _temperatures(brief: Brief) -> list[str]:
    """Of a module whose piping nobody has described: whatever comes in as a temperature."""
    conversions = brief.module.conversions
    return [name for name, each in conversions.items() if each.dimension is Dimension.TEMPERATURE]


def _stretch_of(brief: Brief, probe: str) -> Hashable:
    """By which cards are told apart: the stretch of the suction line, else the probe."""
    ahead, _ = stretches(brief.module.module.layout, Place("probe", probe))
    return ahead[0][:2] if ahead else probe


def _where(brief: Brief, probe: str) -> str:
    layout = brief.module.module.layout
    if not layout.is_known:
        return "beside the probe; write down between what and what it sits"
    if probe in layout.discharge_probes:
        return "on the discharge pipe, beside the probe"
    return whereabouts(layout, probe) or "on the liquid pipe, beside the probe"


def _is_hot(brief: Brief, probe: str) -> bool:
    """By the mode of now; on the discharge side always."""
    if probe in brief.module.module.layout.discharge_probes:
        return True
    by_mode = brief.explanation.probes.get(probe, {})
    return any(
        by_mode[mode].found.verdict is Fitness.HIGH_SIDE for mode in used_modes(brief) if mode in by_mode
    )


def _worth(brief: Brief, probe: str) -> tuple[int, str]:
    """How soon, and why: what is taken there in the mode of now, and what in others."""
    now, places = used_modes(brief), brief.explanation.places
    elsewhere = ""
    for place, several, why in (
        (RETURN, slice(None), "return superheat is taken here in {}"),
        (RISE, slice(1), "returning oil is seen here in {}, against the one before it"),
    ):
        found = [mode for mode, case in places.get(place, {}).items() if probe in case.found.probes[several]]
        said = why.format(" and ".join(map(spaced, found)))
        if set(found) & set(now):
            return FIRST, said
        elsewhere = elsewhere or (said if found else "")
    if probe == brief.module.configured_probe:
        return FIRST, "the site takes its superheat here"
    subcooling = brief.view.assessment.quantities.get(SUBCOOLING) if brief.view.assessment else None
    if subcooling is not None and probe in subcooling.said.probes:
        return BESIDE, "subcooling is taken here"
    if elsewhere:
        return ASKED, f"{elsewhere}, and it tells nothing in {' and '.join(map(spaced, now))}"
    return _by_fitness(brief, probe)


def _by_fitness(brief: Brief, probe: str) -> tuple[int, str]:
    if not brief.module.module.layout.is_known:
        return BESIDE, "to compare"
    by_mode = brief.explanation.probes.get(probe, {})
    fit = [mode for mode in STEADY_MODES if mode in by_mode and by_mode[mode].found.verdict is Fitness.FIT]
    if set(fit) & set(used_modes(brief)):
        return BESIDE, f"fit in {' and '.join(map(spaced, fit))}"
    return ASKED, "to compare"


def _inlets(brief: Brief) -> Iterator[tuple[Hashable, Card]]:
    """Two clamps tell on which side of an inlet probes sit: where that is open, or in doubt."""
    layout = brief.module.module.layout
    doubted = brief.identity is not None and brief.identity.conclusion is not Conclusion.SUPPORTED
    unconfirmed = brief.view.lives.unconfirmed_us is not None
    if not layout.is_known or not (doubted or unconfirmed or layout.unproven):
        return
    is_first = brief.identity is not None and brief.identity.conclusion is Conclusion.DOUBTED
    rank = FIRST if is_first or layout.unproven else ASKED
    for inlet in layout.inlets:
        ahead, after = stretches(layout, Place("inlet", inlet))
        for positions, side, word in ((ahead, "ahead", "ahead of"), (after, "after", "after")):
            for position in positions[:1]:
                short = f"; {_SHORT}" if has_nothing_between(layout, position) else ""
                yield (
                    position[:2],
                    Card(
                        f"{word} {inlet}",
                        f"on the suction line, {called(layout, position)}{short}",
                        (_PAIR,),
                        (),
                        (
                            command(
                                brief,
                                f"--inlet {shlex.quote(inlet)} --side {side}",
                                brief.display.temperature_unit,
                            ),
                        ),
                        rank,
                    ),
                )


def _gauges(brief: Brief) -> Iterator[tuple[Hashable, Card]]:
    module, suspect = brief.module.module, brief.suspects
    for name in (module.layout.suction_transducer, module.layout.discharge_transducer):
        if name and name in module.signals:
            rank, why = (
                (GAUGES, "every superheat rests on it")
                if name == module.layout.suction_transducer
                else (ASKED, "to compare")
            )
            yield (
                name,
                Card(
                    name,
                    "at its service port; it opens the circuit: licensed people only, and only where the "
                    "display leaves a doubt",
                    (SUSPECT if name in suspect else why,),
                    (compared(brief, name),),
                    (command(brief, f"--transducer {shlex.quote(name)}", gauge_unit(brief)),),
                    FIRST if name in suspect else rank,
                ),
            )
