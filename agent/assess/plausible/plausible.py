"""What looks wrong with the way a module's signals are mapped, scaled or wired, with the evidence for it.

A relation that an ordinary module keeps and these values break is held against each mistake that is known:
the one without which most would be ordinary is named, with those that cannot be told from it. Nothing is
changed, and where nothing can be told that is said. Pure: values in, findings out.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator

import numpy as np

from agent.assess.frames import IntArray
from agent.assess.module import SECOND, Module
from agent.assess.plausible import oddities
from agent.assess.plausible.mistakes import LOOK_POINTS, LOOK_TRANSDUCERS, Mistake, mistakes
from agent.assess.plausible.picture import Picture, picture
from agent.assess.plausible.relations import REST_K, Relation, dew_shift_k, glide_k, relations
from agent.assess.plausible.taken import PRESSURE, TEMPERATURE, Findings, Signals, Suspicion
from agent.piping import Fitness
from agent.thermo.atmosphere import SEA_LEVEL_PRESSURE_PA as ATMOSPHERE_PA

MOST_EXPLANATIONS = 4
MOST_SEEN = 3  # broken relations in one sentence
NO_MISTAKE = "no single mistake that is known here would explain it"

Key = tuple[str, ...]


def findings(module: Module, grid_us: IntArray, signals: Signals) -> Findings:
    """Look at a module's signals over a stretch of time.

    ``grid_us`` ascending, at one step. A relation counts as broken where it does not hold at four of five of
    the grid times at which it can be looked at, so that a transient or a single wrong value does not matter.
    """
    filled = list(oddities.fillers(signals))
    rest = oddities.without_fillers(signals, filled)
    seen = picture(module, grid_us, rest)
    found = [
        *filled,
        *explained(seen, rest),
        *oddities.unknown_words(signals),
        *oddities.still(module, rest, _flowing(seen)),
        *oddities.periods(module, rest),
    ]
    doubted = {name for each in found for name in each.signals}
    found += [each for each in oddities.steps(module, rest) if not doubted & set(each.signals)]
    return Findings(tuple(found), tuple(_cannot_tell(seen, rest)))


def explained(seen: Picture, signals: Signals) -> Iterator[Suspicion]:
    """Broken relations, put together by the mistake that would explain most of them."""
    before = {each.key: each for each in relations(seen, signals)}
    broken = {key: each for key, each in before.items() if each.broken}
    names = frozenset(name for key in broken for name in key[1:])
    at_rest = any(key[0] == "rest" for key in broken)
    tried = [(each, _mended(each, seen, signals, broken)) for each in mistakes(seen, signals, names, at_rest)]
    lost = [key for key in broken if key[0] == "pressure" and not any(key in mended for _, mended in tried)]
    if lost:  # what is held against saturation says nothing while a pressure is impossible
        yield _unexplained([broken[key] for key in lost])
        return
    while broken:
        most = max((_count(mended & broken.keys()) for _, mended in tried), default=0)
        if most == 0:
            break
        best = next(mended & broken.keys() for _, mended in tried if _count(mended & broken.keys()) == most)
        same = _apart([each for each, mended in tried if mended & broken.keys() == best])
        yield _explained_by(seen, signals, [broken.pop(key) for key in list(broken) if key in best], same)
    yield from (_elsewhere(seen, signals, each) for each in broken.values())


def _count(keys: Iterable[Key]) -> int:
    """How many signals the relations are about."""
    return len({name for key in keys for name in key[1:]})


def _mended(mistake: Mistake, seen: Picture, signals: Signals, broken: dict[Key, Relation]) -> frozenset[Key]:
    """The broken relations that would hold without the mistake; none where others would break."""
    without = mistake.without()
    if _unsaturated(without) > _unsaturated(seen):
        return frozenset()
    after = {each.key: each for each in relations(without, signals)}
    if any(each.broken and key not in broken for key, each in after.items()):
        return frozenset()
    return frozenset(
        key
        for key, each in broken.items()
        if key in after and not after[key].broken and 2 * after[key].applies.sum() >= each.applies.sum()
    )


def _unsaturated(seen: Picture) -> int:
    """At how many grid times a pressure is none that the refrigerant saturates at."""
    there = [each for each in (seen.suction_c, seen.discharge_c) if each is not None]
    return sum(int(np.isnan(each).sum()) for each in there)


def _apart(found: list[Mistake]) -> list[Mistake]:
    """What is not said already: both pressures in psi goes before one of them in psi."""
    told: list[Mistake] = []
    for each in found:
        if not any(set(each.signals) < set(other.signals) and each.look == other.look for other in told):
            told.append(each)
    return told[:MOST_EXPLANATIONS]


def _explained_by(seen: Picture, signals: Signals, broken: list[Relation], found: list[Mistake]) -> Suspicion:
    changed = dict.fromkeys(name for each in found[:1] for name in each.signals)
    broken = sorted(broken, key=lambda each: not changed.keys() & set(each.key[1:]))
    words = "it would be ordinary " + ", or ".join(f"if {each.words}" for each in found)
    look = list(dict.fromkeys(each.look for each in found))
    if len(broken) == 1 and broken[0].key[0] == "temperature":
        words += _places(seen, signals, broken[0].key[1])
        look += [] if LOOK_POINTS in look else [LOOK_POINTS]
    kind = "rest" if broken[0].key[0] == "rest" else "mapping"
    return Suspicion(kind, tuple(changed) or _signals(broken), _seen(broken), words, "; ".join(look))


def _elsewhere(seen: Picture, signals: Signals, broken: Relation) -> Suspicion:
    places = _places(seen, signals, broken.key[1]) if broken.key[0] == "temperature" else ""
    words = f"it would be ordinary{places.removeprefix(', or')}" if places else NO_MISTAKE
    return Suspicion("mapping", broken.key[1:], broken.seen, words, LOOK_POINTS)


def _unexplained(broken: list[Relation]) -> Suspicion:
    words = f"{NO_MISTAKE}; an empty circuit and a transducer without supply look like this too"
    return Suspicion("mapping", _signals(broken), _seen(broken), words, LOOK_TRANSDUCERS)


def _places(seen: Picture, signals: Signals, name: str) -> str:
    """Where else such a value would be ordinary; empty where nowhere."""
    others = [n for n, t in signals.items() if t.dimension == TEMPERATURE and n in seen.value and n != name]
    fitting = []
    for other in others:
        there = relations(seen.with_values(**{other: seen.value[name]}), signals)
        if not any(each.broken for each in there if other in each.key):
            fitting.append(other)
    return f", or if it were the value of {' or '.join(fitting)}" if fitting else ""


def _seen(broken: list[Relation]) -> str:
    more = len(broken) - MOST_SEEN
    return "; ".join(each.seen for each in broken[:MOST_SEEN]) + (
        f"; and {more} more like it" if more > 0 else ""
    )


def _signals(broken: list[Relation]) -> tuple[str, ...]:
    return tuple(dict.fromkeys(name for each in broken for name in each.key[1:]))


def _flowing(seen: Picture) -> Iterator[str]:
    """Signals that cannot stand still on a module that ran throughout."""
    if not (seen.runs == 1).mean() >= 0.8:
        return
    layout = seen.module.layout
    yield layout.suction_transducer
    if layout.discharge_transducer:
        yield layout.discharge_transducer
    for probe, fit in seen.fitness.items():
        if (fit == Fitness.IDLE).mean() < 0.2:
            yield probe
    if all((state == 1).mean() >= 0.8 for state in seen.running.values()):
        yield from layout.discharge_probes


def _cannot_tell(seen: Picture, signals: Signals) -> Iterator[str]:
    """What these values have nothing to say about, so that silence is not taken for an all-clear."""
    suction = seen.module.layout.suction_transducer
    if not signals:
        return
    if suction not in seen.value or np.isnan(seen.value[suction]).all():
        yield f"{suction} is not there: no temperature can be held against saturation"
        return
    reference = any(taken.references for taken in signals.values() if taken.dimension == PRESSURE)
    if seen.works.any() and reference:
        yield (
            "gauge or absolute, unless it is suspected above: while a module runs, one atmosphere looks like "
            "a few K of superheat more or less; it shows at rest, once pipes and air have one temperature"
        )
    elif not seen.works.any() and seen.stands.any():
        yield "swapped probes, wrong units, the meaning of the mode: they show while the module runs"
        if reference:
            yield from cannot_tell_at_rest(seen)
    elif not seen.works.any():
        yield "swapped probes and wrong units: the mode is not a steady one, or not known"
    if seen.single:
        yield f"anything of what came once only: {_few(sorted(seen.single))}"
    spans_us = [int(t.time_us[-1] - t.time_us[0]) for t in signals.values() if len(t.time_us)]
    if max(spans_us, default=0) < seen.module.repeated_us:
        minutes = seen.module.repeated_us // (60 * SECOND)
        yield f"whether a value stands still: that takes {minutes} min of values"


def cannot_tell_at_rest(seen: Picture) -> Iterator[str]:
    """What keeps gauge and absolute from being told apart although the module stands."""
    suction = seen.module.layout.suction_transducer
    told_k = REST_K + glide_k(seen, suction)
    if dew_shift_k(seen, suction, ATMOSPHERE_PA) < told_k:
        yield f"gauge or absolute: one atmosphere makes less than {told_k:.1f} K of saturation here"
    elif _below_pipes(seen):
        yield (
            "gauge or absolute: saturation at rest lies below every pipe, as a colder room makes it and "
            "one atmosphere would"
        )


def _below_pipes(seen: Picture) -> bool:
    """Whether at rest the suction pressure belongs to something colder than the pipes outdoors."""
    pipes = [seen.value[name] for name in seen.module.layout.suction_probes if name in seen.value]
    if seen.suction_c is None or not pipes:
        return False
    below = seen.stands & (seen.suction_c < np.stack(pipes).min(axis=0) - REST_K)
    return bool(2 * below.sum() > seen.stands.sum())


def _few(names: list[str]) -> str:
    return ", ".join(names[:4]) + (f" and {len(names) - 4} more" if len(names) > 4 else "")
