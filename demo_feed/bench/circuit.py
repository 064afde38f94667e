"""One refrigerant circuit in balance with its air, a step of time after the other.

Evaporator, expansion valve, compressors and condenser each by an equation of their own, on `Refrigerant`
states; a controller holds superheat with the valve, and suction or condensing with the speed, as far as they
reach. So a fault shows where the balance puts it. Sizes, and effects of severity, are design choices, no
source.
It must not know of modes, days or instruments.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import exp, log, sqrt

from demo_feed.bench.arrangements import HOT_GAS
from demo_feed.bench.compression import Discharges, Stage
from demo_feed.bench.faults import FaultKind, Severities
from demo_feed.bench.suction import Accumulator, Joining, Stream, follow
from demo_feed.refrigerant import Refrigerant

STEP_S = 30.0
DRY_SHARE = 0.35  # conductance of the dry end of an evaporator, against its wet part
FLOODED_PER_K = 0.016  # share of the condenser that the liquid for a kelvin of subcooling floods
USUAL_SUBCOOLING_K = 7.0
SHORT_K, FULL_K = 14.0, 24.0  # of subcooling that undercharge and overcharge of severity 1 take and give
SHIFT_K = 15.0  # of subcooling from refrigerant that an evaporator holds less of
FLASH_PER_K = 0.065  # quality at the valve for each kelvin that subcooling is short of zero
STUCK_LIQUID = (
    0.10  # share of the flow that returns as liquid, less what the other rooms' superheat boils off
)
LEAKED_SHARE = 0.285  # of the suction flow through a bypass that leaks with severity 1
AIR_PA = 2.5e5  # partial pressure of non-condensables of severity 1
SLOWEST_HZ, FASTEST_HZ = 18.0, 115.0
GUARDED_C = 98.0  # of discharge, above which the machine slows down
SHELL_S = 150.0  # in which a compressor's iron follows its gas
OIL_SHARE = 0.02  # oil through its return, of the usual flow, at the usual pressure difference
OIL_DIFFERENCE_PA = 1.5e6
LOSS_PA = 4e3  # from the rooms' probe to the transducer, at the usual flow
SUPPLY_V = 400.0  # three phases; power factor and standing current invented like the rest
POWER_FACTOR, STANDING_A = 0.88, 0.6


@dataclass(frozen=True)
class Demand:
    """What is asked of the circuit in this step. Conductances in W/K."""

    evaporator_w_k: float
    evaporator_air_c: float
    condenser_w_k: float
    condenser_air_c: float
    valve: float  # its size: flow over opening and root of density times pressure difference
    running: tuple[bool, ...]
    superheat_k: float = 6.0
    suction_c: float | None = None  # what the speed holds; None: not this
    condensing_c: float | None = None
    speed_hz: float | None = None  # the speed is given
    opening: float | None = None  # the valve is given
    lowest_condensing_c: float | None = None  # at which the outdoor fan slows down; None: it does not
    hot_gas_share: float = 0.0  # through a bypass that is open
    bleed_share: float = 0.0
    oil_factor: float = 1.0
    swing_k: float = 0.0  # of the superheat, by whatever unsettles it
    injection_at_c: float | None = None  # discharge temperature from which the controller injects


@dataclass(frozen=True)
class Balance:
    """The circuit after a step. Superheats against dew at the transducer; degC, K, Pa absolute, kg/s, W."""

    suction_c: float
    condensing_c: float
    suction_pa: float
    discharge_pa: float
    return_superheat_k: float
    return_liquid: float  # mass share
    loss_k: float  # by which saturation at the return is higher than at the transducer
    subcooling_k: float  # of the condensed refrigerant against its own bubble temperature
    flash: float  # quality at the expansion valve
    opening: float
    speeds_hz: tuple[float, ...]
    flow: float
    places: dict[str, float]  # suction probes of the common line and the branches
    inlet_c: float  # what the compressors take in
    discharge_c: tuple[float | None, ...]
    power_w: tuple[float, ...]
    current_a: tuple[float, ...]
    injection: float  # what its valve is told, 0..1
    fan_share: float


class Circuit:
    """Sized for an invented duty by its refrigerant and what its compressors sweep per revolution."""

    def __init__(
        self,
        gas: Refrigerant,
        swept_m3: Sequence[float],
        line: Sequence[str],
        branch: Sequence[str] = (),
        injection: str | None = None,
        best_efficiency: float = 0.74,
    ) -> None:
        self.gas, self.swept_m3, self.line, self.branch = gas, tuple(swept_m3), tuple(line), tuple(branch)
        self.kind_of_injection, self.best_efficiency = injection, best_efficiency
        self._size()
        self.accumulator = Accumulator()
        self.suction_c, self.condensing_c = 7.0, 40.0
        self.above_saturated = gas.vapour_enthalpy(7.0, 6.0) - gas.vapour_enthalpy(7.0, 0.0)
        self.speed_hz, self.opening, self.subcooling_raw = 45.0, 0.5, USUAL_SUBCOOLING_K
        self.separator_c, self.inlet_k, self.injection = 65.0, 8.0, 0.0
        self.hot_c: list[float | None] = [None] * len(self.swept_m3)

    def _size(self) -> None:
        """Cooling 7/45 degC, rooms at 27 and air at 33; heating -4/42 degC, air at 4 and rooms at 21."""
        cooling = self._duty(7.0, 45.0, 27.0, 6.0, 58.0)
        heating = self._duty(-4.0, 42.0, 4.0, 4.0, 70.0)
        flooded = 1.0 - FLOODED_PER_K * USUAL_SUBCOOLING_K
        self.usual_flow, self.rooms_w_k, rejected, self.cooling_valve = cooling
        self.coil_condensing_w_k = rejected / 12.0 / flooded
        _, self.coil_w_k, given, self.heating_valve = heating
        self.rooms_condensing_w_k = given / 21.0 / flooded

    def _duty(
        self, suction_c: float, condensing_c: float, air_c: float, superheat_k: float, speed_hz: float
    ) -> tuple[float, float, float, float]:
        """Flow, conductance of the evaporator, heat to reject, and the valve that is half open there."""
        gas = self.gas
        flow = gas.vapour_density(suction_c, superheat_k) * 0.95 * sum(self.swept_m3) * speed_hz
        arriving = gas.liquid_enthalpy(condensing_c - USUAL_SUBCOOLING_K)
        share = self._wet_share(suction_c, air_c, superheat_k, arriving)
        saturated = gas.vapour_enthalpy(suction_c, 0.0)
        conductance = flow * (saturated - arriving) / (share * (air_c - suction_c))
        leaving = gas.vapour_enthalpy(suction_c, superheat_k)
        work = (gas.isentropic_enthalpy(suction_c, leaving, condensing_c) - leaving) / self.best_efficiency
        fall_pa = gas.dew_pressure(condensing_c) - gas.dew_pressure(suction_c)
        density = gas.liquid_density(condensing_c - USUAL_SUBCOOLING_K)
        valve = flow / (0.5 * sqrt(2.0 * density * fall_pa))
        return flow, conductance, flow * (leaving + work - arriving), valve

    def _wet_share(self, suction_c: float, air_c: float, superheat_k: float, arriving: float) -> float:
        """How much of an evaporator is wet where it superheats by so much."""
        gas, apart_k = self.gas, max(air_c - suction_c, 0.5)
        saturated = gas.vapour_enthalpy(suction_c, 0.0)
        heat_capacity = (gas.vapour_enthalpy(suction_c, 10.0) - saturated) / 10.0
        units = -log(1.0 - min(superheat_k / apart_k, 0.95))
        scale = DRY_SHARE * (saturated - arriving) / (apart_k * heat_capacity)
        return scale / (scale + units)

    def _evaporated(
        self, flow: float, conductance: float, air_c: float, suction_c: float, arriving: float
    ) -> tuple[float, float]:
        """Enthalpy that leaves an evaporator, above saturated vapour; and the share of it that is wet."""
        gas, apart_k = self.gas, max(air_c - suction_c, 0.5)
        saturated = gas.vapour_enthalpy(suction_c, 0.0)
        wet = flow * (saturated - arriving) / (conductance * apart_k)
        if wet >= 1.0:
            return (1.0 / wet - 1.0) * (saturated - arriving), wet
        heat_capacity = (gas.vapour_enthalpy(suction_c, 10.0) - saturated) / 10.0
        superheat_k = apart_k * (1.0 - exp(-DRY_SHARE * conductance * (1.0 - wet) / (flow * heat_capacity)))
        return gas.vapour_enthalpy(suction_c, superheat_k) - saturated, wet

    def step(self, demand: Demand, worn: Severities, step_s: float = STEP_S) -> Balance:
        """One step on; `demand.running` names at least one compressor."""
        gas, suction_c, condensing_c = self.gas, self.suction_c, self.condensing_c
        suction_pa, own_pa = gas.dew_pressure(suction_c), gas.dew_pressure(condensing_c)
        discharge_pa = own_pa + AIR_PA * worn[FaultKind.NON_CONDENSABLES]
        bubble_c = gas.bubble_temperature(own_pa)
        evaporation = gas.vapour_enthalpy(suction_c, 0.0) - gas.liquid_enthalpy(suction_c)

        subcooling_k = min(max(self.subcooling_raw, 0.0), max(0.9 * (bubble_c - demand.condenser_air_c), 0.0))
        flash = min(FLASH_PER_K * max(-self.subcooling_raw, 0.0), 0.5)
        liquid_c = bubble_c - subcooling_k
        condensation = gas.vapour_enthalpy(condensing_c, 0.0) - gas.liquid_enthalpy(condensing_c)
        arriving = gas.liquid_enthalpy(liquid_c) + flash * condensation

        conductance = demand.evaporator_w_k * (1.0 - 0.6 * worn[FaultKind.EVAPORATOR_FOULED])
        air_c = demand.evaporator_air_c
        target_k = max(demand.superheat_k, 0.5)
        usual_wet = self._wet_share(suction_c, air_c, target_k, arriving)
        apart_k = max(air_c - suction_c, 0.5)
        latent = gas.vapour_enthalpy(suction_c, 0.0) - arriving
        wanted = usual_wet * conductance * apart_k / latent
        root = sqrt(2.0 * max(discharge_pa - suction_pa, 1e4)) * self._root_of_density(liquid_c, flash)
        valve_flow = self._through_valve(demand, worn, wanted, root)
        above, wet = self._evaporated(valve_flow, conductance, air_c, suction_c, arriving)
        above -= STUCK_LIQUID * evaporation * worn[FaultKind.VALVE_STUCK_OPEN]
        heat_capacity = (gas.vapour_enthalpy(suction_c, 10.0) - gas.vapour_enthalpy(suction_c, 0.0)) / 10.0
        above += demand.swing_k * heat_capacity
        keep = exp(-step_s / 40.0)
        self.above_saturated = above + (self.above_saturated - above) * keep
        superheat_k = gas.superheat_of(suction_c, gas.vapour_enthalpy(suction_c, 0.0) + self.above_saturated)
        liquid = max(-self.above_saturated, 0.0) / evaporation
        self.subcooling_raw += (1.0 - exp(-step_s / 300.0)) * (
            USUAL_SUBCOOLING_K
            + FULL_K * worn[FaultKind.OVERCHARGE]
            - SHORT_K * worn[FaultKind.UNDERCHARGE]
            + SHIFT_K * (usual_wet - min(wet, 1.1))
            - self.subcooling_raw
        )

        # The compressors take in what the line has made of the returning vapour.
        ratio = discharge_pa / suction_pa
        leak = worn[FaultKind.COMPRESSOR_LEAKING]
        speeds = tuple(self.speed_hz if runs else 0.0 for runs in demand.running)
        delivered = [
            gas.vapour_density(suction_c, self.inlet_k)
            * max(0.95 - 0.02 * (ratio - 2.6), 0.6)
            * (1.0 - (0.4 * leak if number == 0 else 0.0))
            * swept
            * speed
            for number, (swept, speed) in enumerate(zip(self.swept_m3, speeds, strict=True))
        ]
        flow = sum(delivered)
        loss_k = gas.dew_temperature(suction_pa + LOSS_PA * (flow / self.usual_flow) ** 2) - suction_c
        hot_share = demand.hot_gas_share + LEAKED_SHARE * worn[FaultKind.BYPASS_LEAKING]
        hot_share = hot_share if HOT_GAS in self.line else 0.0
        joining = Joining(
            flow=flow,
            oil_flow=OIL_SHARE
            * self.usual_flow
            * sqrt(max(discharge_pa - suction_pa, 0.0) / OIL_DIFFERENCE_PA)
            * demand.oil_factor
            * (1.0 - worn[FaultKind.OIL_RETURN_BLOCKED]),
            oil_c=self.separator_c,
            hot_gas_share=hot_share,
            hot_gas_enthalpy=gas.vapour_enthalpy(condensing_c, max(self.separator_c - condensing_c, 0.0)),
            bleed_share=demand.bleed_share,
        )
        returning = gas.vapour_enthalpy(suction_c, 0.0) + self.above_saturated
        stream = Stream(flow * (1.0 - hot_share), returning, liquid)
        follow(gas, suction_c, stream, self.line, joining, self.accumulator, loss_k, step_s)
        places = dict(stream.places)
        stream.places.clear()
        follow(gas, suction_c, stream, (*self.branch, "intake"), joining, self.accumulator, 0.0, step_s)
        inlet_c = stream.places.pop("intake")
        for word in stream.places:
            places |= {f"{word}_{n}": inlet_c for n, speed in enumerate(speeds, start=1) if speed > 0}
        self.inlet_k = max(inlet_c - suction_c, 0.0)

        apparent_c = gas.dew_temperature(discharge_pa)
        stage = Stage(gas, suction_c, apparent_c, delivered, speeds, self.best_efficiency)
        discharges, powers = stage.compressed(stream.enthalpy, leak)
        raw = [each for each in discharges if each is not None]
        injected = self._injected(demand, worn, max(raw))
        discharges, rejected = stage.with_injection(discharges, self.kind_of_injection, injected)
        discharges = self._through_shells(discharges, step_s)

        heat = rejected - flow * arriving
        flooded = max(1.0 - FLOODED_PER_K * max(self.subcooling_raw, 0.0), 0.45)
        clean = demand.condenser_w_k * flooded
        clean *= (1.0 - 0.6 * worn[FaultKind.CONDENSER_FOULED]) * (1 - 0.1 * worn[FaultKind.NON_CONDENSABLES])
        balanced_c = demand.condenser_air_c + heat / clean
        fan_share, lowest_c = 1.0, demand.lowest_condensing_c
        if lowest_c is not None and balanced_c < lowest_c:
            least_k = max(lowest_c - demand.condenser_air_c, 0.1)
            fan_share = max((balanced_c - demand.condenser_air_c) / least_k, 0.15)
            balanced_c = lowest_c
        self.condensing_c = min(balanced_c + (condensing_c - balanced_c) * exp(-step_s / 70.0), 59.0)
        evaporating_flow = flow * (1.0 - hot_share)
        drift_k = 6.0 * (valve_flow - evaporating_flow) / max(valve_flow, evaporating_flow)
        self.suction_c = min(max(suction_c + drift_k, -36.0), 24.0)
        self._control_speed(demand, max(each for each in discharges if each is not None))
        self._warm_separator(sum(raw) / len(raw), step_s)
        return Balance(
            suction_c=suction_c,
            condensing_c=condensing_c,
            suction_pa=suction_pa,
            discharge_pa=discharge_pa,
            return_superheat_k=superheat_k,
            return_liquid=liquid,
            loss_k=loss_k,
            subcooling_k=subcooling_k,
            flash=flash,
            opening=self.opening,
            speeds_hz=speeds,
            flow=flow,
            places=places,
            inlet_c=inlet_c,
            discharge_c=discharges,
            power_w=powers,
            current_a=tuple(
                power / (sqrt(3.0) * SUPPLY_V * POWER_FACTOR) + STANDING_A if power else 0.0
                for power in powers
            ),
            injection=self.injection,
            fan_share=fan_share,
        )

    def _root_of_density(self, liquid_c: float, flash: float) -> float:
        """Of liquid with so much vapour in it, evenly mixed."""
        gas = self.gas
        per_kg = (1.0 - flash) / gas.liquid_density(liquid_c) + flash / gas.vapour_density(liquid_c, 0.0)
        return sqrt(1.0 / per_kg)

    def _through_valve(self, demand: Demand, worn: Severities, wanted: float, root: float) -> float:
        """The flow through valve and what chokes the line, the valve as far open as it can be."""
        choked = 12.0 * worn[FaultKind.LIQUID_RESTRICTION] ** 2  # in the valve's own measure
        if demand.opening is not None:
            self.opening = demand.opening
        else:
            share = wanted / (demand.valve * root)
            left = 1.0 / share**2 - choked
            needed = min(left**-0.5, 1.0) if left > 0 else 1.0
            self.opening += min(max(needed - self.opening, -0.06), 0.06)
            self.opening = max(self.opening, 0.04)
        return demand.valve * root / sqrt(1.0 / self.opening**2 + choked)

    def _injected(self, demand: Demand, worn: Severities, hottest_c: float) -> float:
        """How far injection really is open, which is what its valve is told unless that sticks."""
        if self.kind_of_injection is None:
            return 0.0
        asked = 0.0
        if demand.injection_at_c is not None:
            asked = min(max((hottest_c - demand.injection_at_c) / 25.0, 0.0), 1.0)
        self.injection += 0.2 * (asked - self.injection)
        open_share = self.injection * (1.0 - worn[FaultKind.INJECTION_STUCK_SHUT])
        return max(open_share, 0.8 * worn[FaultKind.INJECTION_STUCK_OPEN])

    def _through_shells(self, discharges: Discharges, step_s: float) -> Discharges:
        """What leaves the compressors: their iron warms and cools by minutes."""
        keep = exp(-step_s / SHELL_S)
        felt = [
            None if hot_c is None else hot_c if before_c is None else hot_c + (before_c - hot_c) * keep
            for hot_c, before_c in zip(discharges, self.hot_c, strict=True)
        ]
        self.hot_c = [
            before_c if now_c is None else now_c for now_c, before_c in zip(felt, self.hot_c, strict=True)
        ]
        return tuple(felt)

    def _control_speed(self, demand: Demand, hottest_c: float) -> None:
        if demand.speed_hz is not None:
            change = demand.speed_hz - self.speed_hz
        elif demand.suction_c is not None:
            change = self.speed_hz * 0.05 * (self.suction_c - demand.suction_c)
        elif demand.condensing_c is not None:
            change = self.speed_hz * 0.015 * (demand.condensing_c - self.condensing_c)
        else:
            change = 0.0
        if hottest_c > GUARDED_C:  # a machine slows down before its discharge gets too hot
            change = min(change, -0.01 * self.speed_hz * (hottest_c - GUARDED_C))
        faster = self.speed_hz + min(max(change, -6.0), 6.0)
        self.speed_hz = min(max(faster, SLOWEST_HZ), FASTEST_HZ)

    def _warm_separator(self, discharge_c: float, step_s: float) -> None:
        oil_c = discharge_c - 6.0
        self.separator_c = oil_c + (self.separator_c - oil_c) * exp(-step_s / 120.0)

    def rest(self, air_c: float, saturation_c: float, step_s: float = STEP_S) -> None:
        """Standing still: pressures meet, and what is hot cools down."""
        keep = exp(-step_s / 180.0)
        self.suction_c = saturation_c + (self.suction_c - saturation_c) * keep
        self.condensing_c = saturation_c + (self.condensing_c - saturation_c) * keep
        still = exp(-step_s / 2400.0)
        self.separator_c = air_c + (self.separator_c - air_c) * still
        self.hot_c = [None if hot_c is None else air_c + (hot_c - air_c) * still for hot_c in self.hot_c]
        self.speed_hz, self.opening, self.injection = 24.0, 0.12, 0.0
