"""Who needs me: every module of a site, those in alarm first."""

from __future__ import annotations

from grafana_foundation_sdk.builders import dashboard
from panels import (
    AMBER,
    CALM,
    KELVIN,
    MODES,
    PLAIN,
    PRIORITIES,
    RUST,
    SECONDS,
    STATUSES,
    board,
    choice,
    coded,
    coloured,
    course,
    figure,
    linked,
    listing,
    now,
    query,
    ribbon,
    steps,
)

SITE = 'site=~"$site"'
MODULE = "site, system, module"
# Nought only where an agent answers and tells of none; else nothing is known, and nothing is shown.
NONE_TOLD = "0 * max(dewline_build_info)"
OLD_S = 1200  # as in prometheus-rules.yml


def fleet() -> dashboard.Dashboard:
    return (
        board(
            "dewline-fleet", "Dewline: who needs me", "Every module, those in alarm first.", "now-24h", "30s"
        )
        .with_variable(choice("site", "Site", "dewline_reading_age_seconds", all_of_them=True))
        .with_panel(alarms_of("high", RUST))
        .with_panel(alarms_of("medium", AMBER))
        .with_panel(alarms_of("low", PRIORITIES["low"]))
        .with_panel(
            figure(
                "Running, superheat not decided",
                "Modules that run and whose return superheat is not decided now: the table says which of the "
                "four reasons each has.",
                PLAIN,
                [
                    now(
                        f'count(dewline_quantity_status{{{SITE}, place="return", status!="decided"}} unless '
                        f'on ({MODULE}) dewline_mode{{{SITE}, mode=~"off|unknown"}}) or {NONE_TOLD}'
                    )
                ],
                thresholds=steps((None, CALM), (1, AMBER)),
                no_value="no agent answers",
            )
        )
        .with_panel(
            figure(
                "Not heard for 20 min",
                "Modules whose newest reading is older than 20 minutes.",
                PLAIN,
                [now(f"count(dewline_reading_age_seconds{{{SITE}}} > {OLD_S}) or {NONE_TOLD}")],
                thresholds=steps((None, CALM), (1, RUST)),
                no_value="no agent answers",
            )
        )
        .with_panel(
            figure(
                "In shadow",
                "New modules, whose alarms are shown and sent to nobody until somebody confirms them.",
                PLAIN,
                [now(f"count(dewline_shadow{{{SITE}}}) or {NONE_TOLD}")],
                no_value="no agent answers",
            )
        )
        .with_panel(standing())
        .with_panel(every_module())
        .with_panel(
            ribbon(
                "Alarms, the most urgent of each module",
                "A module without a line had no alarm.",
                [
                    query(
                        coded("dewline_alarm_active", "priority", list(PRIORITIES), SITE, MODULE),
                        "{{system}}/{{module}}",
                    )
                ],
                PRIORITIES,
            )
        )
        .with_panel(
            ribbon(
                "Mode of every module",
                "An empty stretch: nothing was assessed.",
                [query(coded("dewline_mode", "mode", list(MODES), SITE, MODULE), "{{system}}/{{module}}")],
                MODES,
                high=8,
            )
        )
        .with_panel(
            course(
                "Return superheat",
                "Of the vapour coming back, ahead of the accumulator; only where it was decided.",
                KELVIN,
                [query(f"dewline_return_superheat_kelvin{{{SITE}}}", "{{system}}/{{module}}")],
            )
        )
        .with_panel(
            course(
                "Running without a decided superheat, an hour back",
                "Seconds of the hour before, by cause: what is not decided is not healthy either.",
                SECONDS,
                [
                    query(
                        f"sum by (cause) (increase(dewline_undecided_seconds_total{{{SITE}}}[1h]))",
                        "{{cause}}",
                    )
                ],
            )
        )
    )


def alarms_of(priority: str, colour: str) -> object:
    return figure(
        f"Alarms, {priority}",
        f"Alarms of priority {priority} that stand, whether or not somebody sees to them.",
        PLAIN,
        [now(f'count(dewline_alarm_active{{{SITE}, priority="{priority}"}}) or {NONE_TOLD}')],
        thresholds=steps((None, CALM), (1, colour)),
        no_value="no agent answers",
    )


def standing() -> object:
    """Alarms with their state in the standards' words, where they have one."""
    of_one = f"{MODULE}, alarm"
    active = f"max by ({of_one}, priority) (dewline_alarm_active{{{SITE}}})"
    state = f"max by ({of_one}, state) (dewline_alarm_state{{{SITE}}})"
    with_state = f"{active} * on ({of_one}) group_left (state) {state}"
    panel = listing(
        "Alarms that stand",
        "The state is its name in ISA-18.2 and IEC 62682. `dewline alarms` says since when, and why.",
        [query(f"({with_state}) or ({active} unless on ({of_one}) {state})", rows=True)],
        {name: name for name in ("priority", "alarm", "site", "system", "module", "state")},
        hidden=["Value"],
        high=8,
        no_value="no alarm stands, or no agent answers: see the figures above",
    )
    return linked(panel, "module")


def every_module() -> object:
    shown = {
        "site": "site",
        "system": "system",
        "module": "module",
        "mode": "mode",
        "status": "return superheat is",
        "Value #C": "return superheat",
        "Value #D": "at least",
        "Value #E": "alarms",
        "Value #F": "newest reading",
    }
    value = f"max by ({MODULE}) (dewline_return_superheat_kelvin{{{SITE}}})"
    below = (
        f'max by ({MODULE}) (dewline_superheat_uncertainty_kelvin{{{SITE}, place="return", side="below"}})'
    )
    panel = listing(
        "Every module",
        "No figure: the column before says which of the four reasons there is. `at least` is the figure less "
        "its uncertainty (k = 2).",
        [
            query(f"max by ({MODULE}, mode) (dewline_mode{{{SITE}}})", ref="A", rows=True),
            query(
                f'max by ({MODULE}, status) (dewline_quantity_status{{{SITE}, place="return"}})',
                ref="B",
                rows=True,
            ),
            query(value, ref="C", rows=True),
            query(f"{value} - {below}", ref="D", rows=True),
            query(f"count by ({MODULE}) (dewline_alarm_active{{{SITE}}})", ref="E", rows=True),
            query(f"max by ({MODULE}) (dewline_reading_age_seconds{{{SITE}}})", ref="F", rows=True),
        ],
        shown,
        hidden=["Value #A", "Value #B"],
        units={"return superheat": KELVIN, "at least": KELVIN, "newest reading": SECONDS},
        no_value="-",
    )
    return linked(coloured(panel, {"return superheat is": STATUSES, "mode": MODES}), "module")
