"""What comes of weighing: the layout that a module is configured with is supported, doubted, or neither.

Where a fault and another layout explain the same, both are offered, with what would tell them apart on site.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from enum import StrEnum

from agent.assess.by_hand.handheld import HandheldCompared, Of
from agent.assess.by_hand.tracking import Side
from agent.assess.byhour.hours import Hour
from agent.assess.identity.seeing import see
from agent.assess.identity.telling import (
    doubted,
    of_unknown,
    sentences,
    supported,
    tell_apart,
    undecided,
    unexplained,
)
from agent.assess.identity.verdicts import FAULT_POINTS, Explains
from agent.assess.identity.weighing import SideFound, Weighed, Weigher
from agent.assess.module import Module
from agent.piping import Layout

TOLD_BY = ("apart", "step", "by hand")  # what tells one piping from another; the rest only counts


class Conclusion(StrEnum):
    """What is to be thought of the layout that a module is configured with."""

    SUPPORTED = "supported"  # it explains all that was seen of the piping
    DOUBTED = "doubted"  # another explains what this one does not
    CANNOT_TELL = "cannot_tell"


@dataclass(frozen=True)
class Identity:
    """How well layouts explain a module."""

    conclusion: Conclusion
    text: str
    seen: tuple[str, ...]  # what was seen, in sentences
    configured: Weighed | None  # with the signals where they are said to be; None: no layout is described
    weighed: tuple[Weighed, ...]  # each layout of the library where it explains most, best first
    better: tuple[Weighed, ...] = ()  # those that explain what the configured one does not
    tell_apart: tuple[str, ...] = ()  # what to look at on site

    @property
    def best(self) -> tuple[Weighed, ...]:
        """The layouts that explain most, none of them contradicted."""
        return _best(self.weighed)


def identity(
    module: Module,
    library: Sequence[Layout],
    hours: Sequence[Hour],
    handheld: Sequence[HandheldCompared] = (),
) -> Identity:
    """Weigh the module's layout, and those of a library, against its hours, ascending.

    ``library``: none, where it is only asked whether the module's own explains all.
    """
    every = [*library, module.layout]
    valves = {valve for layout in every for valve in layout.valves}
    injections = {layout.injection.valve for layout in every if layout.injection and layout.injection.valve}
    own = module.layout if module.layout.is_known else None
    inlet_valves = own.inlet_valves if own else {valve for layout in library for valve in layout.inlet_valves}
    seen = see(module, hours, valves, inlet_valves, injections)
    kinds = {inlet.valve: inlet.kind for inlet in module.layout.inlets.values() if inlet.valve}
    by_hand = _by_hand(module, handheld)
    weigher = Weigher(seen, by_hand, kinds)
    said = tuple(sentences(seen, every))
    if seen.lacking and not by_hand:
        return Identity(Conclusion.CANNOT_TELL, f"cannot tell yet: {seen.lacking}", said, None, ())
    layouts = {layout.name: layout for layout in library}
    weighed = [weigher.best(layout) for layout in library]
    weighed.sort(key=lambda each: (each.points, -each.explained, each.layout))
    if own is None:
        asked = _best(weighed)
        apart = tuple(tell_apart(layouts, asked[0], asked[1:])) if len(asked) > 1 else ()
        text = of_unknown(weighed)
        return Identity(Conclusion.CANNOT_TELL, text, said, None, tuple(weighed), tell_apart=apart)
    configured = weigher.weigh(own, weigher.as_named)
    better = tuple(each for each in weighed if _is_better(each, configured))
    most = configured.points + FAULT_POINTS
    otherwise = [weigher.otherwise(layout, configured, most) for layout in library]
    others = [each for each in otherwise if each is not None and _may_be(each, configured)]
    told = any(
        reason.verdict is Explains.EXPLAINS and key.startswith(TOLD_BY)
        for key, reason in configured.reasons.items()
    )
    if better and configured.points >= FAULT_POINTS:
        conclusion = Conclusion.DOUBTED
    elif configured.explains is Explains.EXPLAINS and not configured.points and told and not others:
        conclusion = Conclusion.SUPPORTED
    else:
        conclusion = Conclusion.CANNOT_TELL
    if conclusion is Conclusion.SUPPORTED:
        text = supported(configured, weighed)
    elif conclusion is Conclusion.DOUBTED:
        text = doubted(seen, own, configured, better, layouts)
    else:
        text = undecided(seen, own, configured, better, others, layouts)
    offered = better or tuple(others)
    layouts |= {own.name: own}
    apart = tuple(tell_apart(layouts, configured, offered)) if offered else ()
    return Identity(conclusion, text, said, configured, tuple(weighed), better, apart)


def _best(weighed: Sequence[Weighed]) -> tuple[Weighed, ...]:
    least = min((each.points for each in weighed), default=0.0)
    return tuple(
        each for each in weighed if each.points == least and each.explains is not Explains.CONTRADICTED
    )


def _is_better(other: Weighed, configured: Weighed) -> bool:
    """It explains without a fault all that the configured one does not, and less speaks against it.

    Of what contradicts the configured one it may say nothing, if on the whole it explains as much. What has
    changed in time is a fault: piping does not change.
    """
    if other.explains is not Explains.EXPLAINS or other.points >= configured.points:
        return False
    lasting = [key for key in unexplained(configured) if not key.startswith("changed")]
    return bool(lasting) and all(_answers(other, configured, key) for key in lasting)


def _answers(other: Weighed, configured: Weighed, key: str) -> bool:
    """Whether a layout does better with something that the configured one does not explain."""
    if key.startswith("place"):
        return True
    reason = other.reasons.get(key)
    if reason is None or reason.verdict is Explains.EXPLAINS:
        return reason is not None
    silent = reason.verdict is None and configured.reasons[key].verdict is Explains.CONTRADICTED
    return silent and other.explained >= configured.explained


def _may_be(other: Weighed, configured: Weighed) -> bool:
    """It explains as much, or would with a single fault."""
    if other.points <= configured.points:
        return other.explained >= configured.explained
    return other.explains is Explains.WITH_A_FAULT


def _by_hand(module: Module, handheld: Sequence[HandheldCompared]) -> list[SideFound]:
    """The sides of inlets that a hand instrument has found."""
    inlets = module.layout.inlets
    return [
        SideFound(each.probe, inlets[each.inlet].kind, each.side is Side.AFTER, each.text)
        for each in handheld
        if each.of is Of.SIDE and each.inlet in inlets and each.side in (Side.AHEAD, Side.AFTER)
    ]
