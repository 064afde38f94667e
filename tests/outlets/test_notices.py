"""What notices say: readable at night, complete, and never more certain than the figures."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from agent.alarms import CATALOGUE, CONDITIONS, FEED_STALE, Facts, Line, Priority, Telling, Transition, facts
from agent.alarms.catalogue import PROBE_UNFIT, SUPERHEAT_HUNTING, SUPERHEAT_LOW, WATCH_BLIND
from agent.assess import DISCHARGE_SUPERHEAT, DISCHARGE_TEMPERATURE, SATURATED_CONDENSING, SWING
from agent.outlets import ModuleView
from agent.outlets.notices import Happening, Ways, compose, past
from agent.outlets.notices_daily import Day, ModuleDay, heartbeat
from agent.outlets.notices_together import together
from agent.outlets.shown import SI, Display
from agent.piping import Standing
from agent.settings import ModulePath
from agent.thermo import REFRIGERANTS
from tests.outlets.views import (
    ALARM,
    MINUTE_US,
    NOON_US,
    NOT_SETTLED,
    PATH,
    UNDECIDED,
    assessment,
    decided,
    shown,
)

CAUTIONS = """\
Before anyone goes to the module:
- Dewline is an aid: no diagnosis and no permission to work. Do not change the
  refrigerant charge on these figures alone.
- Refrigerant is under high pressure; parts are very hot and very cold. The
  discharge line is hot near the places where a clamp goes.
- Refrigerant displaces the air that you breathe, and must not be vented.
- R-32 is mildly flammable (A2L): keep every source of ignition away.
- Fans start without warning, and electricity kills. Isolate and lock out,
  then wait until the drive's capacitors have discharged.
- On a roof, alone or at night, the rules for such work come first.
- Opening the circuit is for certified people. Local codes and the equipment's
  own instructions prevail; in the US EPA Clean Air Act section 608, in the EU
  Regulation (EU) 2024/573 and Implementing Regulation (EU) 2024/2215.
"""
BRIEF = """
Before anyone goes to the module: pressure, heat, fans, electricity; R-32 is
  mildly flammable. An aid, no permission to work.
"""
A2L = "- R-32 is mildly flammable (A2L): keep every source of ignition away.\n"

WET = assessment(returned=decided(0.4, 1.7, 0.7, "suction_pipe"))
WET = replace(WET, quantities={**WET.quantities, SWING: decided(7.0, 0.5, 0.5, "suction_pipe")})


TELLINGS = {Transition.RAISED: Telling.STANDS, Transition.CLEARED: Telling.OVER}


def happening(entry, of, transition=Transition.RAISED, *, condition="beyond", probe=None, found=None, **more):
    of = replace(of, conditions={entry.name: condition}) if of else None
    return Happening(
        entry=entry,
        line=Line(transition, NOON_US - 20 * MINUTE_US, more.pop("since_us", NOON_US - 30 * MINUTE_US)),
        known_us=more.pop("known_us", NOON_US),
        priority=more.pop("priority", Priority.MEDIUM),
        facts=found or facts(entry, of, probe),
        assessment=of,
        telling=more.pop("telling", TELLINGS.get(transition)),
        **more,
    )


def only(*happenings, path=PATH, refrigerant="R-32", display=SI):
    """The one notice of what happened; of what has no telling, the one of the past."""
    if happenings[0].telling is None:
        return past(path, refrigerant, happenings, NOON_US, display)
    return compose(path, refrigerant, *happenings, NOON_US, display)


def test_a_wet_module():
    notice = only(happening(SUPERHEAT_LOW, WET, condition="beyond_doubt", priority=Priority.HIGH))
    assert notice.subject == "HIGH superheat-low at hill-house/one/m1"
    assert (
        notice.body
        == """\
hill-house/one/m1: liquid is very likely coming back.
Sure: with all uncertainty under 2 K, since 2025-11-25 11:30 UTC.
First: Read return superheat with its uncertainty and the discharge
  temperature beside it; see whether it holds in steady operation; look at the
  expansion valves' openings and at running fans and filters.

Alarm: superheat-low, priority high
Times: condition since 25 Nov 11:30 UTC, raised 25 Nov 11:40 UTC, known to
  Dewline 25 Nov 12:00 UTC (late)
Where: site hill-house, system one (R-32), module m1; mode cooling
Found: liquid is very likely coming back: return superheat 0.4 K (-1.7 +0.7)
  at suction_pipe, even with all uncertainty under 2 K
