"""One simulated module in time: its mode, how it moves between operating points, what is true at each place.

Deterministic from its seed. It must not know of probes, units or messages; it reads no clock.
"""

from dataclasses import dataclass, replace
from math import exp, pi, sin, sqrt
from random import Random
from typing import NamedTuple

from demo_feed.cycle import CycleState, OperatingPoint, solve
from demo_feed.places import Place, places_of
from demo_feed.site import Module, outdoor_air_c
from demo_feed.story import MINUTE_S, Story

STEP_S = 15.0
STARTING_S = 180.0
SETTLES_AFTER_S = 15 * MINUTE_S
FAULT_GROWS_S = 25 * MINUTE_S
SPEED_SLEW_HZ = 1.0 * STEP_S
SLOWEST_HZ = 18.0


@dataclass(frozen=True)
class Truth:
    """What is so, whatever the probes say.

    Superheats in K against dew at the suction transducer, of the gas in balance with the operating point
    (no lag of pipe or probe); None when off.
    """

    time_us: int
    system: str
    module: str
    mode: str
    return_superheat_k: float | None
    accumulator_outlet_superheat_k: float | None
    compressor_inlet_superheat_k: float | None
    rise_k: float | None
    return_liquid: float | None  # mass share of liquid in the returning flow
    settled: bool
    fault: str  # "", "hunting" or "liquid_return"


@dataclass(frozen=True)
class Moment:
    truth: Truth
    places: dict[str, Place]  # by probe name
    suction_pa: float
    discharge_pa: float
    speeds_hz: tuple[float, ...]
    bypass_open: bool
    cycle: CycleState | None


class Goal(NamedTuple):
    """What the module makes for in its present mode; it gets there with a lag."""

    suction_c: float
    condensing_c: float
    superheat_k: float
    speed_hz: float
    oil_factor: float = 1.0
    hot_gas_share: float = 0.0
    lag_s: float = 45.0


class Wander:
    """A value that strays from zero and comes back (Ornstein-Uhlenbeck)."""

    def __init__(self, chance: Random, spread: float, memory_s: float, step_s: float = STEP_S) -> None:
        self._chance = chance
        self._keep = exp(-step_s / memory_s)
        self._kick = spread * sqrt(1.0 - self._keep**2)
        self.value = 0.0

    def step(self) -> float:
        self.value = self.value * self._keep + self._kick * self._chance.gauss(0.0, 1.0)
        return self.value


def approach(value: float, target: float, lag_s: float, step_s: float = STEP_S) -> float:
    """First-order lag over one step."""
    return target + (value - target) * exp(-step_s / lag_s)


