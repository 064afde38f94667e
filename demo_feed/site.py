"""The site that the simulated gateway plays: **an invented scenario**, no real building or equipment.

Which modules there are, how each is built, what befalls it and how its gateway sends.
Times in the stories are relative to the end of the backlog, so that what starts before it still stands there.
"""

import math
from dataclasses import dataclass, replace

from demo_feed.cycle import Machine
from demo_feed.refrigerant import refrigerant
from demo_feed.story import HOUR_S, MINUTE_S, Recurring

SCENARIO = "invented"
TOPIC_PREFIX = "plant/quince-court"
ATMOSPHERE_AT_120_M_PA = 99_890.0  # US Standard Atmosphere 1976
SEALED_AT_PA = 101_325.0


@dataclass(frozen=True)
class Rounding:
    """What the gateway rounds to, in the units that it sends."""

    temperature: float
    pressure: float


@dataclass(frozen=True)
class PressureForm:
    """How a system's gateway writes a pressure: sent = (absolute Pa - reference) / scale."""

    reference_pa: float
    scale_pa: float
    unit: str | None  # None where SenML has no name for the unit: then only the configuration knows


@dataclass(frozen=True)
class System:
    name: str
    heating: bool
    suction_c: float
    condensing_c: float
    pressure: PressureForm
    mode_values: dict[str, int | str]


@dataclass(frozen=True)
class Module:
    name: str
    system: System
    late_probe: bool  # layout two-pipe-twin-late, otherwise two-pipe-single-early
    machine: Machine
    speed_hz: float
    superheat_k: float
    rounding: Rounding
    poll_s: int  # time between samples, or between looks when sending on change
    poll_offset_s: float  # the gateway asks its modules one after the other
    on_change: bool = False
    accumulator_boil_off: float = 0.0
    story: tuple[Recurring, ...] = ()
    liquid_returns_from_s: float | None = None

    @property
    def topic(self) -> str:
        return f"{TOPIC_PREFIX}/{self.system.name}/{self.name}"


NUMBERS: dict[str, int | str] = {"off": 0, "cooling": 1, "heating": 2, "defrost": 3, "oil_recovery": 4}
WORDS: dict[str, int | str] = {
    "off": "off",
    "cooling": "cool",
    "heating": "heat",
    "defrost": "defrost",
    "oil_recovery": "oil",
}


def outdoor_air_c(time_s: float) -> float:
    """A mild late November: the day's course in UTC, 2-10 degC, and a slow drift from day to day."""
    day = time_s / 86_400.0
    return 6.0 + 2.8 * math.cos(2 * math.pi * (day - 14.5 / 24)) + 0.8 * math.sin(2 * math.pi * day / 3.7)


def modules() -> tuple[Module, ...]:
    """The five modules of quince-court (invented)."""
    return (*_north(), *_south(), *_east())


def _north() -> tuple[Module, ...]:
    """Cools a computer room all day. n1 is healthy; liquid returns to n2 and its late probe hides it."""
    system = System(
        name="north",
        heating=False,
        suction_c=6.5,
        condensing_c=37.4,
        pressure=PressureForm(ATMOSPHERE_AT_120_M_PA, 1e3, None),
        mode_values=NUMBERS,
    )
    machine = Machine(
        refrigerant=refrigerant("R410A"),
        swept_m3=(62e-6, 62e-6),
        oil_flow=0.0074,
        path_loss_pa=4e3,
        best_efficiency=0.69,
        shell_loss=0.06,
        oil_cooling=0.05,
    )
    rounding = Rounding(temperature=0.1, pressure=1.0)
    # Both modules of the circuit recover their oil together.
    oil_recovery = Recurring("oil_recovery", first_s=2.4 * HOUR_S, every_s=6 * HOUR_S, lasts_s=(240, 240))
    single = Recurring("single", 5 * HOUR_S, 9 * HOUR_S, (60 * MINUTE_S, 90 * MINUTE_S), 20 * MINUTE_S)
    n1 = Module(
        name="n1",
        system=system,
        late_probe=True,
        machine=machine,
        speed_hz=54.0,
        superheat_k=6.6,
        rounding=rounding,
        poll_s=30,
        poll_offset_s=0.1,
        story=(oil_recovery, single),
    )
    n2 = replace(
        n1,
        name="n2",
        speed_hz=56.0,
        superheat_k=6.2,
        poll_offset_s=0.6,
        story=(oil_recovery,),
        liquid_returns_from_s=-5.4 * HOUR_S,
    )
    return n1, n2


def _south() -> tuple[Module, ...]:
    """Heats, healthy; the modules defrost in turn. s1 is polled seldom and rounded coarsely."""
    system = System(
        name="south",
        heating=True,
        suction_c=-1.8,
        condensing_c=43.2,
        pressure=PressureForm(0.0, 1.0, "Pa"),
        mode_values=WORDS,
    )
    machine = Machine(
        refrigerant=refrigerant("R32"),
        swept_m3=(75e-6,),
        oil_flow=0.0020,
        path_loss_pa=5e3,
        best_efficiency=0.78,
        shell_loss=0.20,
        oil_cooling=0.11,
    )
    defrost = Recurring(
        "defrost", 41 * MINUTE_S, 75 * MINUTE_S, (4 * MINUTE_S, 6 * MINUTE_S), jitter_s=4 * MINUTE_S
    )
    s1 = Module(
        name="s1",
        system=system,
        late_probe=False,
        machine=machine,
        speed_hz=60.0,
        superheat_k=5.8,
        rounding=Rounding(temperature=1.0, pressure=10e3),
        poll_s=120,
        poll_offset_s=1.1,
        accumulator_boil_off=0.0012,
        story=(defrost,),
    )
    s2 = replace(
        s1,
        name="s2",
        speed_hz=64.0,
        superheat_k=6.4,
        rounding=Rounding(temperature=0.1, pressure=1e3),
        poll_s=30,
        poll_offset_s=1.5,
        story=(replace(defrost, first_s=4 * MINUTE_S),),
    )
    return s1, s2


def _east() -> tuple[Module, ...]:
    """Cools with starts and stops; its valve hunts in some hours, never in the last one of the backlog."""
    system = System(
        name="east",
        heating=False,
        suction_c=7.0,
        condensing_c=36.0,
        pressure=PressureForm(SEALED_AT_PA, 1e5, None),
        mode_values=WORDS,
    )
    machine = Machine(
        refrigerant=refrigerant("R32"),
        swept_m3=(50e-6, 50e-6),
        oil_flow=0.0038,
        path_loss_pa=4e3,
        best_efficiency=0.70,
        shell_loss=0.08,
        oil_cooling=0.06,
    )
    e1 = Module(
        name="e1",
        system=system,
        late_probe=True,
        machine=machine,
        speed_hz=52.0,
        superheat_k=7.0,
        rounding=Rounding(temperature=0.1, pressure=0.01),
        poll_s=15,
        poll_offset_s=0.3,
        on_change=True,
        story=(
            Recurring("off", 2.6 * HOUR_S, 5 * HOUR_S, (15 * MINUTE_S, 30 * MINUTE_S), 20 * MINUTE_S),
            Recurring("hunting", 1.2 * HOUR_S, 6 * HOUR_S, (45 * MINUTE_S, 70 * MINUTE_S), 15 * MINUTE_S),
            Recurring("single", 3.5 * HOUR_S, 7 * HOUR_S, (60 * MINUTE_S, 90 * MINUTE_S), 20 * MINUTE_S),
        ),
    )
    return (e1,)
