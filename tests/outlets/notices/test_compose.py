"""What notices say: readable at night, complete, and never more certain than the figures."""

from dataclasses import replace
from zoneinfo import ZoneInfo

import pytest

from agent.alarms import CATALOGUE, CONDITIONS, FEED_STALE, Facts, Line, Priority, Telling, Transition, facts
from agent.alarms.catalogue import PROBE_UNFIT, SUPERHEAT_HUNTING, SUPERHEAT_LOW, WATCH_BLIND
from agent.assess import DISCHARGE_SUPERHEAT, DISCHARGE_TEMPERATURE, SATURATED_CONDENSING, SWING
from agent.outlets import ModuleView
from agent.outlets.notices.compose import Happening, Ways, compose, past, pasts_together
from agent.outlets.notices.daily import Day, ModuleDay, heartbeat
from agent.outlets.notices.together import together
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
Sure, if piping and instruments are as described: all of it under 2 K.
Somebody should see to it now, by day or night.
Whether the module is to be stopped is for whoever is responsible for the
  plant: ask now.
Began 2025-11-25 11:30 UTC.
First: See which indoor units call and how far their expansion valves stand
  open; look whether their fans turn and their filters are clean. At the
  module, touching nothing: whether the compressor's shell sweats or frosts,
  and up to where the accumulator does; what the bypass valve does; with a
  clamp (fitted only with the unit isolated: some pipes burn; read when it
  runs again) the temperature beside the probe that was used, and on the
  bypass pipe, which is hot where it leaks.

Alarm: superheat-low, priority high, raised 25 Nov 11:40 UTC
Where: site hill-house, system one (R-32), module m1; mode cooling
Found: liquid is very likely coming back: return superheat 0.4 K (-1.7 +0.7)
  at suction_pipe, even with all uncertainty under 2 K
Limit: 2 K
Figures: of 2025-11-25 12:00 UTC; in brackets the uncertainty to each side (k
  = 2)
Probe used: suction_pipe: all vapour passes here
Not usable in cooling: compressor_inlet: mixed: oil_return (warms) joins
  upstream of it
Superheat at the compressor inlet: 9.0 K ±0.7, compressor_inlet: all vapour
  passes here
Oil-return rise: 3.0 K ±0.8, compressor_inlet - suction_pipe: all vapour
  passes here
Written: 2025-11-25 12:00 UTC

Cause: The returning vapour is saturated, or nearly so: very likely with
  liquid in it.
Consequence: Liquid thins the oil and can break the compressor. An accumulator
  behind that probe holds some of it back for a time; how much has passed is
  not seen there.

Whoever sees to it says so, on the machine where Dewline runs:
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
Sure, if the piping is as described.
Somebody should see to it on the next working day.
Began 2025-11-25 11:30 UTC.
First: Look on site where the probe is clamped and what joins ahead of it;
  until that is settled, do not go by the site's figure.

Alarm: probe-unfit, priority medium, raised 25 Nov 11:40 UTC
Where: site hill-house, system one (R-410A), module m1; mode cooling
Found: compressor_inlet is mixed: oil_return (warms) joins upstream of it; it
  shows 8.6 K more than return superheat
The site's figure: 9.0 K (-0.7 +0.7) at compressor_inlet
Return superheat: 0.4 K (-1.7 +0.7) at suction_pipe
Figures: of 2025-11-25 12:00 UTC; in brackets the uncertainty to each side (k
  = 2)
Probe used: suction_pipe: all vapour passes here
Not usable in cooling: compressor_inlet: mixed: oil_return (warms) joins
  upstream of it
Superheat at the compressor inlet: 9.0 K ±0.7, compressor_inlet: all vapour
  passes here
Oil-return rise: 3.0 K ±0.8, compressor_inlet - suction_pipe: all vapour
  passes here
Written: 2025-11-25 12:00 UTC

Cause: The site takes superheat from a probe that is not fit for it in this
  mode.
Consequence: The site's figure misleads: returning liquid can look like
  healthy superheat.

Whoever sees to it says so, on the machine where Dewline runs:
  dewline ack one/m1 probe-unfit --by NAME

