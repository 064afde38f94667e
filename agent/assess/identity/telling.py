"""What comes of weighing layouts, in words, and what to look at on site. Looking and measuring only."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from agent.assess.identity.foretold import situation_of
from agent.assess.identity.seen import Seen
from agent.assess.identity.verdicts import Explains
from agent.assess.identity.weighing import Weighed
from agent.piping import LAYOUT_NOT_KNOWN, RETURN, STEADY_MODES, Layout, Place, choose


def unexplained(weighed: Weighed) -> list[str]:
    """What was seen that a layout explains with a fault only, or not at all, by its key."""
    kinds = (Explains.WITH_A_FAULT, Explains.CONTRADICTED)
    return [key for key, reason in weighed.reasons.items() if reason.verdict in kinds]


def supported(configured: Weighed, weighed: Sequence[Weighed]) -> str:
    """That it explains all, and what else would."""
    if not weighed:
        return f"{configured.layout} explains all that was seen"
    alike = [w.layout for w in weighed if not w.points and w.layout != configured.layout]
    also = f", and so would {_listed(alike)}" if alike else ", and no other layout does"
    return f"{configured.layout} explains all that was seen{also}"


def doubted(
    seen: Seen, own: Layout, configured: Weighed, better: Sequence[Weighed], layouts: Mapping[str, Layout]
) -> str:
    """What the configured layout does not explain: the fault it would take, or where the probes would sit."""
    against = [configured.reasons[key] for key in unexplained(configured)]
    worst = max(against, key=lambda each: each.points)
    others = _simplest(better, configured)
    first = others[0]
    instead = _differs(own, configured, first, layouts[first.layout])
    if first.layout != configured.layout:
        more = f" and {len(others) - 1} more" if len(others) > 1 else ""
        instead = f"{instead or 'it is piped otherwise'}, as on {first.layout}{more}"
    though = _though([each.text for each in first.reasons.values() if each.points])
    said = f"configured as {configured.layout}: {worst.text}"
    ends = f"{though}. {_means(seen, own, configured, first, layouts[first.layout])}"
    if configured.explains is Explains.CONTRADICTED:
        return f"{said}; it fits where {instead}{ends}"
    return f"{said}; either {worst.fault}, or {instead}{ends}"


def _means(seen: Seen, own: Layout, configured: Weighed, other: Weighed, layout: Layout) -> str:
    """What the other piping would mean for return superheat."""
    here, there = _returned(seen, own, configured), _returned(seen, layout, other)
    if here == there:
        return "Return superheat would be taken at the same probe"
    if not there:
        return "Return superheat would not be decidable with these probes"
    return f"Return superheat would be taken at {' and '.join(sorted(there))} instead"


def _returned(seen: Seen, layout: Layout, weighed: Weighed) -> frozenset[str]:
    """The signals that return superheat is taken at, in the first scene that the layout describes."""
    signals = {probe: signal for signal, probe in weighed.places.items()}
    for scene in seen.scenes:
        situation = situation_of(layout, scene)
        if situation.mode in layout.modes:
            chosen = choose(layout, situation, tuple(signals)).places[RETURN].probes
            return frozenset(signals[probe] for probe in chosen)
    return frozenset()


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


def undecided(
    seen: Seen,
    own: Layout,
    configured: Weighed,
    better: Sequence[Weighed],
    others: Sequence[Weighed],
    layouts: Mapping[str, Layout],
) -> str:
    """Why nothing can be told, and from what it cannot be told apart."""
    if better:
        return f"cannot tell: {doubted(seen, own, configured, better, layouts)}"
    against = [configured.reasons[key] for key in unexplained(configured)]
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
    return sorted(found, key=lambda w: (-w.explained, sum(s != p for s, p in w.places.items()), w.layout))


def of_unknown(weighed: Sequence[Weighed]) -> str:
    """Which layouts explain a module of which none is described; ``weighed``: best first."""
    fine = [each for each in weighed if each.explains is not Explains.CONTRADICTED]
    if not fine:
        return f"{LAYOUT_NOT_KNOWN}, and none of the library explains what was seen"
    least = [each for each in fine if each.points == fine[0].points]
    most = [each.layout for each in least if each.explained == least[0].explained]
    others = [each.layout for each in least if each.layout not in most]
    fault = " only with a fault" if least[0].explains is Explains.WITH_A_FAULT else ""
    also = f"; {_listed(others)} would not be at odds with it" if others else ""
    return f"{LAYOUT_NOT_KNOWN}; what was seen is explained{fault} by {_listed(most)}{also}"


def tell_apart(layouts: Mapping[str, Layout], configured: Weighed, better: Sequence[Weighed]) -> list[str]:
    """What on site decides between a layout and others that explain as much or more."""
    own = layouts[configured.layout]
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


def sentences(seen: Seen, library: Sequence[Layout]) -> list[str]:
    """What was seen, and what was not."""
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
    return [*dict.fromkeys(found), *_not_seen(seen, library)]


def _not_seen(seen: Seen, library: Sequence[Layout]) -> Iterator[str]:
    described = {mode for layout in library for mode in layout.modes}
    modes = [mode for mode in STEADY_MODES if mode in described and mode not in seen.modes]
    missing = [f"settled {_listed(modes)}"] if modes else []
    missing += [] if seen.steps else ["a valve on the suction line that opened for long enough"]
    if missing:
        yield f"not seen: {'; '.join(missing)}"


def _listed(names: Sequence[str]) -> str:
    return " and ".join((", ".join(names[:-1]), names[-1])) if len(names) > 1 else "".join(names)