Limit: 2 K
Figures: of 2025-11-25 12:00 UTC; in brackets the uncertainty to each side (k
  = 2)
Probe used: suction_pipe: all vapour passes here
Probe refused: compressor_inlet: mixed: oil_return (warms) joins upstream of
  it
Written: 2025-11-25 12:00 UTC

Cause: The returning vapour is saturated, or nearly so: very likely with
  liquid in it.
Consequence: Liquid thins the oil and can break the compressor.

Whoever sees to it says so, on the agent's machine:
  dewline ack one/m1 superheat-low --by NAME

"""
        + CAUTIONS
    )


def test_what_the_first_response_asks_to_read_is_in_the_notice():
    more = {
        SATURATED_CONDENSING: decided(40.5, 0.4, 0.4),
        DISCHARGE_TEMPERATURE + "1": decided(62.3, 1.0, 1.0, "discharge_1"),
        DISCHARGE_SUPERHEAT + "1": decided(21.8, 1.1, 1.1, "discharge_1"),
    }
    body = only(happening(SUPERHEAT_LOW, replace(WET, quantities={**WET.quantities, **more}))).body
    assert "\nDischarge 1: 21.8 K ±1.1, 62.3 degC; superheat at discharge_1\n" in body
    assert "\nSaturation: saturated suction 5.4 degC, condensing 40.5 degC, pressure ratio -" in body


def test_a_probe_that_is_not_fit():
    notice = only(happening(PROBE_UNFIT, WET, probe="compressor_inlet"), refrigerant="R-410A")
    assert notice.subject == "MEDIUM probe-unfit at hill-house/one/m1"
    assert (
        notice.body
        == """\
hill-house/one/m1: the site's own superheat figure misleads.
Sure, if the piping is as described, since 2025-11-25 11:30 UTC.
First: Compare both figures, and confirm on site where the probe is clamped.

Alarm: probe-unfit, priority medium
Times: condition since 25 Nov 11:30 UTC, raised 25 Nov 11:40 UTC, known to
  Dewline 25 Nov 12:00 UTC (late)
Where: site hill-house, system one (R-410A), module m1; mode cooling
Found: compressor_inlet is mixed: oil_return (warms) joins upstream of it; it
  shows 8.6 K more than return superheat
The site's figure: 9.0 K (-0.7 +0.7) at compressor_inlet
Return superheat: 0.4 K (-1.7 +0.7) at suction_pipe
Figures: of 2025-11-25 12:00 UTC; in brackets the uncertainty to each side (k
  = 2)
Probe used: suction_pipe: all vapour passes here
Probe refused: compressor_inlet: mixed: oil_return (warms) joins upstream of
  it
Written: 2025-11-25 12:00 UTC

Cause: The site takes superheat from a probe that is not fit for it in this
  mode.
Consequence: The site's figure misleads: returning liquid can look like
  healthy superheat.

Whoever sees to it says so, on the agent's machine:
  dewline ack one/m1 probe-unfit --by NAME