"""
        + CAUTIONS.replace(A2L, "")
    )


@pytest.mark.parametrize("condition", CONDITIONS)
@pytest.mark.parametrize("name", CATALOGUE)
@pytest.mark.parametrize("site", ["s", "north-campus-of-the-university-hospital"])
def test_the_first_lines_say_which_module_what_how_sure_how_soon_and_since_when(name, condition, site):
    path = ModulePath(site, "variable-flow-system-12", "outdoor-module-2")
    entry = CATALOGUE[name]
    of = None if entry.by_wall_clock else WET
    found = (
        Facts("the gateway has sent nothing for 9 min") if of is None else facts(entry, of, "suction_pipe")
    )
    told = happening(entry, of, condition=condition, found=found, first_known_us=NOON_US)
    first, second, third, *rest = only(told, path=path).body.split("\n")
    assert "outdoor-module-2: " in first and first.endswith(".")
    assert "ure" in second or second.startswith("Likely")
    assert second.endswith(".") and "since" not in second and "2025" not in second
    assert third == "Somebody should see to it on the next working day."
    began = rest.index("Began 2025-11-25 11:30 UTC, known 2025-11-25 12:00 UTC.")
    assert ("is to be stopped" in " ".join(rest[:began])) == entry.may_break
    assert rest[began + 1].startswith("First: ")
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
        return second_line(*args)[1].removesuffix(".")

    assert sure("beyond_doubt") == "Sure, if piping and instruments are as described: all of it under 2 K"
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
    assert "\nSure: the discharge is too cold as well.\n" in body
    assert "with all uncertainty" not in body and "cannot be excluded" not in body


def test_a_beginning_that_was_moved_is_not_called_the_time_it_was_raised():
    moved = happening(SUPERHEAT_LOW, WET)
    moved = moved._replace(line=moved.line._replace(event_us=moved.line.since_us))
    assert "\nAlarm: superheat-low, priority medium\n" in only(moved).body
    assert "priority medium, raised 25 Nov 11:40 UTC\n" in only(happening(SUPERHEAT_LOW, WET)).body
    held = happening(SUPERHEAT_LOW, WET)._replace(why_now="its shelving is over")
    assert "\nBegan 2025-11-25 11:30 UTC.\n" in only(held).body  # when it was known, a version kept not


@pytest.mark.parametrize(
    ("priority", "how_soon"),
    [
        (Priority.HIGH, "now, by day or night"),
        (Priority.MEDIUM, "on the next working day"),
        (Priority.LOW, "next visit"),
    ],
)
def test_how_soon_follows_the_priority_and_nobody_is_told_to_switch_anything(priority, how_soon):
    """Common practice, no source."""
    notice = only(happening(SUPERHEAT_LOW, WET, priority=priority))
    assert how_soon in notice.body.split("\n")[2] and how_soon in notice.short
    body = " ".join(notice.body.split())
    stop = "Whether the module is to be stopped is for whoever is responsible for the plant: ask"
    assert f"{stop} {'now' if priority is Priority.HIGH else 'them'}." in body
    assert "to be stopped" not in only(happening(SUPERHEAT_HUNTING, WET, priority=priority)).body


def test_what_was_known_late_says_why():
    late = happening(SUPERHEAT_LOW, WET, why_late="its readings came late")
    assert "\nKnown late: its readings came late.\n" in only(late).body
    assert "Known late: its readings came late." in only(late).short
    assert "late:" not in only(happening(SUPERHEAT_LOW, WET)).body


BEFORE = assessment(NOON_US - 45 * MINUTE_US)


def test_how_it_was_before_it_began_stands_beside_how_it_is():
    hot = {
        SATURATED_CONDENSING: decided(37.1, 0.4, 0.4),
        DISCHARGE_TEMPERATURE + "1": decided(64.6, 1.0, 1.0),
    }
    cold = {
        SATURATED_CONDENSING: decided(37.3, 0.4, 0.4),
        DISCHARGE_TEMPERATURE + "1": decided(59.0, 1.0, 1.0),
    }
    before = replace(BEFORE, quantities={**BEFORE.quantities, **hot})
    now = replace(WET, quantities={**WET.quantities, **cold})
    body = only(happening(SUPERHEAT_LOW, now, before=before)).body
    assert (
        "Before it began (11:15) -> now: return superheat 6.0 -> 0.4 K, discharge 1 64.6 -> 59.0 degC, "
        "rise 3.0 -> 3.0 K, condensing 37.1 -> 37.3 degC" in " ".join(body.split())
    )
    display = Display("degF", "psi", ZoneInfo("America/Toronto"))
    body = " ".join(only(happening(SUPERHEAT_LOW, now, before=before), display=display).body.split())
    # 6.0 K are 10.8 degF as a difference, 64.6 degC are 148.3 degF (NIST SP 811, B.8)
    assert "(06:15) -> now: return superheat 10.8 -> 0.7 degF, discharge 1 148.3 -> 138.2 degF" in body


@pytest.mark.parametrize("status", UNDECIDED)
def test_what_was_not_decided_then_or_is_not_now_has_no_place_in_it(status):
    never = only(happening(SUPERHEAT_LOW, WET)).body
    assert "Before it began" not in never
    undecided = assessment(returned=UNDECIDED[status], rise=UNDECIDED[status])
    for before, now in ((undecided, WET), (BEFORE, undecided)):
        body = only(happening(SUPERHEAT_LOW, now, before=before)).body
        assert "Before it began" not in body and "->" not in body
    other = assessment(returned=decided(6.0, 1.7, 0.7, "outdoor_coil_gas"))
    said = only(happening(SUPERHEAT_LOW, WET, before=other)).body
    assert "-> now: rise 3.0 -> 3.0 K\n" in said  # another probe spoke for return superheat then


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
        assert "Not used: suction_pipe: fit: all returning vapour passes here" in text


def test_a_module_with_nothing_assessed():
    stale = Facts("no connection to the broker for 3 min")
    body = only(happening(FEED_STALE, None, found=stale)).body
    assert body.startswith(
        "hill-house/one/m1: readings do not come as they should.\nSure: seen by arrival.\n"
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
        happening(SUPERHEAT_LOW, WET, Transition.FOUND_LATE, ended_us=NOON_US - 5 * MINUTE_US),
        happening(SUPERHEAT_LOW, assessment(), Transition.WITHDRAWN),
        happening(PROBE_UNFIT, WET, Transition.AMENDED, probe="compressor_inlet"),
    )
    assert (notice.subject, notice.priority) == ("PAST alarms at hill-house/one/m1", Priority.LOW)
    text = " ".join(notice.body.split())
    assert text.startswith(
        "hill-house/one/m1: alarms of the past look different now. "
        "For information, nothing to do. "
        "Late readings, or a correction, have changed them. Nothing is raised by this. "
        "- superheat-low stood from 2025-11-25 11:30 UTC to 2025-11-25 11:55 UTC (raised 25 Nov 11:40 UTC) "
        "and was over before it was known: "
        "liquid cannot be excluded: return superheat 0.4 K (-1.7 +0.7) at suction_pipe, limit 2 K "
        "- superheat-low of 2025-11-25 11:30 UTC (raised 25 Nov 11:40 UTC) is withdrawn: it did not stand: "
        "return superheat 6.0 K (-1.7 +0.7) at suction_pipe "
        "- probe-unfit still stands, but since 2025-11-25 11:30 UTC: compressor_inlet is mixed"
    )
    assert notice.body.endswith(BRIEF)


def test_several_of_the_past_in_one_message():
    late = happening(SUPERHEAT_LOW, WET, Transition.FOUND_LATE, ended_us=NOON_US - 5 * MINUTE_US)
    one, other = only(late), only(late, path=PATH._replace(module="m2"))
    subject, body = pasts_together(
        "hill-house", [(one.subject, one.short), (other.subject, other.short)], ["R-32"]
    )
    assert subject == "PAST alarms at hill-house"
    text = " ".join(body.split())
    assert text.startswith(
        "hill-house: alarms of the past look different now. For information, nothing to do. "
        "Late readings, or a correction, have changed them. Nothing is raised by this. "
        "alarms at hill-house/one/m1: - superheat-low stood from 2025-11-25 11:30 UTC to 2025-11-25 11:55 UTC"
    )
    assert "alarms at hill-house/one/m2: - superheat-low stood" in text and body.endswith(BRIEF)
    subject, body = pasts_together("hill-house", [(one.subject, one.short)] * 2, ["R-32"])
    assert subject == one.subject and body.count("alarms at hill-house/one/m1:") == 1


def test_a_long_past_is_cut_and_says_so():
    many = [
        happening(SUPERHEAT_LOW, WET, Transition.FOUND_LATE, since_us=NOON_US - n * 60 * MINUTE_US)
        for n in range(1, 51)
    ]
    body = only(*many).body
    assert body.count("- superheat-low stood from") == 20
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
    "https://dew.example/alarms/ID?token=T",
    "https://dew.example/alarms/ID/ack",
    "T",
    NOON_US + 7 * 86_400_000_000,
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
or on the machine where Dewline runs:
  dewline ack one/m1 superheat-low --by NAME
"""
        in body
    )


