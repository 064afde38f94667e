"""One module on the bench in time: mode, circuit, and what is true at each place where a probe sits.

Deterministic from its seed. It must not know of instruments, units or messages; it reads no clock.
"""

from dataclasses import dataclass, replace
from math import pi, sin
from random import Random

from demo_feed.bench.arrangements import Arrangement
from demo_feed.bench.circuit import STEP_S, Balance, Circuit, Demand
from demo_feed.bench.days import SEASONS, Days, Now
from demo_feed.bench.faults import Fault, FaultKind, Severities, severities
from demo_feed.bench.felt import Scene, liquid_leaves_c
from demo_feed.bench.shells import Shells
from demo_feed.module import Wander
from demo_feed.places import Place
from demo_feed.refrigerant import refrigerant

SETTLES_AFTER_S = 900.0
# How long hot gas is let past in settled running, and its share; design choices, no source.
BYPASS_S, BYPASS_SHARE = 2400.0, 0.10
COIL_EVAPORATES_BELOW_C = 11.0  # of outdoor air, where rooms heat and cool at once
SWEPT_M3 = {"R410A": 60e-6, "R32": 45e-6, "R407C": 78e-6, "R134a": 105e-6}


@dataclass(frozen=True)
class Unit:
    """What stands on the bench. `refrigerant` is a CoolProp name."""

    arrangement: Arrangement
    season: str = "cooling"
    refrigerant: str = "R410A"
    faults: tuple[Fault, ...] = ()
    superheat_k: float = 6.0
    locked_out: frozenset[int] = (
        frozenset()
    )  # compressors that never run: their supply is off, the heater's too
    bypass_every_s: float = 0.0  # hot gas is let past in settled running too; 0: in starts and defrosts only
    own_shells: bool = False  # each compressor warms by its own running; else all are as warm as the hottest


@dataclass(frozen=True)
class Truth:
    """What is so, whatever the instruments say. None where it stands still. K, degC; shares by mass."""

    time_us: int
    mode: str
    settled: bool
    faults: Severities  # those that act
    suction_c: float
    condensing_c: float  # dew temperature at discharge pressure
    return_superheat_k: float | None = None
    return_liquid: float | None = None
    subcooling_k: float | None = None  # as a perfect probe and transducer would show it
    rise_k: float | None = None  # of what the compressors take in over what returns
    discharge_superheat_k: tuple[float | None, ...] = ()
    opening: float | None = None
    speed_hz: float | None = None


@dataclass(frozen=True)
class Moment:
    """``states`` are what the module's own electronics say: valves, openings, speeds, currents."""

    truth: Truth
    places: dict[str, Place]
    suction_pa: float
    discharge_pa: float
    states: dict[str, float | int | str]


