"""What the instruments of a module make of a superheat: its value and how far it may be wrong.

It knows nothing of time, modes, or whether the probe is fit. The uncertainty holds for a probe that sits
tight and is insulated only: a loose or bare one reads towards the air around it, on the unsafe side where
that is warmer (a bare strap on a pipe of 7 degC in air of 35 degC reads 1 to 2 K high; common practice, no
source).
"""

from __future__ import annotations

from agent.assess.module import Module
from agent.piping import loss_side
from agent.thermo import REFRIGERANTS, Measured, standard_uncertainty, superheat
from agent.thermo.saturation import Number


def superheat_at(module: Module, probe: str, temperature_c: Number, pressure_pa: Number) -> Measured[Number]:
    """Temperature at a probe minus dew temperature [K], whatever that is worth there.

    ``pressure_pa``: absolute, at the suction transducer. Scalars or arrays of one shape.
    """
    return superheat(
        module.refrigerant,
        temperature_c,
        pressure_pa,
        u_temperature_k=uncertainty(module, probe),
        u_pressure_pa=uncertainty(module, module.layout.suction_transducer),
        loss_pa=loss_pa(module, probe),
        u_model_fraction=REFRIGERANTS[module.refrigerant].u_model_fraction,
    )


def uncertainty(module: Module, signal: str) -> float:
    """Standard uncertainty of a signal [K or Pa]; zero for one that the module does not have."""
    known = module.signals.get(signal)
    return standard_uncertainty(known.half_width, known.step) if known else 0.0


def loss_pa(module: Module, probe: str) -> tuple[float, float]:
    """Bounds on the pressure at the probe minus the pressure at the transducer [Pa]."""
    if probe in module.known_loss_pa:
        return module.known_loss_pa[probe], module.known_loss_pa[probe]
    bound = module.unknown_loss_pa
    sides = {
        "none": (0.0, 0.0),
        "higher": (0.0, bound),
        "lower": (-bound, 0.0),
        "either": (-bound, bound),
    }
    return sides[loss_side(module.layout, probe)]
