"""What the hours say of layout, instruments and causes, and what was measured by hand, for a brief."""

from __future__ import annotations

from typing import Any

from agent.assess import Side
from agent.outlets.terminal.by_hand import Measured
from agent.outlets.terminal.causes import LEARNING, MOST_SHOWN
from agent.outlets.terminal.evidence import ANSWERS, lines
from agent.outlets.terminal.identity import HEADS, MEANING, WORDS
from agent.outlets.visit.brief import Brief

MOST_LAYOUTS = 5  # of the library, that are listed with what speaks against them


def identity(brief: Brief) -> dict[str, Any] | None:
    found, display = brief.identity, brief.display
    if found is None:
        return None
    head, _ = HEADS[found.conclusion]
    own = [found.configured] if found.configured else []
    others = [each for each in found.weighed if not own or each.layout != own[0].layout]
    pointed = [each for each in [*own, *others] if each.points]
    reasons = sorted(own[0].reasons.values(), key=lambda each: -each.points) if own else []
    return {
        "head": head,
        "text": display.words(found.text),
        "seen": [display.words(each) for each in found.seen],
        "layouts": [
            (each.layout, f"{each.points:g}", WORDS[each.explains]) for each in pointed[:MOST_LAYOUTS]
        ],
        "more": max(len(pointed) - MOST_LAYOUTS, 0),
        "as_good": [each.layout for each in [*own, *others] if not each.points],
        "against": [
            display.words(f"{each.text} ({each.fault})" if each.fault else each.text)
            for each in reasons
            if each.points
        ],
        "meaning": MEANING,
    }


def side(brief: Brief, each: Any) -> str:
    said = "cannot tell" if each.side is Side.CANNOT_TELL else str(each.side)
    return f"{each.probe}: {said}, by its readings: {brief.display.words(each.text)}"


def instrument_words(brief: Brief) -> list[str]:
    if brief.evidence is None:
        return []
    found = lines(brief.evidence.identified, brief.evidence.suspected)
    found += [
        f"injection into {e.compressor} {ANSWERS[e.answers]}: {e.text}" for e in brief.evidence.injection
    ]
    return [brief.display.words(each) for each in found]


def causes(brief: Brief) -> dict[str, Any] | None:
    if brief.evidence is None:
        return None
    found, words = brief.evidence.causes, brief.display.words
    ranking = [each for each in found.ranking if each.score > 0][:MOST_SHOWN]
    return {
        "verdict": words(found.verdict),
        "learning": LEARNING.format(end="") if "learning what is usual" in found.verdict else "",
        "hours": found.hours,
        "mode": found.mode,
        "limits": words(found.limits),
        "ranking": [
            {
                "title": each.title,
                "score": f"{each.score:.2f}",
                "for": [words(text) for text in each.evidence_for],
                "against": [words(text) for text in each.evidence_against],
                "unknown": [words(text) for text in each.missing],
                "looks": [words(text) for text in each.next_looks],
            }
            for each in ranking
        ],
    }


def measured(brief: Brief, each: Measured) -> tuple[str, str, str, str]:
    """When and where; the verdict; what it says; as it was given."""
    if each.withdrawn is not None:
        said = f"withdrawn by {each.withdrawn.by}; not used"
    elif each.of_unit_before:
        said = "of the unit that stood here before; not used"
    else:
        said = str(each.found.verdict)
    text = " ".join(
        filter(None, (brief.display.words(each.found.text), each.found.advice if each.is_used else ""))
    )
    note = f"; {each.note}" if each.note else ""
    return (
        f"{brief.display.day_time(each.at_us)}, {each.where}",
        said,
        text,
        f"{each.given} by {each.who}{note}",
    )


def concluded(brief: Brief, at_us: int, text: str, advice: str) -> str:
    words = f"{brief.display.day_time(at_us)}: {brief.display.words(text)}."
    return f"{words} {brief.display.words(advice)}" if advice else words
