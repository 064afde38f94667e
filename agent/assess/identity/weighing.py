"""Every layout against all that was seen, with every way in which the signals may sit on its probes."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import permutations
from typing import NamedTuple

from agent.assess.identity.foretold import (
    of_apart,
    of_follows,
    of_level,
    of_step,
    of_warmth,
    situation_of,
    worth,
)
from agent.assess.identity.seen import Scene, Seen
from agent.assess.identity.verdicts import (
    SAYS_NOTHING,
    Explains,
    Outcome,
    Reason,
    contradicted,
    explained,
)
from agent.piping import Layout, Place, Situation

OIL_RETURN = "oil_return"  # a kind of inlet
MOST_WAYS = 400  # of putting signals to the probes of one layout; more probes than that are not tried out


class SideFound(NamedTuple):
    """What a hand instrument found of a probe's side: of which kind of inlet."""

    signal: str
    inlet_kind: str
    after: bool
    text: str


@dataclass(frozen=True)
class Weighed:
    """A layout against what was seen, with the signals where they explain it best."""

    layout: str
    places: Mapping[str, str]  # signal to probe of the layout
    points: float  # against; 0: all of it is explained
    explains: Explains
    reasons: Mapping[str, Reason]  # by what was seen; the same keys for every layout
    worth: frozenset[tuple[str, ...]] = frozenset()  # of each signal in each scene: what may be done with it

    @property
    def explained(self) -> int:
        """How many things seen it explains; what it says nothing to does not count."""
        return sum(each.verdict is Explains.EXPLAINS for each in self.reasons.values())


