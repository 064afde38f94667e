"""All that the assessment must know of a module: plain values in SI, no configuration language."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

from agent.assess.signals import REVERSING_VALVE
from agent.piping import Layout

SECOND = 1_000_000  # microseconds
FINE_K, FINE_PA = 0.2, 5_000.0  # steps; design choice, no source
STILL_US = 3600 * SECOND  # of running, after which a signal that stands still has failed; design choice
JUMP_US = 1800 * SECOND  # for which a jump is held against a signal; design choice
LONGEST_STEP_US = 180 * SECOND  # of the grid: a change is seen only between two grid times
# After so many times the longest defrost, a reversal is no defrost: with the fan known to run, and without.
SURE_WITH_FAN, SURE_WITHOUT_FAN = 2, 4  # design choice, no source


@dataclass(frozen=True)
class Signal:
    """A signal's instrument and habits. ``half_width`` and ``step`` are in K or Pa; 0 for a state."""

    max_age_us: int
    interval_us: int
    half_width: float = 0.0  # limit of error, taken as rectangular
    step: float = 0.0  # quantisation
    on_change: bool = False  # old yet true, as long as the module is heard at all
    shared: bool = False  # comes from elsewhere, and does not show that the module itself is heard


@dataclass(frozen=True)
class Settling:
    """When values count as settled. Starting values are a design choice, no source.

    The quiet time follows California Title 24 (2008) RA3.2.2: 15 min before a final reading.
    """

    window_us: int = 600 * SECOND
    intervals: int = 10  # the window is at least this many reporting intervals ...
    longest_window_us: int = 1800 * SECOND  # ... but no longer than this
    quiet_us: int = 900 * SECOND  # without a change of mode
    switched_us: int = 300 * SECOND  # without a valve or a compressor switching: a few lags of a pipe probe
    spread_k: float = 0.5  # standard deviation of a superheat or a difference
    slope_k_per_min: float = 0.1
    present: float = 0.8  # share of the window that must hold values


class Dry(NamedTuple):
    """The lumped efficiency that a compressor's own dry hours showed, and where they showed it."""

    least: float
    most: float
    speeds_hz: tuple[float, ...]  # of each hour; none: they do not count
    ratios: tuple[float, float]  # least and most, of discharge to suction pressure
    why: str = ""  # they do not count


@dataclass(frozen=True)
class Module:
    """A module as the assessment sees it. Times in µs, pressures in Pa."""

    layout: Layout
    refrigerant: str
    signals: Mapping[str, Signal]
    known_loss_pa: Mapping[str, float] = field(default_factory=dict)  # pressure at the probe minus transducer
    unknown_loss_pa: float = 30_000.0  # bound on a loss that nobody stated; design choice, no source
    high_side_loss_pa: float = 60_000.0  # bound on a condenser's; about 1 K; design choice, no source
    dry: Mapping[str, Mapping[str, Dry]] = field(default_factory=dict)  # by mode and compressor
    max_skew_us: int = 90 * SECOND  # between a temperature and the pressure it is set against
    silence_us: int = 120 * SECOND  # after which signals sent on change no longer count as true
    start_us: int = 180 * SECOND  # a start lasts so long
    runs_above_hz: float = 1.0  # a compressor's speed; below it stands
    runs_above_a: float = 1.0  # a compressor's current; below are heaters and electronics
    runs_above_ratio: float = 1.2  # discharge to suction pressure, where neither is known
    ratio_us: int = 300 * SECOND  # over which a ratio that falls shows no running; design choice, no source
    longest_transient_us: int = 1200 * SECOND  # of starting, defrost and oil recovery; design choice
    longest_defrost_us: int = 900 * SECOND  # a reversal out of heating as short as this is one
    swing_us: int = 1200 * SECOND  # the window in which hunting is looked for
    repeated_us: int = 1200 * SECOND  # after which values that all stand still were repeated, not measured
    settling: Settling = field(default_factory=Settling)
    learning_hours: int = 48  # settled hours of a mode that teach what is usual; design choice, no source

    def is_fine(self, name: str) -> bool:
        """Measured in steps so fine that on a running machine it never stands still for long."""
        signal = self.signals[name]
        is_pressure = name in (self.layout.suction_transducer, self.layout.discharge_transducer)
        finest = FINE_PA if is_pressure else FINE_K
        return bool(signal.half_width) and not signal.on_change and signal.step <= finest

    @property
    def window_us(self) -> int:
        """The settling window: long enough for the slowest signal that a superheat is made of."""
        measured = [s for name, s in self.signals.items() if s.half_width and not s.on_change]
        slowest = max((s.interval_us for s in measured), default=0)
        wanted = max(self.settling.window_us, self.settling.intervals * slowest)
        return min(wanted, max(self.settling.window_us, self.settling.longest_window_us))

    @property
    def lookback_us(self) -> int:
        """How much history an assessment at one grid time rests on; a reading touches as much after it."""
        oldest = max((signal.max_age_us for signal in self.signals.values()), default=0)
        longest = max(
            self.window_us,
            self.settling.quiet_us,
            self.settling.switched_us,
            self.swing_us,
            self.repeated_us,
            self.longest_transient_us,
            SURE_WITHOUT_FAN * self.longest_defrost_us if REVERSING_VALVE in self.signals else 0,
        )
        # A jump is told from an earlier one that it takes back, each in running that had settled.
        return 2 * JUMP_US + longest + self.start_us + self.ratio_us + LONGEST_STEP_US + oldest
