"""What the probes of a module on the bench feel: gas, liquid, or air around a pipe in which nothing flows.

It must not know of time, instruments or messages.
"""

from collections.abc import Mapping
from dataclasses import dataclass

from demo_feed.bench.arrangements import Arrangement
from demo_feed.bench.circuit import Balance
from demo_feed.bench.days import Now
from demo_feed.places import Place
from demo_feed.refrigerant import Refrigerant

SUN_K = 5.0  # on a coil probe at noon, while nothing flows; design choice, no source
# How much of the shell's warmth above the air a resting probe feels.
SHELL_SHARE = {"discharge": 0.6, "inlet": 0.3, "compressor_inlet": 0.15, "second_suction": 0.15}


def liquid_leaves_c(gas: Refrigerant, balance: Balance) -> float:
    """Temperature of the condensed refrigerant as it leaves the condenser [degC]."""
    return gas.bubble_temperature(gas.dew_pressure(balance.condensing_c)) - balance.subcooling_k


@dataclass(frozen=True)
class Scene:
    """One moment of a module. ``balance`` is None where it stands."""

    piping: Arrangement
    gas: Refrigerant
    duty: str
    now: Now
    roles: Mapping[str, str]  # of each coil: evaporator, condenser
    subcooler_open: bool
    balance: Balance | None
    shells_c: tuple[float, ...]  # of the compressors
    apart_k: float  # between the superheats of two streams

    def places(self) -> dict[str, Place]:
        balance = self.balance
        places = {name: self._resting(name) for name in self._probes()}
        places["outdoor_air"] = Place(self.now.outdoor_c, flowing=True)
        if balance is not None:
            flowing = dict(balance.places) | self._gas_sides(balance) | self._liquids(balance)
            hot = {f"discharge_{n}": c for n, c in enumerate(balance.discharge_c, start=1) if c is not None}
            if self.piping.common_discharge:
                flowing["discharge_common"] = sum(hot.values()) / len(hot) - 1.0
            flowing |= hot
            places |= {name: Place(gas_c, flowing=True) for name, gas_c in flowing.items() if name in places}
        return places

    def _probes(self) -> list[str]:
        piping = self.piping
        names = [*piping.suction_probes]
        names += [f"discharge_{n}" for n in range(1, piping.compressors + 1)]
        names += ["discharge_common"] if piping.common_discharge else []
        return [*names, *piping.liquid_probes]

    def _resting(self, name: str) -> Place:
        """Nothing flows: the air, the shell's warmth, and the sun on the coil."""
        family, _, number = (name, "", "") if name in SHELL_SHARE else name.rpartition("_")
        shell_c = self.shells_c[int(number) - 1] if number.isdigit() else max(self.shells_c)
        warmth_k = SHELL_SHARE.get(family, 0.03) * max(shell_c - self.now.outdoor_c, 0.0)
        sun_k = SUN_K * self.now.sun if name.endswith("coil_gas") else 0.2 * SUN_K * self.now.sun
        return Place(self.now.outdoor_c + warmth_k + sun_k, flowing=False)

    def _gas_sides(self, balance: Balance) -> dict[str, float]:
        """The gas pipe of the rooms and the pipes of the coils: returning vapour or hot gas."""
        piping, roles = self.piping, self.roles
        saturated_c = balance.suction_c + balance.loss_k
        returning_c = saturated_c + balance.return_superheat_k
        hot = [each for each in balance.discharge_c if each is not None]
        hot_c = sum(hot) / len(hot)
        evaporators = [coil for coil, role in roles.items() if role == "evaporator"]
        rooms_return = self.duty != "heating" or self.now.mode == "defrost"
        several = rooms_return and bool(evaporators)
        sides: dict[str, float] = {}
        for coil, role in roles.items():
            if role == "evaporator":
                own_k = balance.return_superheat_k - (0.6 * self.apart_k if several else 0.0)
                sides[f"{coil}_gas"] = saturated_c + max(own_k, 0.0)
            else:
                sides[f"{coil}_gas"] = max(hot_c - 5.0, balance.condensing_c)
        if piping.rooms_probe:
            if rooms_return:
                more_k = self.apart_k if several and balance.return_superheat_k > 0 else 0.0
                sides[piping.rooms_probe] = returning_c + more_k
            elif piping.pipes == 2:
                sides[piping.rooms_probe] = max(hot_c - 15.0, balance.condensing_c)
        if self.subcooler_open:
            sides["subcooler_gas"] = balance.suction_c + balance.loss_k + 5.0
        return sides

    def _liquids(self, balance: Balance) -> dict[str, float]:
        """Liquid as it leaves what condenses, and what an expansion makes of it on its way."""
        leaving_c = liquid_leaves_c(self.gas, balance)
        cools = self.duty == "cooling" or self.now.mode == "defrost"
        cooled_k = 4.0 * balance.injection if self.piping.injection == "vapour" else 0.0
        cooled_k += 5.0 if self.subcooler_open else 0.0
        line_c = leaving_c - cooled_k
        if not cools and self.duty == "heating":
            line_c = leaving_c - 3.0 - 0.3 * cooled_k  # the rooms' valves have taken some of the pressure
        found = {"liquid_line": line_c}
        roles = self.roles
        for name in self.piping.liquid_probes:
            if name == "liquid_line":
                continue
            coil = name.removesuffix("_liquid")
            role = roles.get(coil) or roles["outdoor_coil"]
            found[name] = leaving_c if role == "condenser" else balance.suction_c + balance.loss_k + 1.5
        return found
