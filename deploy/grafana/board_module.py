"""One module: does good vapour come back, by which probe, how sure, and what speaks for and against it."""

from __future__ import annotations

from grafana_foundation_sdk.builders import dashboard
from panels import (
    AMBER,
    CALM,
    CELSIUS,
    FITNESSES,
    KELVIN,
    MODES,
    PLAIN,
    PRIORITIES,
    RUST,
    SECONDS,
    STATUSES,
    Query,
    board,
    choice,
    coded,
    course,
    figure,
    listing,
    now,
    query,
    ribbon,
    steps,
    with_band,
    words_shown,
)

ONE = 'site="$site", system="$system", module="$module"'
MODULE = "site, system, module"
SUCTION = "return|accumulator_outlet|compressor_inlet|oil_return_rise"
LIMIT_S = 1200  # as in prometheus-rules.yml


def module() -> dashboard.Dashboard:
    made = (
        board("dewline-module", "Dewline: a module", "One outdoor module, hour by hour.", "now-24h", "30s")
        .with_variable(choice("site", "Site", "dewline_reading_age_seconds"))
        .with_variable(choice("system", "System", 'dewline_reading_age_seconds{site="$site"}'))
        .with_variable(
            choice("module", "Module", 'dewline_reading_age_seconds{site="$site", system="$system"}')
        )
    )
    for panel in (*at_a_glance(), *suction(), *high_side(), *instruments()):
        made = made.with_panel(panel)
    return made


def place(name: str, side: str) -> str:
    return f'max by ({MODULE}) (dewline_superheat_uncertainty_kelvin{{{ONE}, place="{name}", side="{side}"}})'


def banded(metric: str, name: str, label: str) -> list[Query]:
    """A value and the two ends of its uncertainty (k = 2)."""
    value = f"max by ({MODULE}) ({metric}{{{ONE}}})"
    return [
        query(value, label, "A"),
        query(f"{value} - {place(name, 'below')}", "at least", "B"),
        query(f"{value} + {place(name, 'above')}", "at most", "C"),
    ]


def at_a_glance() -> list[object]:
    value = f"max by ({MODULE}) (dewline_return_superheat_kelvin{{{ONE}}})"
    wet = steps((None, RUST), (0, AMBER), (2, CALM))
    return [
        figure(
            "Return superheat",
            "Of the vapour coming back, ahead of the accumulator. No value: the panel beside it says why.",
            KELVIN,
            [now(value)],
            thresholds=wet,
            no_value="not decided",
        ),
        figure(
            "At least",
            "The same, less its uncertainty (k = 2): at zero or below, liquid cannot be excluded.",
            KELVIN,
            [now(f"{value} - {place('return', 'below')}")],
            thresholds=wet,
            no_value="not decided",
        ),
        figure(
            "It is",
            "Decided, or which of the four reasons there is none: not settled, not decidable, missing, not "
            "measurable. None of them is zero, and none is healthy.",
            PLAIN,
            [now(f'max by (status) (dewline_quantity_status{{{ONE}, place="return"}})', "{{status}}")],
            named=True,
            no_value="nothing assessed",
        ),
        figure(
            "By probe",
            "The probe that speaks for it in this mode; several where only together they see all vapour.",
            PLAIN,
            [now(f'max by (probe) (dewline_chosen_probe{{{ONE}, place="return"}})', "{{probe}}")],
            named=True,
            no_value="none is fit",
        ),
        figure(
            "Mode",
            "The mode in force.",
            PLAIN,
            [now(f"max by (mode) (dewline_mode{{{ONE}}})", "{{mode}}")],
            named=True,
            no_value="nothing assessed",
        ),
        figure(
            "Newest reading",
            "Its age by its own time.",
            SECONDS,
            [now(f"max by ({MODULE}) (dewline_reading_age_seconds{{{ONE}}})")],
            thresholds=steps((None, CALM), (LIMIT_S, RUST)),
            no_value="never heard",
        ),
        ribbon(
            "Alarms",
            "Each alarm that stood, in the colour of its priority. It holds through a gap in the readings.",
            [query(coded("dewline_alarm_active", "priority", list(PRIORITIES), ONE, "alarm"), "{{alarm}}")],
            PRIORITIES,
            high=5,
        ),
        ribbon(
            "Mode",
            "An empty stretch: nothing was assessed.",
            [query(coded("dewline_mode", "mode", list(MODES), ONE, "module"), "{{module}}")],
            MODES,
            high=4,
        ),
    ]


