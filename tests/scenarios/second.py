"""A second set of scenarios, as somebody who services such modules would put them together.

What is right was written down from physics and trade ahead of any run, and it stays as it is written. It
must not know how the agent decides. Limits that it leans on are the usual ones of the trade: 2 and 14 K of
superheat, 3 and 12 K of subcooling, 105 degC of discharge. Everything in it is invented.
"""

from collections.abc import Iterable, Iterator

from demo_feed.bench import (
    ARRANGEMENTS,
    Fault,
    FaultKind,
    Gateway,
    Instrument,
    SensorFault,
    SensorFaultKind,
    Supervisor,
    Unit,
)
from tests.scenarios.scenario import BEGINS_US, HOUR_US, START_US, Scenario, fault

HOUR_S = 3600.0
FIRST_MORNING_US = START_US + 7 * HOUR_US
# Clamps under old tape, one whole degree, every two minutes.
POOR = Instrument(pipe_k=1.0, discharge_k=3.0, suction_pa=20e3, discharge_pa=50e3)
COARSE = Gateway(poll_s=120, temperature_step=1.0, pressure_step_kpa=10.0, instrument=POOR)
COARSE_STEPS = Gateway(poll_s=120, temperature_step=1.0, pressure_step_kpa=10.0)
PLAIN = Gateway()
ON_CHANGE = Gateway(poll_s=30, on_change=True)


def scenarios() -> tuple[Scenario, ...]:
    made = (
        *_liquid(),
        *_charge(),
        *_gas_and_oil(),
        *_heat(),
        *_instruments(),
        *_knowledge(),
        *_both(),
        *_healthy(),
    )
    assert len({each.name for each in made}) == len(made)
    return made


def _unit(
    layout: str,
    season: str,
    refrigerant: str = "R410A",
    faults: Iterable[Fault] = (),
    superheat_k: float = 6.0,
) -> Unit:
    return Unit(ARRANGEMENTS[layout], season, refrigerant, tuple(faults), superheat_k)


def _since_first_morning(kind: str, severity: float) -> Fault:
    return Fault(FaultKind(kind), severity, FIRST_MORNING_US, grows_s=600.0)


def _words(*kinds: str) -> tuple[str, ...]:
    """A cause in the ways it may be spelt."""
    return tuple(kind.replace("_", mark) for kind in kinds for mark in "_- ")


def _sensor(
    kind: str, signal: str, size: float = 0.0, other: str | None = None, since_us: int = BEGINS_US
) -> SensorFault:
    return SensorFault(SensorFaultKind(kind), signal, size, other, since_us)


def _faulty(
    name: str,
    unit: Unit,
    right: str,
    acceptable: str = "",
    gateway: Gateway = PLAIN,
    days: int = 5,
    causes: tuple[str, ...] = (),
    why: str = "",
    seed: str = "m",
    begins_us: int = BEGINS_US,
    configured_probe: str | None = None,
) -> Scenario:
    return Scenario(
        name=name,
        unit=unit,
        gateway=gateway,
        days=days,
        begins_us=begins_us,
        right=frozenset(right.split()),
        acceptable=frozenset(acceptable.split()),
        causes=causes,
        why=why,
        seed=seed,
        configured_probe=configured_probe,
    )