"""
        + CAUTIONS.replace(A2L, "")
    )


@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("name", CATALOGUE)
@pytest.mark.parametrize("site", ["s", "north-campus-of-the-university-hospital"])
def test_two_lines_say_which_module_what_how_sure_and_since_when(name, condition, site):
    path = ModulePath(site, "variable-flow-system-12", "outdoor-module-2")
    entry = CATALOGUE[name]
    of = None if entry.by_wall_clock else WET
    found = (
        Facts("the gateway has sent nothing for 9 min") if of is None else facts(entry, of, "suction_pipe")
    )
    first, second, third, *rest = only(
        happening(entry, of, condition=condition, found=found), path=path
    ).body.split("\n")
    assert "outdoor-module-2: " in first and first.endswith(".")
    assert "ure" in second or second.startswith("Likely")
    assert second.endswith(", since 2025-11-25 11:30 UTC.")
    assert third.startswith("First: ")
    rest = rest[rest.index("") + 1 :]
    assert f"Alarm: {name}, priority medium" in rest[0]
    copied = [line for line in rest if line.startswith("  dewline ")]  # stays whole
    assert len(copied) == 1
    assert max(len(line) for line in [first, second, third, *rest] if line not in copied) <= 78


def test_how_sure_follows_the_evidence():
    def second_line(condition, standing=Standing.FIT):
        returned = WET.quantities["return_superheat"]
        of = assessment(returned=returned._replace(said=returned.said._replace(standing=standing)))
        return only(happening(SUPERHEAT_LOW, of, condition=condition)).body.split("\n")[:2]

    def sure(*args):
        return second_line(*args)[1].partition(", since")[0]

    assert sure("beyond_doubt") == "Sure: with all uncertainty under 2 K"
    assert sure("beyond") == "Likely: saturation cannot be excluded"
    assert sure("possible") == "Unsure: the values have not settled"
    assert sure("inside") == "Unsure: not beyond its limit just now"
    assert sure("beyond_doubt", Standing.SECOND_BEST) == "Less sure: read at a second-best probe"
    said = {c: second_line(c)[0].partition(": ")[2] for c in ("possible", "beyond", "beyond_doubt")}
    assert said == {
        "possible": "liquid is possibly coming back.",
        "beyond": "liquid may be coming back.",
        "beyond_doubt": "liquid is very likely coming back.",
    }


@pytest.mark.parametrize("condition", CONDITIONS)
def test_no_part_of_a_notice_is_weaker_or_stronger_than_its_headline(condition):
    """Sure and "cannot be excluded" never stand together, whatever the condition is."""
    body = only(happening(SUPERHEAT_LOW, WET, condition=condition, priority=Priority.HIGH)).body
    sure = condition == "beyond_doubt"
    said = " ".join(body.split())
    assert ("very likely coming back" in said) == ("even with all uncertainty under 2 K" in said) == sure
    assert ("cannot be excluded" in said) != sure
    assert ("Sure when it was raised, weaker now" in said) != sure


def test_low_superheat_that_only_a_cold_discharge_makes_sure_says_so():
    of = assessment(returned=decided(1.6, 1.7, 0.7, "suction_pipe"))
    body = only(happening(SUPERHEAT_LOW, of, condition="beyond_doubt", priority=Priority.HIGH)).body
    assert "Sure: the discharge is too cold as well, since" in body
    assert "with all uncertainty" not in body and "cannot be excluded" not in body


def test_a_beginning_that_was_moved_is_not_called_the_time_it_was_raised():
    moved = happening(SUPERHEAT_LOW, WET)
    moved = moved._replace(line=moved.line._replace(event_us=moved.line.since_us))
    assert "Times: condition since 25 Nov 11:30 UTC, known to Dewline" in only(moved).body
    held = happening(SUPERHEAT_LOW, WET)._replace(why_now="its shelving is over")
    assert "known to Dewline" not in only(held).body


@pytest.mark.parametrize("status", UNDECIDED)
def test_what_is_not_decided_is_said_in_its_own_words_and_is_no_number(status):
    of = assessment(returned=UNDECIDED[status])
    text = " ".join(only(happening(WATCH_BLIND, of)).body.split())
    assert f"Found: return superheat is {status}: {of.quantities['return_superheat'].said.text}" in text
    assert "Found: 0" not in text
    if UNDECIDED[status] is NOT_SETTLED:
        assert "Return superheat: not settled: suction_pipe is swinging; now 3.3 K (-0.7 +0.7)" in text
        assert "Probe used: suction_pipe: all returning vapour passes here" in text
    else:
        assert "Probe used: none" in text
        assert "Probe not used: suction_pipe: fit: all returning vapour passes here" in text


def test_a_module_with_nothing_assessed():
    stale = Facts("no connection to the broker for 3 min")
    body = only(happening(FEED_STALE, None, found=stale)).body
    assert body.startswith(
        "hill-house/one/m1: readings do not come as they should.\nSure: seen by arrival, since"
    )
    assert "\nFound: no connection to the broker for 3 min\n" in body
    assert "mode" not in body.partition("Cause:")[0] and "Probe" not in body


def test_an_alarm_that_is_over_says_from_when_to_when_and_no_longer_what_it_feared():
    notice = only(happening(SUPERHEAT_LOW, assessment(), Transition.CLEARED, condition="clear"))
    assert notice.subject == "OVER superheat-low at hill-house/one/m1"
    first, second, *_ = notice.body.split("\n")
    assert first == "hill-house/one/m1: superheat-low is over, clear for 10 min."
    assert second == "It stood from 2025-11-25 11:30 UTC to 2025-11-25 11:40 UTC."
    assert "\nFound: return superheat 6.0 K (-1.7 +0.7) at suction_pipe\nLimit: 2 K\n" in notice.body
    assert "liquid" not in notice.body
    assert "First" not in notice.body
    assert notice.body.endswith(BRIEF)


def test_all_of_the_past_is_one_notice():
    notice = only(
        happening(SUPERHEAT_LOW, WET, Transition.FOUND_LATE),
        happening(SUPERHEAT_LOW, assessment(), Transition.WITHDRAWN),
        happening(PROBE_UNFIT, WET, Transition.AMENDED, probe="compressor_inlet"),
    )
    assert (notice.subject, notice.priority) == ("PAST alarms at hill-house/one/m1", Priority.LOW)
    text = " ".join(notice.body.split())
    assert text.startswith(
        "hill-house/one/m1: alarms of the past look different now. "
        "Late readings, or a correction, have changed them. Nothing is raised by this. "
        "- superheat-low stood from 2025-11-25 11:30 UTC and was over before it was known: "
        "liquid cannot be excluded: return superheat 0.4 K (-1.7 +0.7) at suction_pipe, limit 2 K "
        "- superheat-low of 2025-11-25 11:30 UTC is withdrawn: it did not stand: "
        "return superheat 6.0 K (-1.7 +0.7) at suction_pipe "
        "- probe-unfit still stands, but since 2025-11-25 11:30 UTC: compressor_inlet is mixed"
    )
    assert notice.body.endswith(BRIEF)


def test_a_long_past_is_cut_and_says_so():
    many = [
        happening(SUPERHEAT_LOW, WET, Transition.FOUND_LATE, since_us=NOON_US - n * 60 * MINUTE_US)
        for n in range(1, 51)
    ]
    body = only(*many).body
    assert body.count("and was over before") == 20
    assert "\n- and 30 more\n" in body


def test_the_same_event_has_the_same_key_and_another_one_another():
    def key(**more):
        return only(happening(SUPERHEAT_LOW, WET, **more)).key

    same = key()
    assert same == key(condition="possible", priority=Priority.HIGH)
    others = {
        key(since_us=NOON_US),
        key(known_us=1),
        key(telling=Telling.AGAIN),
        key(transition=Transition.CLEARED),
        only(happening(SUPERHEAT_HUNTING, WET)).key,
        only(happening(SUPERHEAT_LOW, WET), path=PATH._replace(module="m2")).key,
    }
    assert len(others | {same}) == 7
    late = happening(SUPERHEAT_LOW, WET, Transition.FOUND_LATE)
    assert only(late).key == only(late).key != only(late, late._replace(known_us=3)).key


@pytest.mark.parametrize("telling", Telling)
@pytest.mark.parametrize("name", CATALOGUE)
@pytest.mark.parametrize("site", ["hill-house", "north-campus-of-the-university-hospital"])
def test_a_subject_is_short_enough_for_a_phone(name, telling, site):
    path = ModulePath(site, "north", "n2")
    of = None if CATALOGUE[name].by_wall_clock else WET
    told = happening(CATALOGUE[name], of, telling=telling, found=Facts("as seen"))
    subject = only(told, path=path).subject
    assert len(subject) <= 60 and subject.endswith("n2") and name in subject
    assert subject.partition(" ")[0] == {"stands": "MEDIUM", "again": "STILL", "over": "OVER"}[telling]


WAYS = Ways(
    "https://dew.example/alarms/ID?token=T", "https://dew.example/alarms/ID/ack", "T", NOON_US + 7 * 86_400_000_000
)


def test_how_it_is_acknowledged_from_afar():
    body = only(happening(SUPERHEAT_LOW, WET, ways=WAYS)).body
    assert (
        """
