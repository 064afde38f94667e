"""What comes of weighing: the layout that a module is configured with is supported, doubted, or neither.

Where a fault and another layout explain the same, both are offered, with what would tell them apart on site.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum

from agent.assess.handheld import HandheldCompared, Of
from agent.assess.hours import Hour
from agent.assess.identity.seeing import see
from agent.assess.identity.seen import Seen
from agent.assess.identity.verdicts import FAULT_POINTS, Explains
from agent.assess.identity.weighing import SideFound, Weighed, Weigher
from agent.assess.module import Module
from agent.assess.tracking import Side
from agent.piping import LAYOUT_NOT_KNOWN, Layout, Place

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
        least = min((each.points for each in self.weighed), default=0.0)
        return tuple(
            each
            for each in self.weighed
            if each.points == least and each.explains is not Explains.CONTRADICTED
        )


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
    sentences = tuple(_sentences(seen))
    if seen.lacking and not by_hand:
        return Identity(Conclusion.CANNOT_TELL, f"cannot tell yet: {seen.lacking}", sentences, None, ())
    as_named = {signal: signal for signal in seen.signals}
    weighed = [weigher.best(layout, as_named) for layout in library]
    weighed.sort(key=lambda each: (each.points, -each.explained, each.layout))
    if own is None:
        return Identity(Conclusion.CANNOT_TELL, _of_unknown(weighed), sentences, None, tuple(weighed))
    configured = weigher.weigh(own, as_named)
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
    layouts = {layout.name: layout for layout in library}
    if conclusion is Conclusion.SUPPORTED:
        text = _supported(configured, weighed)
    elif conclusion is Conclusion.DOUBTED:
        text = _doubted(own, configured, better, layouts)
    else:
        text = _open_text(own, configured, better, others, layouts)
    asked = better or others
    apart = tuple(_tell_apart(own, layouts, configured, asked)) if asked else ()
    return Identity(conclusion, text, sentences, configured, tuple(weighed), better, apart)


def _is_better(other: Weighed, configured: Weighed) -> bool:
    """It explains without a fault all that the configured one does not, and less speaks against it.

    Of what contradicts the configured one it may say nothing, if on the whole it explains as much. What has
    changed in time is a fault: piping does not change.
    """
    if other.explains is not Explains.EXPLAINS or other.points >= configured.points:
        return False
    lasting = [key for key in _unexplained(configured) if not key.startswith("changed")]
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


def _unexplained(weighed: Weighed) -> list[str]:
    kinds = (Explains.WITH_A_FAULT, Explains.CONTRADICTED)
    return [key for key, reason in weighed.reasons.items() if reason.verdict in kinds]


def _supported(configured: Weighed, weighed: Sequence[Weighed]) -> str:
    if not weighed:
        return f"{configured.layout} explains all that was seen"
    alike = [w.layout for w in weighed if not w.points and w.layout != configured.layout]
    also = f", and so would {_listed(alike)}" if alike else ", and no other layout does"
    return f"{configured.layout} explains all that was seen{also}"


def _doubted(
    own: Layout, configured: Weighed, better: Sequence[Weighed], layouts: Mapping[str, Layout]
) -> str:
    against = [configured.reasons[key] for key in _unexplained(configured)]
    worst = max(against, key=lambda each: each.points)
    others = _simplest(better, configured)
    first = others[0]
    instead = _differs(own, configured, first, layouts[first.layout])
    if first.layout != configured.layout:
        more = f" and {len(others) - 1} more" if len(others) > 1 else ""
        instead = f"{instead or 'it is piped otherwise'}, as on {first.layout}{more}"
    though = _though([each.text for each in first.reasons.values() if each.points])
    if configured.explains is Explains.CONTRADICTED:
        return f"{worst.text}; it fits where {instead}{though}"
    return f"{worst.text}; either {worst.fault}, or {instead}{though}"


def _though(hints: Sequence[str]) -> str:
    return f" (though {'; '.join(hints)})" if hints else ""


def _differs(own: Layout, configured: Weighed, other: Weighed, layout: Layout) -> str:
    """Where the signals would sit instead, in terms of what joins upstream of them."""
    if other.layout == configured.layout:
        moved = {signal: probe for signal, probe in other.places.items() if signal != probe}
        if set(moved) == set(moved.values()) and len(moved) == 2:
            return f"{_listed(list(moved))} are exchanged"
        return _listed([f"{signal} is what its {probe} would read" for signal, probe in moved.items()])
    said = []
    for signal, probe in other.places.items():
        here, there = _joined(own, configured.places[signal]), _joined(layout, probe)
        if there - here:
            said.append(f"{signal} sits after {_listed(sorted(there - here))}")
        if here - there:
            said.append(f"{signal} sits ahead of {_listed(sorted(here - there))}")
    if not said and len(layout.compressors) != len(own.compressors):
        count = len(layout.compressors)
        said.append(f"there is {count} compressor" if count == 1 else f"there are {count} compressors")
    return _listed(said)


def _open_text(
    own: Layout,
    configured: Weighed,
    better: Sequence[Weighed],
    others: Sequence[Weighed],
    layouts: Mapping[str, Layout],
) -> str:
    if better:
        return f"cannot tell: {_doubted(own, configured, better, layouts)}"
    against = [configured.reasons[key] for key in _unexplained(configured)]
    if not against:
        hints = [each.text for each in configured.reasons.values() if each.points]
        said = f"{configured.layout} explains all that was seen{_though(hints)}"
        if not others:
            return f"{said}: cannot tell, nothing was seen that speaks for it alone"
        first = _simplest(others, configured)[0]
        instead = _differs(own, configured, first, layouts[first.layout])
        also = f", where {instead}" if instead else ""
        faults = [each.fault for each in first.reasons.values() if each.fault]
        if faults:
            also += f" and {faults[0]}"
        return f"{said}; cannot tell it from {first.layout}{also}"
    worst = max(against, key=lambda each: each.points)
    fault = f" ({worst.fault})" if worst.fault else ""
    return f"cannot tell: {worst.text}{fault}; no layout explains all of it better"


def _simplest(better: Sequence[Weighed], configured: Weighed) -> list[Weighed]:
    """The same layout with other places, where that is enough; else all with the fewest points.

    Those come first that explain most and move least.
    """
    same = [each for each in better if each.layout == configured.layout]
    least = min(each.points for each in better)
    found = same or [each for each in better if each.points == least]
    return sorted(found, key=lambda w: (sum(s != p for s, p in w.places.items()), -w.explained, w.layout))


def _of_unknown(weighed: Sequence[Weighed]) -> str:
    fine = [each for each in weighed if each.explains is not Explains.CONTRADICTED]
    if not fine:
        return f"{LAYOUT_NOT_KNOWN}, and none of the library explains what was seen"
    least = [each for each in fine if each.points == fine[0].points]
    most = [each.layout for each in least if each.explained == least[0].explained]
    others = [each.layout for each in least if each.layout not in most]
    fault = " only with a fault" if least[0].explains is Explains.WITH_A_FAULT else ""
    also = f"; {_listed(others)} would not be at odds with it" if others else ""
    return f"{LAYOUT_NOT_KNOWN}; what was seen is explained{fault} by {_listed(most)}{also}"


def _tell_apart(
    own: Layout, layouts: Mapping[str, Layout], configured: Weighed, better: Sequence[Weighed]
) -> list[str]:
    """What on site decides between the configured layout and those that explain more. Looking only."""
    steps: list[str] = []
    for other in _simplest(better, configured):
        piping = layouts[other.layout]
        if other.layout == own.name:
            moved = _listed([signal for signal, probe in other.places.items() if signal != probe])
            return [
                f"running and settled: clamp beside each of {moved}, some of which are hot, and give what "
                "it reads to `dewline measure`",
                f"locked out and cool: warm one of {moved} by hand, and see which signal moves",
            ]
        for signal, probe in other.places.items():
            here, there = _joined(own, configured.places[signal]), _joined(piping, probe)
            steps += [_side_step(signal, kind) for kind in sorted(here ^ there)]
        if len(piping.compressors) != len(own.compressors):
            steps.append("locked out: count the compressors")
    if any("oil return" in step for step in steps):
        steps += [
            "running and settled: clamp the thin oil pipe itself, near the separator and near the suction "
            "line; hot at both: oil flows; hot, then cold: it does not (it may be hotter than 80 degC)",
            "read the discharge superheat: wet suction swallows the heat of the oil",
            "running and settled: clamp the suction line ahead of and after where it joins, and give both to "
            "`dewline measure`",
        ]
    return list(dict.fromkeys(steps))


def _side_step(signal: str, kind: str) -> str:
    words = kind.replace("_", " ")
    return (
        f"locked out: follow the pipe of the {words} to the suction line, and see on which side of it "
        f"{signal} is clamped"
    )


def _joined(layout: Layout, probe: str) -> set[str]:
    """Kinds of inlets that join upstream of a probe, save for streams of their own."""
    place = Place("probe", probe)
    upstream = layout.upstream(place) if place in layout.places else frozenset()
    return {i.kind for i in layout.inlets.values() if Place("inlet", i.name) in upstream and not i.is_stream}


def _by_hand(module: Module, handheld: Sequence[HandheldCompared]) -> list[SideFound]:
    """The sides of inlets that a hand instrument has found."""
    inlets = module.layout.inlets
    return [
        SideFound(each.probe, inlets[each.inlet].kind, each.side is Side.AFTER, each.text)
        for each in handheld
        if each.of is Of.SIDE and each.inlet in inlets and each.side in (Side.AHEAD, Side.AFTER)
    ]


def _sentences(seen: Seen) -> list[str]:
    found = [f"{hours} settled hours of {mode}" for mode, hours in seen.modes.items()]
    for scene in seen.scenes:
        found += scene.level_words.values()
        found += [apart.words for apart in scene.apart]
    found += [step.words for step in seen.steps]
    found += [
        f"{signal} stays {k:.1f} K warmer than others over {seen.rest_hours} hours of standing"
        for signal, k in seen.warm_at_rest.items()
    ]
    if seen.ran:
        together = f", {seen.together} of them at the same time" if seen.together > 1 else ""
        found.append(f"compressors that ran: {_listed(sorted(seen.ran))}{together}")
    found += seen.changes
    found += [f"compressor {name} never ran" for name in sorted(seen.never_ran)]
    return list(dict.fromkeys(found))


def _listed(names: Sequence[str]) -> str:
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else "".join(names)