def _liquid() -> Iterator[Scenario]:
    yield _faulty(
        "a valve that wears over a day, little liquid: early probe, computer room",
        _unit("two-pipe-single-early", "all_day", "R32", [fault("valve_stuck_open", 0.3, 20 * HOUR_S)]),
        "superheat-low",
        "discharge-superheat-low",
        causes=_words("valve_stuck_open"),
        seed="k",
    )
    yield _faulty(
        "liquid with 6 K of glide: split coil, rooms heat and cool at once",
        _unit("three-pipe-split-coil", "simultaneous", "R407C", [fault("valve_stuck_open", 0.5, HOUR_S)]),
        "superheat-low",
        "discharge-superheat-low",
        causes=_words("valve_stuck_open"),
        seed="n",
    )
    yield _faulty(
        "liquid at whole degrees and poor probes: common pipe, mild heating",
        _unit("two-pipe-single-common", "mild_heating", "R407C", [fault("valve_stuck_open", 0.5)], 8.0),
        "superheat-low",
        "discharge-superheat-low",
        gateway=COARSE,
        causes=_words("valve_stuck_open"),
        seed="p",
    )
    yield _faulty(
        "liquid since the first day, little of it: bleed and late probe, three pipes, R-32",
        _unit(
            "three-pipe-twin-late", "simultaneous", "R32", [_since_first_morning("valve_stuck_open", 0.35)]
        ),
        "superheat-low",
        "discharge-superheat-low",
        days=3,
        begins_us=START_US,
        seed="o",
    )
    yield _faulty(
        "late probe shows 4 K while liquid returns, and the supervisor believes it: twin, cooling",
        _unit("two-pipe-twin-late", "cooling", faults=[_since_first_morning("hidden_liquid", 0.45)]),
        "superheat-low",
        "probe-unfit oil-return-excess discharge-superheat-low",
        gateway=Gateway(supervisor=Supervisor("compressor_inlet")),
        days=3,
        begins_us=START_US,
        seed="q",
    )
    yield _faulty(
        "late probe shows 16 K while liquid returns within half an hour: twin, frost",
        _unit("two-pipe-twin-late", "frost", faults=[fault("hidden_liquid", 0.6, 1800.0)]),
        "superheat-low",
        "oil-return-excess discharge-superheat-low",
        seed="r",
    )
    yield _faulty(
        "flooded while the subcooler returns a stream of its own all day: hot roof",
        _unit(
            "two-pipe-single-late-subcooler",
            "hot_roof",
            faults=[_since_first_morning("valve_stuck_open", 0.9)],
        ),
        "superheat-low discharge-superheat-low watch-blind",
        days=3,
        begins_us=START_US,
        why="no clean probe has seen all that returns while the bypass is open: blind is right too",
        seed="s",
    )
    yield _faulty(
        "hunting at whole degrees every two minutes: branches, cooling",
        _unit("two-pipe-twin-branches", "cooling", faults=[fault("hunting", 0.9)]),
        "superheat-hunting",
        "superheat-low",
        gateway=COARSE_STEPS,
        causes=_words("hunting"),
        seed="t",
    )
    yield _faulty(
        "hunting read every five minutes: twin, cooling",
        _unit("two-pipe-twin-late", "cooling", faults=[fault("hunting", 0.6)]),
        "",
        "superheat-hunting superheat-low watch-blind",
        gateway=Gateway(poll_s=300),
        why="a swing of five and a half minutes cannot be read every five",
        seed="u",
    )


def _charge() -> Iterator[Scenario]:
    yield _faulty(
        "a leak over a day and a half: split coil, cooling, R-32",
        _unit("two-pipe-split-coil", "cooling", "R32", [fault("undercharge", 0.45, 36 * HOUR_S)]),
        "subcooling-low",
        "superheat-high",
        days=6,
        causes=_words("undercharge"),
        seed="k",
    )
    yield _faulty(
        "a leak, sent on change: three pipes, one compressor, all rooms cool",
        _unit(
            "three-pipe-single-early-injection", "cooling", "R32", [fault("undercharge", 0.55, 6 * HOUR_S)]
        ),
        "subcooling-low",
        "superheat-high",
        gateway=ON_CHANGE,
        causes=_words("undercharge"),
        seed="n",
    )
    yield _faulty(
        "nearly empty, in heating: subcooler layout",
        _unit("two-pipe-single-late-subcooler", "heating", faults=[fault("undercharge", 1.0, 12 * HOUR_S)]),
        "",
        "superheat-high discharge-temperature-high",
        why="both liquid probes lie behind valves that expand, and the coil's valve still holds superheat",
        seed="o",
    )
    yield _faulty(
        "overcharged in winter: early probe, cooling at 2 degC",
        _unit("two-pipe-single-early", "low_ambient", "R407C", [fault("overcharge", 0.5, HOUR_S)]),
        "subcooling-high",
        "discharge-temperature-high",
        causes=_words("overcharge"),
        seed="p",
    )
    yield _faulty(
        "overcharged where rooms heat and cool at once: three pipes, twin",
        _unit("three-pipe-twin-late", "simultaneous", faults=[fault("overcharge", 0.6)]),
        "subcooling-high",
        "discharge-temperature-high",
        seed="q",
    )
    yield _faulty(
        "air in the circuit after a repair: branches, cooling",
        _unit("two-pipe-twin-branches", "cooling", faults=[fault("non_condensables", 0.8, 600.0)]),
        "",
        "subcooling-high",
        why="3 to 4 K of false subcooling stay inside the usual 3 to 12 K",
        seed="r",
    )
    yield _faulty(
        "drier nearly blocked: unproven, cooling, R-134a",
        _unit("two-pipe-twin-unproven", "cooling", "R134a", [fault("liquid_restriction", 0.95, 8 * HOUR_S)]),
        "superheat-high",
        "subcooling-high discharge-temperature-high",
        causes=_words("liquid_restriction"),
        seed="s",
    )
    yield _faulty(
        "drier blocked: three pipes, one compressor, all rooms cool, R-32",
        _unit(
            "three-pipe-single-early-injection", "cooling", "R32", [fault("liquid_restriction", 1.0, 1800.0)]
        ),
        "superheat-high",
        "subcooling-high discharge-temperature-high",
        causes=_words("liquid_restriction"),
        gateway=Gateway(poll_s=30),
        seed="t",
    )


