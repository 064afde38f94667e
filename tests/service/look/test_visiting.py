"""The brief from a real store: what it says first, of every state a module can be in, and that it is one safe
file that reads on a phone and on paper."""

import re
import threading
from dataclasses import replace
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import numpy as np
import pytest

from agent.alarms import CATALOGUE
from agent.assess.mode_codes import CODE
from agent.outlets.terminal.alarm_list import Happened
from agent.outlets.visit import Course, render_brief
from agent.outlets.visit.tables import day_rows
from agent.service.look.visiting import brief, gathered
from agent.service.work.order import Kind
from agent.store import Handheld, JournalEntry
from tests.chromium import MARKS, printed, reach
from tests.service.site import HEALTHY_K, WET_K, minute, plan, told, world

NASTY = "</style><script>alert('x')</script>\"&<b onclick=x>"
VOID = {"meta", "br"}
SECTIONS = ("verdict", "now", "piping", "course", "alarms", "evidence", "measure", "undecided")


class Parsed(HTMLParser):
    """Tags that are opened and closed in order, their attributes, and the text between them."""

    def __init__(self, text):
        super().__init__()
        self.open, self.tags, self.attributes, self.words = [], [], [], []
        self.feed(text)
        self.close()
        assert not self.open, self.open

    def handle_starttag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.append(tag)
        self.attributes += attrs

    def handle_endtag(self, tag):
        assert self.open and self.open.pop() == tag, tag

    def handle_data(self, data):
        if self.open and self.open[-1] not in ("style", "script"):
            self.words.append(data)

    @property
    def text(self):
        return " ".join(" ".join(self.words).split())


def made(one, from_minute, to_minute, now_minute=None):
    now = minute(to_minute if now_minute is None else now_minute)
    return gathered(one.store, one.plan, one.plan.modules[0], minute(from_minute), minute(to_minute), now)


def shown(found):
    return Parsed(render_brief(found)).text


def wet(now):
    return WET_K if now > 600 else HEALTHY_K


@pytest.fixture(scope="module")
def flooded(tmp_path_factory):
    """Liquid comes back after ten hours; it stood still for a while before; a poll failed for an hour."""
    folder = tmp_path_factory.mktemp("visit")
    with world(folder, site=plan(folder, alarms={"shadow_days": 0})) as one:
        one.receive(told(0, 500, wet, mode=lambda now: 0 if 300 < now < 360 else 1))
        one.receive(told(560, 760, wet))
        one.work(760)
        yield made(one, 0, 760)


def test_the_first_words_are_which_what_how_sure_what_first_and_what_to_take(flooded):
    text = shown(flooded)
    wanted = (
        "one/m1 at hill-house, R-410A, layout two-pipe-twin-late",
        "HIGH: superheat-low",
        "liquid is very likely coming back: return superheat 0.",
        "How sure: it is beyond its limit even with the full uncertainty",
        "Somebody should see to it now, by day or night.",
        "before going up",
        "Before anyone goes to the module: pressure, heat, fans, electricity",
        "superheat-low: See which indoor units call",
        "a contact thermometer to clamp on pipes",
        "Figures of the newest assessment",
        "Before anyone goes to the module: Dewline is an aid",
    )
    places = [text.index(words) for words in wanted]
    assert places == sorted(places)


def test_the_cautions_stand_short_at_the_top_and_whole_before_what_is_to_be_measured(flooded):
    text = shown(flooded)
    full = "Opening the circuit is for certified people."
    assert text.count(full) == 2 and text.count("Refrigerant displaces the air") == 1
    assert text.index(full) < text.index("What it is and how it is piped")
    assert text.index("What to measure by hand") < text.rindex(full) < text.index("dewline measure one/m1")


def test_sections_in_their_order_and_both_figures(flooded):
    parsed = Parsed(render_brief(flooded))
    ids = [value for name, value in parsed.attributes if name == "id" and value in SECTIONS]
    assert tuple(ids) == SECTIONS
    classes = [value for name, value in parsed.attributes if name == "class"]
    assert {f"figure {size} {what}" for size in ("wide", "narrow") for what in ("event", "days")} <= set(
        classes
    )
    assert classes.count("piping") == 2


def test_share_of_time_decided_and_what_was_not(flooded):
    text = shown(flooded)
    assert re.search(r"cooling \d+ h( \d+ min)? \d\d %", text)
    assert re.search(r"off 5\d min –", text)
    assert "return superheat not settled for" in text or "return superheat not settled" in text
    running, returned = flooded.course.is_running, flooded.course.curves["return_superheat"]
    decided_us = flooded.course.us(running & returned.decided)
    assert 0 < decided_us < flooded.course.us(running)


