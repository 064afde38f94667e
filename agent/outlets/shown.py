"""How figures and times are shown to the people of a site: their units, their clock, each with its unit.

Inside, and to programs (JSON, CSV, MQTT, metrics), it is always K, degC, kPa and UTC. A difference of two
temperatures converts without the zero: 10 K of superheat are 18 degF, not 50.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from datetime import datetime, tzinfo
from typing import Self
from zoneinfo import ZoneInfo

from agent.settings.model import DisplaySettings
from agent.units import UNITS

_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_SIZE = r"\d+(?:\.\d+)?"
# One figure or a range of such, its unit, and what may be uncertain about it.
_FIGURE = re.compile(
    rf"(?<![\w.])(?P<numbers>{_NUMBER}(?: to {_NUMBER})*) (?P<unit>K|degC|kPa)\b"
    rf"(?P<spread> \(?(?:-{_SIZE} \+{_SIZE}|±{_SIZE})\)?)?"
)
_PLACES = {"kPa": 0, "bar": 2, "psi": 0}  # decimals that a pressure gains over kPa


@dataclass(frozen=True)
class Display:
    """The units and the clock of a site."""

    temperature_unit: str = "degC"
    pressure_unit: str = "kPa"
    zone: tzinfo = ZoneInfo("UTC")

    @classmethod
    def of(cls, settings: DisplaySettings) -> Self:
        """As a configuration has it."""
        return cls(settings.temperature, settings.pressure, ZoneInfo(settings.zone))

    @property
    def difference_unit(self) -> str:
        """What a superheat, a rise or an uncertainty is told in."""
        return "K" if self.temperature_unit == "degC" else self.temperature_unit

    def temperature(self, degc: float) -> float:
        """A temperature in degC, in the site's unit."""
        unit = UNITS[self.temperature_unit]
        return (degc - unit.offset) / unit.factor

    def difference(self, kelvin: float) -> float:
        """A difference in K, in the site's unit."""
        return kelvin / UNITS[self.temperature_unit].factor

    def pressure(self, pa: float) -> float:
        """A pressure in Pa, in the site's unit; absolute stays absolute, gauge stays gauge."""
        return pa / UNITS[self.pressure_unit].factor

    def words(self, text: str) -> str:
        """A sentence of ours with its figures in K, degC and kPa told in the site's units instead.

        Not for what people typed: their figures stay as they are.
        """
        if (self.temperature_unit, self.pressure_unit) == ("degC", "kPa"):
            return text
        return _FIGURE.sub(self._told, text)

    def when(self, time_us: int) -> str:
        """Date and time to the minute by the site's clock, with its offset: 2026-11-28 09:05 +01:00."""
        return f"{self.at(time_us):%Y-%m-%d %H:%M} {self.offset(time_us)}"

    def offset(self, time_us: int) -> str:
        """How far the site's clock is from UTC then: +01:00; where it is none, UTC."""
        said = self.at(time_us).isoformat(timespec="minutes")[16:]
        return "UTC" if said == "+00:00" else said

    def at(self, time_us: int) -> datetime:
        """A time in µs of UTC, by the site's clock, to the second."""
        return datetime.fromtimestamp(time_us // 1_000_000, self.zone)

    def _told(self, found: re.Match[str]) -> str:
        unit = found["unit"]
        wanted = {"K": self.difference_unit, "degC": self.temperature_unit, "kPa": self.pressure_unit}[unit]
        numbers = re.sub(_NUMBER, lambda one: self._number(one[0], unit), found["numbers"])
        of_a_difference = "K" if unit == "degC" else unit
        spread = re.sub(_SIZE, lambda one: self._number(one[0], of_a_difference), found["spread"] or "")
        return f"{numbers} {wanted}{spread}"

    def _number(self, said: str, unit: str) -> str:
        """A number as it was said, in the site's unit: as many decimals, and a sign where it had one."""
        value, decimals = float(said), len(said.partition(".")[2])
        if unit == "kPa":
            told, decimals = self.pressure(value * 1e3), decimals + _PLACES[self.pressure_unit]
        else:
            told = self.temperature(value) if unit == "degC" else self.difference(value)
        return f"{told:{'+' if said.startswith('+') else ''}.{decimals}f}"


SI = Display()