def _gas_and_oil() -> Iterator[Scenario]:
    yield _faulty(
        "bypass leaks, one compressor: common pipe, frost",
        _unit("two-pipe-single-common", "frost", faults=[fault("bypass_leaking", 0.4)]),
        "oil-return-excess",
        "discharge-temperature-high",
        causes=_words("bypass_leaking"),
        seed="k",
    )
    yield _faulty(
        "bypass leaks, one compressor: early probe, heating",
        _unit("two-pipe-single-early", "heating", faults=[fault("bypass_leaking", 0.5)]),
        "",
        "discharge-temperature-high",
        why="no probe sits after the bypass, and the discharge stays under its limit",
        seed="n",
    )
    yield _faulty(
        "bypass leaks more from day to day: subcooler layout, frost, R-407C",
        _unit(
            "two-pipe-single-late-subcooler", "frost", "R407C", [fault("bypass_leaking", 0.4, 48 * HOUR_S)]
        ),
        "oil-return-excess",
        days=6,
        causes=_words("bypass_leaking"),
        seed="o",
    )
    yield _faulty(
        "bypass leaks, the coil is defrosted in halves, sent on change: split coil, frost",
        _unit("two-pipe-split-coil", "frost", faults=[fault("bypass_leaking", 0.5, 600.0)]),
        "oil-return-excess",
        "discharge-temperature-high",
        gateway=ON_CHANGE,
        causes=_words("bypass_leaking"),
        seed="p",
    )
    yield _faulty(
        "oil return mostly blocked: probes on both sides, frost",
        _unit("two-pipe-twin-both-injection", "frost", faults=[fault("oil_return_blocked", 0.8, 5 * HOUR_S)]),
        "oil-return-absent",
        causes=_words("oil_return_blocked"),
        seed="q",
    )
    yield _faulty(
        "both oil returns blocked: branches, frost, R-407C",
        _unit("two-pipe-twin-branches", "frost", "R407C", [fault("oil_return_blocked", 1.0, 600.0)], 7.0),
        "oil-return-absent",
        causes=_words("oil_return_blocked"),
        seed="r",
    )
    yield _faulty(
        "oil return blocked: three pipes, early probe, rooms heat and cool at once",
        _unit("three-pipe-single-early-injection", "simultaneous", "R32", [fault("oil_return_blocked", 1.0)]),
        "",
        why="no probe sits after the oil return",
        seed="s",
    )
    yield _faulty(
        "oil return blocked: ahead of the accumulator, computer room, R-134a",
        _unit("cooling-only-single-oil-ahead", "all_day", "R134a", [fault("oil_return_blocked", 1.0)]),
        "",
        "oil-return-absent",
        why="the rise is 1.1 K when healthy, and two probes of half a kelvin cannot prove less than 0.8 K",
        seed="t",
    )
    yield _faulty(
        "oil return blocked: nobody knows where the second probe sits",
        _unit("two-pipe-twin-unproven", "cooling", faults=[fault("oil_return_blocked", 1.0)]),
        "",
        "oil-return-absent layout-doubt",
        why="a probe whose side of the oil return is unknown proves no returning oil",
        seed="u",
    )


