"""What the probes of a module would feel in each mode. It must not know of time or messages."""

from dataclasses import dataclass

from demo_feed.cycle import CycleState, OperatingPoint
from demo_feed.site import Module


@dataclass(frozen=True)
class Place:
    """The gas or the air around a probe, and whether anything flows there."""

    temperature_c: float
    flowing: bool


def places_of(
    module: Module, mode: str, point: OperatingPoint, cycle: CycleState | None, outdoor_c: float
) -> dict[str, Place]:
    """By probe name; without a cycle everything stands still in the air of the casing."""
    names = ["suction_pipe", "outdoor_coil_gas", "liquid_line", "discharge_1"]
    names += ["compressor_inlet", "discharge_2"] if module.late_probe else ["accumulator_outlet"]
    places = dict.fromkeys(names, Place(outdoor_c + 2.0, flowing=False))
    places["outdoor_air"] = Place(outdoor_c, flowing=True)
    if cycle is None:
        return places

    flowing = {f"discharge_{number}": gas_c for number, gas_c in enumerate(cycle.discharge_c, start=1)}
    if module.late_probe:
        flowing["compressor_inlet"] = cycle.compressor_inlet_c
    else:
        flowing["accumulator_outlet"] = cycle.accumulator_outlet_c
    gas = module.machine.refrigerant
    bubble_c = gas.bubble_temperature(gas.dew_pressure(point.condensing_c))
    # Heating sends the discharge gas out through the gas pipe, past the separator and the reversing valve;
    # in every other mode it goes to the outdoor coil and the gas pipe brings the return.
    if module.system.heating and mode != "defrost":
        flowing["outdoor_coil_gas"] = cycle.return_c
        flowing["suction_pipe"] = max(cycle.mean_discharge_c - 17.0, point.condensing_c)
        flowing["liquid_line"] = bubble_c - 7.0
    else:
        flowing["suction_pipe"] = cycle.return_c
        flowing["outdoor_coil_gas"] = max(cycle.mean_discharge_c - 5.0, point.condensing_c)
        flowing["liquid_line"] = bubble_c - 5.5
    places.update({name: Place(gas_c, flowing=True) for name, gas_c in flowing.items() if gas_c is not None})
    return places
