"""What was measured by hand at a module and what it says, for a terminal and as data."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Any, NamedTuple

from rich.console import Group, RenderableType
from rich.padding import Padding
from rich.text import Text

from agent.assess.by_hand.handheld import AS_IT_IS, HandheldCompared, Kind, Of, Shown, Verdict
from agent.outlets.shown import SI, Display, number_of
from agent.outlets.times import iso
from agent.settings import ModulePath

_STYLES = {Verdict.AGREES: "green", Verdict.DIFFERS: "bold red", Verdict.CANNOT_TELL: "yellow"}
UNIT_BEFORE = "of the unit that stood here before; not used"


class Withdrawn(NamedTuple):
    """That a reading was taken back."""

    at_us: int
    by: str
    why: str


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
    id: int = 0  # by which it is withdrawn
    shown: Shown = AS_IT_IS  # of a pressure
    withdrawn: Withdrawn | None = None

    @property
    def is_used(self) -> bool:
        """Whether it says something of the unit that stands here now."""
        return not self.of_unit_before and self.withdrawn is None

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
        return (*(each.found for each in self.readings if each.is_used), *self.concluded)

    @property
    def has_finding(self) -> bool:
        """Whether something differs."""
        return any(each.verdict is Verdict.DIFFERS for each in self.used)

    @property
    def sides(self) -> tuple[HandheldCompared, ...]:
        """On which side of an inlet probes were found to sit."""
        return tuple(each for each in self.concluded if each.of is Of.SIDE)


NOTHING_BY_HAND = MeasuredByHand()


def by_hand_lines(measured: MeasuredByHand, module: str, display: Display = SI) -> Iterator[str]:
    """What follows from the readings of this unit, and how many there are."""
    for each in measured.concluded:
        text = " ".join(filter(None, (_sentence(each.text), each.advice)))
        yield f"{display.day_time(each.at_us)}: {display.words(text)}"
    used = [each for each in measured.readings if each.is_used]
    differ = sum(each.found.verdict is Verdict.DIFFERS for each in used)
    if used:
        words = f"{number_of(len(used), 'reading')}{f', {differ} of them differ' if differ else ''}"
        yield f"{words}: `dewline measure {module} --list`"


def render_answer(
    path: ModulePath, this: Measured, follows: Sequence[HandheldCompared], display: Display = SI
) -> Group:
    """For a terminal: the verdict on a reading that was just given, what it rests on, and what follows."""
    lines: list[RenderableType] = [_verdict(this.found)]
    text = display.words(_sentence(this.found.text))
    as_given = "" if display.has_si_units or this.given in text else f" (given as {this.given})"
    lines.append(Text(f"{this.where} at {path}{as_given}: {text}"))
    lines += [Text(display.words(this.found.advice))] if this.found.advice else []
    for each in follows:
        lines += [Text(""), _verdict(each), Text(display.words(_sentence(each.text)))]
        lines += [Text(display.words(each.advice))] if each.advice else []
    back = f"`dewline measure {path.local} --withdraw {this.id} --by NAME --why TEXT` takes it back"
    kept = f"Kept as reading {this.id}; {back}."
    return Group(*lines, Text(""), Text(kept, style="dim"))


def _verdict(found: HandheldCompared) -> Text:
    return Text(str(found.verdict).upper(), style=_STYLES[found.verdict])


def _sentence(text: str) -> str:
    return f"{text[0].upper()}{text[1:]}."


def render_by_hand(path: ModulePath, measured: MeasuredByHand, display: Display = SI) -> Group:
    """For a terminal: each reading with its verdict, then what follows."""
    head = Text(str(path), style="bold")
    count = len(measured.readings)
    words = f"{number_of(count, 'reading')} by hand" if count else "nothing measured by hand"
    head.append(f"   {words}", style="not bold dim")
    lines: list[RenderableType] = [head]
    for each in measured.readings:
        line = Text(f"{each.id}  {display.day_time(each.at_us)}  {each.where}  ")
        line.append(_said(each, display), style=_STYLES[each.found.verdict] if each.is_used else "dim")
        line.append(f"  by {each.who}", style="dim")
        lines.append(Padding(line, (1, 0, 0, 2)))
        lines.append(Padding(Text(display.words(each.found.text)), (0, 0, 0, 6)))
        if each.is_used and each.found.advice:
            lines.append(Padding(Text(display.words(each.found.advice)), (0, 0, 0, 6)))
        lines.append(Padding(Text(_as_given(each, display), style="dim"), (0, 0, 0, 6)))
    if measured.concluded:
        lines.append(Text("\nWhat follows from several readings", style="bold"))
    for found in measured.concluded:
        line = Text(f"{display.day_time(found.at_us)}: ")
        line.append(f"{found.verdict}: ", style=_STYLES[found.verdict])
        line.append(display.words(found.text))
        lines.append(Padding(line, (0, 0, 0, 2)))
        if found.advice:
            lines.append(Padding(Text(display.words(found.advice)), (0, 0, 0, 6)))
    return Group(*lines)


def _said(each: Measured, display: Display) -> str:
    """The verdict; of two clamps that tell together, what the layout says to them."""
    if each.withdrawn is not None:
        back = each.withdrawn
        because = f" ({back.why})" if back.why else ""
        return f"withdrawn by {back.by}, {display.day_time(back.at_us)}{because}; not used"
    if each.of_unit_before:
        return UNIT_BEFORE
    if each.kind is Kind.INLET:
        words = {Verdict.AGREES: "confirms the layout", Verdict.DIFFERS: "denies the layout"}
        return words.get(each.found.verdict, str(each.found.verdict))
    return str(each.found.verdict)


def _as_given(each: Measured, display: Display) -> str:
    is_pressure = each.kind is Kind.TRANSDUCER
    limit = each.shown.amount(each.half_width) if is_pressure else f"{each.half_width:.1f} K"
    words = f"given as {each.given}, right within {display.words(f'±{limit}')}"
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
        "id": each.id,
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
        "withdrawn": _withdrawn(each.withdrawn),
        "verdict": each.found.verdict,
        "telemetry": each.found.telemetry,
        "difference_k": each.found.difference_k,
        "uncertainty_k": each.found.u_k,
        "advice": each.found.advice or None,
        "reads_like": each.found.like or None,
        "text": each.found.text,
    }


def _withdrawn(back: Withdrawn | None) -> dict[str, Any] | None:
    return None if back is None else {"time": iso(back.at_us), "by": back.by, "why": back.why or None}


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
        "advice": found.advice or None,
        "reads_like": found.like or None,
        "text": found.text,
    }