def _heat() -> Iterator[Scenario]:
    yield _faulty(
        "coil clogs over three days: branches, cooling, R-32",
        _unit("two-pipe-twin-branches", "cooling", "R32", [fault("condenser_fouled", 1.0, 72 * HOUR_S)]),
        "discharge-temperature-high",
        days=8,
        causes=_words("condenser_fouled"),
        seed="k",
    )
    yield _faulty(
        "coil clogs in a day: split coil, hot roof",
        _unit("two-pipe-split-coil", "hot_roof", faults=[fault("condenser_fouled", 0.6, 24 * HOUR_S)]),
        "",
        "discharge-temperature-high",
        why="superheat and subcooling are held, and the discharge stays under its limit",
        seed="n",
    )
    yield _faulty(
        "outdoor coil clogs: early probe, frost",
        _unit("two-pipe-single-early", "frost", faults=[fault("evaporator_fouled", 0.7, 24 * HOUR_S)]),
        "",
        "discharge-temperature-high",
        why="the valve holds superheat at a lower suction pressure, which by itself is weather",
        seed="o",
    )
    yield _faulty(
        "valve plate of compressor 1 leaks: branches, cooling, R-32",
        _unit("two-pipe-twin-branches", "cooling", "R32", [fault("compressor_leaking", 0.8, 12 * HOUR_S)]),
        "",
        "discharge-temperature-high",
        why="the discharge grows a few kelvin hotter, far under its limit, and suction tells nothing",
        seed="p",
    )
    yield _faulty(
        "injection shut: twin with probes on both sides, hard frost",
        _unit(
            "two-pipe-twin-both-injection", "hard_frost", faults=[fault("injection_stuck_shut", 1.0, 600.0)]
        ),
        "discharge-temperature-high",
        causes=_words("injection_stuck_shut"),
        seed="q",
    )
    yield _faulty(
        "liquid injection hangs open though told shut: cooling at 2 degC, R-407C",
        _unit(
            "cooling-only-single-oil-ahead",
            "low_ambient",
            "R407C",
            [fault("injection_stuck_open", 1.0, 600.0)],
        ),
        "discharge-superheat-low",
        causes=_words("injection_stuck_open"),
        why="8 K of discharge superheat with dry suction",
        seed="r",
    )


