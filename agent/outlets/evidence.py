"""What hours of a module say of its instruments, in sentences: whose superheat that is, and suspicions."""

from __future__ import annotations

from collections.abc import Iterable

from agent.assess.supervisor import Identified, Verdict
from agent.assess.taken import Findings

_HEAD = {
    Verdict.IDENTIFIED: "the supervisor's superheat in {mode} is {text}",
    Verdict.NOT_DISTINGUISHABLE: "the supervisor's superheat in {mode}: cannot tell which, {text}",
    Verdict.NONE_FITS: "the supervisor's superheat in {mode}: {text}",
    Verdict.TOO_FEW: "the supervisor's superheat in {mode}: cannot tell yet, {text}",
}


def lines(identified: Iterable[Identified], found: Findings) -> list[str]:
    """One sentence for each mode, each suspicion, and each thing that cannot be told.

    A module whose supervisor publishes no superheat gets no sentence on it.
    """
    told = [
        _HEAD[each.verdict].format(mode=each.mode, text=each.text)
        for each in identified
        if each.verdict in _HEAD
    ]
    told += [f"suspicion: {each.seen}; {each.would}. Look at {each.look}" for each in found.suspicions]
    return told + [f"cannot tell: {each}" for each in found.cannot_tell]
