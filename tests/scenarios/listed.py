"""The scenarios. Which alarms are right follows from the truth and from the instruments on the layout."""

from collections.abc import Iterator
from dataclasses import replace

from demo_feed.bench import (
    ARRANGEMENTS,
    Gateway,
    SensorFault,
    SensorFaultKind,
    Supervisor,
    Unit,
)
from tests.scenarios.scenario import BEGINS_US, HEALTHY_DAYS, START_US, Scenario, fault

FINE = Gateway()
COARSE = Gateway(poll_s=120, temperature_step=1.0, pressure_step_kpa=10.0)
ON_CHANGE = Gateway(poll_s=30, on_change=True)
GAPS = Gateway(gaps_a_day=5)
HALF_MINUTE = Gateway(poll_s=30)

WET = frozenset({"superheat-low", "discharge-superheat-low"})
STARVED = frozenset({"superheat-high", "discharge-temperature-high"})
SHORT = STARVED | {"subcooling-low"}
EXCESS = frozenset({"oil-return-excess"})
ABSENT = frozenset({"oil-return-absent"})
FAILED = frozenset({"probe-failed"})
DRIFT = frozenset({"probe-drift"})
BLIND = frozenset({"watch-blind"})
UNFIT = frozenset({"probe-unfit"})
RESTRICTED = ("liquid-line restriction",)
ANY_SUPERHEAT = frozenset({"superheat-low", "superheat-high", "superheat-hunting"})


def unit(layout: str, season: str, *faults: tuple[str, float], refrigerant: str | None = None) -> Unit:
    piping = ARRANGEMENTS[layout]
    fluid = refrigerant or ("R32" if piping.injection else "R410A")
    return Unit(piping, season, fluid, tuple(fault(*each) for each in faults))


def scenarios() -> list[Scenario]:
    """All of them; names are unique."""
    found = [*_charge(), *_liquid(), *_coils_and_compressors(), *_oil(), *_injection(), *_sensors()]
    found += [*_supervisors(), *_healthy()]
    assert len({each.name for each in found}) == len(found)
    return found


def _process(
    name: str,
    layout: str,
    season: str,
    *faults: tuple[str, float],
    right: frozenset[str] = frozenset(),
    acceptable: frozenset[str] = frozenset(),
    causes: tuple[str, ...] = (),
    why: str = "",
    gateway: Gateway = FINE,
    seed: str = "a",
    refrigerant: str | None = None,
) -> Scenario:
    return Scenario(
        f"{name}: {layout}, {season}",
        unit(layout, season, *faults, refrigerant=refrigerant),
        gateway,
        begins_us=BEGINS_US,
        right=right,
        acceptable=acceptable,
        causes=causes,
        why=why,
        seed=seed,
    )


def _charge() -> Iterator[Scenario]:
    short, full = ("short of charge",), ("overcharge",)
    for layout, season, severity, gateway, seed in (
        ("two-pipe-twin-late", "cooling", 0.9, FINE, "a"),
        ("two-pipe-twin-branches", "cooling", 0.5, FINE, "b"),
        ("two-pipe-twin-both-injection", "all_day", 0.7, GAPS, "c"),
        ("two-pipe-split-coil", "cooling", 1.0, COARSE, "d"),
    ):
        yield _process(
            f"undercharge {severity:g}", layout, season, ("undercharge", severity), right=SHORT, causes=short,
            acceptable=frozenset({"superheat-hunting"}), gateway=gateway, seed=seed,
        )  # fmt: skip
    yield _process(
        "undercharge 0.9", "two-pipe-single-early", "heating", ("undercharge", 0.9), acceptable=SHORT,
        causes=short, why="no liquid probe ahead of an expansion in heating; the coil's air bounds superheat",
    )  # fmt: skip
    yield _process(
        "overcharge 1", "two-pipe-twin-late", "cooling", ("overcharge", 1.0), causes=full,
        right=frozenset({"subcooling-high"}),
    )  # fmt: skip
    for layout, season, seed in (
        ("two-pipe-single-common", "cooling", "e"),
        ("cooling-only-single-oil-ahead", "all_day", "f"),
        ("three-pipe-twin-late", "cooling", "g"),
    ):
        yield _process(
            "restriction 1", layout, season, ("liquid_restriction", 1.0), seed=seed, right=STARVED,
            acceptable=frozenset({"subcooling-high", "superheat-hunting"}), causes=RESTRICTED,
        )  # fmt: skip
    yield _process(
        "restriction 0.9", "two-pipe-single-late-subcooler", "heating", ("liquid_restriction", 0.9),
        acceptable=STARVED | {"subcooling-high"}, causes=RESTRICTED,
        why="the coil's air bounds superheat in heating, and no liquid probe is ahead of an expansion",
    )  # fmt: skip
    yield _process(
        "non-condensables 1", "two-pipe-twin-late", "all_day", ("non_condensables", 1.0), seed="h",
        acceptable=frozenset({"subcooling-high", "discharge-temperature-high"}), causes=("non-condensables",),
        why="no alarm of its own: a likely cause",
    )  # fmt: skip