def _instruments() -> Iterator[Scenario]:
    yield _faulty(
        "probe slides off, a little more each day, reads cold: early probe, cooling",
        _unit("two-pipe-single-early", "cooling"),
        "probe-drift",
        "probe-failed",
        gateway=Gateway(faults=(_sensor("drift", "suction_pipe", -1.2),)),
        days=8,
        seed="k",
    )
    yield _faulty(
        "the one fit probe of heating drifts warm: twin, heating",
        _unit("two-pipe-twin-late", "heating"),
        "probe-drift",
        "probe-failed",
        gateway=Gateway(faults=(_sensor("drift", "outdoor_coil_gas", 0.9),)),
        days=8,
        seed="n",
    )
    yield _faulty(
        "suction transducer drifts by a kelvin a day: twin, cooling",
        _unit("two-pipe-twin-late", "cooling"),
        "probe-drift",
        "superheat-low probe-failed",
        gateway=Gateway(faults=(_sensor("drift", "suction_pressure", 30e3),)),
        days=8,
        seed="o",
    )
    yield _faulty(
        "broken wire at the one fit probe: common pipe, frost",
        _unit("two-pipe-single-common", "frost"),
        "probe-failed",
        "watch-blind",
        gateway=Gateway(faults=(_sensor("open", "common_suction"),)),
        days=4,
        seed="p",
    )
    yield _faulty(
        "bridged wire at a discharge probe: branches, cooling, R-32",
        _unit("two-pipe-twin-branches", "cooling", "R32"),
        "probe-failed",
        gateway=Gateway(faults=(_sensor("short", "discharge_1"),)),
        days=4,
        seed="q",
    )
    yield _faulty(
        "frozen value at whole degrees: unproven, cooling",
        _unit("two-pipe-twin-unproven", "cooling"),
        "probe-failed feed-stale",
        "probe-drift watch-blind",
        gateway=Gateway(
            poll_s=120,
            temperature_step=1.0,
            pressure_step_kpa=10.0,
            faults=(_sensor("frozen", "suction_pipe"),),
        ),
        days=6,
        seed="r",
    )
    yield _faulty(
        "suction pressure comes no more: subcooler layout, heating",
        _unit("two-pipe-single-late-subcooler", "heating"),
        "feed-stale",
        "watch-blind probe-failed",
        gateway=Gateway(faults=(_sensor("stops", "suction_pressure"),)),
        days=4,
        seed="s",
    )
    yield _faulty(
        "cooling pipe and coil pipe swapped since installation: early probe, cooling",
        _unit("two-pipe-single-early", "cooling"),
        "probe-failed probe-drift watch-blind layout-doubt",
        gateway=Gateway(faults=(_sensor("swapped", "suction_pipe", 0.0, "outdoor_coil_gas", 0),)),
        days=3,
        begins_us=START_US,
        seed="t",
    )
    yield _faulty(
        "clean and late probe swapped in a service: split coil, cooling",
        _unit("two-pipe-split-coil", "cooling"),
        "probe-failed probe-drift watch-blind layout-doubt",
        gateway=Gateway(faults=(_sensor("swapped", "suction_pipe", 0.0, "compressor_inlet"),)),
        days=6,
        why="a rise of minus 3 K cannot be: what joins there only warms",
        seed="u",
    )
    yield _faulty(
        "gauge for absolute after a new gateway: three pipes, split coil, R-32",
        _unit("three-pipe-split-coil", "simultaneous", "R32"),
        "probe-drift probe-failed",
        "watch-blind",
        gateway=Gateway(faults=(_sensor("gauge", "suction_pressure"),)),
        days=6,
        why="standing still both transducers must agree, and they differ by an atmosphere",
        seed="k",
    )


def _knowledge() -> Iterator[Scenario]:
    yield _faulty(
        "site takes the gas pipe's probe, which is hot in heating: both sides",
        _unit("two-pipe-twin-both-injection", "heating"),
        "probe-unfit",
        configured_probe="suction_pipe",
        days=2,
        begins_us=START_US,
        seed="n",
    )
    yield _faulty(
        "supervisor's superheat comes from the late probe: three pipes, twin",
        _unit("three-pipe-twin-late", "simultaneous"),
        "probe-unfit",
        gateway=Gateway(supervisor=Supervisor("compressor_inlet")),
        days=3,
        begins_us=START_US,
        seed="o",
    )
    yield _faulty(
        "site takes a branch's probe: branches, cooling at 2 degC, sent on change",
        _unit("two-pipe-twin-branches", "low_ambient"),
        "probe-unfit",
        gateway=ON_CHANGE,
        configured_probe="inlet_1",
        days=3,
        begins_us=START_US,
        seed="p",
    )


