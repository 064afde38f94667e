"""A brief as one HTML file: no script, nothing from elsewhere; all text escaped by the template engine."""

from __future__ import annotations

import re
from collections.abc import Iterator
from itertools import groupby
from typing import TYPE_CHECKING, Any, NamedTuple

from agent.alarms import CATALOGUE
from agent.alarms.journal import Transition
from agent.assess import AT_PROBE, Side
from agent.outlets.alarm_list import Happened
from agent.outlets.alarm_words import short_time
from agent.outlets.by_hand import Measured
from agent.outlets.causes import MOST_SHOWN
from agent.outlets.cautions import HEAD, brief_caution, cautions
from agent.outlets.drawn_svg import LEGEND, drawn_svg
from agent.outlets.evidence import lines
from agent.outlets.explaining import CLAMPING, NOT_DESCRIBED, advised, configured
from agent.outlets.identity import HEADS, MEANING, WORDS
from agent.outlets.instrumentation import instrument_lines
from agent.outlets.visit import tables
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.measuring import to_measure
from agent.outlets.visit.plots import figure_svg
from agent.outlets.visit.sheet import NARROW, WIDE
from agent.outlets.visit.verdict import verdict
from agent.outlets.visit.words import age
from agent.piping import RETURN, RISE, draw

if TYPE_CHECKING:
    from markupsafe import Markup

MOST_LAYOUTS = 5  # of the library, that are listed with their points
MOST_LINES = 200  # of the journal; older ones are counted


