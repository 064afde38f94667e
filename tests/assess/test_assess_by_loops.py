"""The judgement of a restless half day worked out again, reading by reading, with CoolProp at every one."""

from functools import cache

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI

from agent.assess import AT_PROBE, CODE, SATURATED_SUCTION, SECOND, SWING, assess
from agent.piping import COMPRESSOR_INLET, RETURN, RISE
from tests.assess.world import (
    LATE,
    START_US,
    STEP_US,
    THERMISTOR,
    TRANSDUCER,
    grid,
    modes,
    module,
    random_day,
    said,
    statuses,
)

MINUTES = 720
PROBE = {"cooling": "suction_pipe", "heating": "outdoor_coil_gas"}
SPEEDS = ("compressor_1_speed", "compressor_2_speed")
FINE = (*LATE.suction_probes, "suction_pressure", "discharge_pressure", "discharge_1")
PRESSURES = {"discharge_pressure": TRANSDUCER}
PUMPING = PRESSURES | {"discharge_1": THERMISTOR}


@cache
def dew_c(pressure_pa):
    return PropsSI("T", "P", pressure_pa, "Q", 1, "R410A") - 273.15


@cache
def bubble_c(pressure_pa):
    return PropsSI("T", "P", pressure_pa, "Q", 0, "R410A") - 273.15


@cache
def dew_slope(pressure_pa):
    return (dew_c(pressure_pa + 500.0) - dew_c(pressure_pa - 500.0)) / 1000.0


