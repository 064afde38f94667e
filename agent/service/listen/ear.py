"""Keeps what is heard, message by message, decoded with what the agent decodes with. Knows no broker."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping, Sequence
from itertools import count

from agent.assess import SECOND
from agent.intake import Message
from agent.intake.refusals import UNMAPPED
from agent.outlets.terminal.heard import HeardSite, Progress
from agent.service.listen.discovering import Discovery
from agent.service.listen.hearing import Key, Sample, Session, heard_site
from agent.service.work.decoding import ToDecode, point_map
from agent.settings import Plan

MOST_SAMPLES = 20_000  # of a signal
MOST_REFUSED = 1_000  # details of a topic
EVERY_REFUSAL = 1_000_000  # a minute: each is wanted with its cause


class Ear:
    """What was heard of a plan's signals, and of whatever nobody mapped; for one thread."""

    def __init__(self, plan: Plan) -> None:
        self.plan = plan
        self.messages = 0
        self.unsure_topics: set[str] = set()  # that were published at QoS 0
        tolerance_us = plan.settings.assess.tolerance_s * SECOND
        numbers = count()
        mapped = [
            ToDecode(
                origin,
                {name: next(numbers) for name in origin.points.values()},
                dict.fromkeys(origin.conversions, ()),
            )
            for origin in plan.origins
        ]
        self._keys = {i: (str(m.origin.path), name) for m in mapped for name, i in m.signal_ids.items()}
        self._points = point_map(mapped, 0, tolerance_us, kept_per_minute=EVERY_REFUSAL)
        self._discovery = Discovery(tolerance_us)
        self._samples: dict[Key, deque[Sample]] = {
            key: deque(maxlen=MOST_SAMPLES) for key in self._keys.values()
        }
        self._refused: dict[str, dict[str, str]] = {}  # by topic: the reason of each refusal, by its detail

    @property
    def signals(self) -> Sequence[Key]:
        """Whose it is and the name of everything mapped."""
        return list(self._samples)

    def hear(self, message: Message) -> None:
        """Takes in a message; one that cannot be used is kept with its cause."""
        self.messages += 1
        decoded = self._points.read(message)
        for reading in decoded.readings:
            sample = Sample(reading.sample_us, reading.value, reading.unit, decoded.fresh)
            self._samples[self._keys[reading.signal_id]].append(sample)
        for refusal in decoded.refusals:
            details = self._refused.setdefault(message.topic, {})
            if refusal.reason != UNMAPPED and len(details) < MOST_REFUSED:
                details[refusal.detail] = refusal.reason
        if decoded.unmapped:
            self._discovery.hear(message, decoded.unmapped)
        if message.qos == 0:
            self.unsure_topics.add(message.topic)

    def progress(self, listened_us: int) -> Progress:
        heard = sum(len(samples) > 0 for samples in self._samples.values())
        return Progress(listened_us, self.messages, heard, len(self._samples), len(self._discovery))

    def site(self, session: Session, stored: Mapping[Key, Sequence[Sample]]) -> HeardSite:
        """What was heard so far, and ``stored`` by the agent before."""
        return heard_site(
            self.plan, session, self._samples, stored, self._refused, self._discovery, self._points.offsets()
        )
