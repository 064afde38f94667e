"""A layout, or a module, explained: the drawing, which probe speaks for what, each probe's worth, what lacks.

What the piping says comes from `agent.piping`; here it is put into words for a person.
"""

from __future__ import annotations

import textwrap
from collections.abc import Iterable, Iterator, Mapping, Sequence
from typing import TypeVar

from rich.text import Text

from agent.assess import Side, Tracking
from agent.assess.by_hand.handheld import HandheldCompared
from agent.outlets.shown import SI, Display, spaced
from agent.outlets.terminal.drawn_text import STYLES, WIDEST, drawn
from agent.outlets.terminal.instrumentation import instrument_lines, limit_lines
from agent.piping import (
    ACCUMULATOR_CHANGE,
    RISE,
    Advice,
    Case,
    Choice,
    Explanation,
    Fitness,
    Graph,
    Layout,
    ProbeFitness,
    Standing,
    explain,
)
from agent.settings import QUANTITIES, ModulePlan

_DIFFERENCES = (RISE, ACCUMULATOR_CHANGE)
# What may be concluded from a value of this standing.
MEANS = {
    Standing.FIT: "",
    Standing.COVERING: "",
    Standing.SECOND_BEST: "alarms come at wider limits and low priority",
    Standing.AFTER_ACCUMULATOR: "a low value raises no alarm here: liquid coming back would not be told",
    Standing.UPPER_BOUND: "a high value proves nothing; one at or below zero is strong evidence of liquid",
    Standing.MIXED: "a high value proves nothing; near zero, liquid comes with one of the streams",
    Standing.NOT_DECIDABLE: "",
    Standing.NOT_MEASURABLE: "",
}
NOT_DESCRIBED = (
    "Every reading is kept, and what does not depend on the piping is worked out; no probe is taken for "
    "superheat, and nothing is judged by it. Right would be a layout: follow the pipes and describe them."
)
LEAST = 60  # characters of a line; narrower than this no sentence is broken
Said = TypeVar("Said")
CLAMPING = (  # common practice, no source
    "A clamp sits about ten pipe diameters clear of where another pipe joins, on the side of the pipe, tight "
    "and insulated: close to a joint it reads what joins; a loose or bare one reads towards the air: warm on "
    "a warm day, which hides liquid, and cold on a cold night, which shows liquid that is not there."
)
_SITE_WORK = (
    "Only people who may work there go to the module: pipes are very hot and very cold, refrigerant is under "
    "high pressure, fans start without warning. Isolate and lock out, wait until the drive's capacitors have "
    "discharged. Local codes and the equipment's own instructions prevail."
)


def explanation_of(layout: Layout, module: ModulePlan | None = None, mode: str | None = None) -> Explanation:
    """A layout explained, or as a module has it: with the probes and valves that its signals tell of."""
    modes = None if mode is None else [mode]
    if module is None:
        return explain(layout, modes)
    signals = module.module.signals
    return explain(
        layout,
        modes,
        available=[probe for probe in layout.suction_probes if probe in signals],
        configured_probe=module.configured_probe,
        silent_valves=[valve for valve in layout.valves if valve not in signals],
    )


def explained(
    explanation: Explanation,
    module: ModulePlan | None = None,
    notes: Iterable[str] = (),
    width: int = WIDEST,
    sides: Sequence[Tracking] = (),
    by_hand: Sequence[HandheldCompared] = (),
    display: Display = SI,
) -> list[Text]:
    """All of it in lines of at most ``width`` characters, between 60 and 80.

    ``sides``: what readings say of probes whose side of an inlet the layout leaves open. ``by_hand``: what
    clamps on both sides of an inlet say.
    """
    layout = explanation.layout
    page = _Page(max(LEAST, min(width, WIDEST)))
    page.say(f"{module.path} on layout {layout.name}" if module else layout.name, "bold")
    for note in notes:
        page.say(note)
    page.say(layout.about)
    if not layout.is_known:
        page.say(NOT_DESCRIBED)
    elif not explanation.modes:
        page.say("This layout describes no mode, so that nothing can be judged.")
    if not explanation.modes:
        if module:
            _instruments(module, page, display)
        return page.lines
    page.say(_base(explanation), "dim")
    for valve in explanation.silent_valves:
        page.say(_without(valve, layout), "yellow")
    page.say("")
    page.lines += drawn(explanation.drawing)
    _places(explanation, page)
    _probes(explanation, page)
    if sides:
        _sides(sides, page, display)
    if by_hand:
        _sides_by_hand(by_hand, page, display)
    if module:
        _of_module(explanation, module, page, display)
    page.say("")
    page.say(CLAMPING, "dim")
    page.say(_SITE_WORK, "dim")
    return page.lines