def test_the_brief_of_the_module_is_a_link_where_there_is_one():
    told = {"brief": "https://dew.example/visit/one/m1"}
    for of in (
        happening(SUPERHEAT_LOW, WET, ways=WAYS, **told),
        happening(SUPERHEAT_LOW, WET, acknowledged="by A. Fitter", **told),
        happening(SUPERHEAT_LOW, assessment(), Transition.CLEARED, **told),
        happening(SUPERHEAT_LOW, WET, Transition.FOUND_LATE, **told),
    ):
        assert "\n  https://dew.example/visit/one/m1\n" in only(of).body
    assert "brief" not in only(happening(SUPERHEAT_LOW, WET)).body


def test_what_somebody_sees_to_already_says_who():
    body = only(
        happening(SUPERHEAT_LOW, WET, acknowledged="by A. Fitter at 25 Nov 12:00 UTC (on my way)", ways=WAYS)
    ).body
    assert (
        "\nAcknowledged by A. Fitter at 25 Nov 12:00 UTC (on my way).\n" in body
        and "token" not in body
        and "dewline ack" not in body
    )


def test_it_is_told_in_the_site_s_units_and_by_its_clock():
    """10 K are 18 degF as a difference: the ratio is that of the degrees (NIST SP 811, B.8)."""
    display = Display("degF", "psi", ZoneInfo("America/Toronto"))
    notice = only(happening(SUPERHEAT_LOW, WET, condition="beyond_doubt"), display=display)
    text = " ".join(notice.body.split())
    assert "return superheat 0.7 degF (-3.1 +1.3) at suction_pipe" in text  # 0.4 K (-1.7 +0.7)
    assert "Limit: 3.6 degF" in text
    assert "Began 2025-11-25 06:30 -05:00." in text
    assert " K " not in text and "UTC" not in text
    assert "0.7 degF" in notice.short and "06:30 -05:00" in notice.short


