"""How a module is, in a word: fine, beyond a limit, not judged as it should be, or out of sight and why."""

from __future__ import annotations

from collections.abc import Iterable
from enum import StrEnum
from typing import NamedTuple

from agent.alarms import CATALOGUE, FEED_STALE, StateName
from agent.assess import Cause, Quantity, Status
from agent.assess.mode_codes import TRANSIENT_MODES
from agent.outlets.doubt import in_doubt
from agent.outlets.shown import spaced
from agent.outlets.view import ModuleView
from agent.outlets.web.trend import Limits
from agent.piping import RETURN


class Sight(StrEnum):
    """What sort of word it is; the style has a sign for each."""

    FINE = "fine"
    BEYOND = "beyond"
    PASSING = "passing"  # off, defrost, settling: nothing is judged, and nothing is lost
    LOST = "lost"  # it should be judged and cannot be


class Judged(NamedTuple):
    """``counted``: its part that is alike at several modules."""

    sight: Sight
    counted: str
    more: str = ""

    @property
    def words(self) -> str:
        return f"{self.counted}: {self.more}" if self.more else self.counted


INSIDE, UNDER, ABOVE = "inside its limits", "under its low limit", "above its high limit"
NOT_DECIDED = "not decided"
_ORDER = (UNDER, ABOVE, INSIDE)
_CAUSES = {
    Cause.MODE: "the mode is not known",
    Cause.PIPING: "no probe is fit for it now",
    Cause.READING: "a reading is missing",
    Cause.SKEW: "readings that belong together lie too far apart in time",
    Cause.REPEATED: "the gateway repeats old values",
    Cause.CONTRADICTION: "readings contradict each other",
    Cause.DISAGREEMENT: "probes that should read alike do not",
    Cause.FAILED: "an instrument has failed",
    Cause.RANGE: "a reading is out of range",
    Cause.GAPS: "readings have gaps",
    Cause.SPREAD: "values swing",
    Cause.SLOPE: "values drift",
}


def judged(view: ModuleView, limits: Limits, old: str) -> Judged:
    """Of return superheat now. ``old``: why what is shown is not of now; empty: it is."""
    found = _judged(view, limits, old)
    shadow, out = view.lives.shadow, _is_out(view)
    held = ["in shadow" if shadow else "", "out of service" if out else ""]
    return found._replace(more=", ".join(filter(None, (found.more, *held))))


def _judged(view: ModuleView, limits: Limits, old: str) -> Judged:
    assessment = view.assessment
    if assessment is None or old:
        return Judged(Sight.LOST, "not assessed", old)
    returned, mode = assessment.quantities[RETURN], assessment.mode
    if any(alarm.name == FEED_STALE.name for alarm in view.alarms):
        return Judged(Sight.LOST, "in doubt", "readings do not come as they should")
    if mode == "off":
        return Judged(Sight.PASSING, "off")
    if in_doubt(view, RETURN) is not None:
        return Judged(Sight.LOST, "in doubt", "the layout may not be as described")
    if returned.decided and returned.value is not None:
        return _against(returned, limits)
    status, cause = returned.said.status, returned.said.cause
    if status is Status.MISSING:
        return Judged(Sight.LOST, "readings missing", returned.said.text.partition("; ")[0])
    if mode in TRANSIENT_MODES:
        return Judged(Sight.PASSING, spaced(mode), "not judged")
    if status is Status.NOT_MEASURABLE:
        return Judged(Sight.LOST, "not measurable", _CAUSES.get(cause, ""))
    if cause is Cause.CHANGE:
        return Judged(Sight.PASSING, "settling", "something changed a short while ago")
    return Judged(Sight.LOST, NOT_DECIDED, _CAUSES.get(cause, ""))


def counted(several: Iterable[Judged]) -> list[tuple[int, str]]:
    """How many modules each word is said of: beyond a limit, fine, then the others as they come."""
    number: dict[str, int] = {}
    for each in several:
        number[each.counted] = number.get(each.counted, 0) + 1
    others = [words for words in number if words not in _ORDER]
    order = [*(words for words in _ORDER if words in number), *others]
    return [(number[words], _of(number[words], words)) for words in order]


def _of(number: int, words: str) -> str:
    return words if number == 1 else words.replace(" its ", " their ")


def _against(returned: Quantity, limits: Limits) -> Judged:
    value, (low, high) = returned.value or 0.0, limits
    if low is not None and value < low:
        return Judged(Sight.BEYOND, UNDER)
    if high is not None and value > high:
        return Judged(Sight.BEYOND, ABOVE)
    ends = (value - (returned.below or 0.0), value + (returned.above or 0.0))
    return Judged(Sight.FINE, INSIDE, "not with all its uncertainty" if any(map(limits.passes, ends)) else "")


def _is_out(view: ModuleView) -> bool:
    """Whether every alarm of the module is out of service."""
    return bool(view.lives.of) and all(
        view.lives.standing(name) is StateName.OUT_OF_SERVICE for name in CATALOGUE
    )