Whoever sees to it says so here; this link works until 2025-12-02 12:00 UTC,
  for this alarm alone:
  https://dew.example/alarms/ID?token=T
or by
  curl -d by=NAME -d token=T \\
    https://dew.example/alarms/ID/ack
or on the agent's machine:
  dewline ack one/m1 superheat-low --by NAME
"""
        in body
    )


def test_what_somebody_sees_to_already_says_who():
    body = only(happening(SUPERHEAT_LOW, WET, acknowledged="by A. Fitter at 25 Nov 12:00 UTC (on my way)", ways=WAYS)).body
    assert "\nAcknowledged by A. Fitter at 25 Nov 12:00 UTC (on my way).\n" in body and "token" not in body and "dewline ack" not in body


def test_it_is_told_in_the_site_s_units_and_by_its_clock():
    """10 K are 18 degF as a difference: the ratio is that of the degrees (NIST SP 811, B.8)."""
    display = Display("degF", "psi", ZoneInfo("America/New_York"))
    notice = only(happening(SUPERHEAT_LOW, WET, condition="beyond_doubt"), display=display)
    text = " ".join(notice.body.split())
    assert "return superheat 0.7 degF (-3.1 +1.3) at suction_pipe" in text  # 0.4 K (-1.7 +0.7)
    assert "Limit: 3.6 degF" in text
    assert "since 2025-11-25 06:30 -05:00." in text
    assert " K " not in text and "UTC" not in text
    assert "0.7 degF" in notice.brief and "06:30 -05:00" in notice.brief


def test_several_in_one_message():
    stands = only(happening(SUPERHEAT_LOW, WET, condition="beyond_doubt", priority=Priority.HIGH, ways=WAYS))
    still = only(happening(PROBE_UNFIT, WET, probe="compressor_inlet", telling=Telling.AGAIN))
    over = only(happening(SUPERHEAT_HUNTING, WET, Transition.CLEARED))
    told = [(each.subject, each.brief) for each in (over, still, stands)]
    subject, body = together("hill-house", told, ["R-32", "R-410A"])
    assert subject == "HIGH superheat-low at hill-house/one/m1 and 2 more"
    assert body == (
        """\