def _liquid() -> Iterator[Scenario]:
    stuck = ("valve stuck open",)
    for layout, season, gateway, seed in (
        ("two-pipe-single-early", "cooling", FINE, "a"),
        ("two-pipe-twin-branches", "heating", FINE, "b"),
        ("three-pipe-twin-late", "heating", GAPS, "c"),
        ("two-pipe-split-coil", "heating", FINE, "d"),
        ("two-pipe-twin-unproven", "cooling", COARSE, "e"),
        ("three-pipe-split-coil", "simultaneous", HALF_MINUTE, "f"),
        ("cooling-only-single-oil-ahead", "cooling", ON_CHANGE, "g"),
        ("two-pipe-single-late-subcooler", "cooling", FINE, "h"),
    ):
        yield _process(
            "valve stuck open 0.6", layout, season, ("valve_stuck_open", 0.6), right=WET, causes=stuck,
            acceptable=ABSENT, gateway=gateway, seed=seed,
        )  # fmt: skip
    for layout, season, seed in (
        ("two-pipe-twin-late", "cooling", "a"),
        ("two-pipe-single-common", "heating", "b"),
    ):
        yield _process(
            "hidden liquid 0.8", layout, season, ("hidden_liquid", 0.8), right=WET, acceptable=EXCESS,
            causes=stuck, seed=seed,
        )  # fmt: skip
    blind = replace(FINE, silent=frozenset({"suction_pipe"}))
    yield _process(
        "hidden liquid 1, no early probe", "two-pipe-twin-late", "cooling", ("hidden_liquid", 1.0),
        right=frozenset({"discharge-superheat-low"}), acceptable=BLIND | EXCESS | {"superheat-low"},
        gateway=blind, causes=stuck,
    )  # fmt: skip
    for layout, season in (("two-pipe-single-early", "cooling"), ("two-pipe-twin-both-injection", "heating")):
        yield _process(
            "hunting 1", layout, season, ("hunting", 1.0), right=frozenset({"superheat-hunting"}),
            acceptable=frozenset({"superheat-low"}) | BLIND,
        )  # fmt: skip


def _coils_and_compressors() -> Iterator[Scenario]:
    why = "no alarm of its own: a likely cause"
    hot = frozenset({"discharge-temperature-high"})
    for kind, layout, season, severity, cause in (
        ("condenser_fouled", "two-pipe-twin-late", "cooling", 0.7, "coil fouled"),
        ("condenser_fouled", "cooling-only-single-oil-ahead", "all_day", 0.9, "coil fouled"),
        ("evaporator_fouled", "two-pipe-single-early", "heating", 0.7, "coil fouled"),
        ("evaporator_fouled", "three-pipe-single-early-injection", "cooling", 0.7, "coil fouled"),
        ("compressor_leaking", "two-pipe-twin-late", "cooling", 0.9, "compressor valves leaking"),
        ("compressor_leaking", "two-pipe-single-common", "heating", 0.9, "compressor valves leaking"),
    ):
        yield _process(
            f"{kind.replace('_', ' ')} {severity:g}", layout, season, (kind, severity), causes=(cause,),
            acceptable=hot, why=why,
        )  # fmt: skip


