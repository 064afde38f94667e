"""The status page: every module of a site in one HTML document, made on the server and only to be read.

No script and nothing from a network. What has no value is told in words, and no colour stands alone.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence

from agent.assess import Status
from agent.outlets.cautions import HEAD, cautions, short_caution
from agent.outlets.figures import WORDS
from agent.outlets.meaning import HOW_SOON
from agent.outlets.shown import SI, Display
from agent.outlets.templating import page
from agent.outlets.terminal.status import watch_words
from agent.outlets.web.cards import Card, Shown, cards_of, rank, urgency
from agent.outlets.web.clock import PageClock
from agent.outlets.web.judged import Sight, counted
from agent.outlets.web.told import PRIORITIES

REFRESH_S = 30
# The four reasons why a quantity has no known value.
STATES = {
    WORDS[Status.NOT_MEASURABLE]: "the module has no probe for it in this mode",
    WORDS[Status.NOT_SETTLED]: "there is a value, and it still moves too much to be relied on",
    WORDS[Status.NOT_DECIDABLE]: "not in this situation: a defrost, or readings that contradict each other",
    WORDS[Status.MISSING]: "a reading that it takes is not there",
}


def render_page(
    site: str,
    modules: Sequence[Shown],
    now_us: int,
    display: Display = SI,
    *,
    runs: bool = True,
    refresh_s: int | None = REFRESH_S,
) -> str:
    """The document. ``runs``: an agent works on the store. ``refresh_s`` None: it stays as it is."""
    views, clock = [each.view for each in modules], PageClock.at_now(display, now_us)
    cards = sorted(cards_of(modules, now_us, clock), key=urgency)
    asleep = watch_words(views, now_us, runs)
    alarmed, others = [card for card in cards if card.alarms], [card for card in cards if not card.alarms]
    groups = [("With an alarm", alarmed), ("Without an alarm", others)]
    named = [(card, alarm) for card in cards for alarm in card.open]
    refrigerants = sorted({each.refrigerant for each in modules})
    return page(
        "web",
        "page.html",
        site=site,
        made=f"{clock.at(now_us):%d %B %Y, %H:%M:%S}",
        offset=clock.told_once,
        refresh_s=refresh_s,
        asleep=asleep,
        head=f"Not known: {asleep}" if asleep else head_words(cards),
        named=sorted(named, key=lambda each: rank(each[1])),
        urgent=bool(asleep or named or any(card.judged.sight is Sight.LOST for card in cards)),
        groups=[(title, of, counted(card.judged for card in of)) for title, of in groups if of],
        counts=counted(card.judged for card in cards),
        others_standing=Counter(each.standing for card in cards for each in card.alarms if not each.is_open),
        difference_unit=display.difference_unit,
        states=STATES,
        caution=short_caution(refrigerants),
        cautions_head=HEAD,
        cautions=cautions(refrigerants),
    )


def _s(number: int) -> str:
    return "s" if number == 1 else ""


def head_words(cards: Sequence[Card]) -> str:
    """Whether anybody is needed, and what stands though somebody has taken it."""
    waiting = [[alarm.priority for alarm in card.alarms if alarm.waits] for card in cards]
    needing = Counter(min(each, key=PRIORITIES.index) for each in waiting if each)
    modules = "module" if len(cards) == 1 else "modules"
    soon = [(needing[priority], words) for priority, words in HOW_SOON.items() if priority in needing]
    words = "; ".join(
        f"{number} {when}" if n else f"{number} of {len(cards)} {modules} need{_s(number)} somebody {when}"
        for n, (number, when) in enumerate(soon)
    )
    found = Counter(alarm.priority for card in cards for alarm in card.open if alarm.taken)
    lost = sum(card.judged.sight is Sight.LOST for card in cards)
    if lost and not needing:
        words = f"No alarm waits for anybody; {lost} of {len(cards)} {modules} cannot be judged now"
    if not found:
        return words if needing or lost else "No module needs anybody now"
    taken = " and ".join(f"{found[priority]} {priority}" for priority in PRIORITIES if priority in found)
    several = found.total() > 1
    stand = f"alarm{'s stand and are' if several else ' stands and is'} taken"
    return f"{words if needing or lost else 'No module needs anybody else now'}; {taken} {stand}"