hill-house: 3 notices in one message: 2 stand, 1 over.

HIGH superheat-low at hill-house/one/m1
  Liquid is very likely coming back. Sure: with all uncertainty under 2 K,
    since 25 Nov 11:30 UTC.
  Found: liquid is very likely coming back: return superheat 0.4 K (-1.7 +0.7)
    at suction_pipe, even with all uncertainty under 2 K
  First: Read return superheat with its uncertainty and the discharge
    temperature beside it; see whether it holds in steady operation; look at
    the expansion valves' openings and at running fans and filters.
  Whoever sees to it:
    https://dew.example/alarms/ID?token=T

STILL MEDIUM probe-unfit at hill-house/one/m1
  The site's own superheat figure misleads. Sure, if the piping is as
    described, since 25 Nov 11:30 UTC.
  Found: compressor_inlet is mixed: oil_return (warms) joins upstream of it;
    it shows 8.6 K more than return superheat
  First: Compare both figures, and confirm on site where the probe is clamped.
  Whoever sees to it: dewline ack one/m1 probe-unfit --by NAME

OVER superheat-hunting at hill-house/one/m1
  superheat-hunting is over, clear for 20 min.
  It stood from 2025-11-25 11:30 UTC to 2025-11-25 11:40 UTC.

"""
        + CAUTIONS
    )


def test_a_long_site_has_a_subject_too():
    long = [(f"HIGH discharge-temperature-high at hill/module-number-{n}", "as seen") for n in range(12)]
    subject, _ = together("north-campus-of-the-university", long, ["R-32"])
    assert subject == "HIGH: 12 notices of north-campus-of-the-university"


# ISO 817 / ASHRAE 34: R-410A, R-407C and R-134a are A1, R-32 and R-454B A2L.
@pytest.mark.parametrize("refrigerant", REFRIGERANTS)
def test_flammability_is_told_where_it_applies(refrigerant):
    told = "flammable" in only(happening(SUPERHEAT_LOW, WET), refrigerant=refrigerant).body
    assert told == (refrigerant in ("R-32", "R-454B"))


def test_a_sign_of_life():
    day = Day(
        "hill-house",
        [
            ModuleDay(shown(alarms=[ALARM]), "R-32", 3.21, 0.0),
            ModuleDay(ModuleView(PATH._replace(module="m2"), None), "R-410A", 0.0, 24.0),
            ModuleDay(shown(path=PATH._replace(module="m3")), "R-410A", 0.0, 0.0),
        ],
        {"superheat-low": 4, "feed-stale": 1},
        {"future": 2, "unit": 4},
        {},
    )
    notice = heartbeat(day, NOON_US)
    assert notice.key == "heartbeat/2025-11-25"
    assert notice.subject == "Dewline is alive: hill-house, 1 alarm standing"
    assert (
        notice.body
        == """\
hill-house: Dewline is alive, 3 modules watched, 1 alarm standing.
If this message does not come one day, look at the agent.
Written 2025-11-25 12:00 UTC. Hours and readings are of the 24 hours before.

Alarms standing:
- one/m1: superheat-low, priority high, since 2025-11-25 11:30 UTC: return
  superheat 0.5 K at suction_pipe, limit 2 K
Hours undecided: 3.2, not assessed: 24.0
- one/m2: 0.0 h undecided, 24.0 h not assessed
- one/m1: 3.2 h undecided, 0.0 h not assessed
Alarms raised: 5 (superheat-low 4, feed-stale 1)
Readings refused: 6 (future 2, unit 4)
Notices waiting for a receiver: none

"""
        + CAUTIONS
    )