def suction() -> list[object]:
    return [
        with_band(
            course(
                "Return superheat and what an unfit probe would show",
                "Shaded: the uncertainty (k = 2). Apparent: at a probe that something joins ahead of; "
                "healthy as it looks, it says nothing of the vapour. Gaps: the ribbon below says why.",
                KELVIN,
                [
                    *banded("dewline_return_superheat_kelvin", "return", "return superheat"),
                    query(
                        f"max by (probe) (dewline_apparent_superheat_kelvin{{{ONE}}})",
                        "apparent, at {{probe}}",
                        "D",
                    ),
                ],
                wide=24,
            ).thresholds(steps((None, "transparent"), (0, RUST))),
            "at least",
            "at most",
        ),
        ribbon(
            "Whether it can be told",
            "Not settled: there is a value, still moving. Not decidable: not in this situation. Missing: a "
            "reading is not there. Not measurable: no probe for it in this mode.",
            [
                query(
                    coded(
                        "dewline_quantity_status",
                        "status",
                        list(STATUSES),
                        f'{ONE}, place=~"{SUCTION}"',
                        "place",
                    ),
                    "{{place}}",
                )
            ],
            STATUSES,
        ),
        ribbon(
            "The probe that speaks for return superheat",
            "It changes with the mode, as the piping has it.",
            [query(f'max by (probe) (dewline_chosen_probe{{{ONE}, place="return"}})', "{{probe}}")],
            {"chosen": CALM},
            wide=12,
            high=5,
        ),
        ribbon(
            "What each probe is worth",
            "For suction superheat, in the mode of the moment.",
            [query(coded("dewline_probe_fitness", "fitness", list(FITNESSES), ONE, "probe"), "{{probe}}")],
            FITNESSES,
            wide=12,
            high=5,
        ),
        course(
            "Oil-return rise",
            "Temperature gained between the fit reference and a probe after the oil return. Against this "
            "module's own history; never a mass of oil.",
            KELVIN,
            [query(f"max by ({MODULE}) (dewline_oil_return_rise_kelvin{{{ONE}}})", "rise")],
        ),
        course(
            "Further along the suction line",
            "After the accumulator, near zero is normal while it holds liquid; after the inlets it is for "
            "gas density, not for vapour quality.",
            KELVIN,
            [
                query(
                    f"max by ({MODULE}) (dewline_accumulator_outlet_superheat_kelvin{{{ONE}}})",
                    "accumulator outlet",
                    "A",
                ),
                query(
                    f"max by ({MODULE}) (dewline_compressor_inlet_superheat_kelvin{{{ONE}}})",
                    "compressor inlet",
                    "B",
                ),
            ],
        ),
        course(
            "Running without a decided superheat, an hour back",
            "Seconds of the hour before, by cause.",
            SECONDS,
            [
                query(
                    f"sum by (cause) (increase(dewline_undecided_seconds_total{{{ONE}}}[1h]))",
                    "{{cause}}",
                    "A",
                ),
                query(f"sum(increase(dewline_running_seconds_total{{{ONE}}}[1h]))", "running in all", "B"),
            ],
        ),
    ]


def high_side() -> list[object]:
    at_compressor = "max by (compressor)"
    margin_status = f'{ONE}, place=~"discharge_superheat:.+|discharge_margin:.+|subcooling"'
    return [
        course(
            "Discharge temperature",
            "At each compressor.",
            CELSIUS,
            [
                query(
                    f"{at_compressor} (dewline_discharge_temperature_celsius{{{ONE}}})",
                    "compressor {{compressor}}",
                )
            ],
        ),
        course(
            "Discharge superheat, and its margin over saturated suction",
            "The margin is over the middle of what saturated suction would give at the live pressures: far "
            "below zero it came in wet. It decides only where it clears its uncertainty.",
            KELVIN,
            [
                query(
                    f"{at_compressor} (dewline_discharge_superheat_kelvin{{{ONE}}})",
                    "superheat, compressor {{compressor}}",
                    "A",
                ),
                query(
                    f"{at_compressor} (dewline_discharge_margin_kelvin{{{ONE}}})",
                    "margin, compressor {{compressor}}",
                    "B",
                ),
            ],
        ),
        with_band(
            course(
                "Subcooling",
                "Liquid below bubble temperature at discharge pressure. Shaded: the uncertainty (k = 2).",
                KELVIN,
                banded("dewline_subcooling_kelvin", "subcooling", "subcooling"),
            ),
            "at least",
            "at most",
        ),
        course(
            "Saturation",
            "Dew temperature at suction and at discharge pressure.",
            CELSIUS,
            [
                query(f"max by ({MODULE}) (dewline_saturated_suction_celsius{{{ONE}}})", "suction", "A"),
                query(
                    f"max by ({MODULE}) (dewline_saturated_condensing_celsius{{{ONE}}})", "condensing", "B"
                ),
            ],
        ),
        course(
            "Pressure ratio",
            "Discharge to suction, both absolute.",
            PLAIN,
            [query(f"max by ({MODULE}) (dewline_pressure_ratio{{{ONE}}})", "ratio")],
        ),
        ribbon(
            "Whether the high side can be told",
            "As above; `discharge_margin` is whether wet or dry.",
            [
                query(
                    coded("dewline_quantity_status", "status", list(STATUSES), margin_status, "place"),
                    "{{place}}",
                )
            ],
            STATUSES,
            wide=12,
            high=8,
        ),
    ]


def instruments() -> list[object]:
    return [
        listing(
            "Failed probes and transducers",
            "What cannot be true. A failed one speaks for nothing; what speaks in its place is chosen above.",
            [query(f"max by (probe, kind) (dewline_probe_failed{{{ONE}}})", rows=True)],
            {"probe": "probe", "kind": "how"},
            hidden=["Value"],
            wide=12,
            high=5,
            no_value="none is seen to have failed",
        ),
        figure(
            "In shadow",
            "A new module's alarms are shown and sent to nobody until somebody confirms it.",
            PLAIN,
            [now(f"max by ({MODULE}) (dewline_shadow{{{ONE}}})")],
            wide=6,
            high=5,
            mappings=words_shown((1, "in shadow: nobody is told", AMBER)),
            no_value="no: its alarms are sent",
        ),
        figure(
            "The gateway's clock is behind by",
            "At most; below zero it is ahead.",
            SECONDS,
            [now(f"max by ({MODULE}) (dewline_gateway_clock_offset_seconds{{{ONE}}})")],
            wide=6,
            high=5,
            no_value="not known",
        ),
    ]