def test_an_alarm_s_lane_begins_when_it_was_raised(flooded):
    """Wet from minute 600; the urgent delay of the catalogue is ten minutes, in which values settle too."""
    stood = flooded.course.alarms["superheat-low"]
    first = flooded.course.grid_us[stood][0]
    (raised,) = [each for each in flooded.happened if (each.alarm, each.what) == ("superheat-low", "raised")]
    assert first == raised.event_us and minute(610) <= first <= minute(625)
    assert stood[flooded.course.grid_us >= first].all()


def test_the_day_on_which_clocks_go_back_has_25_hours(flooded):
    """Directive 2000/84/EC, article 3: summer time ends at 01:00 UTC on the last Sunday of October."""
    begin_us = 1_761_429_600_000_000  # 2025-10-25 22:00 UTC: midnight in Berlin
    grid_us = begin_us + 60_000_000 * np.arange(26 * 60)
    one = np.ones(len(grid_us), np.int64)
    course = Course(
        begin_us, int(grid_us[-1]), 60_000_000, grid_us, 60_000_000 * one, CODE["cooling"] * one, {}, ()
    )
    berlin = replace(flooded.display, zone=ZoneInfo("Europe/Berlin"))
    rows = list(day_rows(replace(flooded, course=course, display=berlin)))
    assert [row[:3] for row in rows] == [("Sun 26 Oct", "25.0 h", "0 %"), ("Mon 27 Oct", "1.0 h", "0 %")]


def test_a_gap_is_no_assessment_of_running(flooded):
    """Sixty minutes without readings: nothing is assessed as running in the middle of them."""
    hole = (flooded.course.grid_us > minute(520)) & (flooded.course.grid_us < minute(555))
    assert not flooded.course.is_running[hole].any()


def test_lines_to_copy_name_every_probe_and_keep_a_blank_for_the_figure(flooded):
    text = render_brief(flooded)
    for place in ("--probe suction_pipe", "--probe compressor_inlet", "--inlet oil_return --side ahead"):
        lines = (
            "dewline measure one/m1 \\",
            f"  {place} \\",
            "  --value &#34;____ degC&#34; --at &#34;____&#34; \\",
            "  --by &#34;____&#34;",
        )
        assert "\n".join(lines) in text
    assert "on gas_pipe, between indoor_units and junction low_side" in text


def test_a_gauge_is_asked_for_as_absolute_where_the_height_is_not_known(flooded):
    assert "____ kPa absolute" in shown(flooded)
    assert "____ kPa gauge" in shown(replace(flooded, ambient_pa=101_325.0))


def test_what_people_typed_is_escaped_and_not_converted(flooded, tmp_path):
    line = Happened(flooded.module.path, "superheat-low", minute(700), minute(700), "acknowledged", "", "")
    nasty = (line._replace(who=NASTY, text=f"{NASTY} set to 10 K"),)
    layouts = (replace(flooded.layouts[0], by=NASTY, why=NASTY),)
    fahrenheit = replace(flooded.display, temperature_unit="degF")
    text = render_brief(
        replace(flooded, happened=nasty, confirmed=nasty, layouts=layouts, display=fahrenheit)
    )
    parsed = Parsed(text)
    assert "script" not in parsed.tags and parsed.text.count(NASTY) == 6
    assert f"{NASTY} set to 10 K" in parsed.text
    assert "return superheat 0.7 degF" in parsed.text
    assert not [name for name, _ in parsed.attributes if name.startswith("on")]


def test_a_module_s_name_cannot_break_out_of_the_style_sheet():
    from agent.outlets.visit.page import _css_text

    said = _css_text('a"; } </style><b> \\ n2')
    assert said[0] == said[-1] == '"' and not set('"<>{};\\').intersection(
        re.sub(r"\\[0-9a-f]+ ", "", said[1:-1])
    )


def test_it_asks_for_nothing_from_elsewhere_and_runs_nothing(flooded):
    text = render_brief(flooded)
    parsed = Parsed(text)
    assert not {"script", "link", "img", "object", "iframe", "form", "base"} & set(parsed.tags)
    assert "@import" not in text
    assert all(found.startswith("#") for found in re.findall(r"url\(([^)]*)\)", text))
    links = [value for name, value in parsed.attributes if name in ("href", "xlink:href", "src")]
    assert all(value.startswith("#") for value in links)
    ids = [value for name, value in parsed.attributes if name == "id"]
    assert len(ids) == len(set(ids)), "two figures share an id"
    named = set(re.findall(r"url\(#([^)]*)\)", text)) | {value[1:] for value in links}
    assert named <= set(ids)


def test_letters_of_the_figures_are_text(flooded):
    text = shown(flooded)
    assert text.count("return superheat [K]") >= 2 and "site's clock (UTC)" in text
    assert (
        "superheat-low" in text.partition("The last days at a glance")[2].partition("return superheat [K]")[0]
    )