class ModuleSimulation:
    """Call `step` once for each time, `STEP_S` apart."""

    def __init__(self, module: Module, seed: str, end_us: int) -> None:
        self._module = module
        self._end_us = end_us
        own = f"{seed}/{module.system.name}/{module.name}"
        # The modules of a circuit share its conditions: the same seed gives them the same course.
        circuit = Random(f"{seed}/{module.system.name}")
        self._demand = Wander(circuit, 0.05, 60 * MINUTE_S)
        self._load = 0.0  # relative to the usual one; follows the demand smoothly
        self._suction_wander = Wander(circuit, 0.15, 25 * MINUTE_S)
        chance = Random(own)
        self._superheat_wander = Wander(chance, 0.18, 10 * MINUTE_S)
        self._oil_wander = Wander(chance, 0.06, 120 * MINUTE_S)
        self._story = Story(module.story, own)

        self._duty = "heating" if module.system.heating else "cooling"
        self._mode = self._duty
        self._mode_since_s = self._released_s = float("-inf")
        self._released_from = ""
        self._disturbed_s = float("-inf")
        self._stages = len(module.machine.swept_m3)
        self._suction_c, self._condensing_c = module.system.suction_c, module.system.condensing_c
        self._superheat_k = module.superheat_k
        self._speeds = (module.speed_hz,) * self._stages
        self._separator_c = self._condensing_c + 28.0

    def step(self, time_us: int) -> Moment:
        time_s = (time_us - self._end_us) / 1e6
        outdoor_c = outdoor_air_c(time_us / 1e6)
        self._enter_mode(time_s)
        hunting = self._story.active("hunting", time_s)
        stages = 1 if self._story.active("single", time_s) else len(self._speeds)
        fault = self._fault_share(time_s)
        if self._mode != self._duty or hunting or stages != self._stages or 0.0 < fault < 1.0:
            self._disturbed_s = time_s
        self._stages = stages

        point = self._operating_point(time_s, outdoor_c, fault)
        if hunting:
            since = time_s - hunting.start_s
            swing = min(1.0, since / 300.0) * sin(2 * pi * since / (150.0 + 190.0 * hunting.draw))
            point = replace(
                point,
                return_superheat_k=point.return_superheat_k + 3.8 * swing,
                suction_c=point.suction_c - 0.6 * swing,
            )
        cycle = solve(self._module.machine, point) if self._mode != "off" else None
        self._warm_separator(cycle, outdoor_c)
        gas = self._module.machine.refrigerant
        return Moment(
            truth=self._truth(time_us, time_s, point, cycle, bool(hunting and cycle)),
            places=places_of(self._module, self._mode, point, cycle, outdoor_c),
            suction_pa=gas.dew_pressure(point.suction_c),
            discharge_pa=gas.dew_pressure(point.condensing_c),
            speeds_hz=point.speeds_hz,
            bypass_open=point.hot_gas_share > 0 and self._mode in ("starting", "defrost"),
            cycle=cycle,
        )

    def _enter_mode(self, time_s: float) -> None:
        scripted = next(
            (kind for kind in ("off", "defrost", "oil_recovery") if self._story.active(kind, time_s)),
            self._duty,
        )
        running = ("starting", self._duty)
        if scripted == self._duty and self._mode not in running:
            self._released_s, self._released_from = time_s, self._mode
        if scripted == self._duty and self._released_from == "off" and time_s - self._released_s < STARTING_S:
            scripted = "starting"
        if scripted != self._mode:
            self._mode, self._mode_since_s = scripted, time_s

    def _fault_share(self, time_s: float) -> float:
        begins_s = self._module.liquid_returns_from_s
        if begins_s is None:
            return 0.0
        return min(max((time_s - begins_s) / FAULT_GROWS_S, 0.0), 1.0)

    def _operating_point(self, time_s: float, outdoor_c: float, fault: float) -> OperatingPoint:
        goal = self._goal(time_s, outdoor_c)
        self._suction_c = approach(self._suction_c, goal.suction_c, goal.lag_s)
        self._condensing_c = approach(self._condensing_c, goal.condensing_c, goal.lag_s * 1.4)
        self._superheat_k = approach(self._superheat_k, goal.superheat_k, 30.0)
        self._speeds = self._slew(goal.speed_hz)
        left_over = 1.0 + 2.0 * exp(-(time_s - self._released_s) / 2400.0)  # from the last defrost or start
        # An indoor valve sticks open while the hot-gas bypass leaks, though its valve reports shut: the
        # returning gas turns wet just as hot gas begins to hide it from the late probe. So large a rise is
        # more than oil alone can make.
        return OperatingPoint(
            suction_c=self._suction_c,
            condensing_c=self._condensing_c,
            return_superheat_k=self._superheat_k * max(1.0 - 2.0 * fault, 0.0),
            return_liquid=0.045 * max(2.0 * fault - 1.0, 0.0),
            speeds_hz=self._speeds,
            separator_c=self._separator_c,
            hot_gas_share=goal.hot_gas_share + 0.285 * fault,
            accumulator_boil_off=self._module.accumulator_boil_off * left_over,
            oil_factor=max(1.0 + self._oil_wander.step(), 0.5) * goal.oil_factor,
        )

    def _goal(self, time_s: float, outdoor_c: float) -> Goal:
        system = self._module.system
        load = self._load = approach(self._load, self._demand.step(), 8 * MINUTE_S)
        normal = Goal(
            suction_c=system.suction_c + self._suction_wander.step() - 6.0 * load,
            condensing_c=system.condensing_c + 6.0 * load,
            superheat_k=self._module.superheat_k + self._superheat_wander.step(),
            speed_hz=self._module.speed_hz * (1.0 + 1.5 * load),
        )
        # The outdoor air sets the evaporator's temperature in heating, the condenser's in cooling.
        warmer_k = outdoor_c - 6.0
        if system.heating:
            normal = normal._replace(suction_c=normal.suction_c + 0.35 * warmer_k)
        else:
            normal = normal._replace(condensing_c=normal.condensing_c + 4.0 * load + 0.25 * warmer_k)

        since_s = time_s - self._mode_since_s
        if self._mode == "off":
            return normal._replace(suction_c=outdoor_c + 4.0, condensing_c=outdoor_c + 4.0, lag_s=150.0)
        if self._mode == "defrost":
            condensing_c = 6.0 + 22.0 * min(since_s / 240.0, 1.0)
            return Goal(-17.0, condensing_c, superheat_k=1.0, speed_hz=75.0, hot_gas_share=0.05)
        if self._mode == "oil_recovery":
            return Goal(
                normal.suction_c - 1.5,
                normal.condensing_c + 1.0,
                superheat_k=0.8,
                speed_hz=88.0,
                oil_factor=1.3,
            )
        return self._after_release(normal, time_s - self._released_s)

    def _after_release(self, normal: Goal, after_s: float) -> Goal:
        """Running again after a stop or a defrost: suction dips, the valve lags behind, frost grows."""
        dip_k = starved_k = frost_k = 0.0
        if self._released_from == "off":
            dip_k, starved_k = 9.0 * exp(-after_s / 80.0), 6.0 * exp(-after_s / 120.0)
        elif self._released_from == "defrost":
            dip_k, starved_k = 5.0 * exp(-after_s / 120.0), 3.0 * exp(-after_s / 150.0)
        if self._module.system.heating:
            frost_k = 1.2 * min(after_s / (70 * MINUTE_S), 1.0)
        return normal._replace(
            suction_c=normal.suction_c - dip_k - frost_k,
            superheat_k=normal.superheat_k + starved_k,
            hot_gas_share=0.08 if self._mode == "starting" else 0.0,
        )

    def _slew(self, speed_hz: float) -> tuple[float, ...]:
        if self._mode == "off":
            return (0.0,) * len(self._speeds)
        if self._stages < len(self._speeds):
            wanted: tuple[float, ...] = (min(speed_hz * 1.35, 90.0), 0.0)
        else:
            wanted = (speed_hz,) * len(self._speeds)
        reached = []
        for now, goal in zip(self._speeds, wanted, strict=True):
            if goal == 0.0:
                reached.append(0.0)
            else:
                start = max(now, SLOWEST_HZ)
                reached.append(start + min(max(goal - start, -SPEED_SLEW_HZ), SPEED_SLEW_HZ))
        return tuple(reached)

    def _warm_separator(self, cycle: CycleState | None, outdoor_c: float) -> None:
        if cycle is None:
            self._separator_c = approach(self._separator_c, outdoor_c + 6.0, 2400.0)
        else:
            hot_c = cycle.mean_discharge_c
            self._separator_c = approach(
                self._separator_c, hot_c - self._module.machine.oil_cooling * (hot_c - outdoor_c), 120.0
            )

    def _truth(
        self, time_us: int, time_s: float, point: OperatingPoint, cycle: CycleState | None, hunting: bool
    ) -> Truth:
        suction_c = point.suction_c
        return Truth(
            time_us=time_us,
            system=self._module.system.name,
            module=self._module.name,
            mode=self._mode,
            return_superheat_k=cycle.return_c - suction_c if cycle else None,
            accumulator_outlet_superheat_k=cycle.accumulator_outlet_c - suction_c if cycle else None,
            compressor_inlet_superheat_k=cycle.compressor_inlet_c - suction_c if cycle else None,
            rise_k=cycle.compressor_inlet_c - cycle.return_c if cycle else None,
            return_liquid=point.return_liquid if cycle else None,
            settled=self._mode == self._duty and time_s - self._disturbed_s >= SETTLES_AFTER_S,
            fault="liquid_return" if point.return_liquid > 0 else "hunting" if hunting else "",
        )
