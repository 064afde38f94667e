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
from agent.units import UNITS, Dimension, units_of

_PRESSURES = units_of(Dimension.PRESSURE)  # what was measured by hand is told as it was given
_NUMBER = r"[+-]?\d+(?:\.\d+)?"
_SIZE = r"\d+(?:\.\d+)?"
_SIDES = rf"(?:-{_SIZE} \+{_SIZE}|±{_SIZE})"  # uncertainty to each side
# What is uncertain, or one figure or several, with its unit; and behind it what is uncertain or usual of it.
_FIGURE = re.compile(
    rf"(?<![\w.])(?:(?P<sides>{_SIDES})|(?P<numbers>few|(?:{_NUMBER} to |between {_NUMBER} and )*{_NUMBER}))"
    rf" (?P<unit>K|degC|{'|'.join(_PRESSURES)})\b"
    rf"(?P<spread> \(?{_SIDES}\)?)?(?P<usual> \({_NUMBER} to {_NUMBER}(?= in ))?"
)
# Two clamps and a probe share one unit, which the first figure has.
_SHARED_UNIT = re.compile(
    rf"(?P<first> degC by hand, after it {_NUMBER})(?:(?P<probe>, \w+ {_NUMBER})(?= by telemetry))?"
)
_SMALL_PSI = 20.0  # below it a tenth is told: 35 kPa are 5.1 psi


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
        if self.has_si_units:
            return text
        whole = text if self.temperature_unit == SI.temperature_unit else _SHARED_UNIT.sub(_with_units, text)
        return _FIGURE.sub(self._told, whole)

    @property
    def has_si_units(self) -> bool:
        """Whether figures are shown in the units in which our sentences are written."""
        return (self.temperature_unit, self.pressure_unit) == (SI.temperature_unit, SI.pressure_unit)

    def when(self, time_us: int) -> str:
        """Date and time to the minute by the site's clock, with its offset: 2026-11-28 09:05 +01:00."""
        return f"{self.at(time_us):%Y-%m-%d %H:%M} {self.offset(time_us)}"

    def day_time(self, time_us: int | None) -> str:
        """Day and time of a day, without the year: 28 Nov 09:05 +01:00."""
        if time_us is None:
            return "unknown"
        return f"{self.at(time_us):%d %b %H:%M} {self.offset(time_us)}".rstrip()

    def offset(self, time_us: int) -> str:
        """How far the site's clock is from UTC then: +01:00; where it is none, UTC."""
        said = self.at(time_us).isoformat(timespec="minutes")[16:]
        return "UTC" if said == "+00:00" else said

    def at(self, time_us: int) -> datetime:
        """A time in µs of UTC, by the site's clock, to the second."""
        return datetime.fromtimestamp(time_us // 1_000_000, self.zone)

    def _told(self, found: re.Match[str]) -> str:
        unit, numbers = found["unit"], found["numbers"] or ""
        of_it = "K" if unit == "degC" else unit  # what is uncertain of a temperature is a difference
        figure = self._numbers(found["sides"] or "", of_it) + self._numbers(
            numbers, unit, whole=" " in numbers
        )
        behind = self._numbers(found["spread"] or "", of_it) + self._numbers(found["usual"] or "", unit)
        return f"{figure} {self._unit(unit)}{behind}"

    def _unit(self, unit: str) -> str:
        if unit in _PRESSURES:
            return unit if self.pressure_unit == SI.pressure_unit else self.pressure_unit
        return self.temperature_unit if unit == "degC" else self.difference_unit

    def _numbers(self, said: str, unit: str, *, whole: bool = False) -> str:
        """``whole``: the ends of a range stay whole numbers where they were."""
        if self._unit(unit) == unit:
            return said
        return re.sub(_NUMBER, lambda one: self._number(one[0], unit, whole=whole), said)

    def _number(self, said: str, unit: str, *, whole: bool) -> str:
        """A number as it was said, in the site's unit: as many decimals, and a sign where it had one.

        A whole number may be a limit, which is exact: 2 K are 3.6 degF, and not 4.
        """
        value, decimals = float(said), len(said.partition(".")[2])
        if unit in _PRESSURES:
            told = self.pressure(value * UNITS[unit].factor)
            decimals = 2 if self.pressure_unit == "bar" else int(abs(told) < _SMALL_PSI or decimals > 0)
        else:
            told = self.temperature(value) if unit == "degC" else self.difference(value)
            decimals += not decimals and not whole and abs(told - round(told)) > 1e-9
        return f"{told:{'+' if said.startswith('+') else ''}z.{decimals}f}"


def _with_units(found: re.Match[str]) -> str:
    probe = found["probe"]
    return f"{found['first']} degC{f'{probe} degC' if probe else ''}"


SI = Display()


def spaced(name: str) -> str:
    """A name of ours as people write it: oil recovery."""
    return name.replace("_", " ")


def number_of(number: int, what: str) -> str:
    """How many of something, such as 1 module, 2 modules."""
    return f"{number} {what}{'' if number == 1 else 's'}"
