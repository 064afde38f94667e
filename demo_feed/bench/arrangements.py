"""How the modules on the bench are piped: what joins the suction line in which order, and where probes sit.

Written down here once more on purpose: the bench must not read what the agent reads.
"""

from dataclasses import dataclass

# What a suction line may pass, in flow order: these words, and the names of probes.
ACCUMULATOR, OIL_RETURN, HOT_GAS, BLEED = "accumulator", "oil_return", "hot_gas_bypass", "accumulator_bleed"
JOINTS = frozenset({ACCUMULATOR, OIL_RETURN, HOT_GAS, BLEED})


@dataclass(frozen=True)
class Arrangement:
    """One way to pipe a module. Probes that are not named here: discharge per compressor, outdoor air."""

    name: str
    compressors: int
    line: tuple[str, ...]  # of the common suction line, from where all streams have met
    modes: tuple[str, ...] = ("cooling", "heating")
    pipes: int = 2  # three: the rooms' suction gas pipe never reverses
    rooms_probe: str | None = "suction_pipe"  # on the gas pipe from the rooms
    coils: tuple[str, ...] = ("outdoor_coil",)
    coil_probes: bool = True
    branch: tuple[str, ...] = ()  # of each compressor's own branch; a probe's name gets the number
    liquid_probes: tuple[str, ...] = ("liquid_line",)
    expansions: tuple[str, ...] = ("outdoor_expansion", "indoor_expansion")
    coil_valves: bool = False
    bypass_valve: bool = True
    bleed_valve: bool = False
    oil_valve: bool = False
    subcooler: bool = False  # its bypass comes back as a stream of its own
    injection: str | None = None  # "vapour" or "liquid"
    common_discharge: bool = False

    @property
    def suction_probes(self) -> tuple[str, ...]:
        """All probes on its suction side."""
        names = [word for word in self.line if word not in JOINTS]
        names += [self.rooms_probe] if self.rooms_probe else []
        names += [f"{coil}_gas" for coil in self.coils] if self.coil_probes else []
        names += ["subcooler_gas"] if self.subcooler else []
        numbers = range(1, self.compressors + 1)
        return (*names, *(f"{word}_{n}" for word in self.branch if word not in JOINTS for n in numbers))


_LATE = (ACCUMULATOR, OIL_RETURN, HOT_GAS, "compressor_inlet")
_EARLY = (ACCUMULATOR, "accumulator_outlet", OIL_RETURN, HOT_GAS)
_BOTH = (ACCUMULATOR, "accumulator_outlet", OIL_RETURN, "compressor_inlet")
_HALVES = ("upper_coil", "lower_coil")
_THREE = ("cooling", "heating", "simultaneous")
_HALF_EXPANSIONS = ("upper_expansion", "lower_expansion", "indoor_expansion")
_HALF_LIQUID = ("upper_coil_liquid", "lower_coil_liquid", "liquid_line")

ARRANGEMENTS = {
    each.name: each
    for each in (
        Arrangement("two-pipe-single-early", 1, _EARLY),
        Arrangement("two-pipe-twin-late", 2, _LATE),
        Arrangement("two-pipe-single-common", 1, ("common_suction", *_LATE), rooms_probe=None),
        Arrangement(
            "two-pipe-single-late-subcooler",
            1,
            (HOT_GAS, ACCUMULATOR, OIL_RETURN, "compressor_inlet"),
            liquid_probes=("coil_liquid", "liquid_line"),
            subcooler=True,
        ),
        Arrangement("two-pipe-twin-both-injection", 2, _BOTH, bypass_valve=False, injection="vapour"),
        Arrangement(
            "two-pipe-twin-branches",
            2,
            (ACCUMULATOR, "accumulator_outlet"),
            branch=(OIL_RETURN, "inlet"),
            bypass_valve=False,
            common_discharge=True,
        ),
        Arrangement(
            "two-pipe-twin-unproven", 2, (ACCUMULATOR, OIL_RETURN, HOT_GAS, "second_suction"), oil_valve=True
        ),
        Arrangement(
            "two-pipe-split-coil",
            2,
            _LATE,
            coils=_HALVES,
            coil_valves=True,
            liquid_probes=_HALF_LIQUID,
            expansions=_HALF_EXPANSIONS,
        ),
        Arrangement(
            "three-pipe-single-early-injection",
            1,
            _EARLY,
            modes=_THREE,
            pipes=3,
            coil_valves=True,
            liquid_probes=("coil_liquid", "liquid_line"),
            injection="vapour",
        ),
        Arrangement(
            "three-pipe-twin-late",
            2,
            (ACCUMULATOR, BLEED, OIL_RETURN, "compressor_inlet"),
            modes=_THREE,
            pipes=3,
            coil_valves=True,
            bypass_valve=False,
            bleed_valve=True,
        ),
        Arrangement(
            "three-pipe-split-coil",
            2,
            _BOTH,
            modes=_THREE,
            pipes=3,
            coils=_HALVES,
            coil_valves=True,
            bypass_valve=False,
            liquid_probes=_HALF_LIQUID,
            expansions=_HALF_EXPANSIONS,
        ),
        Arrangement(
            "cooling-only-single-oil-ahead",
            1,
            (OIL_RETURN, HOT_GAS, ACCUMULATOR, "accumulator_outlet"),
            modes=("cooling",),
            coil_probes=False,
            expansions=("indoor_expansion",),
            injection="liquid",
        ),
    )
}