class Simulation:
    """Call `step` once for each time, `STEP_S` apart."""

    def __init__(self, unit: Unit, seed: str) -> None:
        self.unit, self.season = unit, SEASONS[unit.season]
        piping = unit.arrangement
        if self.season.duty not in piping.modes:
            raise ValueError(
                f"{piping.name} has no mode {self.season.duty}; it has {', '.join(piping.modes)}"
            )
        if unit.locked_out >= frozenset(range(1, piping.compressors + 1)):
            raise ValueError(f"{piping.name} has no compressor left that may run")
        self.piping = piping
        self.gas = refrigerant(unit.refrigerant)
        swept = (SWEPT_M3[unit.refrigerant],) * piping.compressors
        self.circuit = Circuit(self.gas, swept, piping.line, piping.branch, piping.injection)
        self.days = Days(self.season, seed)
        chance = Random(f"{seed}/unit")
        self._superheat_wander = Wander(chance, 0.18, 600.0, STEP_S)
        self._suction_wander = Wander(chance, 0.15, 1500.0, STEP_S)
        self._fan_wander = Wander(chance, 0.2, 120.0, STEP_S)  # about the pressure that the fan holds
        self._oil_wander = Wander(chance, 0.05, 7200.0, STEP_S)
        self._apart_k = chance.uniform(0.5, 1.5)  # between the superheats of two streams
        self._shells = Shells(piping.compressors, unit.own_shells, unit.locked_out)
        self._running = (True,) * piping.compressors
        self._disturbed_s = float("-inf")
        self._valves: dict[str, float | int | str] = {}

    def step(self, time_us: int) -> Moment:
        time_s = time_us / 1e6
        now = self.days.at(time_s, STEP_S, splits=len(self.piping.coils) > 1)
        worn = severities(self.unit.faults, time_us)
        valves = self._valve_states(now, time_s)
        running = self._compressors(now)
        if now.mode != self.season.duty or valves != self._valves or running != self._running:
            self._disturbed_s = time_s
        self._valves, self._running = valves, running
        settled = time_s - self._disturbed_s >= SETTLES_AFTER_S
        if now.mode == "off":
            return self._at_rest(time_us, now, worn)
        balance = self.circuit.step(self._demand(now, time_s, worn), worn)
        self._shells.step(balance.discharge_c, now.outdoor_c)
        return Moment(
            truth=self._truth(time_us, now, balance, worn, settled),
            places=self._scene(now, balance).places(),
            suction_pa=balance.suction_pa,
            discharge_pa=balance.discharge_pa,
            states=valves | self._machine(balance, now),
        )

    def _compressors(self, now: Now) -> tuple[bool, ...]:
        count = self.piping.compressors
        if now.mode == "off":
            return (False,) * count
        if now.mode in ("starting", "defrost", "oil_recovery") or now.together or count == 1:
            wanted = (True,) * count
        else:
            wanted = tuple(number == now.leads for number in range(count))
        may = tuple(number not in self.unit.locked_out for number in range(1, count + 1))
        running = tuple(each and able for each, able in zip(wanted, may, strict=True))
        return running if any(running) else may

    def _roles(self, now: Now) -> dict[str, str]:
        """What each coil does: evaporator, condenser."""
        coils = self.piping.coils
        if now.mode in ("defrost", "cooling", "off") or self.season.duty == "cooling":
            return dict.fromkeys(coils, "condenser")
        if self.season.duty == "heating":
            roles = dict.fromkeys(coils, "evaporator")
            if len(coils) > 1 and now.outdoor_c < 6.0 and now.since_start_s > 3600:
                turn, within_s = divmod(now.since_start_s, 45 * 60.0)
                if within_s < 360.0:
                    roles[coils[int(turn) % len(coils)]] = "condenser"
            return roles
        return dict.fromkeys(coils, "evaporator" if now.outdoor_c < COIL_EVAPORATES_BELOW_C else "condenser")

    def _valve_states(self, now: Now, time_s: float) -> dict[str, float | int | str]:
        piping = self.piping
        states: dict[str, float | int | str] = {}
        if piping.bypass_valve:
            every_s = self.unit.bypass_every_s
            passes = every_s and now.mode == self.season.duty and time_s % every_s < BYPASS_S
            states["bypass_valve"] = int(bool(passes) or now.mode in ("starting", "defrost"))
        if piping.oil_valve:
            states["oil_valve"] = int(now.mode != "off")
        if piping.bleed_valve:
            states["bleed_valve"] = int(now.mode != "off" and time_s % 7200.0 < 180.0)
        if piping.subcooler:
            states["subcooler_valve"] = int(now.mode == "cooling" and now.outdoor_c > 26.5)
        if piping.coil_valves:
            for coil, role in self._roles(now).items():
                states["coil_valve" if coil == "outdoor_coil" else f"{coil}_valve"] = role
        return states

    def _demand(self, now: Now, time_s: float, worn: Severities) -> Demand:
        circuit, rooms_c = self.circuit, self.season.rooms_c
        superheat_k = self.unit.superheat_k + self._superheat_wander.step()
        wander_k = self._suction_wander.step()
        swing_k = 0.0
        if worn[FaultKind.HUNTING]:
            swing_k = 9.0 * worn[FaultKind.HUNTING] * sin(2 * pi * time_s / 330.0)
        roles = list(self._roles(now).values())
        evaporating = roles.count("evaporator") / len(roles)
        coil_w_k = circuit.coil_w_k * evaporating * (1.0 - 0.25 * now.frost)
        coil_condensing_w_k = circuit.coil_condensing_w_k * (1.0 - evaporating)
        demand = Demand(
            evaporator_w_k=circuit.rooms_w_k * now.load,
            evaporator_air_c=rooms_c,
            condenser_w_k=circuit.coil_condensing_w_k,
            condenser_air_c=now.outdoor_c,
            valve=circuit.cooling_valve,
            running=self._running,
            superheat_k=superheat_k,
            lowest_condensing_c=28.0 + self._fan_wander.step(),
            suction_c=7.0 + wander_k - 4.0 * (now.load - 0.6),
            oil_factor=1.0 + self._oil_wander.step(),
            swing_k=swing_k,
            hot_gas_share=BYPASS_SHARE if self._valves.get("bypass_valve") else 0.0,
            bleed_share=0.004 if self._valves.get("bleed_valve") else 0.0,
            injection_at_c=None if circuit.kind_of_injection is None else 72.0,
        )
        if now.mode == "defrost":
            return replace(
                demand, evaporator_w_k=circuit.rooms_w_k * 0.25, evaporator_air_c=19.0, superheat_k=1.0,
                condenser_w_k=circuit.coil_condensing_w_k * 1.5, condenser_air_c=4.0, suction_c=None,
                speed_hz=75.0, hot_gas_share=0.05, lowest_condensing_c=None,
            )  # fmt: skip
        if self.season.duty == "heating":
            demand = replace(
                demand, evaporator_w_k=coil_w_k, evaporator_air_c=now.outdoor_c,
                condenser_w_k=circuit.rooms_condensing_w_k * now.load, condenser_air_c=rooms_c,
                valve=circuit.heating_valve, suction_c=None, condensing_c=42.0 + 2.0 * (now.load - 0.6),
                superheat_k=superheat_k - 1.5, lowest_condensing_c=None,
            )  # fmt: skip
            if evaporating < 1.0:  # half of the coil condenses: it is defrosted
                demand = replace(demand, condenser_w_k=demand.condenser_w_k * 1.15)
        elif self.season.duty == "simultaneous":
            rooms_w_k = circuit.rooms_w_k * now.load * (0.45 if evaporating else 0.75)
            giving_w_k = circuit.rooms_condensing_w_k * now.load * (0.7 if evaporating else 0.35)
            taking, giving = rooms_w_k + coil_w_k * 0.5, giving_w_k + coil_condensing_w_k * 0.4
            demand = replace(
                demand,
                evaporator_w_k=taking,
                evaporator_air_c=(rooms_w_k * 25.0 + coil_w_k * 0.5 * now.outdoor_c) / taking,
                condenser_w_k=giving,
                condenser_air_c=(giving_w_k * 22.0 + coil_condensing_w_k * 0.4 * now.outdoor_c) / giving,
                suction_c=None if evaporating else 6.0 + wander_k,
                condensing_c=42.0 if evaporating else None,
                lowest_condensing_c=None if evaporating else 38.0 + self._fan_wander.value,
            )
        if now.mode == "starting":
            return replace(demand, speed_hz=40.0, hot_gas_share=0.08)
        if now.mode == "oil_recovery":
            return replace(demand, speed_hz=85.0, superheat_k=1.0, oil_factor=1.3)
        return demand

    def _truth(self, time_us: int, now: Now, balance: Balance, worn: Severities, settled: bool) -> Truth:
        apparent_c = self.gas.dew_temperature(balance.discharge_pa)
        return Truth(
            time_us=time_us,
            mode=now.mode,
            settled=settled,
            faults={kind: severity for kind, severity in worn.items() if severity},
            suction_c=balance.suction_c,
            condensing_c=apparent_c,
            return_superheat_k=balance.return_superheat_k,
            return_liquid=balance.return_liquid,
            subcooling_k=self.gas.bubble_temperature(balance.discharge_pa)
            - liquid_leaves_c(self.gas, balance),
            rise_k=balance.inlet_c - balance.suction_c - balance.return_superheat_k,
            discharge_superheat_k=tuple(
                None if hot_c is None else hot_c - apparent_c for hot_c in balance.discharge_c
            ),
            opening=balance.opening,
            speed_hz=max(balance.speeds_hz),
        )

    def _machine(self, balance: Balance | None, now: Now) -> dict[str, float | int | str]:
        """Speeds, currents, openings, fan."""
        states: dict[str, float | int | str] = {}
        for number in range(1, self.piping.compressors + 1):
            states[f"compressor_{number}_speed"] = balance.speeds_hz[number - 1] if balance else 0.0
            current = balance.current_a[number - 1] if balance else 0.0
            heater_a = 0.0 if number in self.unit.locked_out else 0.2  # of the standing shell
            states[f"compressor_{number}_current"] = current or heater_a
        cools = self.season.duty == "cooling" or now.mode == "defrost"
        for name in self.piping.expansions:
            controls = name == "indoor_expansion" if cools else name != "indoor_expansion"
            passes = 1.0 if cools else 0.6
            states[name] = (balance.opening if controls else passes) if balance else 0.0
        if self.piping.injection:
            states["injection_valve"] = balance.injection if balance else 0.0
        stands = balance is None or now.mode == "defrost"
        states["outdoor_fan_share"] = 0.0 if balance is None or stands else balance.fan_share
        return states

    def _scene(self, now: Now, balance: Balance | None) -> Scene:
        return Scene(
            self.piping,
            self.gas,
            self.season.duty,
            now,
            self._roles(now),
            bool(self._valves.get("subcooler_valve")),
            balance,
            self._shells.now_c,
            self._apart_k,
        )

    def _at_rest(self, time_us: int, now: Now, worn: Severities) -> Moment:
        coldest_c = min(now.outdoor_c, self.season.rooms_c) - 0.3
        self.circuit.rest(now.outdoor_c, coldest_c)
        self._shells.step((None,) * self.piping.compressors, now.outdoor_c)
        air_pa = 0.5e5 * worn[FaultKind.NON_CONDENSABLES]
        discharge_pa = self.gas.dew_pressure(self.circuit.condensing_c) + air_pa
        return Moment(
            truth=Truth(
                time_us,
                "off",
                False,
                {kind: severity for kind, severity in worn.items() if severity},
                self.circuit.suction_c,
                self.gas.dew_temperature(discharge_pa),
            ),
            places=self._scene(now, None).places(),
            suction_pa=self.gas.dew_pressure(self.circuit.suction_c) + air_pa,
            discharge_pa=discharge_pa,
            states=self._valves | self._machine(None, now),
        )
