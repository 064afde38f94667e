"""The status page as HTML, read without a browser."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import pytest

from agent.alarms import CATALOGUE, Facts, Life, Priority, State
from agent.assess import Cause, Status
from agent.outlets import Lives, ModuleView
from agent.outlets.alarm_words import state_words
from agent.outlets.meaning import plainly, to_stop, urgency
from agent.outlets.shown import Display
from agent.outlets.web.cards import OVER_SHOWN, Over, encoded
from agent.outlets.web.page import REFRESH_S, STATES
from agent.settings import ModulePath
from tests.outlets.views import ALARM, MINUTE_US, NOON_US, UNDECIDED, assessment, decided, shown, without
from tests.outlets.web.scenes import (
    ALARMED_VIEWS,
    EVERYTHING,
    NEVER,
    SINCE_US,
    STANDS,
    UNFIT,
    alarmed,
    html,
    path,
)


class Read(HTMLParser):
    """Text without tags, tags with their attributes, and what of the nesting is wrong."""

    EMPTY = frozenset({"meta", "link"})
    INLINE = frozenset({"a", "strong", "span", "code"})

    def __init__(self, page):
        super().__init__()
        self.pieces, self.tags, self.stack = [], [], []
        self.feed(page)
        assert self.stack == []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))
        if tag not in self.EMPTY:
            self.stack.append(tag)
        self._apart(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag):
        assert self.stack.pop() == tag
        self._apart(tag)

    def handle_data(self, data):
        if self.stack[-1:] != ["style"]:
            self.pieces.append(data)

    def _apart(self, tag):
        if tag not in self.INLINE:
            self.pieces.append(" ")

    @property
    def text(self):
        return " ".join("".join(self.pieces).split())

    def all(self, tag):
        return [attrs for name, attrs in self.tags if name == tag]


def text(*views, **more):
    return Read(html(*views, **more)).text


def part(page, module):
    """What is said of one module."""
    return Read(re.search(rf'<article aria-label="one/{module}">.*?</article>', page, re.S)[0]).text


def test_says_first_whether_a_module_needs_somebody_and_which():
    found = text(shown(path=path("healthy")), alarmed("waits"))
    assert "1 of 2 modules needs somebody now" in found
    head = found[: found.index("Return superheat, by module")]
    assert "high one/waits superheat-low: liquid is very likely coming back; began 25 Nov 11:30" in head


TAKEN = STANDS._replace(acknowledged=True)


def test_what_somebody_has_taken_goes_on_being_named_at_the_top():
    taken = alarmed("taken", TAKEN, acknowledged_by="B. Night", note="going there at 6")
    found = text(taken, alarmed("unfit", alarm=UNFIT, condition="beyond"))
    assert "1 of 2 modules needs somebody on the next working day; 1 high alarm stands and is taken" in found
    head = found[: found.index("Return superheat, by module")]
    assert (
        "high one/taken superheat-low: liquid is very likely coming back; began 25 Nov 11:30; "
        "acknowledged by B. Night (going there at 6), still standing"
    ) in head
    assert head.index("one/taken") < head.index("one/unfit")
    assert "At the desk: Ask B. Night how it stands." in found
    alone = html(taken)
    assert "No module needs anybody else now; 1 high alarm stands and is taken" in Read(alone).text
    assert 'class="now urgent"' in alone and "<details open>" in alone


def test_several_taken_are_counted_by_their_priority():
    several = [alarmed(name, TAKEN, acknowledged_by="B") for name in ("a", "b")]
    medium = alarmed("c", TAKEN, alarm=UNFIT, acknowledged_by="B")
    assert "; 2 high and 1 medium alarms stand and are taken" in text(medium, *several)


def test_who_has_taken_it_is_said_in_the_words_of_every_other_list():
    view = alarmed("taken", TAKEN, acknowledged_by="B", note="on my way")
    said = state_words(view.lives, "superheat-low")
    assert f"began 25 Nov 11:30; {said}, still standing" in text(view)


def test_says_that_no_module_needs_anybody():
    assert "No module needs anybody now" in text(shown())
    assert "Return superheat, by module: 1 inside its limits." in text(shown())


def test_where_no_agent_works_nothing_is_said_to_be_fine():
    for found in (text(shown(), runs=False), text(shown(), now_us=NOON_US + 20 * MINUTE_US)):
        assert "Not known: " in found and "needs anybody" not in found
    assert "no agent runs on this store; last assessed 60 s ago" in text(shown(), runs=False)
    assert "not assessed: what is shown is of 25 Nov 12:00, nothing newer" in text(
        shown(), now_us=NOON_US + 20 * MINUTE_US
    )


def test_a_module_says_its_mode_its_probe_and_why_and_how_old_it_is():
    found = text(shown(replace(assessment(), mode_reason="a reversing valve says so")))
    assert "Mode cooling: a reversing valve says so; compressor 1 runs." in found
    assert "return superheat 6.0 K between 4.3 and 6.7 K; suction_pipe: all vapour passes here" in found
    assert "assessed 60 s ago, newest reading 60 s old. Layout two-pipe-twin-late, R-32." in found
    assert "oil-return rise 3.0 K between 2.2 and 3.8 K; compressor_inlet - suction_pipe" in found


@pytest.mark.parametrize(
    ("known", "why"),
    [
        ({}, "; no alarm: the site is not known to use this probe"),
        ({"configured_probe": "suction_pipe"}, "; no alarm: the site takes superheat at suction_pipe"),
        (
            {"configured_probe": "compressor_inlet"},
            "; no alarm yet: probe-unfit comes once that has lasted",
        ),
    ],
)
def test_an_unfit_probe_is_marked_as_giving_no_verdict_and_says_why_there_is_no_alarm(known, why):
    found = text(shown(), known=known)
    assert "apparent superheat at compressor_inlet 9.0 K between 8.3 and 9.7 K" in found
    mixed = "mixed: oil_return (warms) joins upstream of it"
    assert f"{mixed} (no verdict: this probe is not fit now{why})" in found


def test_where_the_alarm_on_an_unfit_probe_stands_nothing_is_said_of_none():
    found = text(alarmed("unfit", alarm=UNFIT, condition="beyond"))
    assert "(no verdict: this probe is not fit now)" in found


@pytest.mark.parametrize("words", UNDECIDED)
def test_each_of_the_four_states_stands_in_words_with_its_cause_and_never_as_a_number(words):
    quantity = UNDECIDED[words]
    page = html(shown(assessment(returned=quantity, rise=quantity)))
    row = re.search(r'<th scope="row">return superheat</th><td>(.*?)</td>', page)[1]
    assert f'<span class="without">{words}</span>' in row
    assert quantity.said.text in row and "<strong>" not in row
    assert 'class="band"' not in page
    summary = re.search(r"<summary>\s*<h4>.*?</summary>", page, re.S)[0]
    assert words in summary and not re.search(r"(?<![\d.])0(\.0+)? K", summary)
    assert f"{words} {STATES[words]}" in Read(page).text


def test_what_still_moves_shows_where_it_is_as_undecided():
    assert "not settled suction_pipe is swinging (now 3.3 K, between 2.6 and 4.0 K)" in text(
        shown(assessment(returned=UNDECIDED["not settled"]))
    )


def test_what_was_never_assessed_has_no_figure():
    found = part(html(NEVER), "never")
    assert "not assessed" in found and "no reading of late" in found
    assert not re.search(r"\d K", found)


def test_a_decided_zero_is_a_number():
    found = text(shown(assessment(returned=decided(0.0, 1.7, 0.7, "suction_pipe"))))
    assert "return superheat 0.0 K between -1.7 and 0.7 K; suction_pipe" in found


@pytest.mark.parametrize(
    ("module", "said"),
    [
        ("waits", "high unacknowledged, began 25 Nov 11:30"),
        ("seen", "acknowledged by A. Fitter (on my way)"),
        ("shelved", "shelved until 25 Nov 12:01 by B (part ordered)"),
        ("held", "suppressed by design, held back by feed-stale"),
        ("out", "out of service by C (no gauge)"),
        ("new", "unacknowledged, in shadow"),
        ("over", "returned to normal unacknowledged"),
        ("latched", "latched acknowledged"),
        ("silent", "no reading for 12 min"),
    ],
)
def test_an_alarm_says_its_state_by_the_standards_name_and_who_brought_it_about(module, said):
    found = part(html(*ALARMED_VIEWS), module)
    assert said in found


def test_only_what_stands_is_told_and_is_not_acknowledged_counts_as_needing_somebody():
    found = text(*ALARMED_VIEWS)
    assert "1 of 10 modules needs somebody now; 2 on the next working day" in found  # unfit, silent
    head = found[: found.index("Return superheat, by module")]
    named = [
        name
        for name in ("waits", "unfit", "over", "silent", "seen", "shelved", "held", "out", "new")
        if f"one/{name}" in head
    ]
    assert named == ["waits", "unfit", "silent", "seen"]
    assert "seen superheat-low" in head and "acknowledged by A. Fitter (on my way), still standing" in head
    for said in ("returned to normal unacknowledged", "latched acknowledged", "shelved", "in shadow"):
        assert f"1 {said}" in found


def test_how_to_acknowledge_is_a_line_to_type_where_it_can_be_done():
    page = html(*ALARMED_VIEWS)
    assert 'dewline ack one/waits superheat-low --by "YOUR NAME"' in part(page, "waits")
    assert 'dewline ack one/latched superheat-low --reset --by "YOUR NAME"' in part(page, "latched")
    assert "dewline ack" not in part(page, "seen")
    assert "To acknowledge: the link in its notice, or" in part(page, "waits")
    assert f"For whoever sees to it: {CATALOGUE['superheat-low'].first_response}" in part(page, "waits")


@pytest.mark.parametrize("condition", ["beyond_doubt", "beyond", "possible", "unknown"])
@pytest.mark.parametrize("alarm", [ALARM, UNFIT])
def test_how_sure_an_alarm_is_stands_once_in_the_words_of_its_notices(alarm, condition):
    view = alarmed("m1", alarm=alarm, condition=condition)
    meaning, sure = plainly(CATALOGUE[alarm.name], alarm.priority, alarm.facts, view.assessment)
    found = text(view)
    assert found.count(f"{sure}.") == 1 and f"{alarm.name}: {meaning}; began" in found


def test_the_piping_is_said_to_be_what_a_misleading_probe_rests_on():
    assert "if the piping is as described" in text(alarmed("m1", alarm=UNFIT, condition="beyond"))


@pytest.mark.parametrize("alarm", [ALARM, UNFIT, UNFIT._replace(priority=Priority.LOW)])
def test_what_a_person_at_a_desk_does_is_as_urgent_as_in_notices_and_ahead_of_what_is_done_there(alarm):
    found = part(html(alarmed("m1", alarm=alarm)), "m1")
    how_soon = urgency(alarm.priority)
    verb = "Call" if alarm.priority is Priority.HIGH else "Tell"
    said = f"At the desk: {verb} the refrigeration contractor: {how_soon[0].lower()}{how_soon[1:]}"
    assert found.index(said) < found.index("For whoever sees to it: ")


def test_who_decides_on_stopping_is_said_where_something_may_break():
    found = text(alarmed("m1"))
    assert to_stop(CATALOGUE["superheat-low"], Priority.HIGH) in found and "is to be stopped" in found
    assert "is to be stopped" not in text(alarmed("m1", alarm=UNFIT))


def test_an_alarm_whose_meaning_is_not_put_plainly_shows_at_the_top_what_was_found():
    drift = ALARM._replace(name="probe-drift", facts=Facts("suction_pipe has drifted by 2.0 K"))
    assert "probe-drift: suction_pipe has drifted by 2.0 K; began" in text(alarmed("m1", alarm=drift))


def test_nobody_at_a_desk_is_told_to_do_anything_about_what_is_not_told():
    shadow = alarmed("m1", shadow_ends_us=NOON_US + MINUTE_US)
    assert "At the desk" not in text(shadow)


def test_a_feed_is_for_whoever_looks_after_the_gateway():
    assert "Tell whoever looks after the gateway" in part(html(*ALARMED_VIEWS), "silent")


def test_what_came_to_be_known_late_says_when_and_why():
    late = "began 25 Nov 11:30, known since 25 Nov 13:30"
    found = text(alarmed("m1", known_us=SINCE_US + 120 * MINUTE_US))
    assert f"{late} (readings, or a correction, came late)" in found
    assert f"liquid is very likely coming back; {late} " in found  # the head is short
    assert "known since" not in text(alarmed("m1", known_us=SINCE_US + 11 * MINUTE_US))


def test_what_takes_long_to_be_sure_of_is_not_said_to_have_come_late():
    blind = ALARM._replace(name="watch-blind", facts=Facts("return superheat is not settled"))
    assert CATALOGUE["watch-blind"].limits.on_delay_s == 3600
    assert "known since" not in text(alarmed("m1", alarm=blind, known_us=SINCE_US + 62 * MINUTE_US))
    by_hour = ALARM._replace(name="probe-drift", facts=Facts("drifts"))
    found = text(alarmed("m1", alarm=by_hour, known_us=SINCE_US + 600 * MINUTE_US))
    assert "known since 25 Nov 21:30" in found and "came late" not in found


def test_what_stood_at_the_first_assessment_stands_at_least_since_then():
    assert "stands at least since 25 Nov 11:30" in text(alarmed("m1"), known={"first_us": SINCE_US})
    assert "; began 25 Nov 11:30" in text(alarmed("m1"), known={"first_us": SINCE_US - MINUTE_US})


def test_the_past_alarms_of_a_day_stand_in_a_line_the_newest_first():
    over = [Over("superheat-high", NOON_US - 60 * MINUTE_US, NOON_US), Over("watch-blind", SINCE_US, None)]
    assert (
        "Over, of the last 24 h: watch-blind 25 Nov 11:30, not known to when; "
        "superheat-high 25 Nov 11:00 to 25 Nov 12:00."
    ) in text(shown(), known={"over": over})
    assert "Over, of the last" not in text(shown())
    many = [Over("a", NOON_US + number, NOON_US + number) for number in range(OVER_SHOWN + 3)]
    assert "; and 3 more." in text(shown(), known={"over": many})


@pytest.mark.parametrize(
    ("returned", "mode", "said"),
    [
        (decided(6.0), "cooling", "inside its limits"),
        (decided(3.0), "cooling", "inside its limits: not with all its uncertainty"),
        (decided(1.0), "cooling", "under its low limit"),
        (decided(20.0), "heating", "above its high limit"),
        (UNDECIDED["not decidable"], "off", "off"),
        (UNDECIDED["not decidable"], "defrost", "defrost: not judged"),
        (UNDECIDED["not decidable"], "oil_recovery", "oil recovery: not judged"),
        (UNDECIDED["not decidable"], "starting", "starting: not judged"),
        (UNDECIDED["missing"], "defrost", "readings missing: suction_pipe is missing"),
        (UNDECIDED["not decidable"], "unknown", "not decided: the mode is not known"),
        (UNDECIDED["not settled"], "cooling", "not decided: values swing"),
        (UNDECIDED["not measurable"], "cooling", "not measurable: no probe is fit for it now"),
        (
            without(Status.NOT_SETTLED, Cause.CHANGE, "the mode changed"),
            "cooling",
            "settling: something changed a short while ago",
        ),
    ],
)
def test_each_module_says_in_a_word_how_it_is(returned, mode, said):
    page = html(shown(assessment(returned=returned, mode=mode)))
    summary = Read(re.search(r"<summary>\s*<h4>.*?</summary>", page, re.S)[0]).text
    assert summary.endswith(said)
    assert f"Without an alarm (1): 1 {said.partition(':')[0]}" in Read(page).text


def test_a_defrost_looks_different_from_a_loss_of_sight_and_both_from_what_is_fine():
    def sort(**of):
        return re.search('class="word (.*?)"', html(shown(assessment(**of))))[1]

    none = UNDECIDED["not decidable"]
    assert sort(returned=none, mode="defrost") == sort(returned=none, mode="off") == "passing"
    assert sort(returned=none, mode="unknown") == sort(returned=UNDECIDED["missing"]) == "lost"
    assert sort() == "fine" and sort(returned=decided(1.0)) == "beyond"


def test_what_nobody_is_told_of_says_so_in_the_same_place():
    shadow = replace(shown(), lives=Lives({}, NOON_US + MINUTE_US, NOON_US))
    assert "inside its limits: in shadow" in text(shadow)
    out = {name: Life(State(out_of_service=True), removed_by="C") for name in CATALOGUE}
    assert "inside its limits: out of service" in text(replace(shown(), lives=Lives(out, None, NOON_US)))


def test_the_words_are_counted_what_is_beyond_a_limit_first():
    views = [shown(path=path("a")), shown(path=path("b")), shown(assessment(returned=decided(1.0)))]
    assert "Without an alarm (3): 1 under its low limit, 2 inside their limits" in text(*views)


def test_figures_that_the_layout_puts_in_doubt_are_not_called_fine():
    doubt = ALARM._replace(name="layout-doubt", facts=Facts("probes read otherwise"))
    assert "in doubt: the layout may not be as described" in part(html(alarmed("m1", alarm=doubt)), "m1")
    assert "in doubt: readings do not come as they should" in part(html(*ALARMED_VIEWS), "silent")


def test_alarms_out_of_service_that_never_stood_share_a_line():
    lives = Lives({"superheat-high": Life(State(out_of_service=True), removed_by="C")}, None, NOON_US)
    assert "superheat-high: out of service by C; does not stand." in text(replace(shown(), lives=lives))


def test_modules_come_by_the_priority_of_what_stands_taken_after_not_taken_and_then_as_the_site_has_them():
    taken = alarmed("taken", TAKEN, acknowledged_by="A")
    unfit = alarmed("unfit", alarm=UNFIT)
    unfit_taken = alarmed("unfit-taken", TAKEN, alarm=UNFIT, acknowledged_by="A")
    shelved = alarmed("shelved", STANDS._replace(shelved_until_us=NOON_US + MINUTE_US), shelved_by="B")
    views = [
        shown(path=path("z")),
        shelved,
        unfit_taken,
        unfit,
        taken,
        alarmed("waits"),
        shown(path=path("a")),
    ]
    assert re.findall(r'<article aria-label="one/(.*?)"', html(*views)) == [
        *("waits", "taken", "unfit", "unfit-taken", "shelved", "z", "a")
    ]


def test_only_modules_with_something_open_are_opened():
    several = [shown(path=path(f"m{number}")) for number in range(3)]
    assert "<details open>" not in html(*several)
    taken = alarmed("taken", TAKEN, acknowledged_by="A")
    assert html(*several, alarmed("waits"), taken).count("<details open>") == 2


EVIL = '<script>alert("x")</script>&\'"'


def test_everything_that_people_or_gateways_typed_is_escaped():
    view = replace(
        alarmed("m1", STANDS._replace(acknowledged=True), acknowledged_by=EVIL, note=EVIL),
        path=ModulePath("s", EVIL, EVIL),
        alarms=(ALARM._replace(facts=Facts(EVIL)),),
    )
    of = replace(view.assessment, mode=EVIL, mode_reason=EVIL)
    page = html(replace(view, assessment=of, notes=(EVIL,)))
    assert "<script" not in page and "&lt;script&gt;" in page
    Read(page)
    assert not re.search(r"""="[^"]*<script""", page)


def test_links_are_percent_encoded_and_stay_on_this_server():
    assert encoded(ModulePath("s", "a/b c", 'm"?#')) == "a%2Fb%20c/m%22%3F%23"
    links = [each["href"] for each in Read(html(shown())).all("a")]
    assert "visit/one/m1" in links and "history/one/m1.csv?since=7d" in links
    assert not any(re.match(r"[a-z]+:|//", link) for link in links)


def test_needs_no_script_and_nothing_from_a_network():
    page = html(*EVERYTHING)
    read = Read(page)
    assert not read.all("script") and not read.all("img") and not read.all("form")
    assert all(link["href"] == "data:," for link in read.all("link"))
    assert not re.search(r"@import|https?:", page) and set(re.findall(r"url\((.*?)\)", page)) == {"#hatch"}
    assert not [
        attrs for _, attrs in read.tags if any(key == "style" or key.startswith("on") for key in attrs)
    ]


def test_makes_itself_anew_unless_it_is_to_stay_still():
    assert {"http-equiv": "refresh", "content": str(REFRESH_S)} in Read(html(shown())).all("meta")
    still = html(shown(), refresh_s=None)
    assert "refresh" not in str(Read(still).all("meta"))
    assert "As of 25 November 2025, 12:01:00; times are UTC." in text(shown())


def test_figures_and_times_are_in_the_units_and_the_clock_of_the_site():
    display = Display("degF", "psi", ZoneInfo("Europe/Helsinki"))
    found = text(alarmed("m1"), display=display)
    assert (
        "return superheat 10.8 degF between 7.7 and 12.1 degF" in found and "limits 3.6 to 25.2 degF" in found
    )
    assert "return superheat 0.9 degF at suction_pipe, limit 3.6 degF" in found
    assert "saturated suction 41.7 degF between 41.0 and 42.4 degF" in found
    assert "began 25 Nov 13:30" in found and "25 November 2025, 14:01:00; times are +02:00" in found
    assert found.count("+02:00") == 1
    assert not re.search(r"\d K\b|degC", found)


def test_a_time_on_the_other_side_of_a_clock_change_has_its_own_offset():
    """Summer time ended on 26 October 2025 at 01:00 UTC: Directive 2000/84/EC, article 3."""
    now_us = 1_761_447_600_000_000  # 2025-10-26 03:00 UTC
    since_us = now_us - 150 * MINUTE_US
    view = alarmed("m1", alarm=ALARM._replace(since_us=since_us))
    lives = Lives({"superheat-low": Life(STANDS, since_us, since_us)}, None, now_us)
    display = Display(zone=ZoneInfo("Europe/Helsinki"))
    found = text(replace(view, lives=lives), now_us=now_us, display=display)
    assert "times are +02:00" in found and "began 26 Oct 03:30 +03:00" in found


def test_a_figure_in_a_sentence_is_told_as_in_the_table():
    facts = Facts("superheat 0.5 K (-1.7 +0.7) at suction_pipe", "suction_pipe", 0.5, 1.7, 0.7, 2.0)
    found = text(alarmed("m1", alarm=ALARM._replace(facts=facts)))
    assert "Found: superheat 0.5 K (between -1.2 and 1.2 K) at suction_pipe." in found


def test_ids_are_there_once_and_links_within_the_page_lead_to_one():
    read = Read(html(*EVERYTHING))
    ids = [attrs["id"] for _, attrs in read.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    inner = [each["href"].partition("#")[2] for each in read.all("a") if "#" in each["href"]]
    assert inner and set(inner) <= set(ids)


def test_headings_go_down_one_level_at_a_time():
    levels = [int(tag[1]) for tag, _ in Read(html(*EVERYTHING)).tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in zip(levels, levels[1:], strict=False))


def test_cautions_stand_at_the_foot():
    page = html(shown())
    foot = Read(page[page.index("<footer>") : page.index("</footer>") + 9]).text
    assert "Before anyone goes to the module" in foot and "R-32 is mildly flammable (A2L)" in foot


def test_a_view_without_a_layout_or_a_trend_is_shown():
    assert "cooling" in text(ModuleView(path("m1"), assessment(), (), NOON_US))


def test_where_nothing_was_assessed_or_sight_is_lost_it_is_not_said_that_all_is_well():
    never = ModuleView(ModulePath("hill-house", "one", "new"), None)
    assert "Not known: nothing assessed yet" in text(never)
    found = html(shown(), never)
    assert "No alarm waits for anybody; 1 of 2 modules cannot be judged now" in Read(found).text
    assert 'class="now urgent"' in found
