"""Days on the bench: weather, load by the hour, and which mode the module is in. All invented, from a seed.

It must not know of refrigerant, piping or faults.
"""

from dataclasses import dataclass
from math import cos, exp, pi, sin
from random import Random

HOUR_S, DAY_S = 3600.0, 86_400.0
STARTING_S = 180.0
DEFROST_EVERY_S, DEFROST_S = 80 * 60.0, 5 * 60.0
FROST_BELOW_C = 6.0
OIL_RECOVERY_EVERY_S, OIL_RECOVERY_S = 6 * HOUR_S, 4 * 60.0


@dataclass(frozen=True)
class Season:
    """What the module does by day, and the weather. Times of day in UTC; the nights are off."""

    duty: str
    mean_c: float
    swing_k: float
    rooms_c: float
    usual_load: float
    more_load: float  # at its hour, on top
    busiest_h: float
    from_h: float = 6.0
    to_h: float = 22.0
    defrost_every_s: float = DEFROST_EVERY_S
    oil_recovery_every_s: float = OIL_RECOVERY_EVERY_S
    runs_s: float = 0.0  # at a stretch, and how long it then rests; 0: the whole day
    rests_s: float = 0.0


SEASONS = {
    "cooling": Season("cooling", 25.0, 5.0, 26.5, 0.56, 0.30, 15.5),
    "heating": Season("heating", 3.0, 3.0, 21.0, 0.62, 0.22, 7.5),
    "frost": Season("heating", -2.5, 2.5, 21.0, 0.62, 0.22, 7.5),
    "simultaneous": Season("simultaneous", 11.0, 5.0, 23.0, 0.60, 0.15, 13.0),
    # Cools a computer room day and night.
    "all_day": Season("cooling", 22.0, 5.0, 25.0, 0.62, 0.16, 15.5, 0.0, 24.0),
    # Odd, and still nothing is wrong.
    "low_ambient": Season("cooling", 2.0, 5.0, 24.0, 0.50, 0.12, 15.5, 0.0, 24.0),
    "hot_roof": Season("cooling", 36.0, 6.0, 26.5, 0.58, 0.30, 15.5),
    "short_runs": Season("cooling", 19.0, 4.0, 25.0, 0.40, 0.10, 15.5, runs_s=25 * 60.0, rests_s=14 * 60.0),
    "wet_frost": Season("heating", 1.0, 2.0, 21.0, 0.62, 0.22, 7.5, defrost_every_s=38 * 60.0),
    "hard_frost": Season("heating", -8.0, 3.0, 21.0, 0.60, 0.12, 7.5),
    "mild_heating": Season("heating", 10.0, 3.0, 21.0, 0.44, 0.16, 7.5),
    "turning": Season("simultaneous", 11.0, 2.0, 23.0, 0.56, 0.15, 13.0, oil_recovery_every_s=HOUR_S),
}


@dataclass(frozen=True)
class Now:
    """One moment of a day."""

    mode: str
    outdoor_c: float
    sun: float  # 0..1
    load: float  # 0..1 of what the module is built for
    since_mode_s: float
    since_start_s: float
    frost: float  # 0..1, of what grows until the next defrost
    together: bool  # all compressors are needed
    leads: int  # the compressor that runs where one is enough


class Days:
    """To be asked once a step, in order."""

    def __init__(self, season: Season, seed: str) -> None:
        self._season = season
        self._chance = Random(f"{seed}/days")
        self._phase = self._chance.uniform(0.0, 2 * pi)
        self._stop_h = self._chance.uniform(10.5, 13.5)
        self._wander = 0.0
        self._mode, self._since_s = "off", float("-inf")
        self._started_s = self._defrosted_s = float("-inf")

    def outdoor_c(self, time_s: float) -> float:
        day = time_s / DAY_S
        slow = 1.5 * sin(2 * pi * day / 3.7 + self._phase)
        return self._season.mean_c + self._season.swing_k * cos(2 * pi * (day - 15.0 / 24)) + slow

    def _usual_load(self, hour: float) -> float:
        season = self._season
        apart = (hour - season.busiest_h + 12.0) % 24.0 - 12.0
        return season.usual_load + season.more_load * exp(-((apart / 4.0) ** 2)) - 0.06

    def at(self, time_s: float, step_s: float, splits: bool = False) -> Now:
        """``splits``: the coil is defrosted in halves, while the module goes on heating."""
        hour = time_s % DAY_S / HOUR_S
        outdoor_c = self.outdoor_c(time_s)
        keep = exp(-step_s / 2400.0)
        self._wander = self._wander * keep + 0.035 * (1 - keep**2) ** 0.5 * self._chance.gauss(0.0, 1.0)
        mode = self._mode_at(time_s, hour, outdoor_c, splits)
        if mode != self._mode:
            if self._mode == "off":
                self._started_s = self._defrosted_s = time_s
            if self._mode == "defrost":
                self._defrosted_s = time_s
            self._mode, self._since_s = mode, time_s
        usual = self._usual_load(float(int(hour)))
        return Now(
            mode=mode,
            outdoor_c=outdoor_c,
            sun=max(sin(pi * (hour - 8.0) / 10.0), 0.0) if 8.0 < hour < 18.0 else 0.0,
            load=min(max(self._usual_load(hour) + self._wander, 0.3), 1.0),
            since_mode_s=time_s - self._since_s,
            since_start_s=time_s - self._started_s,
            frost=min((time_s - self._defrosted_s) / self._season.defrost_every_s, 1.0)
            if outdoor_c < FROST_BELOW_C
            else 0.0,
            together=usual >= 0.52,
            leads=int(time_s // DAY_S) % 2,
        )

    def _mode_at(self, time_s: float, hour: float, outdoor_c: float, splits: bool) -> str:
        season = self._season
        if not season.from_h <= hour < season.to_h:
            return "off"
        day = int(time_s // DAY_S)
        if season.to_h < 24 and day % 2 and self._stop_h <= hour < self._stop_h + 0.4:
            return "off"
        if season.runs_s and time_s % (season.runs_s + season.rests_s) >= season.runs_s:
            return "off"
        if self._mode == "off":
            return "starting"
        if self._mode == "starting" and time_s - self._since_s < STARTING_S:
            return "starting"
        if season.duty == "heating" and not splits:
            if self._mode == "defrost" and time_s - self._since_s < DEFROST_S:
                return "defrost"
            due = time_s - self._defrosted_s >= season.defrost_every_s
            if self._mode != "defrost" and due and outdoor_c < FROST_BELOW_C:
                return "defrost"
        since_s = time_s - self._started_s
        if since_s > HOUR_S and since_s % season.oil_recovery_every_s < OIL_RECOVERY_S:
            return "oil_recovery"
        return season.duty