class _Page:
    """Lines of words, none longer than the page is wide."""

    LABEL = 12

    def __init__(self, width: int) -> None:
        self.width = width
        self.lines: list[Text] = []

    def say(self, words: str, style: str = "") -> None:
        self.lines += [Text(line, style=style) for line in _wrapped(words, self.width)] or [Text()]

    def head(self, words: str) -> None:
        self.lines += [Text(), Text(words.upper(), style="bold")]

    def row(self, label: str, words: str, style: str = "") -> None:
        """A label and a sentence beside it."""
        if len(label) > self.LABEL:
            self.lines.append(Text(f"  {label}", style="dim"))
            label = ""
        beside = self.LABEL + 4
        first, *others = _wrapped(words, self.width - beside) or [""]
        self.lines.append(Text.assemble((f"  {label}".ljust(beside), "dim"), (first, style)))
        self.lines += [Text.assemble(" " * beside, (line, style)) for line in others]


def _wrapped(words: str, width: int) -> list[str]:
    """Lines that keep names whole where they can."""
    return textwrap.wrap(words, width, break_on_hyphens=False)


def _sides(sides: Sequence[Tracking], page: _Page, display: Display) -> None:
    page.head("On which side probes sit, by their readings")
    for each in sides:
        page.say(each.probe, "bold")
        if each.side is Side.CANNOT_TELL:
            page.row("", f"cannot tell: {display.words(each.text)}", "yellow")
            continue
        page.row("", f"{each.side}: {display.words(each.text)}")
        page.row("", "If a look on site agrees, add to the module's layout, with valid_from, by and why:")
        page.row("", f"proven: {{{each.probe}: {each.side}}}")


def _sides_by_hand(found: Sequence[HandheldCompared], page: _Page, display: Display) -> None:
    page.head("On which side probes sit, by hand")
    for each in found:
        page.say(each.probe or each.inlet, "bold")
        style = "bold red" if each.contradicts_layout else "yellow" if each.side is Side.CANNOT_TELL else ""
        page.row("", f"{display.day_time(each.at_us)}: {display.words(each.text)}", style)


def _base(explanation: Explanation) -> str:
    """What holds unless it is said otherwise."""
    layout = explanation.layout
    coils = {coil.name for mode in explanation.modes for coil in layout.coils_by_valve(mode)}
    role = f", {' and '.join(sorted(coils))} evaporating where the mode leaves it open" if coils else ""
    return f"Every inlet valve shut and every compressor running{role}, unless it says otherwise."


def _without(valve: str, layout: Graph) -> str:
    """What it costs that no signal tells of a valve."""
    for coil in layout.coils.values():
        if coil.valve == valve:
            return f"No signal tells of {valve}: what {coil.name} does is never known."
    return f"No signal tells of {valve}: it is never known to be shut."


def _places(explanation: Explanation, page: _Page) -> None:
    page.head("Which probe speaks for what")
    for place, by_mode in explanation.places.items():
        page.say(QUANTITIES[place], "bold")
        for modes, lines in _alike({m: _place_lines(place, case) for m, case in by_mode.items()}):
            for number, line in enumerate(lines):
                style = "" if by_mode[modes[0]].found.probes else "yellow"
                page.row("" if number else _label(modes, explanation), line, "" if number else style)
        for advice in explanation.advice[place]:
            page.row("lacking", advised(place, advice, explanation), "cyan")
        helped = {mode for advice in explanation.advice[place] for mode in advice.modes}
        left = [m for m, case in by_mode.items() if not case.found.probes and m not in helped]
        if left:
            page.row("lacking", f"no single probe would make it measurable in {' and '.join(left)}", "cyan")