def test_several_in_one_message():
    stands = only(happening(SUPERHEAT_LOW, WET, condition="beyond_doubt", priority=Priority.HIGH, ways=WAYS))
    still = only(happening(PROBE_UNFIT, WET, probe="compressor_inlet", telling=Telling.AGAIN))
    over = only(happening(SUPERHEAT_HUNTING, WET, Transition.CLEARED))
    told = [(each.subject, each.short) for each in (over, still, stands)]
    subject, body = together("hill-house", told, ["R-32", "R-410A"])
    assert subject == "HIGH superheat-low at hill-house/one/m1 and 2 more"
    assert body == (
        """\
hill-house: 3 notices in one message: 2 stand, 1 over.

HIGH superheat-low at hill-house/one/m1
  Liquid is very likely coming back. Sure, if piping and instruments are as
    described: all of it under 2 K. Somebody should see to it now, by day or
    night. Whether the module is to be stopped is for whoever is responsible
    for the plant: ask now.
  Began 2025-11-25 11:30 UTC.
  Found: liquid is very likely coming back: return superheat 0.4 K (-1.7 +0.7)
    at suction_pipe, even with all uncertainty under 2 K
  First: See which indoor units call and how far their expansion valves stand
    open; look whether their fans turn and their filters are clean. At the
    module, touching nothing: whether the compressor's shell sweats or frosts,
    and up to where the accumulator does; what the bypass valve does; with a
    clamp (fitted only with the unit isolated: some pipes burn; read when it
    runs again) the temperature beside the probe that was used, and on the
    bypass pipe, which is hot where it leaks.
  Whoever sees to it (the link works until 2025-12-02 12:00 UTC):
    https://dew.example/alarms/ID?token=T

STILL MEDIUM probe-unfit at hill-house/one/m1
  The site's own superheat figure misleads. Sure, if the piping is as
    described. Somebody should see to it on the next working day.
  Began 2025-11-25 11:30 UTC.
  Found: compressor_inlet is mixed: oil_return (warms) joins upstream of it;
    it shows 8.6 K more than return superheat
  First: Look on site where the probe is clamped and what joins ahead of it;
    until that is settled, do not go by the site's figure.
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


def day(*modules, raised=None, refused=None):
    return Day("hill-house", modules, raised or {}, refused or {}, {}, 6)


NOT_SEEN = ModuleDay(ModuleView(PATH._replace(module="m2"), None), "R-410A", 0.0, 24.0)


def test_a_sign_of_life():
    calm = ModuleDay(shown(path=PATH._replace(module="m3")), "R-410A", 0.0, 0.04)
    notice = heartbeat(
        day(
            ModuleDay(shown(alarms=[ALARM]), "R-32", 3.21, 1.0),
            calm,
            raised={"superheat-low": 4, "feed-stale": 1},
            refused={"future": 2, "unit": 4},
        ),
        NOON_US,
    )
    assert notice.key == "heartbeat/2025-11-25"
    assert notice.subject == "Dewline is alive: hill-house, 1 alarm standing"
    assert (
        notice.body
        == """\
hill-house: Dewline is alive, 2 modules watched, 1 alarm standing.
This comes each day from 06:00 on (UTC). If it does not come, look at the
  machine where the agent runs: is it on, has it a network, what does the
  agent's log say?
Written 2025-11-25 12:00 UTC. Hours and readings are of the 24 hours before.

Alarms standing:
- one/m1: superheat-low, priority high, since 2025-11-25 11:30 UTC: return
  superheat 0.5 K at suction_pipe, limit 2 K
Undecided or not assessed:
- one/m1: 1.0 h not assessed, 3.2 h undecided
Alarms raised: 5 (superheat-low 4, feed-stale 1)
Readings refused: 6 (future 2, unit 4)
Notices waiting for a receiver: none
"""
        + BRIEF
    )
    calm_day = heartbeat(day(calm), NOON_US)
    assert calm_day.subject == "Dewline is alive: hill-house, no alarm standing"
    assert "\nUndecided or not assessed: nothing\n" in calm_day.body


def test_a_sign_of_life_that_knows_nothing_does_not_read_as_all_well():
    notice = heartbeat(day(NOT_SEEN), NOON_US)
    assert notice.subject == "Dewline is alive: hill-house, 1 of 1 module not assessed"
    first, second, *_ = notice.body.split("\n")
    assert first == "hill-house: Dewline is alive, 1 of 1 module not assessed."
    assert second.startswith("Their state is unknown, all day or most of it: silence is no sign that all is")
    assert "no alarm standing" not in notice.subject + notice.body
    assert "\nAlarms standing: none, as far as anything is known\n" in notice.body
    assert "\n- one/m2: all 24 h not assessed: state unknown\n" in notice.body
    for unassessed_h, is_blind in ((17.9, False), (18.1, True), (23.0, True)):
        of = heartbeat(day(ModuleDay(shown(), "R-32", 0.0, unassessed_h)), NOON_US)
        assert ("1 of 1 module hardly assessed" in of.subject) == is_blind
        assert ("no alarm standing" in of.subject + of.body) != is_blind
        assert (f"{unassessed_h:.1f} h not assessed: state unknown most of the day" in of.body) == is_blind


def test_the_subject_of_a_sign_of_life_is_short():
    other = ModuleDay(shown(alarms=[ALARM]), "R-32", 0.0, 0.0)
    subject = heartbeat(day(other, NOT_SEEN), NOON_US).subject
    assert subject == "Dewline is alive: hill-house, 1 alarm, 1 of 2 not assessed"
    assert len(subject) <= 60
