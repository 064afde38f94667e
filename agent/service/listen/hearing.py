"""From the samples of a listening to what is shown of it: the state of each signal, and what looks wrong.

Knows no broker and reads no clock.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import replace
from itertools import groupby
from typing import NamedTuple

import numpy as np

from agent.assess import (
    MODE_SIGNAL,
    MODES,
    SECOND,
    Findings,
    Signal,
    Taken,
    findings,
    period_us,
    smallest_step,
)
from agent.intake.refusals import RETAINED_WITHOUT_TIME
from agent.outlets.terminal.heard import Heard, HeardModule, HeardSignal, HeardSite, Unmapped
from agent.service.listen.discovering import Discovery, Record
from agent.settings import Address, Conversion, ModulePlan, Plan, likely_signal, likely_topic, take
from agent.settings.signal_sets import STATES

GRID_US = 30 * SECOND
LONGEST_GRID = 241  # two hours
LIKE_A_MODULE = 3  # names of signals on one topic
MOST_SHOWN = 300  # unmapped records


class Sample(NamedTuple):
    """A reading of a signal as it was received."""

    time_us: int
    value: float | int | str
    unit: str | None
    fresh: bool  # not retained


class Session(NamedTuple):
    """When and where was listened."""

    broker: str
    began_us: int
    now_us: int
    messages: int
    filters: tuple[str, ...]
    from_store_us: int | None
    notes: tuple[str, ...]

    @property
    def listened_us(self) -> int:
        return self.now_us - self.began_us


Key = tuple[str, str]  # module path and signal
Refused = Mapping[str, Mapping[str, str]]  # by topic: the reason of each refusal, by its detail


def heard_site(
    plan: Plan,
    session: Session,
    heard: Mapping[Key, Sequence[Sample]],
    stored: Mapping[Key, Sequence[Sample]],
    refused: Refused,
    discovery: Discovery,
    clocks: Mapping[str, int],
) -> HeardSite:
    """``clocks``: how far each topic's source is behind, in us."""
    addresses = {
        (str(origin.path), name): address
        for origin in plan.origins
        for address, name in origin.addresses.items()
    }
    topics = topics_of(plan)
    modules = tuple(
        _Module(module, addresses, session, heard, stored, refused).heard(clocks.get(module.topic))
        for module in plan.modules
    )
    arriving = {
        (str(module.path), signal.name)
        for module in modules
        for signal in module.in_state(Heard.ARRIVING, Heard.OLD)
    }
    silent = {each.topic for each in modules} - {
        each.topic for each in modules if any(s.count for s in each.signals)
    }
    records = sorted(discovery.records(), key=lambda each: (each.topic, each.name))
    return HeardSite(
        broker=session.broker,
        listened_us=session.listened_us,
        from_store_us=session.from_store_us,
        messages=session.messages,
        filters=session.filters,
        modules=modules,
        unmapped=tuple(_unmapped(each, plan, topics, arriving, silent) for each in records[:MOST_SHOWN]),
        more_unmapped=len(records[MOST_SHOWN:]) + discovery.dropped,
        notes=(*_unconfigured(plan, topics, records), *session.notes),
    )


