"""A brief as one HTML file: no script, nothing from elsewhere; all text escaped by the template engine."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING, Any

from agent.assess import AT_PROBE
from agent.outlets.cautions import HEAD, cautions, short_caution
from agent.outlets.drawn_svg import LEGEND
from agent.outlets.shown import spaced
from agent.outlets.terminal.alarm_list import together
from agent.outlets.terminal.explaining import CLAMPING, NOT_DESCRIBED
from agent.outlets.terminal.instrumentation import instrument_lines
from agent.outlets.times import length
from agent.outlets.visit import beside, journal, piping, proof, site_work, tables, then_now_table
from agent.outlets.visit.brief import Brief
from agent.outlets.visit.course import Course
from agent.outlets.visit.measuring import ASKED, to_measure
from agent.outlets.visit.plots import figure_svg
from agent.outlets.visit.readings import reading_rows
from agent.outlets.visit.sheet import NARROW, WIDE
from agent.outlets.visit.verdict import verdict

if TYPE_CHECKING:
    from markupsafe import Markup

MOST_LINES = 200  # of the journal; older ones are counted


def render_brief(brief: Brief) -> str:
    """The whole file."""
    from agent.outlets.templating import page

    return page("visit", "brief.html", **_page(brief))


def _page(brief: Brief) -> dict[str, Any]:
    """What the template puts in its places. Only what is made here as markup is marked as such."""
    from markupsafe import Markup

    display, core = brief.display, brief.module.module
    refrigerant = core.refrigerant
    return {
        "brief": brief,
        "path": brief.module.path,
        "refrigerant": refrigerant,
        "made": display.when(brief.made_us),
        "from_": display.when(brief.from_us),
        "to": display.when(brief.to_us),
        "span": length(brief.to_us - brief.from_us),
        "running_head": Markup(
            _css_text(f"Dewline visit brief: {brief.module.path}   {display.when(brief.made_us)}")
        ),
        "verdict": verdict(brief),
        "then_now": then_now_table.table(brief),
        "beside": list(filter(None, (*beside.discharge_lines(brief), beside.accumulator_words(brief)))),
        "short_caution": short_caution([refrigerant]),
        "cautions_head": HEAD,
        "cautions": cautions([refrigerant]),
        "now": list(tables.now_rows(brief)),
        "rise_words": beside.rise_words(brief),
        "readings": list(reading_rows(brief)),
        "mode_now": _mode_now(brief),
        "age_now": _age_now(brief),
        **_piped(brief),
        **_past(brief),
        **_proved(brief),
        **_to_measure(brief),
    }


def _piped(brief: Brief) -> dict[str, Any]:
    from markupsafe import Markup

    display, layout = brief.display, brief.module.module.layout
    return {
        "is_known": layout.is_known,
        "not_described": NOT_DESCRIBED,
        "layout": layout,
        "layouts": [
            (each, f"since {display.when(each.from_us)}" if each.from_us else "as configured from the start")
            for each in brief.layouts
        ],
        "confirmed": [journal.line(brief, each) for each in brief.confirmed],
        "drawn_for": piping.drawn_for(brief),
        "drawing": Markup(piping.drawing(brief, narrow=False)),
        "drawing_narrow": Markup(piping.drawing(brief, narrow=True)),
        "legend": LEGEND,
        "fitness": list(tables.fitness_rows(brief)),
        "site_probe": piping.site_probe(brief),
        "lacking": list(piping.lacking(brief)),
        "instruments": [display.words(each) for each in instrument_lines(brief.module)]
        if layout.is_known
        else [],
    }


def _past(brief: Brief) -> dict[str, Any]:
    happened = list(together(brief.happened))
    event = brief.event if brief.event is not None and len(brief.event.grid_us) else None
    return {
        "has_course": len(brief.course.grid_us) > 0,
        "figures": _figures(brief, brief.course, "days"),
        "event": event,
        "event_words": _event_words(brief),
        "event_from": "" if event is None else brief.display.when(event.from_us),
        "event_figures": _figures(brief, event, "event"),
        "apparent": [n.removeprefix(AT_PROBE) for n in brief.course.curves if n.startswith(AT_PROBE)],
        "modes": list(tables.mode_rows(brief)),
        "day_columns": tables.day_columns(brief),
        "days": list(tables.day_rows(brief)),
        "happened": [journal.line(brief, each) for each in happened[-MOST_LINES:]][::-1],
        "happened_before": max(len(happened) - MOST_LINES, 0),
        "over": list(journal.over(brief)),
        "undecided": list(tables.undecided_rows(brief)),
    }


def _event_words(brief: Brief) -> str:
    alarm, event = brief.cause, brief.event
    if alarm is None or event is None or alarm.since_us is None:
        return ""
    if alarm.since_us < event.from_us:
        return f": the last day; {alarm.name} began before it"
    return f": around the beginning of {alarm.name}"


def _figures(brief: Brief, course: Course | None, what: str) -> list[Markup]:
    """For paper and for a phone; none where nothing was assessed."""
    from markupsafe import Markup

    if course is None or not len(course.grid_us):
        return []
    return [Markup(figure_svg(brief, course, size, what)) for size in (WIDE, NARROW)]


def _proved(brief: Brief) -> dict[str, Any]:
    by_hand = brief.by_hand
    return {
        "evidence": brief.evidence,
        "by_hour": list(tables.found_by_hour(brief)),
        "identity": proof.identity(brief),
        "sides": [proof.side(brief, each) for each in brief.sides],
        "instrument_words": proof.instrument_words(brief),
        "causes": proof.causes(brief),
        "by_hand": [proof.measured(brief, each) for each in by_hand.readings],
        "concluded": [
            proof.concluded(brief, each.at_us, each.text, each.advice) for each in by_hand.concluded
        ],
    }


def _to_measure(brief: Brief) -> dict[str, Any]:
    cards, display = to_measure(brief), brief.display
    return {
        "clamping": CLAMPING,
        "no_room": site_work.NO_ROOM,
        "order_of_work": site_work.ORDER,
        "notes_on_work": site_work.NOTES,
        "cards": [each for each in cards if each.rank != ASKED],
        "cards_asked": [each for each in cards if each.rank == ASKED],
        "example_time": display.at(brief.made_us).isoformat(timespec="minutes"),
        "pressures": " or ".join(dict.fromkeys((display.pressure_unit, "bar", "kPa"))),
        "on_site": [display.words(each) for each in brief.identity.tell_apart] if brief.identity else [],
    }


def _mode_now(brief: Brief) -> str:
    assessment = brief.view.assessment
    if assessment is None:
        return ""
    reason = f" ({assessment.mode_reason})" if assessment.mode_reason else ""
    return f"{spaced(assessment.mode)}{reason}"


def _age_now(brief: Brief) -> str:
    assessment, newest_us = brief.view.assessment, brief.view.newest_us
    words = [] if assessment is None else [f"assessed {brief.display.when(assessment.grid_us)}"]
    words += [
        "no reading in the last day"
        if newest_us is None
        else f"newest reading {length(brief.made_us - newest_us)} old"
    ]
    return ", ".join(words)


def _css_text(words: str) -> str:
    """A string of CSS, with whatever could end it, or the style, told by number."""
    escaped = re.sub(r"[^\w .,:/+-]", lambda found: f"\\{ord(found[0]):x} ", words)
    return f'"{escaped}"'