def render_brief(brief: Brief) -> str:
    """The whole file."""
    from jinja2 import Environment, PackageLoader, StrictUndefined

    environment = Environment(
        loader=PackageLoader("agent.outlets.visit"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    environment.filters["told"] = _with_commands
    style, _, _ = (
        environment.loader.get_source(environment, "brief.css") if environment.loader else ("", "", None)
    )
    return environment.get_template("brief.html").render(_page(brief), style=style)


def _page(brief: Brief) -> dict[str, Any]:
    """What the template puts in its places. Only what is made here as markup is marked as such."""
    from markupsafe import Markup

    display, core = brief.display, brief.module.module
    refrigerant = core.refrigerant
    has_course = len(brief.course.grid_us) > 0
    return {
        "brief": brief,
        "path": brief.module.path,
        "refrigerant": refrigerant,
        "made": display.when(brief.made_us),
        "from_": display.when(brief.from_us),
        "to": display.when(brief.to_us),
        "span": age(brief.to_us - brief.from_us),
        "running_head": Markup(
            _css_text(f"Dewline visit brief: {brief.module.path}   {display.when(brief.made_us)}")
        ),
        "verdict": verdict(brief),
        "short_caution": brief_caution([refrigerant]),
        "cautions_head": HEAD,
        "cautions": cautions([refrigerant]),
        "now": list(tables.now_rows(brief)),
        "mode_now": _mode_now(brief),
        "age_now": _age_now(brief),
        "is_known": core.layout.is_known,
        "not_described": NOT_DESCRIBED,
        "layout": core.layout,
        "layouts": [
            (each, display.when(each.from_us) if each.from_us else "since ever") for each in brief.layouts
        ],
        "confirmed": [_line(brief, each) for each in brief.confirmed],
        "drawing": Markup(_drawing(brief, narrow=False)),
        "drawing_narrow": Markup(_drawing(brief, narrow=True)),
        "legend": LEGEND,
        "fitness": list(tables.fitness_rows(brief)),
        "configured": _configured(brief),
        "lacking": list(_lacking(brief)),
        "instruments": [display.words(each) for each in instrument_lines(brief.module)]
        if core.layout.is_known
        else [],
        "has_course": has_course,
        "figure": Markup(figure_svg(brief, WIDE)) if has_course else "",
        "figure_narrow": Markup(figure_svg(brief, NARROW)) if has_course else "",
        "apparent": [n.removeprefix(AT_PROBE) for n in brief.course.curves if n.startswith(AT_PROBE)],
        "modes": list(tables.mode_rows(brief)),
        "day_columns": tables.day_columns(brief),
        "days": list(tables.day_rows(brief)),
        "happened": [_line(brief, each) for each in _together(brief.happened)[-MOST_LINES:]][::-1],
        "happened_before": max(len(_together(brief.happened)) - MOST_LINES, 0),
        "undecided": list(tables.undecided_rows(brief)),
        "evidence": brief.evidence,
        "by_hour": list(tables.found_by_hour(brief)),
        "identity": _identity(brief),
        "sides": [_side(brief, each) for each in brief.sides],
        "instrument_words": _instrument_words(brief),
        "causes": _causes(brief),
        "by_hand": [_measured(brief, each) for each in brief.by_hand.readings],
        "concluded": [
            _concluded(brief, each.at_us, each.text, each.advice) for each in brief.by_hand.concluded
        ],
        "clamping": CLAMPING,
        "to_measure": to_measure(brief),
        "on_site": [display.words(each) for each in brief.identity.tell_apart] if brief.identity else [],
    }


class Line(NamedTuple):
    """A line of the journal in words."""

    when: str
    what: str
    text: str
    who: str


def _mode_now(brief: Brief) -> str:
    assessment = brief.view.assessment
    if assessment is None:
        return ""
    reason = f" ({assessment.mode_reason})" if assessment.mode_reason else ""
    return f"{assessment.mode.replace('_', ' ')}{reason}"


def _age_now(brief: Brief) -> str:
    assessment, newest_us = brief.view.assessment, brief.view.newest_us
    words = [] if assessment is None else [f"assessed {brief.display.when(assessment.grid_us)}"]
    words += [
        "no reading in the last day"
        if newest_us is None
        else f"newest reading {age(brief.made_us - newest_us)} old"
    ]
    return ", ".join(words)


def _drawing(brief: Brief, *, narrow: bool) -> str:
    layout, explanation = brief.module.module.layout, brief.explanation
    if not layout.is_known:
        return ""
    title = layout.name
    if not narrow:
        return drawn_svg(explanation.drawing, title, layout.about)
    modes = tables.used_modes(brief)
    situations = [each for each in explanation.drawing.situations if each.mode in modes]
    available = set(layout.suction_probes) - set(explanation.silent)
    drawing = draw(layout, situations, available, brief.module.configured_probe)
    return drawn_svg(drawing, title, layout.about, narrow=True)


def _configured(brief: Brief) -> list[tuple[str, str]]:
    probe = brief.module.configured_probe
    if probe is None or not brief.module.module.layout.is_known:
        return []
    return [(label, words) for label, words, _ in configured(brief.explanation, probe)]


def _lacking(brief: Brief) -> Iterator[str]:
    """Which further probe would make measurable what is not."""
    names = {RETURN: "return superheat", RISE: "oil-return rise"}
    for place, name in names.items():
        for advice in brief.explanation.advice.get(place, ()):
            yield f"{name}: {advised(place, advice, brief.explanation)}"


def _together(happened: tuple[Happened, ...]) -> list[Happened]:
    """Lines of which only the alarm differs share one."""
    found = []
    for _, same in groupby(happened, lambda each: each._replace(alarm="")):
        several = list(same)
        names = {each.alarm for each in several}
        every = "all alarms" if CATALOGUE.keys() <= names else ", ".join(sorted(names))
        found.append(several[0]._replace(alarm=every))
    return found


def _line(brief: Brief, each: Happened) -> Line:
    """What a person typed stays as it is; what the agent said is told in the site's units."""
    display = brief.display
    what = f"{each.alarm}: {each.what.replace('_', ' ')}"
    if each.until_us is not None:
        what += f" until {short_time(each.until_us, display)}"
    if each.known_us - each.event_us > 120_000_000:
        what += f", of {short_time(each.event_us, display)}"
    is_ours = each.what in set(Transition)
    text = display.words(each.text) if is_ours else each.text
    return Line(short_time(each.known_us, display), what, text, each.who)


def _identity(brief: Brief) -> dict[str, Any] | None:
    found, display = brief.identity, brief.display
    if found is None:
        return None
    head, _ = HEADS[found.conclusion]
    own = [found.configured] if found.configured else []
    others = [each for each in found.weighed if not own or each.layout != own[0].layout]
    reasons = sorted(own[0].reasons.values(), key=lambda each: -each.points) if own else []
    return {
        "head": head,
        "text": display.words(found.text),
        "seen": [display.words(each) for each in found.seen],
        "layouts": [
            (each.layout, f"{each.points:g}", WORDS[each.explains]) for each in [*own, *others][:MOST_LAYOUTS]
        ],
        "more": max(len(own) + len(others) - MOST_LAYOUTS, 0),
        "against": [
            display.words(f"{each.text} ({each.fault})" if each.fault else each.text)
            for each in reasons
            if each.points
        ],
        "meaning": MEANING,
    }


def _side(brief: Brief, each: Any) -> str:
    said = "cannot tell" if each.side is Side.CANNOT_TELL else str(each.side)
    return f"{each.probe}: {said}, by its readings: {brief.display.words(each.text)}"


def _instrument_words(brief: Brief) -> list[str]:
    if brief.evidence is None:
        return []
    found = lines(brief.evidence.identified, brief.evidence.suspected)
    answers = {True: "answers", False: "does not answer", None: "cannot tell"}
    found += [
        f"injection into {e.compressor} {answers[e.answers]}: {e.text}" for e in brief.evidence.injection
    ]
    return [brief.display.words(each) for each in found]


def _causes(brief: Brief) -> dict[str, Any] | None:
    if brief.evidence is None:
        return None
    causes, words = brief.evidence.causes, brief.display.words
    ranking = [each for each in causes.ranking if each.score > 0][:MOST_SHOWN]
    return {
        "verdict": words(causes.verdict),
        "hours": causes.hours,
        "mode": causes.mode,
        "limits": words(causes.limits),
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


def _measured(brief: Brief, each: Measured) -> tuple[str, str, str, str]:
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
        f"{short_time(each.at_us, brief.display)}, {each.where}",
        said,
        text,
        f"{each.given} by {each.who}{note}",
    )


def _concluded(brief: Brief, at_us: int, text: str, advice: str) -> str:
    words = f"{short_time(at_us, brief.display)}: {brief.display.words(text)}."
    return f"{words} {brief.display.words(advice)}" if advice else words


def _with_commands(words: str) -> Markup:
    """Escaped, with what stands between backticks as a command."""
    from markupsafe import Markup, escape

    parts = words.split("`")
    if len(parts) % 2 == 0:  # one of them stands alone
        return escape(words)
    said = [
        f"<code>{escape(part)}</code>" if number % 2 else str(escape(part))
        for number, part in enumerate(parts)
    ]
    return Markup("".join(said))


def _css_text(words: str) -> str:
    """A string of CSS, with whatever could end it, or the style, told by number."""
    escaped = re.sub(r"[^\w .,:/+-]", lambda found: f"\\{ord(found[0]):x} ", words)
    return f'"{escaped}"'