class Plain:
    """A module at every grid time, found out by going back in time one grid step after another."""

    def __init__(self, of, given_samples, grid_us):
        self.of, self.table = of, {}
        for t in range(START_US - 7200 * SECOND, int(grid_us[-1]) + 1, STEP_US):
            self.table[t] = {name: self.frame(given_samples[name], s, t) for name, s in of.signals.items()}
        self.judged = {}

    @staticmethod
    def frame(given_samples, signal, t):
        time_us, value = given_samples
        index = int(np.searchsorted(time_us, t, side="right")) - 1
        young = index >= 0 and t - time_us[index] <= signal.max_age_us and not np.isnan(value[index])
        return (float(value[index]), int(time_us[index])) if young else (None, None)

    def value(self, t, name):
        return self.table[t].get(name, (None, None))[0]

    def back(self, t, length_us):
        """The grid times of a window that ends at t, the latest first."""
        return range(t, t - length_us, -STEP_US)

    def running(self, t):
        """Per compressor: True, False, or None where it is not known."""
        speeds = [self.value(t, name) for name in SPEEDS]
        return [None if speed is None else speed > 1.0 for speed in speeds]

    def runs(self, t):
        if any(self.running(t)):
            return True
        if None not in self.running(t):
            return False
        low, high = self.value(t, "suction_pressure"), self.value(t, "discharge_pressure")
        if low is None or high is None:
            return None
        if high / low <= 1.2:
            return False
        hot, before = self.value(t, "discharge_1"), t - 300 * SECOND
        if hot is None or hot < dew_c(high) + 5.0 or before not in self.table:
            return None
        low_then, high_then = (
            self.value(before, name) for name in ("suction_pressure", "discharge_pressure")
        )
        if low_then is None or high_then is None:
            return None
        return True if high / low >= 0.97 * high_then / low_then else None

    def stated(self, t):
        names = {code: mode for mode, code in CODE.items()}
        code = self.value(t, "mode")
        mode = "unknown" if code is None else names[code]
        return "off" if mode in PROBE and self.runs(t) is False else mode

    def mode(self, t):
        """Mode and how long it has lasted."""
        stated, began = self.stated(t), t
        while began - STEP_US in self.table and self.stated(began - STEP_US) == stated:
            began -= STEP_US
        before = self.stated(began - STEP_US) if began - STEP_US in self.table else None
        if stated in PROBE and before == "off":
            if t - began < 180 * SECOND:
                return "starting", t - began
            return stated, t - began - 180 * SECOND
        return stated, t - began

    def switched(self, t):
        def positions(t):
            valve = self.value(t, "bypass_valve")
            return [valve is not None and valve > 0, *(state is True for state in self.running(t))]

        return any(positions(u) != positions(u - STEP_US) for u in self.back(t, 300 * SECOND))

    def repeated(self, t, lasted_us):
        if not self.runs(t) or lasted_us < 1200 * SECOND:
            return False
        fine = [name for name in FINE if name in self.of.signals]
        return all(
            self.value(u, name) is not None and self.value(u, name) == self.value(u - STEP_US, name)
            for u in self.back(t, 1200 * SECOND)
            for name in fine
        )

    def quantity(self, t, later, earlier):
        """Superheat where ``earlier`` is the suction pressure, a difference of two probes otherwise."""
        one, other = self.value(t, later), self.value(t, earlier)
        if one is None or other is None:
            return None
        return one - (dew_c(other) if earlier == "suction_pressure" else other)

    def step_k(self, t, later, earlier):
        pressure_pa = self.value(t, "suction_pressure")
        second = 1e3 * dew_slope(pressure_pa) if earlier == "suction_pressure" else 0.1
        return np.hypot(0.1, second)

    def above(self, t):
        """Expanded uncertainty of a superheat to the upper side, where a loss can only lower it."""
        pressure_pa = self.value(t, "suction_pressure")
        u_pressure = np.sqrt(10e3**2 / 3 + 1e3**2 / 12 + (0.0025 * pressure_pa) ** 2)
        return 2 * np.sqrt(0.5**2 / 3 + 0.1**2 / 12 + (dew_slope(pressure_pa) * u_pressure) ** 2)

    def hottest(self, probe, high):
        """No gas comes back hotter than 45 degC, nor by 10 K and its uncertainty than it condenses."""
        step = self.of.signals[probe].step
        u_pressure = dew_slope(high) * np.sqrt(10e3**2 / 3 + 1e3**2 / 12)
        spread = 2 * np.sqrt(0.5**2 / 3 + step**2 / 12 + u_pressure**2)
        return max(dew_c(high) + 10.0 + spread, 45.0)

    def verdict(self, t, later, earlier):
        """Status and cause of a quantity whose probes are the right ones."""
        mode, lasted_us = self.mode(t)
        value = self.quantity(t, later, earlier)
        if value is None:
            return ("missing", "reading")
        if self.runs(t) is None:
            return ("not_decidable", "mode")
        if earlier == "suction_pressure":
            high = self.value(t, "discharge_pressure")
            hotter = high is not None and self.value(t, later) > self.hottest(later, high)
            low = self.value(t, "suction_pressure")
            if hotter or value + 2 * self.above(t) < bubble_c(low) - dew_c(low):
                return ("not_decidable", "contradiction")
        if self.repeated(t, lasted_us):
            return ("not_decidable", "repeated")
        if abs(self.table[t][later][1] - self.table[t][earlier][1]) > 90 * SECOND:
            return ("not_decidable", "skew")
        window = [(u, self.quantity(u, later, earlier)) for u in self.back(t, 600 * SECOND)]
        there = [(u, v) for u, v in window if v is not None]
        if len(there) < 16:
            return ("not_settled", "gaps")
        minutes = (np.array([u for u, _ in there]) - t) / (60 * SECOND)
        values, step = np.array([v for _, v in there]), self.step_k(t, later, earlier)
        if np.std(values) > np.hypot(0.5, step / 2):
            return ("not_settled", "spread")
        if abs(np.polyfit(minutes, values, 1)[0]) > 0.1 + 1.5 * step / 10:
            return ("not_settled", "slope")
        if lasted_us < 900 * SECOND or self.switched(t):
            return ("not_settled", "change")
        return ("decided", "")

    def said(self, t, place):
        """Status and cause of a place; its probes, the later one first."""
        mode, _ = self.mode(t)
        if mode == "unknown":
            return ("missing", "reading"), ()
        if mode not in PROBE:
            return ("not_decidable", "mode"), ()
        probes = {
            RETURN: (PROBE[mode], "suction_pressure"),
            COMPRESSOR_INLET: ("compressor_inlet", "suction_pressure"),
            RISE: ("compressor_inlet", PROBE[mode]),
        }[place]
        if place == RISE and self.value(t, "bypass_valve") != 0:
            return ("not_decidable", "piping"), ()
        return self.verdict(t, *probes), probes

    def swing(self, t):
        """Smallest range of return superheat in three thirds of 20 minutes; None: not told."""
        mode, lasted_us = self.mode(t)
        if mode not in PROBE or lasted_us < 1200 * SECOND:
            return None
        window = [self.quantity(u, PROBE[mode], "suction_pressure") for u in self.back(t, 1200 * SECOND)]
        thirds = [[v for v in window[13 * n : 13 * n + 13] if v is not None] for n in range(3)]
        if any(len(third) < 2 for third in thirds):
            return None
        return min(max(third) - min(third) for third in thirds)