def _oil() -> Iterator[Scenario]:
    for layout, season, seed in (
        ("two-pipe-twin-late", "all_day", "a"),
        ("two-pipe-twin-both-injection", "heating", "b"),
        ("two-pipe-single-common", "heating", "c"),
        ("three-pipe-split-coil", "simultaneous", "d"),
    ):
        yield _process(
            "oil return blocked 1", layout, season, ("oil_return_blocked", 1.0), right=ABSENT, seed=seed
        )
    yield _process(
        "oil return blocked 1", "two-pipe-single-early", "cooling", ("oil_return_blocked", 1.0),
        why="nothing reads after the oil return",
    )  # fmt: skip
    for layout, season, seed in (
        ("two-pipe-twin-late", "all_day", "a"),
        ("two-pipe-single-common", "cooling", "b"),
        ("two-pipe-split-coil", "heating", "c"),
    ):
        yield _process("bypass leaking 0.8", layout, season, ("bypass_leaking", 0.8), right=EXCESS, seed=seed)
    yield _process(
        "bypass leaking 0.8", "two-pipe-single-early", "cooling", ("bypass_leaking", 0.8),
        why="nothing reads after the bypass", acceptable=frozenset({"discharge-temperature-high"}),
    )  # fmt: skip


def _injection() -> Iterator[Scenario]:
    yield _process(
        "injection stuck shut", "two-pipe-twin-both-injection", "frost", ("injection_stuck_shut", 1.0),
        right=frozenset({"discharge-temperature-high"}), causes=("injection",),
    )  # fmt: skip
    yield _process(
        "injection stuck open", "cooling-only-single-oil-ahead", "cooling", ("injection_stuck_open", 1.0),
        acceptable=frozenset({"discharge-superheat-low"}), causes=("injection",),
        why="with injection the border of the discharge does not hold; its answer is a likely cause",
    )  # fmt: skip


def _sensor(
    name: str,
    layout: str,
    season: str,
    sensor: SensorFault,
    right: frozenset[str],
    acceptable: frozenset[str] = frozenset(),
    days: int = HEALTHY_DAYS + 2,
    why: str = "",
    seed: str = "s",
) -> Scenario:
    return Scenario(
        f"{name}: {layout}, {season}",
        unit(layout, season),
        Gateway(faults=(sensor,)),
        days=days,
        begins_us=max(sensor.begins_us, START_US),
        right=right,
        acceptable=acceptable,
        causes=("sensor",),
        why=why,
        seed=seed,
    )