class Weigher:
    """Weighs layouts against what was seen of one module."""

    def __init__(self, seen: Seen, by_hand: Sequence[SideFound], kinds: Mapping[str, str]) -> None:
        self.seen = seen
        self.by_hand = by_hand
        self.kinds = kinds  # of the valves: the kind of inlet that each opens, where that is known
        self.as_named = {signal: signal for signal in seen.signals}  # the places that go first among equals
        self._ways_of: dict[str, list[tuple[float, dict[str, str]]]] = {}

    def best(self, layout: Layout) -> Weighed:
        """With the signals where they explain most."""
        return self.weigh(layout, self._ranked(layout)[0][1])

    def otherwise(self, layout: Layout, configured: Weighed, most: float) -> Weighed | None:
        """The best with the signals where they are worth something else; none with more points than these."""
        for points, way in self._ranked(layout):
            if points > most:
                return None
            if self._worth(layout, way) != configured.worth:
                return self.weigh(layout, way)
        return None

    def _ranked(self, layout: Layout) -> list[tuple[float, dict[str, str]]]:
        if layout.name not in self._ways_of:
            whole = sum(outcome.points for _, _, outcome in self._of_whole(layout))
            ways = [(whole + self._points(layout, way), way) for way in self._ways(layout)]
            ways.sort(key=lambda each: (each[0], each[1] != self.as_named))
            self._ways_of[layout.name] = ways
        return self._ways_of[layout.name]

    def weigh(self, layout: Layout, places: Mapping[str, str]) -> Weighed:
        """With the signals at these places."""
        reasons = {}
        for key, seen, outcome in (*self._of_whole(layout), *self._of_places(layout, places)):
            text = f"{seen}: {outcome.why}" if outcome.why else seen
            reasons[key] = Reason(outcome.verdict, outcome.points, text, outcome.fault)
        found = {each.verdict for each in reasons.values()}
        worst = next(
            (v for v in (Explains.CONTRADICTED, Explains.WITH_A_FAULT) if v in found), Explains.EXPLAINS
        )
        points = sum(each.points for each in reasons.values())
        return Weighed(layout.name, dict(places), points, worst, reasons, self._worth(layout, places))

    def _ways(self, layout: Layout) -> Iterator[dict[str, str]]:
        """Every way to put the signals to probes of the layout; none of its few is left free."""
        signals, probes = self.seen.signals, layout.suction_probes
        if len(signals) <= len(probes):
            chosen: Iterable[Sequence[str]] = permutations(probes, len(signals))
            ways = (dict(zip(signals, order, strict=True)) for order in chosen)
        else:
            ways = (dict(zip(order, probes, strict=True)) for order in permutations(signals, len(probes)))
        for number, way in enumerate(ways):
            if number >= MOST_WAYS:
                return
            yield way

    def _points(self, layout: Layout, places: Mapping[str, str]) -> float:
        return sum(outcome.points for _, _, outcome in self._of_places(layout, places))

    def _of_whole(self, layout: Layout) -> Iterator[tuple[str, str, Outcome]]:
        """What does not depend on where the signals sit."""
        seen = self.seen
        for mode, hours in seen.modes.items():
            if mode in layout.modes:
                yield f"mode {mode}", f"{hours} settled hours of {mode}", explained("")
            else:
                yield f"mode {mode}", f"{hours} settled hours of {mode}", contradicted("it has no such mode")
        yield from self._of_compressors(layout)
        if seen.injects:
            said = explained("") if layout.injection else contradicted("nothing is injected on it")
            yield "injection", "an injection valve moves", said

    def _of_compressors(self, layout: Layout) -> Iterator[tuple[str, str, Outcome]]:
        ran, count = self.seen.ran, len(layout.compressors)
        most = max(self.seen.together, len(ran))
        if not most:
            return
        together = " at the same time" if self.seen.together == most > 1 else ""
        text = f"{most} compressor{'s' if most > 1 else ''} ran{together}"
        if count < most:
            yield "compressors", text, contradicted(f"it has {count}")
        elif count > most:
            why = f"it has {count}: one that never runs cannot be told from one that is not there"
            yield "compressors", text, Outcome(None, 0.0, why)
        else:
            yield "compressors", text, explained("as many as it has")

    def _of_places(self, layout: Layout, places: Mapping[str, str]) -> Iterator[tuple[str, str, Outcome]]:
        for signal in self.seen.signals:
            if signal not in places:
                yield (
                    f"place {signal}",
                    f"{signal} is on the suction side",
                    contradicted("no probe is left for it"),
                )
        for number, scene in enumerate(self.seen.scenes):
            yield from self._of_scene(layout, places, scene, number)
        for step in self.seen.steps:
            one, other = places.get(step.one), places.get(step.other)
            situation = self._in_mode(layout, step.mode)
            if one and other and situation:
                found = of_step(layout, situation, one, other, step, self._opens(layout, step.valve))
                yield f"step {step.valve} {step.mode} {step.one} {step.other}", step.words, found
        for signal, warm_k in self.seen.warm_at_rest.items():
            if signal in places:
                text = f"{signal} stays {warm_k:.1f} K warmer than others while the module stands"
                yield f"rest {signal}", text, of_warmth(layout, places[signal])
        for each in self.by_hand:
            if each.signal in places:
                yield (
                    f"by hand {each.signal} {each.inlet_kind}",
                    each.text,
                    _of_hand(layout, places[each.signal], each),
                )

    def _of_scene(
        self, layout: Layout, places: Mapping[str, str], scene: Scene, number: int
    ) -> Iterator[tuple[str, str, Outcome]]:
        situation = situation_of(layout, scene)
        if not worth(layout, situation):
            return
        for signal, level in scene.levels.items():
            if signal in places:
                said = of_level(layout, situation, places[signal], level)
                yield f"level {number} {signal}", scene.level_words[signal], said
        for apart in scene.apart:
            one, other = places.get(apart.one), places.get(apart.other)
            if one and other:
                key = f"{number} {apart.one} {apart.other} {apart.when}"
                kind = "changed" if apart.when else "apart"
                yield f"{kind} {key}", apart.words, of_apart(layout, situation, one, other, apart)
                said = of_follows(layout, situation, one, other, apart)
                if said is not SAYS_NOTHING:
                    yield f"follows {key}", f"that difference goes with the {apart.follows}", said

    def _worth(self, layout: Layout, places: Mapping[str, str]) -> frozenset[tuple[str, ...]]:
        """What layouts must have in common to be the same for whoever judges by them."""
        found: set[tuple[str, ...]] = {("compressors", str(len(layout.compressors)))}
        for number, scene in enumerate(self.seen.scenes):
            known = worth(layout, situation_of(layout, scene))
            for signal, probe in places.items():
                if probe in known:
                    verdict = known[probe]
                    oil = any(layout.inlets[name].kind == OIL_RETURN for name in verdict.joined)
                    found.add((str(number), signal, verdict.verdict, OIL_RETURN if oil else ""))
        return frozenset(found)

    def _in_mode(self, layout: Layout, mode: str) -> Situation | None:
        scene = next((each for each in self.seen.scenes if each.mode == mode), None)
        if scene is None or mode not in layout.modes:
            return None
        return situation_of(layout, scene)

    def _opens(self, layout: Layout, valve: str) -> frozenset[str]:
        """The inlets of a layout that a valve opens: of the kind that it is known for, else by its name."""
        kind = self.kinds.get(valve)
        return frozenset(
            inlet.name
            for inlet in layout.inlets.values()
            if inlet.valve and (inlet.kind == kind if kind else inlet.valve == valve)
        )


def _of_hand(layout: Layout, probe: str, found: SideFound) -> Outcome:
    upstream = layout.upstream(Place("probe", probe))
    inlets = [inlet for inlet in layout.inlets.values() if inlet.kind == found.inlet_kind]
    if not inlets or any(inlet.name in layout.unproven.get(probe, ()) for inlet in inlets):
        return SAYS_NOTHING
    after = any(Place("inlet", inlet.name) in upstream for inlet in inlets)
    side = "after" if after else "ahead of"
    why = f"{probe} sits {side} {' and '.join(sorted(inlet.name for inlet in inlets))}"
    return explained(why) if after == found.after else contradicted(why)
