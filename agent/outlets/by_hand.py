"""What was measured by hand at a module and what it says, for a terminal and as data."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import Any, NamedTuple

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from agent.assess.handheld import HandheldCompared, Kind, Of, Verdict
from agent.outlets.alarm_words import short_time
from agent.outlets.messages import iso
from agent.settings import ModulePath

_STYLES = {Verdict.AGREES: "green", Verdict.DIFFERS: "bold red", Verdict.CANNOT_TELL: "yellow"}
UNIT_BEFORE = "of the unit that stood here before; not used"


class Measured(NamedTuple):
    """A reading by hand as it was given, and what it says."""

    at_us: int
    given_us: int
    who: str
    kind: Kind
    place: str
    side: str | None
    value: float  # degC or Pa absolute
    half_width: float  # K or Pa
    given: str
    is_assumed: bool  # the limit of error: nobody stated one
    note: str
    found: HandheldCompared
    of_unit_before: bool = False

    @property
    def where(self) -> str:
        """The place in words."""
        if self.side is None:
            return self.place
        return f"{'ahead of' if self.side == 'ahead' else 'after'} {self.place}"


class MeasuredByHand(NamedTuple):
    """All that was measured by hand at a module, by time, and what follows from several together."""

    readings: tuple[Measured, ...] = ()
    concluded: tuple[HandheldCompared, ...] = ()

    @property
    def used(self) -> tuple[HandheldCompared, ...]:
        """What is known of the unit that stands here now."""
        return (*(each.found for each in self.readings if not each.of_unit_before), *self.concluded)

    @property
    def has_finding(self) -> bool:
        """Whether something differs."""
        return any(each.verdict is Verdict.DIFFERS for each in self.used)

    @property
    def sides(self) -> tuple[HandheldCompared, ...]:
        """On which side of an inlet probes were found to sit."""
        return tuple(each for each in self.concluded if each.of is Of.SIDE)


NOTHING_BY_HAND = MeasuredByHand()


def by_hand_lines(measured: MeasuredByHand) -> Iterator[str]:
    """A sentence for each reading of this unit, and for what follows."""
    for each in measured.readings:
        if not each.of_unit_before:
            yield f"{short_time(each.at_us)}, {each.where}, by {each.who}: {each.found.text}"
    yield from concluded_lines(measured.concluded)


def concluded_lines(concluded: Iterable[HandheldCompared]) -> Iterator[str]:
    """What follows from several readings, the newest of them with its time."""
    for each in concluded:
        yield f"{short_time(each.at_us)}: {each.text}"


def render_by_hand(path: ModulePath, measured: MeasuredByHand) -> Group:
    """For a terminal: each reading with its verdict, then what follows."""
    head = Text(str(path), style="bold")
    count = len(measured.readings)
    words = f"{count} reading{'' if count == 1 else 's'} by hand" if count else "nothing measured by hand"
    head.append(f"   {words}", style="not bold dim")
    lines: list[RenderableType] = [head]
    for each in measured.readings:
        verdict = UNIT_BEFORE if each.of_unit_before else str(each.found.verdict)
        line = Text(f"{short_time(each.at_us)}  {each.where}  ")
        line.append(verdict, style="dim" if each.of_unit_before else _STYLES[each.found.verdict])
        line.append(f"  by {each.who}", style="dim")
        lines.append(Padding(line, (1, 0, 0, 2)))
        lines.append(Padding(Text(each.found.text), (0, 0, 0, 6)))
        lines.append(Padding(Text(_as_given(each), style="dim"), (0, 0, 0, 6)))
    if measured.concluded:
        lines.append(Text("\nWhat follows from several readings", style="bold"))
    for found in measured.concluded:
        line = Text(f"{short_time(found.at_us)}: ")
        line.append(f"{found.verdict}: ", style=_STYLES[found.verdict])
        line.append(found.text)
        lines.append(Padding(line, (0, 0, 0, 2)))
    return Group(*lines)


def _as_given(each: Measured) -> str:
    limit = f"{each.half_width / 1e3:.1f} kPa" if each.kind is Kind.TRANSDUCER else f"{each.half_width:.1f} K"
    words = f"given as {each.given}, right within ±{limit}"
    words += " (nobody said; common practice)" if each.is_assumed else ""
    return f"{words}; {each.note}" if each.note else words


def by_hand_mapping(measured: MeasuredByHand) -> dict[str, Any]:
    """The same as plain data."""
    return {
        "readings": [_reading(each) for each in measured.readings],
        "concluded": [found_mapping(each) for each in measured.concluded],
    }


def _reading(each: Measured) -> dict[str, Any]:
    return {
        "time": iso(each.at_us),
        "given": iso(each.given_us),
        "by": each.who,
        "kind": each.kind,
        "place": each.place,
        "side": each.side,
        "value": each.value,
        "limit_of_error": each.half_width,
        "unit": "Pa" if each.kind is Kind.TRANSDUCER else "degC",
        "as_given": each.given,
        "note": each.note or None,
        "of_unit_before": each.of_unit_before,
        "verdict": each.found.verdict,
        "telemetry": each.found.telemetry,
        "difference_k": each.found.difference_k,
        "uncertainty_k": each.found.u_k,
        "text": each.found.text,
    }


def found_mapping(found: HandheldCompared) -> dict[str, Any]:
    """What follows from several readings, as plain data."""
    return {
        "time": iso(found.at_us),
        "of": found.of,
        "probe": found.probe or None,
        "verdict": found.verdict,
        "inlet": found.inlet or None,
        "side": found.side,
        "contradicts_layout": found.contradicts_layout,
        "difference_k": found.difference_k,
        "uncertainty_k": found.u_k,
        "text": found.text,
    }
