"""Is the watching itself alive: the agent, its broker, its store, its work, and who was told."""

from __future__ import annotations

from grafana_foundation_sdk.builders import dashboard
from panels import (
    AMBER,
    CALM,
    GREY,
    PER_MINUTE,
    PLAIN,
    RUST,
    SECONDS,
    SHARE,
    board,
    choice,
    course,
    figure,
    listing,
    now,
    query,
    steps,
    words_shown,
)

IT = 'job="dewline", instance="$instance"'
RATE = "[$__rate_interval]"
NAME = "{{system}}/{{module}}"
# Counts that begin with their first event: nought is shown only where the agent answers.
NONE_YET = f"0 * max(dewline_build_info{{{IT}}})"


def agent() -> dashboard.Dashboard:
    made = board(
        "dewline-agent", "Dewline: is the watching alive", "The agent and what it lives on.", "now-6h", "30s"
    ).with_variable(choice("instance", "Agent", 'up{job="dewline"}'))
    for panel in (*at_a_glance(), *what_comes_in(), *work(), *who_was_told()):
        made = made.with_panel(panel)
    return made


def at_a_glance() -> list[object]:
    return [
        figure(
            "The agent",
            "Whether it answered Prometheus just now. Silent: nothing below is up to now, no alarm raised.",
            PLAIN,
            [now(f"max(up{{{IT}}})")],
            mappings=words_shown((0, "silent", RUST), (1, "answers", CALM)),
            no_value="not scraped",
        ),
        figure(
            "Its broker",
            "Without it no reading arrives.",
            PLAIN,
            [now(f"max(dewline_broker_connected{{{IT}}})")],
            mappings=words_shown((0, "away", RUST), (1, "connected", CALM)),
            no_value="not known",
        ),
        figure(
            "Its configuration",
            "Refused: the file was changed and cannot be used; the one before is in force.",
            PLAIN,
            [now(f"max(dewline_config_reload_success{{{IT}}})")],
            mappings=words_shown((0, "refused", AMBER), (1, "in force", CALM)),
            no_value="not known",
        ),
        figure(
            "Oldest reading",
            "Of the module that was heard longest ago.",
            SECONDS,
            [now(f"max(dewline_reading_age_seconds{{{IT}}})")],
            thresholds=steps((None, CALM), (1200, RUST)),
            no_value="nothing heard",
        ),
        figure(
            "Sessions lost, in this time",
            "Each is a gap in the readings that no one fills.",
            PLAIN,
            [now(f"sum(increase(dewline_broker_sessions_lost_total{{{IT}}}[$__range]))")],
            thresholds=steps((None, CALM), (1, RUST)),
            no_value="not known",
        ),
        figure(
            "Version",
            "What runs.",
            PLAIN,
            [now(f"max by (version) (dewline_build_info{{{IT}}})", "{{version}}")],
            named=True,
            thresholds=steps((None, GREY)),
            no_value="not known",
        ),
        listing(
            "What Prometheus says of it",
            "Rules of prometheus-rules.yml that stand, or wait to.",
            [
                query(
                    "max by (alertname, alertstate, priority, site, system, module) "
                    '(ALERTS{alertname=~"Dewline.+", alertname!="DewlineAlarm"})',
                    rows=True,
                )
            ],
            {name: name for name in ("priority", "alertname", "alertstate", "site", "system", "module")},
            hidden=["Value"],
            high=6,
            no_value="no rule stands",
        ),
    ]


def what_comes_in() -> list[object]:
    return [
        course(
            "Readings taken in",
            "Each minute; a shared signal counts once.",
            PER_MINUTE,
            [query(f"sum by (system, module) (60 * rate(dewline_readings_total{{{IT}}}{RATE}))", NAME)],
        ),
        course(
            "Readings refused",
            "Each minute, by reason; `dewline listen` says which topics they come by.",
            PER_MINUTE,
            [
                query(
                    f"sum by (reason) (60 * rate(dewline_readings_refused_total{{{IT}}}{RATE}))", "{{reason}}"
                )
            ],
        ),
        course(
            "Age of the newest reading",
            "It rises between two polls, and goes on rising where a module falls silent.",
            SECONDS,
            [query(f"max by (system, module) (dewline_reading_age_seconds{{{IT}}})", NAME)],
        ),
        course(
            "How far each gateway's clock is behind",
            "At most; below zero it is ahead.",
            SECONDS,
            [query(f"max by (system, module) (dewline_gateway_clock_offset_seconds{{{IT}}})", NAME)],
        ),
        course(
            "Connections to the broker, an hour back",
            "Made and lost.",
            PLAIN,
            [
                query(f"sum(increase(dewline_broker_connects_total{{{IT}}}[1h]))", "made", "A"),
                query(f"sum(increase(dewline_broker_disconnects_total{{{IT}}}[1h]))", "lost", "B"),
            ],
        ),
        course(
            "Oldest message that is not stored yet",
            "No line: nothing waits, which is usual.",
            SECONDS,
            [query(f"max(dewline_broker_oldest_unacknowledged_seconds{{{IT}}})", "waits")],
        ),
    ]


def work() -> list[object]:
    seconds = f"dewline_assess_duration_seconds_sum{{{IT}}}{RATE}"
    rounds = f"dewline_assess_duration_seconds_count{{{IT}}}{RATE}"
    undecided = f"sum by (system, module) (increase(dewline_undecided_seconds_total{{{IT}}}[1h]))"
    running = f"sum by (system, module) (increase(dewline_running_seconds_total{{{IT}}}[1h]) > 0)"
    return [
        course(
            "Rounds of assessing",
            "Each minute, also where there is nothing to do: at zero the agent stands still.",
            PER_MINUTE,
            [query(f"60 * sum(rate({rounds}))", "rounds")],
        ),
        course(
            "A round of assessing takes",
            "On the average; a backlog takes longer.",
            SECONDS,
            [query(f"sum(rate({seconds})) / sum(rate({rounds}) > 0)", "a round")],
        ),
        course(
            "Share of the running time that is not decided, an hour back",
            "By module: watched in name alone where it comes near to all.",
            SHARE,
            [query(f"{undecided} / {running}", NAME)],
        ),
        course(
            "Work that failed and is tried again, an hour back",
            "`store`: readings wait at the broker. `assess`: a module is not judged until it succeeds.",
            PLAIN,
            [
                query(
                    f"sum by (work) (increase(dewline_work_failed_total{{{IT}}}[1h])) or {NONE_YET}",
                    "{{work}}",
                )
            ],
        ),
    ]


def who_was_told() -> list[object]:
    return [
        course(
            "Notices, an hour back",
            "By route and what became of them.",
            PLAIN,
            [
                query(
                    f"sum by (route, outcome) (increase(dewline_notices_total{{{IT}}}[1h])) or {NONE_YET}",
                    "{{route}}: {{outcome}}",
                )
            ],
        ),
        course(
            "Steps of this machine's clock, an hour back",
            "A clock that steps makes ages and grids jump.",
            PLAIN,
            [query(f"sum(increase(dewline_clock_steps_total{{{IT}}}[1h]))", "steps")],
        ),
    ]