class _Module:
    """One module's samples: those that were heard, and those that the agent has stored."""

    def __init__(
        self,
        module: ModulePlan,
        addresses: Mapping[Key, Address],
        session: Session,
        heard: Mapping[Key, Sequence[Sample]],
        stored: Mapping[Key, Sequence[Sample]],
        refused: Refused,
    ) -> None:
        keys = {name: (str(module.owners[name]), name) for name in module.conversions}
        self.module = module
        self.session = session
        self.live = {name: heard.get(key, ()) for name, key in keys.items()}
        self.kept = {name: stored.get(key, ()) for name, key in keys.items()}
        self.addresses = {name: addresses[key] for name, key in keys.items()}
        of_signals = tuple(f"{point}: " for topic, point in self.addresses.values() if topic == module.topic)
        self.refused = refused
        self.other_refused = [
            f"{why}: {said}"
            for said, why in refused.get(module.topic, {}).items()
            if not said.startswith(of_signals)
        ]

    def heard(self, clock_us: int | None) -> HeardModule:
        found = {n: _take(self.module.conversions[n], [*self.kept[n], *self.live[n]]) for n in self.live}
        taken = {name: each for name, each in found.items() if each is not None}
        return HeardModule(
            path=self.module.path,
            topic=self.module.topic,
            layout=self.module.module.layout.name,
            refrigerant=self.module.module.refrigerant,
            signals=tuple(self._signal(name, taken.get(name)) for name in found),
            findings=self._findings(taken),
            refused=tuple(self.other_refused),
            clock_behind_us=clock_us,
        )

    def _findings(self, taken: Mapping[str, Taken]) -> Findings:
        if not taken:
            return Findings((), ())
        newest_us = max(int(each.time_us[-1]) for each in taken.values())
        oldest_us = min(int(each.time_us[0]) for each in taken.values())
        # On the gateway's clock, so that one that is off does not leave the frames empty.
        longest_us = max(self.session.listened_us, self.session.from_store_us or 0)
        points = min(min(newest_us - oldest_us, longest_us) // GRID_US + 1, LONGEST_GRID)
        return findings(self.module.module, newest_us - GRID_US * np.arange(points - 1, -1, -1), taken)

    def _signal(self, name: str, taken: Taken | None) -> HeardSignal:
        signal, conversion = self.module.module.signals[name], self.module.conversions[name]
        state, detail = self._state(name, signal)
        found = HeardSignal(
            name=name,
            point=_point(self.module.topic, *self.addresses[name]),
            state=state,
            detail=detail,
            dimension=conversion.dimension or "",
            every_us=signal.interval_us,
            max_age_us=signal.max_age_us,
            on_change=signal.on_change,
            step=signal.step,
            accuracy=signal.half_width,
        )
        if taken is None:
            return found
        value = float(taken.value[-1])
        return replace(
            found,
            count=len(self.live[name]),
            raw=taken.raw[-1],
            unit=taken.unit,
            value=value if value == value else None,
            meaning=_meaning(self.module, name, value),
            age_us=self.session.now_us - int(taken.time_us[-1]),
            period_us=period_us(taken),
            step_seen=smallest_step(taken.value) if conversion.dimension else None,
        )

    def _state(self, name: str, signal: Signal) -> tuple[Heard, str]:
        """Whether a signal arrives, and if not, why."""
        samples = [*self.live[name], *self.kept[name]]
        if any(sample.fresh for sample in samples):
            if self.session.now_us - max(each.time_us for each in samples) <= signal.max_age_us:
                return Heard.ARRIVING, ""
            return Heard.OLD, f"it comes with values older than max_age_s {_seconds(signal.max_age_us)}"
        topic, point = self.addresses[name]
        start = f"{point}: "
        for said, why in self.refused.get(topic, {}).items():
            if said.startswith(start):
                state = Heard.RETAINED if why == RETAINED_WITHOUT_TIME else Heard.REFUSED
                return state, f"{why}: {said.removeprefix(start)}"
        if samples:
            return Heard.RETAINED, "the broker kept it from before, and nothing new came"
        if self.other_refused and not any(self.live.values()):
            return Heard.REFUSED, f"its topic comes and cannot be read, {self.other_refused[0]}"
        patience_us = signal.max_age_us if signal.on_change else 2 * signal.interval_us
        if self.session.listened_us < patience_us:
            habit = "sent on change" if signal.on_change else f"every {_seconds(signal.interval_us)} s"
            return Heard.NOT_DUE, f"{habit}, so that silence says something after {_seconds(patience_us)} s"
        return Heard.SILENT, "never heard"


def _point(module_topic: str, topic: str, point: str) -> str:
    """Where a signal comes in, as short as it is clear beside the module's topic."""
    if topic == module_topic:
        return point
    return f"{topic} {point}".rstrip().removeprefix(f"{module_topic}/")


def topics_of(plan: Plan) -> set[str]:
    """Every topic that something is mapped on."""
    return {topic for origin in plan.origins for topic, _ in origin.addresses}


def _take(conversion: Conversion, samples: Iterable[Sample]) -> Taken | None:
    """The samples in time order, each time once."""
    rows = sorted({sample.time_us: sample for sample in samples}.values(), key=lambda each: each.time_us)
    if not rows:
        return None
    times, values, units, _ = zip(*rows, strict=True)
    return take(conversion, np.array(times, np.int64), values, units)


def _meaning(module: ModulePlan, name: str, value: float) -> str | None:
    """What a state's value stands for, in the words of the configuration."""
    if module.conversions[name].dimension is not None or value != value:
        return None
    if name == MODE_SIGNAL:
        return MODES[int(value)]
    for meaning, code in STATES[name][1].items() if name in STATES else ():
        if code == value:
            return meaning
    inlet_valves = {inlet.valve for inlet in module.module.layout.inlets.values()}
    if name in inlet_valves and value in (0.0, 1.0):
        return "open" if value else "shut"
    return f"{value:g}"


def _unmapped(
    record: Record,
    plan: Plan,
    topics: Collection[str],
    arriving: Collection[Key],
    silent_topics: Collection[str],
) -> Unmapped:
    likely = likely_signal(
        record.topic, record.name, record.unit, isinstance(record.value, str), plan.modules, arriving
    )
    if record.topic not in topics and (close := likely_topic(record.topic, silent_topics)):
        likely = f"the topic is like {close}, which is mapped and silent"
    return Unmapped(likely=likely, **vars(record))


def _unconfigured(plan: Plan, topics: Collection[str], records: Sequence[Record]) -> Iterator[str]:
    """Topics that read like those of modules."""
    signals = {name for module in plan.modules for name in (*module.conversions, *module.points)}
    for topic, found in groupby(records, lambda each: each.topic):
        names = {each.name for each in found} & signals
        if topic not in topics and len(names) >= LIKE_A_MODULE:
            yield f"{topic} has {len(names)} records named like signals: a module that is not configured?"


def _seconds(microseconds: int) -> int:
    return microseconds // SECOND
