"""One case through the agent's own path, and what its answer is worth."""

import time
import traceback
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

from tests.bench.configuration import library
from tests.bench.hours import Known, known
from tests.identity.cases import Case, Kind

SAME_POINTS = 1e-9


@dataclass(frozen=True)
class Outcome:
    """What was concluded of a case."""

    case: Case
    took_s: float = 0.0
    broke: str = ""
    conclusion: str = ""  # supported, doubted, cannot tell
    text: str = ""
    tell_apart: tuple[str, ...] = ()  # what would, on site
    best: tuple[str, ...] = ()  # the layouts with the fewest points against them
    points: float = 0.0  # theirs
    true_points: float | None = None  # of the true layout
    true_explains: str = ""
    reasons: tuple[str, ...] = ()  # what is held against the true layout
    seen: tuple[str, ...] = ()

    @property
    def verdict(self) -> str:
        """Of the truth among all layouts; then, where something is configured, of the conclusion."""
        if self.broke:
            return "BROKE"
        return f"{self.place}; {self.concluded}" if self.concluded else self.place

    @property
    def place(self) -> str:
        if self.true_explains == "contradicted":
            return "truth CONTRADICTED"
        if self.best == (self.case.truth.name,):
            return "alone on top"
        if self.case.truth.name not in self.best:
            return "below another"
        more = set(self.best) - self.case.equals
        return "among equals, more than the piping has" if more else "among equals"

    @property
    def concluded(self) -> str:
        doubted = self.conclusion == "doubted"
        if self.case.kind is Kind.UNKNOWN:
            return ""
        if self.case.kind is Kind.RIGHT:
            return "doubted FALSELY" if doubted else self.conclusion
        if doubted:
            return "doubted rightly" if self.case.is_decidable else "doubted, though the piping shows nothing"
        if not self.case.is_decidable:
            return f"rightly not doubted: {self.conclusion}"
        return "SUPPORTED, though wrong" if self.conclusion == "supported" else "not doubted: cannot tell"


Judging = Callable[[Known], Any]  # to an Identity


def judged(case: Case, found: Any, took_s: float = 0.0) -> Outcome:
    """``found``: an Identity."""
    least = found.weighed[0].points if found.weighed else 0.0
    true = next((each for each in found.weighed if each.layout == case.truth.name), None)
    reasons = true.reasons.values() if true else ()
    against = [reason for reason in reasons if _word(reason.verdict) not in ("", "explains")]
    return Outcome(
        case,
        took_s,
        conclusion=_word(found.conclusion),
        text=found.text,
        tell_apart=tuple(found.tell_apart),
        best=tuple(sorted(each.layout for each in found.weighed if each.points - least < SAME_POINTS)),
        points=least,
        true_points=true.points if true else None,
        true_explains=_word(true.explains) if true else "",
        reasons=tuple(reason.text for reason in against),
        seen=tuple(found.seen),
    )


def _word(value: Any) -> str:
    return "" if value is None else str(value).replace("_", " ")


def run(case: Case) -> Outcome:
    """Never raises: what broke is in the outcome."""
    from agent.assess.identity import identity

    return run_with(case, lambda each: identity(each.module, library(), each.hours))


def run_with(case: Case, judging: Judging) -> Outcome:
    began = time.monotonic()
    try:
        found = judging(known(case.spells, case.gateway, case.configured, case.seed))
        return judged(case, found, time.monotonic() - began)
    except Exception:
        return Outcome(case, time.monotonic() - began, traceback.format_exc())