def test_colours_follow_the_page(flooded):
    figure = render_brief(flooded).partition('class="figure wide days"')[2].partition("</svg>")[0]
    assert "var(--line, #174f7a)" in figure and "var(--ink, #16202b)" in figure
    bare = re.sub(r"var\(--\w+, #[0-9a-f]{6}\)", "", figure)
    assert not re.findall(
        r"#[0-9a-f]{6}\b(?!\))", re.sub(r'(id|href|clip-path)="[^"]*"|url\([^)]*\)', "", bare)
    )


def test_two_threads_get_the_same_as_one(flooded):
    alone, found = render_brief(flooded), []
    threads = [threading.Thread(target=lambda: found.append(render_brief(flooded))) for _ in range(2)]
    for thread in threads:
        thread.start()
    for thread in threads:
        thread.join()
    assert found == [alone, alone]


def test_site_units_and_clock(tmp_path):
    site = plan(
        tmp_path,
        elevation_m=20,
        alarms={"shadow_days": 0},
        display={"temperature": "degF", "pressure": "psi", "zone": "America/Toronto"},
    )
    with world(tmp_path, site=site) as one:
        one.receive(told(0, 400, lambda now: WET_K if now > 200 else HEALTHY_K))
        one.work(400)
        text = shown(made(one, 0, 400))
    assert "made 2025-11-25 09:40 -05:00" in text and "site's clock (-05:00)" in text
    assert "return superheat [degF]" in text and "____ degF" in text and "____ psi gauge" in text
    assert "return superheat 0.7 degF" in text or "return superheat 0.9 degF" in text
    assert not re.search(r"\d K\b", text.partition("What to measure")[0].partition("Take along")[0])


def test_what_was_done_and_who_confirmed_stands_there(tmp_path):
    with world(tmp_path) as one:
        one.receive(told(0, 100))
        one.work(100)
        body = '{"since_us": null, "who": "A. Fitter", "why": "pipes followed"}'
        at_us = minute(90)
        entry = JournalEntry(one.watched.module_id, "module", at_us, at_us, Kind.CONFIRM, body)
        one.store.finish(one.watched.module_id, one.watched.revision_id, [], journal=[entry])
        text = shown(made(one, 0, 100))
    assert text.count("A. Fitter") == 2 and text.count("pipes followed") == 2
    assert "Nobody is on record" not in text


def test_readings_by_hand_stand_there_with_their_verdict(tmp_path):
    with world(tmp_path) as one:
        one.receive(told(0, 100))
        one.work(100)
        (command_id,) = [one.store.give(command(one))]
        hand = Handheld(
            *(minute(90), minute(91), NASTY, "probe", "suction_pipe", None, 11.3, 0.5),
            '{"given": "11.3 degC", "assumed": true, "note": "tight"}',
        )
        one.store.finish_command(one.store.command(command_id), minute(91), "kept", handheld=hand)
        text = shown(made(one, 0, 100))
    assert "suction_pipe agrees 11.3 degC by hand" in text and f"11.3 degC by {NASTY}; tight" in text


def command(one):
    from agent.store import Command

    return Command(minute(91), NASTY, Kind.MEASURE, one.watched.module_id, None, "{}")


def test_never_assessed_and_never_worked_on(tmp_path):
    with world(tmp_path) as one:
        text = shown(made(one, -1440, 0))
    assert "Nothing has been assessed yet" in text and "there is nothing to draw" in text
    assert "no whole hour" in text and "dewline measure one/m1" in text and "fit" in text


def test_a_store_that_never_heard_of_it(tmp_path):
    from agent.store import Store

    site = plan(tmp_path)
    with Store.open(f"sqlite:///{tmp_path}/new.db") as store:
        text = brief(store, site, site.modules[0], minute(-60), minute(0), minute(0))
    assert "Nothing has been assessed yet" in Parsed(text).text


def test_unknown_layout(tmp_path):
    module = {"layout": "unknown", "signal_set": "polled"}
    systems = {"one": {"refrigerant": "R-32", "modules": {"m1": module}}}
    with world(tmp_path, site=plan(tmp_path, systems=systems)) as one:
        one.receive(told(0, 30))
        one.work(30)
        text = shown(made(one, 0, 30))
    assert "How it is piped is not known: no superheat is judged" in text
    assert "Follow the pipes from the rooms to the compressors" in text
    assert "R-32 is mildly flammable" in text and "gas detector rated for R-32" in text
    assert "--probe suction_pipe" in text and "return superheat not decidable" in text