def _both() -> Iterator[Scenario]:
    """Two things at once; the one that is harder to see is the one that must be found."""
    yield _faulty(
        "loose clamp reads 6 K warm, and liquid returns: early probe, cooling",
        _unit("two-pipe-single-early", "cooling", faults=[fault("valve_stuck_open", 0.7)]),
        "superheat-low discharge-superheat-low",
        "probe-drift probe-failed watch-blind",
        gateway=Gateway(faults=(_sensor("jump", "suction_pipe", 6.0),)),
        why="the accumulator's outlet falls to saturation and the discharge cools, whatever the clamp says",
        seed="q",
    )
    yield _faulty(
        "a leak, and a broken discharge probe beside it: twin, cooling",
        _unit("two-pipe-twin-late", "cooling", faults=[fault("undercharge", 0.6, 10 * HOUR_S)]),
        "subcooling-low",
        "probe-failed superheat-high",
        gateway=Gateway(faults=(_sensor("open", "discharge_2"),)),
        causes=_words("undercharge"),
        seed="r",
    )
    yield _faulty(
        "oil return blocked, and liquid returns a day later: branches, cooling",
        _unit(
            "two-pipe-twin-branches",
            "cooling",
            faults=[
                fault("oil_return_blocked", 1.0),
                Fault(FaultKind.VALVE_STUCK_OPEN, 0.5, BEGINS_US + 24 * HOUR_US, HOUR_S),
            ],
        ),
        "oil-return-absent",
        "superheat-low discharge-superheat-low",
        days=6,
        seed="s",
    )
    yield _faulty(
        "bypass leaks, and the late probe that would show it stops: common pipe, cooling",
        _unit("two-pipe-single-common", "cooling", faults=[fault("bypass_leaking", 0.5)]),
        "feed-stale",
        "probe-failed",
        gateway=Gateway(faults=(_sensor("stops", "compressor_inlet"),)),
        days=4,
        why="without it the leak cannot be seen; that it went silent can",
        seed="t",
    )


def _healthy() -> Iterator[Scenario]:
    def well(
        name: str,
        unit: Unit,
        gateway: Gateway = PLAIN,
        acceptable: str = "",
        seed: str = "v",
        days: int = 4,
    ) -> Scenario:
        kept = frozenset(acceptable.split())
        return Scenario(f"healthy: {name}", unit, gateway, days, acceptable=kept, seed=seed)

    yield well(
        "25 minutes on and 14 off all day: twin, late probe",
        _unit("two-pipe-twin-late", "short_runs"),
        acceptable="watch-blind",  # it hardly ever settles
    )
    yield well(
        "a defrost every 38 minutes: probes on both sides, R-32",
        _unit("two-pipe-twin-both-injection", "wet_frost", "R32"),
        acceptable="watch-blind",
        seed="w",
    )
    yield well(
        "oil recovery every hour, and the coil turns to and fro: three pipes, twin",
        _unit("three-pipe-twin-late", "turning"),
        seed="x",
    )
    yield well(
        "cooling at 2 degC, R-407C", _unit("cooling-only-single-oil-ahead", "low_ambient", "R407C"), seed="y"
    )
    yield well("hot roof, 43 degC at noon: branches", _unit("two-pipe-twin-branches", "hot_roof"), seed="v")
    yield well(
        "hot roof, subcooler open all day",
        _unit("two-pipe-single-late-subcooler", "hot_roof"),
        acceptable="watch-blind",  # no clean probe has seen all that returns
        seed="w",
    )
    yield well(
        "whole degrees, poor probes, two minutes: common pipe, frost",
        _unit("two-pipe-single-common", "frost", superheat_k=8.0),
        COARSE,
        seed="x",
    )
    yield well(
        "six gaps a day, sent on change, defrosts in halves: split coil",
        _unit("two-pipe-split-coil", "frost"),
        Gateway(poll_s=30, on_change=True, gaps_a_day=6, gap_s=1500.0),
        acceptable="feed-stale watch-blind",  # silent for 25 minutes it is
        seed="y",
    )
    yield well(
        "the gateway's clock jitters by 8 s: three pipes, split coil, R-32",
        _unit("three-pipe-split-coil", "simultaneous", "R32"),
        Gateway(clock_jitter_s=8.0),
        acceptable="feed-stale",
        seed="v",
    )
    yield well(
        "hard frost, injection at work",
        _unit("two-pipe-twin-both-injection", "hard_frost"),
        seed="w",
    )
    yield well(
        "superheat held at 4 K, rooms heat and cool: three pipes, one compressor",
        _unit("three-pipe-single-early-injection", "turning", superheat_k=4.5),
        seed="x",
    )
    yield well(
        "small rise of oil, every five minutes: unproven, R-134a",
        _unit("two-pipe-twin-unproven", "all_day", "R134a"),
        Gateway(poll_s=300),
        seed="y",
    )
    yield well(
        "slow mild heating with one compressor in turn: twin, R-407C, whole degrees",
        _unit("two-pipe-twin-late", "mild_heating", "R407C", superheat_k=8.0),
        COARSE_STEPS,
        seed="z",
    )
