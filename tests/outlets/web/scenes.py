"""Pages of an invented site, put together by hand: every state that a module and an alarm can be in."""

from dataclasses import replace

from agent.alarms import CATALOGUE, Facts, Life, Priority, State
from agent.outlets import Lives, ModuleView, StandingAlarm, stale_alarm
from agent.outlets.shown import SI
from agent.outlets.web.cards import Shown
from agent.outlets.web.page import render_page
from agent.outlets.web.trend import KINDS, Bin, Kind, Trend
from agent.settings import ModulePath
from tests.outlets.views import ALARM, MINUTE_US, NOON_US, UNDECIDED, assessment, shown

STANDS = State(active=True, acknowledged=False)
SINCE_US = NOON_US - 30 * MINUTE_US
UNFIT = StandingAlarm(
    "probe-unfit", Priority.MEDIUM, SINCE_US, Facts("compressor_inlet is mixed: oil_return joins upstream")
)


def path(module, system="one"):
    return ModulePath("hill-house", system, module)


def life(state=STANDS, **more):
    return Life(state, SINCE_US, SINCE_US, **more)


def alarmed(module, state=STANDS, alarm=ALARM, shadow_ends_us=None, condition="beyond_doubt", **more):
    """A module on which an alarm stands, in a state."""
    of = replace(assessment(), conditions={alarm.name: condition})
    lives = Lives({alarm.name: life(state, **more)}, shadow_ends_us, NOON_US)
    return replace(shown(of, alarms=(alarm,), path=path(module)), lives=lives)


def bins(kinds):
    """A bin for each: a value of 6 K where it is decided; None for one in which nothing was assessed."""
    return {
        number: Bin(
            tuple(8 * (each is kind) for each in KINDS),
            *((6.0, 7.0) if kind is Kind.DECIDED else (None, None)),
            5.0 if kind is Kind.UNSETTLED else None,
        )
        for number, kind in enumerate(kinds)
        if kind is not None
    }


TREND_KINDS = [
    *[Kind.DECIDED] * 20,
    *[Kind.PASSING] * 5,
    *[Kind.UNSETTLED] * 5,
    *[Kind.UNDECIDED] * 15,
    *[Kind.MISSING] * 15,
    None,
    None,
    *[Kind.OFF] * 18,
    *[Kind.DECIDED] * 10,
]
TREND = Trend(NOON_US - 360 * MINUTE_US, 4 * MINUTE_US, 90, bins(TREND_KINDS))


def of(view, trend=TREND, **more):
    return Shown(view, CATALOGUE, "two-pipe-twin-late", "R-32", trend if view.assessment else None, **more)


UNDECIDED_VIEWS = [
    shown(assessment(returned=quantity), path=path(words.replace(" ", "-")))
    for words, quantity in UNDECIDED.items()
]
ALARMED_VIEWS = [
    alarmed("waits", alarm=ALARM),
    alarmed("unfit", alarm=UNFIT, condition="beyond"),
    alarmed("seen", STANDS._replace(acknowledged=True), acknowledged_by="A. Fitter", note="on my way"),
    alarmed("over", State(acknowledged=False)),
    alarmed("latched", State(latched=True)),
    alarmed(
        "shelved",
        STANDS._replace(shelved_until_us=NOON_US + MINUTE_US),
        shelved_by="B",
        shelved_why="part ordered",
    ),
    alarmed("held", STANDS._replace(suppressed=True), held_by="feed-stale"),
    alarmed("out", STANDS._replace(out_of_service=True), removed_by="C", removed_why="no gauge"),
    alarmed("new", shadow_ends_us=NOON_US + MINUTE_US),
    replace(
        shown(path=path("silent"), alarms=[stale_alarm("no reading for 12 min", SINCE_US)], newest_us=None),
        lives=Lives({"feed-stale": life()}, None, NOON_US),
    ),
]
NEVER = ModuleView(path("never"), None)
EVERYTHING = [*ALARMED_VIEWS, *UNDECIDED_VIEWS, NEVER, shown(path=path("healthy"))]


def html(*views, display=SI, now_us=NOON_US + MINUTE_US, known=None, **more):
    """``known``: what the page is given of each module beside its view."""
    return render_page("hill-house", [of(view, **(known or {})) for view in views], now_us, display, **more)
