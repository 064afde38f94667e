"""How well layouts explain a module's readings: for a terminal and for a program."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from agent.assess.identity import Conclusion, Explains, Identity, Reason, Weighed
from agent.outlets.cautions import HEAD, cautions
from agent.outlets.shown import SI, Display

HEADS = {
    Conclusion.SUPPORTED: ("the readings fit the configured layout", "bold"),
    Conclusion.DOUBTED: ("THE CONFIGURED LAYOUT IS IN DOUBT", "bold yellow"),
    Conclusion.CANNOT_TELL: ("cannot tell", "bold"),
}
WORDS = {
    Explains.EXPLAINS: "explains it",
    Explains.WITH_A_FAULT: "only with a fault",
    Explains.CONTRADICTED: "contradicted",
    None: "says nothing",
}
MEANING = (
    "Points count what speaks against a layout: 3 for what it cannot explain, 1 for what it explains only if "
    "something is at fault, 0.5 for what it makes unlikely. Only piping is weighed, also with the "
    "signals of its probes exchanged; names and sizes tell nothing, and nothing is changed by this: a fault "
    "may look the same."
)
MOST_LAYOUTS = 3  # whose reasons are shown beside the configured one's


def render_identity(found: Identity, module: str, refrigerant: str, display: Display = SI) -> Group:
    """The conclusion, what was seen, every layout with its points, the reasons, and what to look at."""
    head, style = HEADS[found.conclusion]
    parts: list[RenderableType] = [Text(f"{module}: {head}", style=style), _under(display.words(found.text))]
    if found.seen:
        parts += [_title("What was seen"), *(_under(display.words(each)) for each in found.seen)]
    if found.weighed:
        parts += [
            _title("How well each layout explains it (points against)"),
            Padding(_table(found), (0, 0, 0, 2)),
        ]
        parts.append(_under(MEANING, "dim"))
    for title, reasons in _shown(found):
        parts += [_title(title), Padding(_reasons(reasons, display), (0, 0, 0, 2))]
    if found.tell_apart:
        parts += [_title(HEAD), *(_under(each) for each in cautions([refrigerant]))]
        looks = (_under(display.words(each)) for each in found.tell_apart)
        parts += [_title("What would tell them apart on site"), *looks]
    return Group(*parts)


def identity_mapping(found: Identity, refrigerant: str) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "conclusion": found.conclusion,
        "text": found.text,
        "seen": found.seen,
        "configured": _weighed(found.configured) if found.configured else None,
        "layouts": [_weighed(each) for each in found.weighed],
        "better": [each.layout for each in found.better],
        "on_site": found.tell_apart,
        "cautions": cautions([refrigerant]) if found.tell_apart else [],
    }


def _weighed(weighed: Weighed) -> dict[str, Any]:
    return {
        "layout": weighed.layout,
        "points_against": weighed.points,
        "explains": weighed.explains,
        "places": weighed.places,
        "reasons": [_reason(each) for each in weighed.reasons.values()],
    }


def _reason(reason: Reason) -> dict[str, Any]:
    return {
        "verdict": reason.verdict,
        "points": reason.points,
        "text": reason.text,
        "fault": reason.fault or None,
    }


def _title(words: str) -> Text:
    return Text(f"\n{words}", style="bold")


def _under(words: str, style: str = "") -> Padding:
    return Padding(Text(words, style=style), (0, 0, 0, 2))


def _table(found: Identity) -> Group:
    """A line for each layout, the configured one first; below it where the signals would sit otherwise."""
    own = found.configured
    lines = [_row(own, "as configured", "bold")] if own else []
    for weighed in found.weighed:
        moved = [f"{signal} as {probe}" for signal, probe in weighed.places.items() if signal != probe]
        if own and weighed.layout == own.layout:
            if not moved:
                continue
            lines.append(_row(weighed, "with signals exchanged"))
        else:
            lines.append(_row(weighed))
        lines += [Text(f"    {each}", style="dim") for each in moved]
    return Group(*lines)


def _row(weighed: Weighed, beside: str = "", style: str = "") -> Text:
    said = f"{WORDS[weighed.explains]}{', ' if beside else ''}{beside}"
    return Text(f"{weighed.points:>4g}  {weighed.layout}: {said}", style=style)


def _shown(found: Identity) -> Iterator[tuple[str, list[Reason]]]:
    """All reasons of the configured layout, or of the best; of better ones what they say to its doubts."""
    own = found.configured or (found.weighed[0] if found.weighed else None)
    if own is None:
        return
    every = sorted(own.reasons.values(), key=lambda each: -each.points)
    title = f"{own.layout}, as configured" if found.configured else own.layout
    counted = {own.reasons[key] for key in own.reasons if key.startswith(("mode", "compressors"))}
    told = [each for each in every if each.verdict is not None or each.points]
    yield title, [each for each in told if each.points or each not in counted]
    doubtful = [key for key, each in own.reasons.items() if each.points]
    for other in found.better[:MOST_LAYOUTS]:
        yield other.layout, [other.reasons[key] for key in doubtful if key in other.reasons]


def _reasons(reasons: list[Reason], display: Display) -> Table:
    table = Table.grid(padding=(0, 2, 0, 0))
    table.add_column(no_wrap=True, style="dim")
    table.add_column(overflow="fold")
    for reason in reasons:
        word = "unlikely" if reason.verdict is None and reason.points else WORDS[reason.verdict]
        text = f"{reason.text} ({reason.fault})" if reason.fault else reason.text
        table.add_row(word, display.words(text))
    return table
