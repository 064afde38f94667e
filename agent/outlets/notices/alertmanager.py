"""The one door to Alertmanager: what stands, as its API (version 2) takes it, and the way there.

Alertmanager holds an alert until its `endsAt` and forgets all of them when it starts anew; so all that stands
is posted again and again, each time to end a while later. Must not know where what stands is kept.
"""

from __future__ import annotations

import logging
import ssl
from calendar import timegm
from collections.abc import Iterable, Iterator, Mapping
from datetime import UTC, datetime
from email.utils import parsedate
from typing import Any, NamedTuple, Self

from agent.alarms import CATALOGUE
from agent.outlets.alarm_words import acknowledged_words, found_words
from agent.outlets.cautions import cautions
from agent.outlets.meaning import plainly, to_stop, urgency
from agent.outlets.notices.compose import Ways
from agent.outlets.shown import SI, Display
from agent.outlets.view import ModuleView, StandingAlarm

ANSWER_S = 10.0  # how long an answer is waited for; design choice, no source
SAME_US = 2_000_000  # by which clocks may differ and count as one: an answer tells its time to the second
PRIORITY = "priority"  # the last of the labels
Labels = tuple[tuple[str, str], ...]  # what tells one alert from another


class Alert(NamedTuple):
    """An alarm that stands, as Alertmanager knows it."""

    labels: Labels
    annotations: Mapping[str, str]
    starts_us: int  # when it became known: one that starts longer ago than its `group_wait` is told alone


def alert(
    view: ModuleView, alarm: StandingAlarm, refrigerant: str, ways: Ways | None, display: Display = SI
) -> Alert:
    """An alarm of a module, with what people need to know in its annotations."""
    entry, life = CATALOGUE[alarm.name], view.lives.of.get(alarm.name)
    meaning, sure = plainly(entry, alarm.priority, alarm.facts, view.assessment)
    since_us = alarm.since_us if alarm.since_us is not None else view.lives.at_us
    said = [
        f"{display.words(sure)}.",
        *filter(None, (urgency(alarm.priority), to_stop(entry, alarm.priority))),
        f"Began {display.when(since_us)}.",
        f"Found: {found_words(alarm, view, display)}.",
        f"First: {display.words(entry.first_response)}",
    ]
    annotations = {
        "summary": f"{meaning[:1].upper()}{meaning[1:]} at {view.path}.",
        "description": "\n".join(said),
        "cautions": "\n".join(cautions([refrigerant])),
    }
    if life is not None and life.acknowledged_by:
        annotations["acknowledged"] = acknowledged_words(life, display)
    else:
        annotations["acknowledge"] = f"dewline ack {view.path.local} {alarm.name} --by NAME"
        if ways is not None:
            annotations["acknowledge_link"] = ways.link
    labels = {"alertname": alarm.name, **view.path._asdict(), PRIORITY: str(alarm.priority)}
    known_us = life.known_us if life is not None and life.known_us is not None else since_us
    return Alert(tuple(labels.items()), annotations, min(known_us, view.lives.at_us))


def standing(views: Iterable[ModuleView]) -> Iterator[tuple[ModuleView, StandingAlarm]]:
    """The alarms that people hear of: not shelved, held back, out of service or in shadow."""
    for view in views:
        yield from ((view, alarm) for alarm in view.alarms if view.lives.is_told(alarm.name))


def message(
    alerts: Iterable[Alert], ended: Iterable[Alert], now_us: int, holds_us: int, ahead_us: int = 0
) -> list[dict[str, Any]]:
    """What is posted: what stands, for so long unless it is posted again, and what has ended now.

    ``ahead_us``: by how much the receiver's clock is ahead of ours. It judges by its own: what ends there a
    moment later than now would stand for as long as was said before.
    """
    now_us += ahead_us
    posted = [(each, now_us + holds_us) for each in alerts]
    posted += [(each, now_us - 2 * SAME_US) for each in ended]
    return [
        {
            "labels": dict(each.labels),
            "annotations": dict(each.annotations),
            "startsAt": _time(min(each.starts_us + ahead_us, ends_us)),
            "endsAt": _time(ends_us),
        }
        for each, ends_us in posted
    ]


class Answer(NamedTuple):
    """What comes of a post."""

    error: str | None  # None: it was accepted
    date_us: int | None = None  # the time there, to the second; None: it did not tell


class Alertmanager:
    """The way to one Alertmanager. What goes wrong is told without its address, its user or a secret."""

    def __init__(
        self,
        url: str,
        *,
        user: tuple[str, str] | None = None,
        bearer: str | None = None,
        tls: ssl.SSLContext | None = None,
    ) -> None:
        # Here alone: importing it takes a while, and most commands post nothing.
        import httpx

        logging.getLogger("httpx").setLevel(logging.WARNING)  # below, it logs each address
        self._url = f"{url}/api/v2/alerts"
        self._errors = (httpx.HTTPError, httpx.InvalidURL)
        # Without what the environment says of proxies: alarms go where the configuration says.
        self._client = httpx.Client(
            auth=user,
            headers={"Authorization": f"Bearer {bearer}"} if bearer is not None else {},
            verify=tls if tls is not None else ssl.create_default_context(),
            timeout=ANSWER_S,
            trust_env=False,
        )

    def __enter__(self) -> Self:
        return self

    def __exit__(self, *_: object) -> None:
        self._client.close()

    def post(self, posted: list[dict[str, Any]]) -> Answer:
        """Post and wait for the answer."""
        try:
            answer = self._client.post(self._url, json=posted)
        except self._errors as error:
            return Answer(f"failed with {type(error).__name__}")
        if not answer.is_success:
            return Answer(f"answered {answer.status_code}")
        date = parsedate(answer.headers.get("Date", ""))  # RFC 9110, 6.6.1: to the second, always GMT
        return Answer(None, None if date is None else timegm(date) * 1_000_000)


def _time(time_us: int) -> str:
    """After RFC 3339, in UTC."""
    seconds, rest = divmod(time_us, 1_000_000)
    return f"{datetime.fromtimestamp(seconds, UTC):%Y-%m-%dT%H:%M:%S}.{rest:06d}Z"