def test_off_for_all_of_the_time(tmp_path):
    with world(tmp_path) as one:
        one.receive(told(0, 200, mode=lambda now: 0))
        one.work(200)
        text = shown(made(one, 0, 200))
    assert "It never ran in this time: nothing could be told" in text
    assert "stood still" in text and "It is not known to have run in this time." in text


def test_a_time_of_which_nothing_is_known(tmp_path):
    with world(tmp_path) as one:
        one.receive(told(0, 60))
        one.work(60)
        text = shown(made(one, 500, 600))
    assert "Not known how it is now: the newest assessment is" in text and "nothing to draw" in text


def test_a_moment(tmp_path):
    with world(tmp_path) as one:
        one.receive(told(0, 60))
        one.work(60)
        assert "The last days at a glance" in shown(made(one, 50, 50))


def test_healthy_and_quiet(tmp_path):
    with world(tmp_path, site=plan(tmp_path, alarms={"shadow_days": 0})) as one:
        one.receive(told(0, 300))
        one.work(300)
        text = shown(made(one, 60, 300))
    assert "No alarm stands, and none stood in this time" in text
    assert "what was wrong in the rest is not known" in text


def test_a_probe_that_failed_is_taken_along_and_measured_first(tmp_path):
    """An open thermistor reads far below what any pipe can be."""
    with world(tmp_path, site=plan(tmp_path, alarms={"shadow_days": 0})) as one:
        one.receive(told(0, 300, lambda now: HEALTHY_K if now < 200 else -60.0))
        one.work(300)
        found = made(one, 0, 300)
        text = shown(found)
    assert "HIGH: probe-failed" in text and "suction_pipe" in found.suspects
    assert "a spare probe of the kind of suction_pipe" in text.partition("What this rests on")[0]
    assert "suction_pipe first Where: on gas_pipe" in text and "Why: this signal is under suspicion." in text


@pytest.fixture(scope="module")
def file(flooded, tmp_path_factory):
    path = tmp_path_factory.mktemp("printed") / "brief.html"
    path.write_text(render_brief(flooded), encoding="utf-8")
    return path


class TestPrinted:
    pytestmark = MARKS

    @pytest.mark.parametrize("paper", ["A4", "letter"])
    def test_every_page_says_of_which_module_and_none_is_empty(self, file, paper):
        """Paper is the reader's choice: the file states none, so that it is stated here."""
        text = file.read_text(encoding="utf-8")
        assert not re.search(r"[{;]\s*size:", text)
        sized = file.with_name(f"{paper}.html")
        sized.write_text(text.replace("</style>", f"@page {{ size: {paper} }}</style>", 1), encoding="utf-8")
        found = printed(sized)
        assert 3 <= len(found) <= 10
        for number, text in enumerate(found, 1):
            said = " ".join(text.split())
            assert "Dewline visit brief: hill-house/one/m1 2025-11-25 20:40 UTC" in said
            assert f"{number} of {len(found)}" in said
            assert len(said) > 300, f"page {number}: {said}"

    def test_the_tallest_figure_stays_with_its_heading(self, flooded, tmp_path):
        """Every alarm of the catalogue a lane, and six panels."""
        course = flooded.course
        stood = np.ones(len(course.grid_us), bool)
        curve = course.curves["return_superheat"]
        more = dict.fromkeys(("subcooling", "discharge_temperature:1", "discharge_superheat:1"), curve)
        tall = replace(course, alarms=dict.fromkeys(CATALOGUE, stood), curves={**course.curves, **more})
        file = tmp_path / "tall.html"
        file.write_text(render_brief(replace(flooded, course=tall)), encoding="utf-8")
        found = printed(file)
        assert min(len(text) for text in found) > 300
        (page,) = [text for text in found if "Each column holds all" in text]
        assert "2025-11-25 08:00 UTC to 2025-11-25 20:40 UTC" in page and "subcooling [K]" in page

    def test_the_first_page_alone_is_enough_to_go(self, file):
        said = " ".join(printed(file)[0].split())
        for words in (
            "one/m1",
            "HIGH: superheat-low",
            "How sure:",
            "First",
            "Take along",
            "certified people",
        ):
            assert words in said

    def test_the_figure_s_letters_and_every_section_are_on_paper(self, file):
        said = " ".join(" ".join(printed(file)).split())
        for words in (
            *("return superheat [K]", "oil-return rise [K]", "not settled", "two-pipe-twin-late"),
            *("What each probe is worth", "when a figure could not be told", "What to measure by hand"),
        ):
            assert words in said
        assert said.count("return superheat [K]") == 3, "two figures and the table of days"

    @pytest.mark.parametrize("width", [360, 412, 800])
    def test_nothing_reaches_beyond_the_window(self, file, width):
        assert max(reach(file, width)) <= width