def _sensors() -> Iterator[Scenario]:
    late, early, both = "two-pipe-twin-late", "two-pipe-single-early", "two-pipe-twin-both-injection"
    kind = SensorFaultKind
    moved = ANY_SUPERHEAT | BLIND | ABSENT | EXCESS | {"layout-doubt"}
    hot = frozenset({"discharge-temperature-high", "discharge-superheat-low"})
    for name, layout, season, what, signal, size in (
        ("suction pipe open", late, "cooling", kind.OPEN, "suction_pipe", 0.0),
        ("discharge short", early, "cooling", kind.SHORT, "discharge_1", 0.0),
        ("coil probe frozen", early, "heating", kind.FROZEN, "outdoor_coil_gas", 0.0),
        ("late probe frozen", late, "cooling", kind.FROZEN, "compressor_inlet", 0.0),
        ("suction pressure frozen", early, "cooling", kind.FROZEN, "suction_pressure", 0.0),
        ("suction pipe jumps 9 K", both, "cooling", kind.JUMP, "suction_pipe", 9.0),
    ):
        sensor = SensorFault(what, signal, size, begins_us=BEGINS_US)
        yield _sensor(name, layout, season, sensor, FAILED, moved | (hot if "discharge" in name else set()))
    yield _sensor(
        "suction pressure stops", late, "cooling",
        SensorFault(kind.STOPS, "suction_pressure", begins_us=BEGINS_US),
        BLIND | FAILED | {"feed-stale"},
    )  # fmt: skip
    yield _sensor(
        "suction pressure reads 60 kPa more", late, "cooling",
        SensorFault(kind.JUMP, "suction_pressure", 60e3, begins_us=BEGINS_US), DRIFT | FAILED, moved | WET,
    )  # fmt: skip
    for probe, layout in (("compressor_inlet", both), ("accumulator_outlet", both)):
        sensor = SensorFault(kind.DRIFT, probe, 1.5, begins_us=BEGINS_US)
        yield _sensor(f"{probe} drifts", layout, "cooling", sensor, DRIFT, moved, days=HEALTHY_DAYS + 7)
    for name, sensor in (
        ("probes swapped", SensorFault(kind.SWAPPED, "suction_pipe", other="outdoor_coil_gas")),
        ("Fahrenheit as Celsius", SensorFault(kind.DEGF, "suction_pipe")),
        ("bar as kPa", SensorFault(kind.BAR, "suction_pressure")),
    ):
        yield _sensor(
            name, late, "cooling", sensor, BLIND | FAILED | {"layout-doubt"}, DRIFT | {"feed-stale"}, days=2
        )
    yield _sensor(
        "gauge as absolute", late, "cooling", SensorFault(kind.GAUGE, "suction_pressure"),
        DRIFT | FAILED, days=4, acceptable=BLIND | ANY_SUPERHEAT,
    )  # fmt: skip
    yield _sensor(
        "early and late probe swapped", late, "cooling",
        SensorFault(kind.SWAPPED, "suction_pipe", other="compressor_inlet"), frozenset(), days=4,
        acceptable=BLIND | FAILED | DRIFT | {"layout-doubt"},
        why="a negative rise is evidence, not an alarm",
    )  # fmt: skip


def _supervisors() -> Iterator[Scenario]:
    by_gauge = Supervisor("suction_pipe", gauge_for_absolute=True)
    by_bubble = Supervisor("compressor_inlet", bubble=True)
    for name, layout, season, supervisor in (
        ("takes the late probe", "two-pipe-twin-late", "all_day", Supervisor("compressor_inlet")),
        ("takes the gas pipe in heating", "two-pipe-single-early", "heating", Supervisor("suction_pipe")),
        ("takes gauge for absolute", "two-pipe-twin-branches", "cooling", by_gauge),
        ("takes the late probe against bubble", "two-pipe-single-common", "cooling", by_bubble),
    ):
        yield Scenario(
            f"supervisor {name}: {layout}, {season}",
            unit(layout, season, refrigerant="R407C" if supervisor.bubble else None),
            Gateway(supervisor=supervisor),
            days=HEALTHY_DAYS,
            begins_us=START_US,
            right=UNFIT,
            seed="v",
        )
    yield Scenario(
        "supervisor takes the right probe: two-pipe-twin-late, cooling",
        unit("two-pipe-twin-late", "cooling"),
        Gateway(supervisor=Supervisor("suction_pipe")),
        days=HEALTHY_DAYS,
        seed="v",
    )
    yield Scenario(
        "site takes the late probe: two-pipe-twin-late, cooling",
        unit("two-pipe-twin-late", "cooling"),
        days=1,
        begins_us=START_US,
        right=UNFIT,
        seed="v",
        configured_probe="compressor_inlet",
    )


def _healthy() -> Iterator[Scenario]:
    """Every arrangement in every mode it has; one mode of each for longer than it takes to learn."""
    gateways = (FINE, COARSE, ON_CHANGE, GAPS, HALF_MINUTE)
    for number, piping in enumerate(ARRANGEMENTS.values()):
        longest = number % len(piping.modes)
        for place, season in enumerate(piping.modes):
            yield Scenario(
                f"healthy: {piping.name}, {season}",
                unit(piping.name, season),
                gateways[(number + place) % len(gateways)],
                days=5 if place == longest else 2,
                seed=f"h{number}",
            )
