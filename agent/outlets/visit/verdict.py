"""The first screen of a brief: what is wrong, how sure that is, what to do first, and what to take along."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from agent.alarms import CATALOGUE, Condition, Entry, Life, Priority, StateName
from agent.alarms.catalogue import SUPERHEAT_LOW
from agent.alarms.identity import LAYOUT_DOUBT
from agent.assess.identity import Conclusion
from agent.outlets.alarm_words import (
    found_words,
    shadow_words,
    since_words,
    state_words,
    unit_words,
)
from agent.outlets.figures import share
from agent.outlets.meaning import to_stop, urgency
from agent.outlets.shown import number_of
from agent.outlets.terminal.status import SILENT_US
from agent.outlets.times import length
from agent.outlets.view import StandingAlarm
from agent.outlets.visit.brief import Brief
from agent.piping import NOT_KNOWN, RETURN
from agent.thermo import REFRIGERANTS

_ORDER = tuple(Priority)[::-1]
_CONDITIONS = {
    Condition.POSSIBLE: "perhaps; the evidence is weak, or its values have not settled",
    Condition.BEYOND: "it holds by the newest figures",
    Condition.BEYOND_DOUBT: "it is beyond its limit even with the full uncertainty (k = 2)",
    Condition.UNKNOWN: "it cannot be told at this moment: the alarm holds until it can",
    Condition.INSIDE: "it is between its limit and the point where it goes",
    Condition.CLEAR: "it is no longer beyond its limit; it goes when that has held for long enough",
}
# What to take along is common practice, no source.
_ALWAYS = (
    "a contact thermometer to clamp on pipes, right within 0.5 K, with tape and insulation for the clamp",
    "lock-out kit and voltage tester; gloves against heat and cold, eye protection; a lamp, and somebody who "
    "knows where you are",
    "this brief, on paper or kept on the phone, and the equipment's own instructions",
)
_FLAMMABLE = "a gas detector rated for {} (mildly flammable), and nothing that makes sparks"
_PIPES = "a camera, and a second clamp thermometer: two places of a pipe are read within 10 minutes"
_SPARE = "a spare probe of the kind of {}, with clamp, paste and insulation"
_GAUGE = "gauges for {}, for certified people only: fitting them opens the circuit"


@dataclass(frozen=True)
class Standing:
    """An alarm that stands, in words."""

    name: str
    priority: str
    found: str
    raised: str  # what was found when it came, where it cannot be told now; else empty
    means: str  # what may follow
    since: str
    state: str
    sure: str
    first: str
    is_told: bool


@dataclass(frozen=True)
class Verdict:
    """The first screen. ``tone``: alarm, look, none or unknown; it is told in words as well."""

    tone: str
    headline: str
    alarms: tuple[Standing, ...]
    sure: tuple[str, ...]
    urgency: str  # how soon somebody has to look, and whom to ask; empty: no alarm stands
    first: tuple[str, ...]
    take: tuple[str, ...]
    notes: tuple[str, ...]


def verdict(brief: Brief) -> Verdict:
    """What whoever goes there has to know before anything else."""
    alarms = tuple(_standing(brief, each) for each in _by_urgency(brief))
    tone, headline = _headline(brief, alarms)
    return Verdict(
        tone,
        headline,
        alarms,
        tuple(_sure(brief)),
        _urgency(brief, alarms[0]) if alarms else "",
        tuple(_first(brief, alarms)),
        tuple(_take(brief)),
        tuple(_notes(brief)),
    )


def is_old(brief: Brief) -> bool:
    """Whether the newest assessment is not one of now."""
    assessment = brief.view.assessment
    return assessment is not None and brief.made_us - assessment.grid_us > SILENT_US


def _by_urgency(brief: Brief) -> list[StandingAlarm]:
    view = brief.view
    return sorted(view.alarms, key=lambda a: (not view.lives.is_told(a.name), _ORDER.index(a.priority)))


def _standing(brief: Brief, alarm: StandingAlarm) -> Standing:
    view, display = brief.view, brief.display
    life = view.lives.of.get(alarm.name, Life())
    condition = view.assessment.conditions.get(alarm.name) if view.assessment else None
    entry = _entry(brief, alarm.name)
    return Standing(
        alarm.name,
        str(alarm.priority),
        found_words(alarm, view, display),
        display.words(brief.raised.get(alarm.name, "")) if condition == Condition.UNKNOWN else "",
        entry.consequence if entry else "",
        since_words(alarm.since_us, life, display),
        state_words(view.lives, alarm.name, display),
        _how_sure(alarm.name, condition)
        if condition
        else "it is judged by the hours before, not by the moment",
        entry.first_response if entry else "",
        view.lives.is_told(alarm.name),
    )


def _urgency(brief: Brief, worst: Standing) -> str:
    """How soon somebody has to look, who decides on stopping, and that it is asked beforehand."""
    priority, entry = Priority(worst.priority), _entry(brief, worst.name)
    stop = to_stop(entry, priority) if entry else ""
    return " ".join(filter(None, (urgency(priority), stop, "Ask whoever is responsible before going up.")))


def _how_sure(alarm: str, condition: str) -> str:
    """The guard band of low superheat lies to the safe side: it comes before liquid is proved."""
    if alarm == SUPERHEAT_LOW.name and condition == Condition.BEYOND:
        return "liquid cannot be excluded, which does not prove it: the rule lies to the safe side"
    return _CONDITIONS[Condition(condition)]


def _entry(brief: Brief, name: str) -> Entry | None:
    return brief.module.catalogue.get(name) or CATALOGUE.get(name)


def _headline(brief: Brief, alarms: tuple[Standing, ...]) -> tuple[str, str]:
    if alarms:
        worst = alarms[0]
        more = f", and {len(alarms) - 1} more" if len(alarms) > 1 else ""
        quiet = "" if worst.is_told else f" (nobody is told: {_why_quiet(brief, worst.name)})"
        tone = "alarm" if worst.priority == Priority.HIGH else "look"
        return tone, f"{worst.priority.upper()}: {worst.name}{quiet}{more}"
    assessment = brief.view.assessment
    if assessment is None:
        return "unknown", "Nothing has been assessed yet: nothing is known of how it runs"
    if is_old(brief):
        age_words = length(brief.made_us - assessment.grid_us)
        said = f"Not known how it is now: the newest assessment is {age_words} old"
        return "unknown", f"{said}; no alarm stood then"
    if brief.module.module.layout.name == NOT_KNOWN:
        return "unknown", "How it is piped is not known: no superheat is judged"
    course = brief.course
    if not len(course.grid_us):
        return "unknown", "Nothing was assessed in this time: nothing is known of how it ran"
    if not course.is_running.any():
        known = "It never ran" if course.is_off.all() else "It was never seen to run, its mode not known,"
        return "unknown", f"{known} in this time: nothing could be told of its superheat"
    over = sum(1 for each in course.alarms.values() if each.any())
    if over:
        return "look", f"No alarm stands now; {number_of(over, 'alarm')} stood in this time"
    returned = course.curves.get(RETURN)
    if returned is None or not returned.decided.any():
        return "unknown", "No alarm stands, but its return superheat could never be told in this time"
    return "none", "No alarm stands, and none stood in this time"


def _why_quiet(brief: Brief, alarm: str) -> str:
    lives = brief.view.lives
    return "in shadow" if lives.shadow else str(lives.standing(alarm))


def _sure(brief: Brief) -> Iterator[str]:
    """Sentences on what the verdict rests on, and how far it reaches."""
    display, course = brief.display, brief.course
    running_us = course.us(course.is_running)
    returned = course.curves.get(RETURN)
    if running_us:
        decided = 0 if returned is None else course.us(course.is_running & returned.decided)
        yield (
            f"Return superheat could be told for {share(decided, running_us)} of the {length(running_us)} "
            "that it ran; what was wrong in the rest is not known."
        )
    if brief.identity is not None:
        words = {
            Conclusion.SUPPORTED: "The readings fit the configured layout",
            Conclusion.DOUBTED: "THE CONFIGURED LAYOUT IS IN DOUBT, and with it every superheat",
            Conclusion.CANNOT_TELL: "Whether it is piped as configured cannot be told by its readings",
        }
        is_told = any(alarm.name == LAYOUT_DOUBT.name for alarm in brief.view.alarms)
        why = "" if is_told and _is_doubted(brief) else f": {display.words(brief.identity.text)}"
        yield f"{words[brief.identity.conclusion]}{why}."
    for note in brief.view.notes:
        yield f"{_capital(display.words(note))}."
    if brief.evidence is not None and (brief.view.alarms or brief.evidence.causes.ranking):
        yield f"Likely cause (a hint, no diagnosis): {display.words(brief.evidence.causes.verdict)}."


def _first(brief: Brief, alarms: tuple[Standing, ...]) -> Iterator[str]:
    """Looking and reading only. Of the alarms that people are told; else of those that they are not."""
    if brief.view.assessment is None or is_old(brief):
        yield "See whether the gateway sends and the agent runs: `dewline status`, `dewline listen`."
    wanted = [each for each in alarms if each.is_told] or list(alarms)
    for each in wanted[:2]:
        yield f"{each.name}: {each.first}"
    if brief.evidence is not None:
        causes = brief.evidence.causes
        best = next((each for each in causes.ranking if each.name == causes.named), None)
        if best is not None:
            yield from (f"{_capital(brief.display.words(look))}" for look in best.next_looks[:2])
        for suspicion in brief.evidence.suspected.suspicions[:2]:
            look = brief.display.words(suspicion.look)
            yield f"Suspicion of {', '.join(suspicion.signals)}: look at {look}"
    if brief.module.module.layout.name == NOT_KNOWN:
        yield (
            "Follow the pipes from the rooms to the compressors, and write down what joins where and where "
            "each probe is clamped."
        )
    elif _is_doubted(brief) and brief.identity and brief.identity.tell_apart:
        yield f"{_capital(brief.identity.tell_apart[0])}."
    if not alarms and brief.view.assessment is not None and not is_old(brief):
        yield "Nothing calls for work by these figures. One clamp beside the probe named below confirms them."


def _is_doubted(brief: Brief) -> bool:
    return brief.identity is not None and brief.identity.conclusion is Conclusion.DOUBTED


def _take(brief: Brief) -> Iterator[str]:
    refrigerant = brief.module.module.refrigerant
    yield _ALWAYS[0]
    suspect = brief.suspects
    layout = brief.module.module.layout
    gauges = [name for name in suspect if name in (layout.suction_transducer, layout.discharge_transducer)]
    probes = [name for name in suspect if name not in gauges and name in brief.module.module.signals]
    if probes:
        yield _SPARE.format(", ".join(probes))
    if gauges:
        yield _GAUGE.format(refrigerant)
    if _is_doubted(brief) or layout.name == NOT_KNOWN or brief.view.lives.unconfirmed_us is not None:
        yield _PIPES
    if REFRIGERANTS[refrigerant].safety_class == "A2L":
        yield _FLAMMABLE.format(refrigerant)
    yield from _ALWAYS[1:]


def _notes(brief: Brief) -> Iterator[str]:
    view, display = brief.view, brief.display
    if not brief.runs:
        yield "No agent runs on this store: what is below is what was last known."
    if view.assessment is not None and is_old(brief) and view.alarms:
        old = length(brief.made_us - view.assessment.grid_us)
        yield f"The newest assessment is {old} old: what stands below stood then."
    if all(view.lives.standing(name) is StateName.OUT_OF_SERVICE for name in CATALOGUE):
        state = state_words(view.lives, next(iter(CATALOGUE)), display)
        yield f"All its alarms are {state}: nobody is told of any."
    yield from filter(None, (_capital(unit_words(view.lives.unconfirmed_us, brief.name, display)),))
    yield from filter(None, (_capital(shadow_words(view.lives, display)),))


def _capital(words: str) -> str:
    return f"{words[:1].upper()}{words[1:]}"
