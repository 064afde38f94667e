"""The status page as HTML, read without a browser."""

import re
from dataclasses import replace
from html.parser import HTMLParser
from zoneinfo import ZoneInfo

import pytest

from agent.alarms import Facts, Life, State
from agent.outlets import Lives, ModuleView
from agent.outlets.shown import Display
from agent.outlets.web.page import FEW, REFRESH_S, age, encoded
from agent.settings import ModulePath
from tests.outlets.views import ALARM, MINUTE_US, NOON_US, UNDECIDED, assessment, decided, shown
from tests.outlets.web.scenes import (
    ALARMED_VIEWS,
    EVERYTHING,
    NEVER,
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
    assert "high one/waits superheat-low, since 25 Nov 11:30 UTC: return superheat 0.5 K" in head
    assert "(beyond doubt)" in head


def test_says_that_no_module_needs_anybody():
    assert "No module needs anybody now" in text(shown())
    assert "Return superheat, by module: 1 decided" in text(shown())


def test_where_no_agent_works_nothing_is_said_to_be_fine():
    for found in (text(shown(), runs=False), text(shown(), now_us=NOON_US + 20 * MINUTE_US)):
        assert "Not known: " in found and "needs anybody" not in found
    assert "no agent runs on this store; last assessed 60 s ago" in text(shown(), runs=False)
    assert "not of now: of 25 Nov 12:00 UTC, nothing newer is assessed" in text(
        shown(), now_us=NOON_US + 20 * MINUTE_US
    )


def test_a_module_says_its_mode_its_probe_and_why_and_how_old_it_is():
    found = text(shown(replace(assessment(), mode_reason="a reversing valve says so")))
    assert "Mode cooling: a reversing valve says so; compressor 1 runs." in found
    assert "return superheat 6.0 K -1.7 +0.7 suction_pipe: all vapour passes here" in found
    assert "assessed 60 s ago, newest reading 60 s old. Layout two-pipe-twin-late, R-32." in found
    assert "oil-return rise 3.0 K ±0.8 compressor_inlet - suction_pipe" in found


def test_an_unfit_probe_is_marked_as_giving_no_verdict():
    found = text(shown())
    assert "apparent superheat at compressor_inlet 9.0 K ±0.7" in found
    assert "mixed: oil_return (warms) joins upstream of it (no verdict: this probe is not fit now)" in found


@pytest.mark.parametrize("words", UNDECIDED)
def test_each_of_the_four_states_stands_in_words_with_its_cause_and_never_as_a_number(words):
    quantity = UNDECIDED[words]
    page = html(shown(assessment(returned=quantity, rise=quantity)))
    row = re.search(r'<th scope="row">return superheat</th><td>(.*?)</td>', page)[1]
    assert f'<span class="without">{words}</span>' in row
    assert quantity.said.text in row and "<strong>" not in row
    assert 'class="band"' not in page
    summary = re.search(r"<summary>.*?</summary>", page, re.S)[0]
    assert words in summary and not re.search(r"(?<![\d.])0(\.0+)? K", summary)
    assert f"1 {words}" in Read(page).text


def test_what_still_moves_shows_where_it_is_as_undecided():
    assert "not settled suction_pipe is swinging (now 3.3 K ±0.7)" in text(
        shown(assessment(returned=UNDECIDED["not settled"]))
    )


def test_what_was_never_assessed_has_no_figure():
    found = part(html(NEVER), "never")
    assert "nothing assessed yet" in found and "no reading of late" in found
    assert not re.search(r"\d K", found)


def test_a_decided_zero_is_a_number():
    found = text(shown(assessment(returned=decided(0.0, 1.7, 0.7, "suction_pipe"))))
    assert "return superheat 0.0 K -1.7 +0.7 suction_pipe" in found


@pytest.mark.parametrize(
    ("module", "said"),
    [
        ("waits", "high unacknowledged, since 25 Nov 11:30 UTC"),
        ("seen", "acknowledged by A. Fitter (on my way)"),
        ("shelved", "shelved until 25 Nov 12:01 UTC by B (part ordered)"),
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
    assert "3 of 10 modules need somebody now" in found  # waits, unfit, silent
    head = found[: found.index("Return superheat, by module")]
    named = [
        name
        for name in ("waits", "unfit", "over", "silent", "seen", "shelved", "held", "out", "new")
        if f"one/{name}" in head
    ]
    assert named == ["waits", "unfit", "silent"]
    for said in ("returned to normal unacknowledged", "latched acknowledged", "shelved", "in shadow"):
        assert f"1 {said}" in found


def test_how_to_acknowledge_is_a_line_to_type_where_it_can_be_done():
    page = html(*ALARMED_VIEWS)
    assert 'dewline ack one/waits superheat-low --by "YOUR NAME"' in part(page, "waits")
    assert 'dewline ack one/latched superheat-low --reset --by "YOUR NAME"' in part(page, "latched")
    assert "dewline ack" not in part(page, "seen")
    assert "First: See which indoor units call" in part(page, "waits")


@pytest.mark.parametrize(
    ("condition", "said"),
    [
        ("beyond_doubt", "How sure: beyond doubt."),
        ("beyond", "How sure: its condition holds, though not beyond doubt."),
        ("possible", "How sure: possible: "),
        ("unknown", "How sure: cannot be told now"),
    ],
)
def test_how_sure_an_alarm_is_now(condition, said):
    assert said in text(alarmed("m1", condition=condition))


def test_alarms_out_of_service_that_never_stood_share_a_line():
    lives = Lives({"superheat-high": Life(State(out_of_service=True), removed_by="C")}, None, NOON_US)
    assert "superheat-high: out of service by C; does not stand." in text(replace(shown(), lives=lives))


def test_modules_with_alarms_come_first_the_urgent_ahead_and_then_the_order_of_the_site():
    seen = alarmed("seen", STANDS._replace(acknowledged=True), acknowledged_by="A")
    views = [shown(path=path(name)) for name in ("z", "a")]
    page = html(*views, seen, alarmed("unfit", alarm=UNFIT), alarmed("waits"))
    assert re.findall(r'<article aria-label="one/(.*?)"', page) == ["waits", "unfit", "seen", "z", "a"]


def test_few_modules_are_opened_and_of_many_only_those_that_wait():
    several = [shown(path=path(f"m{number}")) for number in range(FEW)]
    count = len(re.findall("<details open>", html(*several)))
    assert count == FEW
    assert len(re.findall("<details open>", html(*several, alarmed("waits")))) == 1


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
    assert "As of 25 November 2025, 12:01:00 UTC" in text(shown())


def test_figures_and_times_are_in_the_units_and_the_clock_of_the_site():
    display = Display("degF", "psi", ZoneInfo("Europe/Helsinki"))
    found = text(alarmed("m1"), display=display)
    assert "return superheat 10.8 degF -3.1 +1.3" in found and "limits 3.6 to 25.2 degF" in found
    assert "return superheat 0.9 degF at suction_pipe, limit 3.6 degF" in found
    assert "saturated suction 41.7 degF ±0.7" in found
    assert "since 25 Nov 13:30 +02:00" in found and "25 November 2025, 14:01:00 +02:00" in found
    assert not re.search(r"\d K\b|degC", found)


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


@pytest.mark.parametrize(
    ("seconds", "said"),
    [(119, "119 s"), (120, "2 min"), (7200, "2 h"), (86_400, "24 h"), (172_800, "2 days")],
)
def test_age_in_words(seconds, said):
    assert age(seconds * 1_000_000) == said


def test_a_view_without_a_layout_or_a_trend_is_shown():
    assert "cooling" in text(ModuleView(path("m1"), assessment(), (), NOON_US))