def _place_lines(place: str, case: Case[Choice]) -> tuple[str, ...]:
    changes = (f"{when}: {chosen(place, choice)}" for when, choice in case.changes)
    return chosen(place, case.found), *changes


def chosen(place: str, choice: Choice) -> str:
    """Which probes speak, how well, why, and what that lets one conclude."""
    words = spaced(choice.standing)
    if not choice.probes:
        return f"{words}: {choice.reason}"
    probes = (" minus " if place in _DIFFERENCES else ", ").join(choice.probes)
    limit = f"; {MEANS[choice.standing]}" if MEANS[choice.standing] else ""
    return f"{probes}, {words}: {choice.reason}{limit}"


def advised(place: str, advice: Advice, explanation: Explanation) -> str:
    """What would make a place measurable, or better measured, and in which modes."""
    modes = "" if advice.modes == explanation.modes else f" in {' and '.join(advice.modes)}"
    now = explanation.places[place][advice.modes[0]].found
    gain = "measure it better" if now.probes else "make it measurable"
    return f"{advice.where} would {gain}{modes} ({spaced(advice.standing)})"


def _probes(explanation: Explanation, page: _Page) -> None:
    page.head("What each probe is worth for suction superheat")
    by_probe = {
        probe: tuple(_alike({mode: _probe_lines(case) for mode, case in by_mode.items()}))
        for probe, by_mode in explanation.probes.items()
    }
    for probes, cases in _alike(by_probe):
        page.say(", ".join(probes), "bold")
        for modes, lines in cases:
            verdict = explanation.probes[probes[0]][modes[0]].found.verdict
            for number, line in enumerate(lines):
                page.row(
                    "" if number else _label(modes, explanation), line, "" if number else STYLES[verdict]
                )
    for probe in explanation.silent:
        page.say(probe, "bold")
        page.row("no readings", f"the layout has it, the module has no signal {probe}")


def _probe_lines(case: Case[ProbeFitness]) -> tuple[str, ...]:
    return worth(case.found), *(f"{when}: {worth(found)}" for when, found in case.changes)


def worth(fitness: ProbeFitness) -> str:
    """A verdict with its reason."""
    return f"{spaced(fitness.verdict)}: {fitness.reason}"


def _alike(said: Mapping[str, Said]) -> list[tuple[tuple[str, ...], Said]]:
    """The names of which the same is said, together."""
    names: dict[Said, list[str]] = {}
    for name, words in said.items():
        names.setdefault(words, []).append(name)
    return [(tuple(together), words) for words, together in names.items()]


def _label(modes: tuple[str, ...], explanation: Explanation) -> str:
    every = len(modes) > 1 and modes == explanation.modes
    return "every mode" if every else ", ".join(modes)


def _of_module(explanation: Explanation, module: ModulePlan, page: _Page, display: Display) -> None:
    if module.configured_probe:
        page.head("Where the site takes superheat")
        page.say(module.configured_probe, "bold")
        for label, words, is_fit in configured(explanation, module.configured_probe):
            page.row(label, words, "" if is_fit else "bold yellow")
    _instruments(module, page, display)


def _instruments(module: ModulePlan, page: _Page, display: Display) -> None:
    page.head("Instruments")
    for line in instrument_lines(module):
        page.say(display.words(line))
    page.head("Limits")
    for line in limit_lines(module):
        page.say(display.words(line))


def configured(explanation: Explanation, probe: str) -> Iterator[tuple[str, str, bool]]:
    """Modes, a sentence and whether it is fit, of the probe that the site takes superheat from."""
    by_mode = explanation.probes.get(probe)
    if by_mode is None:
        yield "", "NOT HEARD: no readings of it come", False
        return
    for modes, words in _alike({mode: worth(case.found) for mode, case in by_mode.items()}):
        is_fit = by_mode[modes[0]].found.verdict is Fitness.FIT
        yield _label(modes, explanation), words if is_fit else f"NOT FIT: {words}", is_fit
