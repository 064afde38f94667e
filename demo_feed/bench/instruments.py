"""What the gateway of the bench makes of the truth: errors of instruments, their faults, and when it sends.

Deterministic from the seed. It must not know why a value is what it is.
"""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from enum import StrEnum
from random import Random

from demo_feed.bench.circuit import STEP_S
from demo_feed.bench.unit import Moment
from demo_feed.module import approach
from demo_feed.places import Place
from demo_feed.refrigerant import Refrigerant
from demo_feed.sensors import (
    FLOWING_LAG_S,
    FULL_PACK_EVERY_US,
    PRESSURE_NOISE_PA,
    STILL_LAG_S,
    TEMPERATURE_NOISE_K,
    Value,
    rounded,
)
from demo_feed.site import ATMOSPHERE_AT_120_M_PA

OPEN_READS_C, SHORT_READS_C = -49.9, 150.0  # what electronics make of a broken wire and of a bridged one


@dataclass(frozen=True)
class Instrument:
    """Limits of error by kind of instrument: K and Pa. Common practice, no source."""

    pipe_k: float = 0.5
    discharge_k: float = 1.5
    suction_pa: float = 10e3
    discharge_pa: float = 30e3

    def limit(self, name: str) -> float:
        if name.endswith("_pressure"):
            return self.suction_pa if name == "suction_pressure" else self.discharge_pa
        return self.discharge_k if name.startswith("discharge") else self.pipe_k


class SensorFaultKind(StrEnum):
    """What can go wrong with an instrument or with how it is read."""

    OPEN = "open"
    SHORT = "short"
    STOPS = "stops"  # nothing more is sent for it
    FROZEN = "frozen"
    JUMP = "jump"  # size: K or Pa
    DRIFT = "drift"  # size: K or Pa a day
    SWAPPED = "swapped"  # with `other`
    DEGF = "degF"  # Fahrenheit, where Celsius is expected
    BAR = "bar"  # bar, where kPa is expected
    GAUGE = "gauge"  # counted from the air, where absolute is expected
    LOOSE = "loose"  # a pipe probe in warm air or on a slack strap; size: share of the way to outdoor air


@dataclass(frozen=True)
class SensorFault:
    """From `begins_us` on; the default is since ever."""

    kind: SensorFaultKind
    signal: str
    size: float = 0.0
    other: str | None = None
    begins_us: int = 0


@dataclass(frozen=True)
class Supervisor:
    """A superheat that the site's own supervisor works out, from a probe and in a way that may be wrong."""

    probe: str
    bubble: bool = False  # against bubble, where dew is right
    gauge_for_absolute: bool = False


@dataclass(frozen=True)
class Renaming:
    """Other names for what is sent, from `begins_us` on: a board was swapped, or somebody named it so."""

    names: Mapping[str, str]  # by the name that it had
    begins_us: int = 0


def neutral(probes: Sequence[str], seed: str) -> Renaming:
    """t1, t2, ... in an order that tells nothing."""
    order = sorted(probes)
    Random(f"{seed}/names").shuffle(order)
    return Renaming({name: f"t{number}" for number, name in enumerate(order, start=1)})


@dataclass(frozen=True)
class Gateway:
    """How a module's values are measured, rounded and sent. Pressures go out in kPa."""

    poll_s: int = 60
    temperature_step: float = 0.1
    pressure_step_kpa: float = 1.0
    on_change: bool = False
    error_factor: float = 1.0  # of the instruments, times their limit of error
    gaps_a_day: int = 0
    gap_s: float = 900.0
    clock_jitter_s: float = 0.0  # by which a stamp may be off, to either side
    instrument: Instrument = Instrument()
    faults: tuple[SensorFault, ...] = ()
    supervisor: Supervisor | None = None
    silent: frozenset[str] = frozenset()  # signals that it does not have
    mode_words: Mapping[str, Value] | None = None  # None: the modes' own names
    renamed: tuple[Renaming, ...] = ()  # one after the other; all else here speaks of the names before