DAYS = {
    "without discharge pressure": (module(), 24),
    "with discharge pressure": (module(signals=PRESSURES), 29),
    "with pressures alone to tell what runs": (module(signals=PUMPING, without=SPEEDS), 24),
}


@pytest.fixture(scope="module", params=list(DAYS))
def day(request):
    of, seed = DAYS[request.param]
    given_samples = random_day(of, np.random.default_rng(seed), MINUTES)
    stretch = assess(of, grid(MINUTES), given_samples, STEP_US)
    return of, stretch, Plain(of, given_samples, grid(MINUTES))


def test_the_days_have_something_of_everything():
    found_modes, causes, texts = set(), {}, set()
    for name, (of, seed) in DAYS.items():
        given_samples = random_day(of, np.random.default_rng(seed), MINUTES)
        stretch = assess(of, grid(MINUTES), given_samples, STEP_US)
        found_modes |= {*modes(stretch)}
        found = [*statuses(stretch, RETURN), *statuses(stretch, RISE), *statuses(stretch, COMPRESSOR_INLET)]
        assert found.count(("decided", "")) > 100
        causes[name] = {cause for _, cause in found}
        texts |= {stretch.phrases[number].text for number in np.unique(stretch.tracks[RETURN].said)}
        assert np.isfinite(stretch.tracks[SWING].value).sum() > 200
    assert found_modes == {"cooling", "heating", "off", "starting", "defrost", "unknown"}
    usual = {"", "mode", "piping", "reading", "change", "gaps", "spread", "slope", "contradiction", "skew"}
    assert all(found >= usual for found in causes.values())
    wanted = (
        "no signal tells",
        "far below zero",
        "valve or a compressor",
        "mode changed",
    )
    assert all(any(words in text for text in texts) for words in wanted)
    assert all("repeated" in found for found in causes.values())


def test_values(day):
    _, stretch, plain = day
    for index, t in enumerate(stretch.grid_us.tolist()):
        for probe in ("suction_pipe", "outdoor_coil_gas", "compressor_inlet"):
            shown = stretch.tracks[AT_PROBE + probe].value[index]
            expected = plain.quantity(t, probe, "suction_pressure")
            assert np.isnan(shown) if expected is None else shown == pytest.approx(expected, abs=0.002)
        saturated, pressure_pa = stretch.tracks[SATURATED_SUCTION].value[index], plain.value(t, FINE[3])
        assert (
            np.isnan(saturated)
            if pressure_pa is None
            else saturated == pytest.approx(dew_c(pressure_pa), abs=0.002)
        )


def test_modes(day):
    _, stretch, plain = day
    expected = [plain.mode(t) for t in stretch.grid_us.tolist()]
    assert modes(stretch) == [mode for mode, _ in expected]
    known = stretch.lasted_us <= stretch.longest_transient_us
    assert known.any()
    lasted_us = np.array([lasted_us for _, lasted_us in expected])
    np.testing.assert_array_equal(stretch.lasted_us[known], lasted_us[known])
    assert (lasted_us[~known] > stretch.longest_transient_us).all()


@pytest.mark.parametrize("place", [RETURN, COMPRESSOR_INLET, RISE])
def test_places(day, place):
    _, stretch, plain = day
    track = stretch.tracks[place]
    for index, t in enumerate(stretch.grid_us.tolist()):
        expected, probes = plain.said(t, place)
        assert (index, said(stretch, place, index)) == (index, expected)
        if probes and probes[1] == "suction_pressure":
            at_probe = stretch.tracks[AT_PROBE + probes[0]]
            np.testing.assert_equal(track.value[index], at_probe.value[index])
            np.testing.assert_equal(track.below[index], at_probe.below[index])
            np.testing.assert_equal(track.above[index], at_probe.above[index])
        elif probes and plain.quantity(t, *probes) is not None:
            assert track.value[index] == pytest.approx(plain.quantity(t, *probes))
        else:
            assert np.isnan(track.value[index])


def test_swing(day):
    _, stretch, plain = day
    for index, t in enumerate(stretch.grid_us.tolist()):
        expected, shown = plain.swing(t), stretch.tracks[SWING].value[index]
        assert np.isnan(shown) if expected is None else shown == pytest.approx(expected, abs=0.002)
        words = ("not_decidable", "change") if expected is None else ("decided", "")
        if plain.repeated(t, plain.mode(t)[1]):
            words = ("not_decidable", "repeated")
        assert said(stretch, SWING, index) == words
