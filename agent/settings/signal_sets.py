"""What the signal sets say, checked against the layouts that modules put them to: each signal's conversion.

It opens no file; what is wrong goes to the caller with the keys that lead there.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import replace
from typing import Protocol

from agent.assess import CODE, FLAGS, MODE_SIGNAL, OUTDOOR_FAN, REVERSING_VALVE, tells_mode
from agent.piping import Layout
from agent.settings.mapping import Payload, default_point, point_problem, pointer_problem
from agent.settings.model import Settings, SignalSetSettings, SignalSettings
from agent.settings.sentences import meant
from agent.settings.signals import Conversion, known_signals, sentinels_of, word
from agent.settings.source import Where
from agent.thermo import absolute_pressure
from agent.units import UNITS, Dimension, unit_in, units_of

SEALED_AT_PA = 101_325.0  # where the config names no other sealing pressure
INSTRUMENTS = (Dimension.TEMPERATURE, Dimension.PRESSURE)
VALVE = {"shut": 0.0, "open": 1.0}
COIL_VALVE = {"evaporator": 1.0, "condenser": 0.0, "idle": 0.0}
STATES = {
    REVERSING_VALVE: ("reversing valve", {"cooling": 0.0, "heating": 1.0}),
    OUTDOOR_FAN: ("fan", {"stopped": 0.0, "running": 1.0}),
    **dict.fromkeys(FLAGS, ("flag", {"inactive": 0.0, "active": 1.0})),
}
MODE = {mode: float(code) for mode, code in CODE.items()}
KEYS_OF_EVERY_SIGNAL = {"point", "sentinels", "every_s", "max_age_s", "on_change"}
KEYS_OF_A_MEASURED = {"unit", "accuracy", "step"}


class Report(Protocol):
    """Takes one thing that is wrong: where, the sentence, and whether the key itself is meant."""

    def __call__(self, where: Where, message: str, at_key: bool = False) -> None: ...


class SignalSets:
    """The signal sets of one configuration."""

    def __init__(self, settings: Settings, wrong: Report) -> None:
        self.settings = settings
        self.wrong = wrong

    def check(self) -> None:
        """A point belongs to one signal; a value outlives the wait for the next."""
        for set_name, signals in self.settings.signal_sets.items():
            where: Where = ("signal_sets", set_name)
            self.check_ages(signals.every_s, signals.max_age_s, where)
            self.check_time(signals, where)
            owners: dict[str, str] = {}
            for name, signal in signals.signals.items():
                if signal.every_s is not None or signal.max_age_s is not None:
                    every_s, max_age_s = ages_s(signals, signal)
                    self.check_ages(every_s, max_age_s, (*where, "signals", name))
                point = signal.point or default_point(signals.payload, name)
                problem = point_problem(signals.payload, point)
                if problem is not None:
                    self.wrong((*where, "signals", name, "point"), problem)
                other = owners.setdefault(point, name)
                if other != name:
                    text = f"point {point!r} is signal {other} already; a point is one signal"
                    self.wrong((*where, "signals", name, "point"), text)

    def check_time(self, signals: SignalSetSettings, where: Where) -> None:
        if signals.time is None:
            return
        if signals.payload != "json":
            has = {"senml": "a record states its own", "scalar": "a bare value has none but its arrival"}
            text = f"the payload is {signals.payload}, where {has[signals.payload]}; leave it out"
            self.wrong((*where, "time"), text, at_key=True)
        elif (problem := pointer_problem(signals.time)) is not None:
            self.wrong((*where, "time"), problem)

    def check_ages(self, every_s: float, max_age_s: float, where: Where) -> None:
        if max_age_s < every_s:
            text = f"max_age_s {max_age_s:g} is shorter than every_s {every_s:g}: between two reports "
            self.wrong((*where, "max_age_s"), text + "the value would be missing")

    def conversions(self, set_name: str, layout: Layout, shared: bool = False) -> dict[str, Conversion]:
        """How each signal of a set becomes SI on modules of this layout.

        ``shared``: by modules of several layouts, so that this one need not have a place for each.
        """
        signals = self.settings.signal_sets[set_name]
        known = known_signals(layout, {name: signal.unit for name, signal in signals.signals.items()})
        found: dict[str, Conversion] = {}
        for name, signal in signals.signals.items():
            where: Where = ("signal_sets", set_name, "signals", name)
            if name not in known and shared:
                continue
            if name not in known:
                text = f"layout {layout.name} has no place for signal {name!r}{meant(name, known)}"
                self.wrong(where, text)
                continue
            dimension = known[name]
            if dimension is None:
                conversion = self.state(name, signal, layout, where)
            else:
                conversion = self.measured(signal, dimension, where)
            stated = signals.sentinels if signal.sentinels is None else signal.sentinels
            found[name] = replace(conversion, sentinels=sentinels_of(stated))
            self.check_words(signal, found[name], where)
        return found

    def check_needed(self, set_name: str, layout: Layout, signals: Collection[str]) -> None:
        """What a layout can judge nothing without is among a module's signals, its own or shared ones."""
        where: Where = ("signal_sets", set_name, "signals")
        nothing = f"layout {layout.name} can judge nothing"
        if layout.is_known and layout.suction_transducer not in signals:
            self.wrong(where, f"signal {layout.suction_transducer} is missing; without it {nothing}")
        if layout.is_known and MODE_SIGNAL not in signals and not tells_mode(layout, signals):
            text = f"signal {MODE_SIGNAL} is missing, and no {REVERSING_VALVE} tells it either"
            self.wrong(where, f"{text}; without one of them {nothing}")

    def state(self, name: str, signal: SignalSettings, layout: Layout, where: Where) -> Conversion:
        kind, codes = _state_of(name, layout)
        if not layout.is_known and signal.unit is not None and signal.unit not in UNITS:
            self.wrong((*where, "unit"), f"{signal.unit!r} is no unit{meant(signal.unit, UNITS)}")
            return Conversion(None)
        self.check_keys(signal, kind, {"values"}, where)
        if signal.values is None and name == MODE_SIGNAL:
            self.wrong(where, "values is missing; it says which mode each value of the point means")
        elif signal.values is None and (name in layout.coil_valves or name in STATES):
            self.wrong(where, f"values is missing; it says which of {_listed(codes)} each value means")
        if signal.values is None:
            return Conversion(None)
        for value, meaning in signal.values.items():
            if meaning not in codes:
                self.wrong((*where, "values", value), f"a {kind} is never {meaning!r}{meant(meaning, codes)}")
        return Conversion(None, words={word(v): codes.get(m, float("nan")) for v, m in signal.values.items()})

    def check_words(self, signal: SignalSettings, conversion: Conversion, where: Where) -> None:
        """A value of a state means something, or says that there is none."""
        for value, meaning in (signal.values or {}).items():
            if conversion.is_sentinel(value):
                text = f"{value!r} means {meaning} and is a sentinel too; right would be one of the two"
                self.wrong((*where, "values", value), text)

    def measured(self, signal: SignalSettings, dimension: Dimension, where: Where) -> Conversion:
        allowed = ", ".join(units_of(dimension))
        if signal.unit is None:
            self.wrong(where, f"unit is missing; right would be one of {allowed}")
        elif unit_in(signal.unit, dimension) is None:
            text = f"{signal.unit!r} is no unit of {dimension}; right would be one of {allowed}"
            self.wrong((*where, "unit"), text)
        if dimension in INSTRUMENTS and signal.accuracy is None:
            self.wrong(
                where, "accuracy is missing; state the instrument's limit of error in the signal's unit"
            )
        if dimension is not Dimension.PRESSURE:
            self.check_keys(signal, dimension, KEYS_OF_A_MEASURED, where)
            return Conversion(dimension, signal.unit)
        self.check_keys(signal, dimension, KEYS_OF_A_MEASURED | {"reference", "sealed_at_kpa"}, where)
        return Conversion(dimension, signal.unit, self.reference_pa(signal, where))

    def reference_pa(self, signal: SignalSettings, where: Where) -> float:
        """What a pressure is counted from [Pa]."""
        if signal.reference is None:
            self.wrong(where, "reference is missing; right would be absolute, gauge-vented or gauge-sealed")
            return 0.0
        if signal.reference == "gauge-vented" and self.settings.elevation_m is None:
            text = "a vented gauge needs the site's elevation; state elevation_m beside site"
            self.wrong((*where, "reference"), text)
            return 0.0
        if signal.reference != "gauge-sealed" and signal.sealed_at_kpa is not None:
            text = f"the reference is {signal.reference}; only a gauge-sealed one has sealed_at_kpa"
            self.wrong((*where, "sealed_at_kpa"), text, at_key=True)
        sealed_at_pa = signal.sealed_at_kpa * 1e3 if signal.sealed_at_kpa else SEALED_AT_PA
        return float(absolute_pressure(0.0, signal.reference, self.settings.elevation_m or 0.0, sealed_at_pa))

    def check_keys(self, signal: SignalSettings, kind: str, keys: set[str], where: Where) -> None:
        """No key may stand where it says nothing: its writer meant something."""
        for key in sorted(signal.model_fields_set - keys - KEYS_OF_EVERY_SIGNAL):
            self.wrong((*where, key), f"a {kind} has no {key}; leave it out", at_key=True)


def _state_of(name: str, layout: Layout) -> tuple[str, dict[str, float]]:
    """What kind of state a signal is, and what its values may mean."""
    if name == MODE_SIGNAL:
        return "mode", MODE
    if name in STATES:
        return STATES[name]
    if not layout.is_known:
        return "state", VALVE | COIL_VALVE
    return ("coil valve", COIL_VALVE) if name in layout.coil_valves else ("valve", VALVE)


def _listed(words: Iterable[str]) -> str:
    return ", ".join(words)


def points_of(signals: SignalSetSettings) -> dict[str, str]:
    """Point to signal."""
    return {
        signal.point or default_point(signals.payload, name): name for name, signal in signals.signals.items()
    }


def payload_of(signals: SignalSetSettings) -> Payload:
    """How the payloads are read that the signals of a set come in."""
    return Payload(signals.payload, signals.time)


def ages_s(signals: SignalSetSettings, signal: SignalSettings) -> tuple[float, float]:
    """How often a signal is reported, and how old its value may be [s]."""
    return signal.every_s or signals.every_s, signal.max_age_s or signals.max_age_s