class Points:
    """All values of one module as its gateway shows them. To be asked once a step."""

    def __init__(self, gateway: Gateway, gas: Refrigerant, duty: str, seed: str) -> None:
        self._gateway, self._gas, self._duty, self._seed = gateway, gas, duty, seed
        self._chance: dict[str, Random] = {}
        self._offset: dict[str, float] = {}
        self._lag_s: dict[str, float] = {}
        self._pipe_c: dict[str, float] = {}
        self._frozen: dict[str, float] = {}
        self._sent: dict[str, Value] = {}

    def at(self, time_us: int, moment: Moment) -> dict[str, Value]:
        gateway = self._gateway
        measured = {name: self._temperature(name, place) for name, place in moment.places.items()}
        for name, pressure_pa in (
            ("suction_pressure", moment.suction_pa),
            ("discharge_pressure", moment.discharge_pa),
        ):
            self._know(name)
            noise_pa = self._chance[name].gauss(0.0, PRESSURE_NOISE_PA)
            measured[name] = pressure_pa + self._offset[name] + noise_pa
        sent = {
            name: value / 1e3 if name.endswith("_pressure") else value for name, value in measured.items()
        }
        for fault in gateway.faults:
            if time_us >= fault.begins_us:
                if fault.kind is SensorFaultKind.LOOSE:
                    air_c = moment.places["outdoor_air"].temperature_c
                    sent[fault.signal] += fault.size * (air_c - sent[fault.signal])
                else:
                    self._spoil(fault, sent, measured, time_us)
        values: dict[str, Value] = {"mode": self._mode(moment.truth.mode)}
        for name, value in sent.items():
            pressure = name.endswith("_pressure")
            values[name] = rounded(value, gateway.pressure_step_kpa if pressure else gateway.temperature_step)
        if gateway.supervisor is not None and gateway.supervisor.probe in sent:
            values["supervisor_superheat"] = rounded(self._supervised(gateway.supervisor, sent), 0.1)
        for name, state in moment.states.items():
            values[name] = rounded(state, _state_step(name)) if isinstance(state, float) else state
        values = {name: value for name, value in values.items() if name not in gateway.silent}
        for renaming in gateway.renamed:
            if time_us >= renaming.begins_us:
                values = _renamed(renaming, values)
        return values

    def to_send(self, time_us: int, values: dict[str, Value]) -> dict[str, Value]:
        """What goes out at this step: nothing between polls and in gaps; only changes where it works so."""
        gateway = self._gateway
        if time_us % (gateway.poll_s * 1_000_000) or self._in_gap(time_us):
            return {}
        if gateway.on_change and self._sent and time_us % FULL_PACK_EVERY_US:
            values = {name: value for name, value in values.items() if self._sent.get(name) != value}
        self._sent = self._sent | values
        return values

    def stamp_us(self, time_us: int) -> int:
        """What its clock says."""
        jitter_s = self._gateway.clock_jitter_s
        if not jitter_s:
            return time_us
        return time_us + round(Random(f"{self._seed}/clock/{time_us}").uniform(-jitter_s, jitter_s) * 1e6)

    def _in_gap(self, time_us: int) -> bool:
        day, within_us = divmod(time_us, 86_400_000_000)
        chance = Random(f"{self._seed}/gaps/{day}")
        starts_s = [chance.uniform(0.0, 86_400.0) for _ in range(self._gateway.gaps_a_day)]
        return any(0.0 <= within_us / 1e6 - start_s < self._gateway.gap_s for start_s in starts_s)

    def _know(self, name: str) -> None:
        if name not in self._chance:
            chance = self._chance[name] = Random(f"{self._seed}/{name}")
            limit = self._gateway.instrument.limit(name)
            self._offset[name] = chance.uniform(-limit, limit) * self._gateway.error_factor
            self._lag_s[name] = FLOWING_LAG_S.get(name, 45.0) * chance.uniform(0.85, 1.2)

    def _temperature(self, name: str, place: Place) -> float:
        self._know(name)
        lag_s = self._lag_s[name] if place.flowing else STILL_LAG_S
        before_c = self._pipe_c.get(name, place.temperature_c)
        self._pipe_c[name] = approach(before_c, place.temperature_c, lag_s, STEP_S)
        return self._pipe_c[name] + self._offset[name] + self._chance[name].gauss(0.0, TEMPERATURE_NOISE_K)

    def _spoil(
        self, fault: SensorFault, sent: dict[str, float], measured: dict[str, float], time_us: int
    ) -> None:
        name, kind = fault.signal, fault.kind
        size = fault.size / 1e3 if name.endswith("_pressure") else fault.size
        days = (time_us - fault.begins_us) / 86_400e6
        if kind is SensorFaultKind.STOPS:
            sent.pop(name, None)
        elif kind is SensorFaultKind.SWAPPED and fault.other is not None:
            sent[name], sent[fault.other] = sent[fault.other], sent[name]
        elif kind is SensorFaultKind.FROZEN:
            sent[name] = self._frozen.setdefault(name, sent[name])
        elif kind is SensorFaultKind.GAUGE:
            sent[name] -= ATMOSPHERE_AT_120_M_PA / 1e3
        else:
            sent[name] = {
                SensorFaultKind.OPEN: OPEN_READS_C,
                SensorFaultKind.SHORT: SHORT_READS_C,
                SensorFaultKind.JUMP: sent[name] + size,
                SensorFaultKind.DRIFT: sent[name] + size * days,
                SensorFaultKind.DEGF: measured[name] * 1.8 + 32.0,
                SensorFaultKind.BAR: measured[name] / 1e5,
            }[kind]

    def _supervised(self, supervisor: Supervisor, sent: Mapping[str, float]) -> float:
        pressure_pa = sent["suction_pressure"] * 1e3
        if supervisor.gauge_for_absolute:
            pressure_pa -= ATMOSPHERE_AT_120_M_PA
        pressure_pa = max(pressure_pa, 1e4)
        gas = self._gas
        saturated = gas.bubble_temperature if supervisor.bubble else gas.dew_temperature
        return sent[supervisor.probe] - saturated(pressure_pa)

    def _mode(self, mode: str) -> Value:
        told = self._duty if mode == "starting" else mode  # the equipment does not tell a start from its duty
        words = self._gateway.mode_words
        return told if words is None else words[told]


def _renamed(renaming: Renaming, values: Mapping[str, Value]) -> dict[str, Value]:
    found = {renaming.names.get(name, name): value for name, value in values.items()}
    if len(found) < len(values):
        raise ValueError(f"two signals under one name: {dict(renaming.names)}")
    return found


def _state_step(name: str) -> float:
    if name.endswith("_speed"):
        return 1.0
    return 0.1 if name.endswith("_current") else 0.01
