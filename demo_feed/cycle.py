"""One operating point of a module's vapour-compression cycle, from the returning gas to the discharge.

Everything is an energy balance on `Refrigerant` states. It must not know of time, probes or the site.
"""

from dataclasses import dataclass

from demo_feed.refrigerant import Refrigerant

OIL_HEAT_CAPACITY = 2000.0  # J/(kg K), polyol ester near 80 degC; common practice, no source
VOLUMETRIC_EFFICIENCY = 0.94
DROPS_LEFT = (
    0.95  # share of returning liquid still in drops at the late probe, some 30 ms after the hot stream joins
)


@dataclass(frozen=True)
class Machine:
    """What is built into a module; `swept_m3` has one value per compressor."""

    refrigerant: Refrigerant
    swept_m3: tuple[float, ...]  # per revolution
    oil_flow: float  # kg/s through the oil return at the design pressure difference
    path_loss_pa: float  # from the suction pipe to the transducer, at the design flow
    best_efficiency: float  # isentropic, at the design speed and ratio
    shell_loss: float  # share of the compression work lost as heat
    oil_cooling: float  # of the oil on its way back, as a share of its distance to the outdoor air

    DESIGN_SPEED_HZ = 55.0
    DESIGN_DIFFERENCE_PA = 1.3e6
    DESIGN_RATIO = 2.6


@dataclass(frozen=True)
class OperatingPoint:
    suction_c: float  # dew temperature at the suction transducer
    condensing_c: float  # dew temperature at the discharge transducer
    return_superheat_k: float  # against saturation in the suction pipe itself
    return_liquid: float  # mass share of liquid in the returning flow; the superheat is then 0
    speeds_hz: tuple[float, ...]
    separator_c: float  # of the oil and of any gas that comes back with it
    hot_gas_share: float  # share of the suction flow that comes back from the high side
    accumulator_boil_off: float  # liquid left in the accumulator that evaporates, per kg of suction flow
    oil_factor: float  # oil flow over its design value


@dataclass(frozen=True)
class CycleState:
    """Gas temperatures in degC at each place; `discharge_c` per compressor, None where it stands still."""

    return_c: float
    accumulator_outlet_c: float
    compressor_inlet_c: float
    discharge_c: tuple[float | None, ...]
    intake_enthalpy: float  # J/kg of all the refrigerant that the compressors take in, drops included
    suction_flow: float  # kg/s of refrigerant
    oil_flow: float  # kg/s

    @property
    def mean_discharge_c(self) -> float:
        running = [discharge_c for discharge_c in self.discharge_c if discharge_c is not None]
        return sum(running) / len(running)


def isentropic_efficiency(machine: Machine, speed_hz: float, ratio: float) -> float:
    speed_term = 0.10 * ((speed_hz - machine.DESIGN_SPEED_HZ) / 50.0) ** 2
    ratio_term = 0.02 * (ratio - machine.DESIGN_RATIO) ** 2
    return max(machine.best_efficiency - speed_term - ratio_term, 0.45)


def solve(machine: Machine, point: OperatingPoint) -> CycleState:
    """The cycle in balance at this operating point; at least one compressor has to run."""
    gas = machine.refrigerant
    suction_c, condensing_c = point.suction_c, point.condensing_c
    suction_pa, discharge_pa = gas.dew_pressure(suction_c), gas.dew_pressure(condensing_c)

    density = gas.vapour_density(suction_c, point.return_superheat_k)
    sweeps = [swept * speed for swept, speed in zip(machine.swept_m3, point.speeds_hz, strict=True)]
    flow = density * VOLUMETRIC_EFFICIENCY * sum(sweeps)
    full_flow = density * VOLUMETRIC_EFFICIENCY * sum(machine.swept_m3) * machine.DESIGN_SPEED_HZ
    oil_drive = max((discharge_pa - suction_pa) / machine.DESIGN_DIFFERENCE_PA, 0.0) ** 0.5
    oil_flow = machine.oil_flow * point.oil_factor * oil_drive

    loss_pa = machine.path_loss_pa * (flow / full_flow) ** 2
    pipe_saturation_c = gas.dew_temperature(suction_pa + loss_pa)
    evaporation = gas.vapour_enthalpy(suction_c, 0.0) - gas.liquid_enthalpy(suction_c)
    return_enthalpy = (
        gas.vapour_enthalpy(pipe_saturation_c, point.return_superheat_k) - point.return_liquid * evaporation
    )
    outlet_enthalpy = return_enthalpy - point.accumulator_boil_off * evaporation

    hot_gas_enthalpy = gas.vapour_enthalpy(condensing_c, max(point.separator_c - condensing_c, 0.0))
    share = point.hot_gas_share
    mixed = (1.0 - share) * outlet_enthalpy + share * hot_gas_enthalpy
    # Drops need time to evaporate: the gas around them is already warm when it passes the late probe.
    drops = DROPS_LEFT * point.return_liquid * (1.0 - share)
    inlet_c = suction_c + point.return_superheat_k
    for _ in range(4):
        intake = mixed + oil_flow / flow * OIL_HEAT_CAPACITY * (point.separator_c - inlet_c)
        gas_enthalpy = (intake - drops * gas.liquid_enthalpy(suction_c)) / (1.0 - drops)
        inlet_c = suction_c + gas.superheat_of(suction_c, gas_enthalpy)

    ideal = gas.isentropic_enthalpy(suction_c, intake, condensing_c) - intake
    discharges: list[float | None] = []
    for speed in point.speeds_hz:
        if speed <= 0:
            discharges.append(None)
            continue
        work = ideal / isentropic_efficiency(machine, speed, discharge_pa / suction_pa)
        discharges.append(
            condensing_c + gas.superheat_of(condensing_c, intake + work * (1.0 - machine.shell_loss))
        )
    return CycleState(
        return_c=pipe_saturation_c + point.return_superheat_k,
        accumulator_outlet_c=suction_c + gas.superheat_of(suction_c, outlet_enthalpy),
        compressor_inlet_c=inlet_c,
        discharge_c=tuple(discharges),
        intake_enthalpy=intake,
        suction_flow=flow,
        oil_flow=oil_flow,
    )
