"""Likely causes for a terminal and for a program; where hours were judged, with what that cannot tell."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.table import Table
from rich.text import Text

from agent.assess import DAY_US, Causes, LikelyCause, Sign
from agent.outlets.cautions import HEAD, cautions
from agent.outlets.shown import SI, Display

MOST_SHOWN = 3
LEARNING = (
    "What is usual is learnt from whole days of UTC: the settled hours of the day under way{end} do not "
    "count yet."
)


def render_causes(
    module: str, causes: Causes, refrigerant: str, display: Display = SI, at_us: int | None = None
) -> Group:
    """The verdict, the best causes with their evidence, and what has to be said with them."""
    mode = f"  {causes.mode}" if causes.mode else ""
    head = Text(module, style="bold")
    head.append(f"{mode}   likely causes, from {causes.hours} settled hours", style="not bold")
    lines: list[RenderableType] = [
        head,
        Padding(Text(display.words(causes.verdict), style="bold"), (0, 0, 0, 2)),
    ]
    ranking = [cause for cause in causes.ranking if cause.score > 0]
    lines += [_block(number, cause, display) for number, cause in enumerate(ranking[:MOST_SHOWN], 1)]
    if ranking[MOST_SHOWN:]:
        titles = "; ".join(cause.title for cause in ranking[MOST_SHOWN:])
        lines.append(_paragraph(f"less likely: {display.words(titles)}", "dim"))
    if not ranking and causes.unknown:
        lines.append(_paragraph(f"unknown: {display.words('; '.join(causes.unknown))}"))
    learning = "learning what is usual" in " ".join((causes.verdict, *causes.unknown))
    if ranking or (causes.hours and not learning):
        lines.append(_paragraph(display.words(causes.limits), "dim"))
    elif learning:
        lines.append(_paragraph(_learning(display, at_us), "dim"))
    if ranking:
        lines.append(_paragraph(HEAD))
        lines += [Padding(Text(each), (0, 0, 0, 4)) for each in cautions([refrigerant])]
    return Group(*lines)


def _learning(display: Display, at_us: int | None) -> str:
    """Where the site's clock is not UTC it says when that day ends there."""
    if display.zone == SI.zone or at_us is None:
        return LEARNING.format(end="")
    end = display.day_time(at_us // DAY_US * DAY_US + DAY_US)
    return LEARNING.format(end=f", which ends {end},")


def _paragraph(text: str, style: str = "") -> Padding:
    return Padding(Text(text, style=style), (1, 0, 0, 2))


def causes_mapping(causes: Causes, refrigerant: str) -> dict[str, Any]:
    """The same as plain data; a sign that is unknown has no figures, but the reason."""
    return {
        "mode": causes.mode,
        "hours": causes.hours,
        "verdict": causes.verdict,
        "named": causes.named,
        "ranking": [cause._asdict() for cause in causes.ranking],
        "signs": {sign.name: _sign(sign) for sign in causes.signs},
        "limits": causes.limits,
        "cautions": cautions([refrigerant]),
    }


def _sign(sign: Sign) -> dict[str, Any]:
    if sign.why:
        return {"direction": None, "why": sign.why}
    return {
        "direction": sign.direction,
        "now": round(sign.now, 4),
        "usual": round(sign.now - sign.deviation, 4),
        "deviation": round(sign.deviation, 4),
        "strength": round(sign.strength, 2),
        "hours": sign.hours,
    }


def _block(number: int, cause: LikelyCause, display: Display) -> RenderableType:
    lines = Table.grid(padding=(0, 2, 0, 0))
    lines.add_column(no_wrap=True, min_width=9)
    lines.add_column(overflow="fold")
    for what, text in _lines(cause):
        lines.add_row(Text(what, style="dim"), Text(display.words(text)))
    head = Text(f"\n  {number}. {display.words(cause.title)}", style="bold")
    head.append(f"   score {cause.score:.2f} of 1", style="not bold")
    return Group(head, Padding(lines, (0, 0, 0, 5)))


def _lines(cause: LikelyCause) -> Iterator[tuple[str, str]]:
    for what, texts in (("for", cause.evidence_for), ("against", cause.evidence_against)):
        yield from ((what if not number else "", text) for number, text in enumerate(texts))
    if cause.missing:
        yield "unknown", "; ".join(cause.missing)
    yield from (("look" if not number else "", text) for number, text in enumerate(cause.next_looks))
