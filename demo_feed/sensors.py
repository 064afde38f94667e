"""From what is true at a place to what the gateway sends: lag, offset, noise, rounding, and when.

Deterministic from the seed. It must not know why a value is what it is.
"""

from random import Random

from demo_feed.module import Moment, approach
from demo_feed.places import Place
from demo_feed.site import Module, PressureForm

Value = float | int | str

FLOWING_LAG_S = {
    "suction_pipe": 40.0,
    "compressor_inlet": 55.0,
    "accumulator_outlet": 50.0,
    "outdoor_coil_gas": 35.0,
    "liquid_line": 60.0,
    "outdoor_air": 95.0,
    "discharge_1": 80.0,
    "discharge_2": 80.0,
}
STILL_LAG_S = 900.0  # a pipe without flow drifts with its own heat
LARGEST_OFFSET_K = 0.2
TEMPERATURE_NOISE_K = 0.02
PRESSURE_NOISE_PA = 250.0
LARGEST_PRESSURE_OFFSET_PA = 1000.0
FULL_PACK_EVERY_US = 15 * 60 * 1_000_000


class Probe:
    """A thermistor clamped to a pipe; follows the gas with a lag, far slower where nothing flows."""

    def __init__(self, name: str, seed: str) -> None:
        self._chance = Random(f"{seed}/{name}")
        self._offset_k = self._chance.uniform(-LARGEST_OFFSET_K, LARGEST_OFFSET_K)
        self._lag_s = FLOWING_LAG_S[name] * self._chance.uniform(0.85, 1.2)
        self._pipe_c: float | None = None

    def read(self, place: Place) -> float:
        """The reading in degC one step later than the last."""
        if self._pipe_c is None:
            self._pipe_c = place.temperature_c
        self._pipe_c = approach(
            self._pipe_c, place.temperature_c, self._lag_s if place.flowing else STILL_LAG_S
        )
        return self._pipe_c + self._offset_k + self._chance.gauss(0.0, TEMPERATURE_NOISE_K)


class Transducer:
    """A pressure transducer; reads Pa absolute, sends in the gateway's own form."""

    def __init__(self, name: str, seed: str, form: PressureForm) -> None:
        self._chance = Random(f"{seed}/{name}")
        self._offset_pa = self._chance.uniform(-LARGEST_PRESSURE_OFFSET_PA, LARGEST_PRESSURE_OFFSET_PA)
        self._form = form

    def read(self, pressure_pa: float) -> float:
        measured = pressure_pa + self._offset_pa + self._chance.gauss(0.0, PRESSURE_NOISE_PA)
        return (measured - self._form.reference_pa) / self._form.scale_pa


def rounded(value: float, step: float) -> float | int:
    """To the nearest step; a whole number where the step is whole, so that 950000 is not sent as 950000.0."""
    result = round(round(value / step) * step, 6)
    return int(result) if step >= 1 else result


class Gateway:
    """The points of one module as its gateway shows them, and which of them it sends at a time."""

    def __init__(self, module: Module, seed: str) -> None:
        self._module = module
        self._own_seed = f"{seed}/{module.system.name}/{module.name}"
        form = module.system.pressure
        self._suction = Transducer("suction_pressure", self._own_seed, form)
        self._discharge = Transducer("discharge_pressure", self._own_seed, form)
        self._probes: dict[str, Probe] = {}
        self._sent: dict[str, Value] = {}

    def unit(self, signal: str) -> str | None:
        """The SenML unit of a signal, None where it has none."""
        if signal.endswith("_pressure"):
            return self._module.system.pressure.unit
        if signal.endswith("_speed"):
            return "Hz"
        return {"mode": None, "bypass_valve": "/"}.get(signal, "Cel")

    def points(self, moment: Moment) -> dict[str, Value]:
        """All signals now. To be asked once a step, sent or not: the probes live on."""
        module, rounding = self._module, self._module.rounding
        mode = moment.truth.mode
        if mode == "starting":  # the equipment does not tell a start from its duty
            mode = "heating" if module.system.heating else "cooling"
        values: dict[str, Value] = {"mode": module.system.mode_values[mode]}
        for name, place in moment.places.items():
            probe = self._probes.setdefault(name, Probe(name, self._own_seed))
            values[name] = rounded(probe.read(place), rounding.temperature)
        values["suction_pressure"] = rounded(self._suction.read(moment.suction_pa), rounding.pressure)
        values["discharge_pressure"] = rounded(self._discharge.read(moment.discharge_pa), rounding.pressure)
        for number, speed_hz in enumerate(moment.speeds_hz, start=1):
            values[f"compressor_{number}_speed"] = rounded(speed_hz, 1.0)
        values["bypass_valve"] = int(moment.bypass_open)
        return values

    def to_send(self, time_us: int, values: dict[str, Value]) -> dict[str, Value]:
        """What goes out at this step: nothing between polls; only what changed where the gateway works so."""
        module = self._module
        if time_us % (module.poll_s * 1_000_000):
            return {}
        if module.on_change and self._sent and time_us % FULL_PACK_EVERY_US:
            values = {name: value for name, value in values.items() if self._sent[name] != value}
        self._sent = self._sent | values
        return values
