"""A scenario: what runs on the bench for how many days, what befalls it, and what is right to say of it."""

from collections.abc import Mapping
from dataclasses import dataclass

from demo_feed.bench import Fault, FaultKind, Gateway, Supervisor, Unit

HOUR_US, DAY_US = 3_600_000_000, 86_400_000_000
START_US = 1_762_128_000_000_000  # 2025-11-03 00:00 UTC
HEALTHY_DAYS = 3  # ahead of a fault: the module learns what is usual for it
BEGINS_US = START_US + HEALTHY_DAYS * DAY_US + 8 * HOUR_US

PROCESS = frozenset({
    "superheat-low", "superheat-high", "superheat-hunting", "discharge-superheat-low",
    "discharge-temperature-high", "subcooling-low", "subcooling-high", "oil-return-absent",
    "oil-return-excess",
})  # fmt: skip
INSTRUMENT = frozenset({"probe-failed", "probe-drift", "feed-stale", "watch-blind"})
KNOWLEDGE = frozenset({"probe-unfit", "layout-doubt"})


def class_of(alarm: str) -> str:
    """What an alarm speaks of; one that nobody has sorted counts as of the process."""
    return "instrument" if alarm in INSTRUMENT else "knowledge" if alarm in KNOWLEDGE else "process"


@dataclass(frozen=True)
class Scenario:
    """``right``: alarms of which at least one must come. ``acceptable``: those that also follow from it.

    Empty ``right``: nothing is wrong, or no instrument or alarm can tell (``why`` says which); then silence
    is right. ``causes``: those that should lead the list of likely causes, where one is given.
    """

    name: str
    unit: Unit
    gateway: Gateway = Gateway()
    days: int = HEALTHY_DAYS + 2
    begins_us: int | None = None  # None: healthy
    right: frozenset[str] = frozenset()
    acceptable: frozenset[str] = frozenset()
    causes: tuple[str, ...] = ()
    why: str = ""
    seed: str = "a"
    configured_probe: str | None = None

    @property
    def end_us(self) -> int:
        return START_US + self.days * DAY_US

    @property
    def truth(self) -> str:
        """In a few words."""
        words = [f"{fault.kind} {fault.severity:g}" for fault in self.unit.faults]
        words += [f"{fault.signal} {fault.kind}" for fault in self.gateway.faults]
        if isinstance(self.gateway.supervisor, Supervisor) and self.begins_us is not None:
            words.append(f"supervisor takes {self.gateway.supervisor.probe}")
        if self.configured_probe:
            words.append(f"site takes {self.configured_probe}")
        return ", ".join(words) or "healthy"


# What the bench calls a fault, and the product.
CAUSES = {
    "liquid-line restriction": "liquid_line_restricted",
    "liquid_restriction": "liquid_line_restricted",
    "valve stuck open": "expansion_valve_stuck_open",
    "valve_stuck_open": "expansion_valve_stuck_open",
    "undercharge": "short_of_charge",
    "non-condensables": "non_condensable_gas",
    "non_condensables": "non_condensable_gas",
    "compressor leaking": "compressor",
    "compressor_leaking": "compressor",
    "compressor valves leaking": "compressor",
    "bypass leaking": "hot_gas_into_suction",
    "bypass_leaking": "hot_gas_into_suction",
    "hidden_liquid": "expansion_valve_stuck_open",
}


@dataclass(frozen=True)
class Found:
    """An occurrence of an alarm, as the journal tells it."""

    alarm: str
    raised_us: int


@dataclass(frozen=True)
class Result:
    """What came of a scenario."""

    scenario: Scenario
    found: tuple[Found, ...]
    refused: Mapping[str, int]  # readings by reason
    unknown_signals: tuple[str, ...]  # that the agent has no name for (yet)
    took_s: float
    broke: str = ""
    likely: str | None = None  # the likely cause that is named at the end; None: cannot tell

    @property
    def delay_minutes(self) -> float | None:
        """From the beginning of the fault to the first right alarm."""
        begins_us = self.scenario.begins_us
        times = [
            each.raised_us - begins_us
            for each in self.found
            if begins_us is not None and each.alarm in self.scenario.right and each.raised_us >= begins_us
        ]
        return min(times) / 60e6 if times else None

    @property
    def false(self) -> tuple[Found, ...]:
        """Alarms that nothing justifies: of a healthy module, ahead of the fault, or of something else."""
        scenario = self.scenario
        justified = scenario.right | scenario.acceptable
        begins_us = scenario.end_us if scenario.begins_us is None else scenario.begins_us
        return tuple(f for f in self.found if f.alarm not in justified or f.raised_us < begins_us)

    def false_of(self, kind: str) -> int:
        return sum(1 for each in self.false if class_of(each.alarm) == kind)

    @property
    def named(self) -> str:
        """Whether the likely cause that is named at the end is the right one."""
        if self.likely is None:
            return "cannot tell"
        right = [CAUSES.get(word, word.replace(" ", "_")) for word in self.scenario.causes]
        return "right" if any(self.likely.startswith(word) for word in right) else f"wrong: {self.likely}"

    @property
    def verdict(self) -> str:
        """The fault's own; false alarms are counted beside it."""
        if self.broke:
            return "BROKE"
        if self.scenario.begins_us is None:
            return "false" if self.false_of("process") else "quiet"
        if self.scenario.right:
            return "detected" if self.delay_minutes is not None else "missed"
        return "false" if self.false_of("process") else "cannot tell"


def fault(kind: str, severity: float, grows_s: float = 2 * 3600.0) -> Fault:
    """One that begins after the healthy days."""
    return Fault(FaultKind(kind), severity, BEGINS_US, grows_s)
