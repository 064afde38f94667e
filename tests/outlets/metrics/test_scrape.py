"""The collector as a scraper reads it: by Prometheus' own text format, parsed with the client library."""

import dataclasses
import random

import pytest
from prometheus_client import CollectorRegistry, generate_latest, make_wsgi_app
from prometheus_client.exposition import choose_encoder
from prometheus_client.parser import text_string_to_metric_families

from agent.alarms import Life, Priority, State
from agent.intake import Facts
from agent.outlets import Lives, Metrics, ModuleView
from agent.outlets.metrics.modules import Told
from agent.outlets.metrics.text import ModuleText
from agent.outlets.view import NO_LIVES
from agent.settings import ModulePath
from tests.outlets.views import (
    ALARM,
    MINUTE_US,
    MISSING,
    NOON_US,
    NOT_MEASURABLE,
    NOT_SETTLED,
    PATH,
    UNDECIDED,
    assessment,
    decided,
    shown,
)
from tests.prometheus import lint, needs_prometheus

STALE_US = 3 * MINUTE_US


class Scraped:
    def __init__(self):
        self.now_us = NOON_US
        self.metrics = Metrics(lambda: self.now_us, STALE_US, {"version": "1.2.3"})

    def text(self):
        registry = CollectorRegistry(auto_describe=False)
        registry.register(self.metrics)
        return generate_latest(registry).decode()

    def samples(self):
        """Name and labels to value; no series twice, no timestamp."""
        found = {}
        for family in text_string_to_metric_families(self.text()):
            for sample in family.samples:
                key = (sample.name, frozenset(sample.labels.items()))
                assert key not in found, f"{key} stands twice"
                assert sample.timestamp is None
                found[key] = sample.value
        return found

    def of(self, name, **labels):
        """The value of the one series with at least these labels; None where there is none."""
        wanted = set(labels.items())
        found = [value for (n, has), value in self.samples().items() if n == name and wanted <= has]
        assert len(found) <= 1, f"{name} {labels} is not unique"
        return found[0] if found else None


@pytest.fixture
def scraped():
    return Scraped()


def test_nothing_known_nothing_shown(scraped):
    names = {name for name, _ in scraped.samples()}
    assert names == {
        "dewline_assess_duration_seconds_count",
        "dewline_assess_duration_seconds_sum",
        "dewline_build_info",
        "dewline_clock_steps_total",
        "dewline_config_reload_success",
    }


def test_decided_values_with_their_uncertainty_probe_and_mode(scraped):
    scraped.metrics.show(shown())
    of = scraped.of
    assert of("dewline_return_superheat_kelvin", site="hill-house", system="one", module="m1") == 6.0
    assert of("dewline_superheat_uncertainty_kelvin", place="return", side="below") == 1.7
    assert of("dewline_superheat_uncertainty_kelvin", place="return", side="above") == 0.7
    assert of("dewline_chosen_probe", place="return", probe="suction_pipe") == 1
    assert of("dewline_oil_return_rise_kelvin") == 3.0
    assert of("dewline_saturated_suction_celsius") == 5.4
    assert of("dewline_apparent_superheat_kelvin", probe="compressor_inlet") == 9.0
    assert of("dewline_apparent_superheat_kelvin", probe="suction_pipe") is None
    assert of("dewline_probe_fitness", probe="compressor_inlet", fitness="mixed") == 1
    assert of("dewline_mode", mode="cooling") == 1
    assert of("dewline_accumulator_outlet_superheat_kelvin") is None
    assert of("dewline_build_info", version="1.2.3") == 1


@pytest.mark.parametrize("status", UNDECIDED)
def test_what_is_not_decided_is_absent_and_its_status_is_there(scraped, status):
    scraped.metrics.show(shown(assessment(returned=UNDECIDED[status], rise=UNDECIDED[status])))
    assert scraped.of("dewline_return_superheat_kelvin") is None
    assert scraped.of("dewline_oil_return_rise_kelvin") is None
    assert scraped.of("dewline_superheat_uncertainty_kelvin", place="return", side="below") is None
    assert scraped.of("dewline_quantity_status", place="return", status=status.replace(" ", "_")) == 1


def test_zero_is_a_value(scraped):
    scraped.metrics.show(shown(assessment(returned=decided(0.0, 1.7, 0.7, "suction_pipe"))))
    assert scraped.of("dewline_return_superheat_kelvin") == 0.0
    assert scraped.of("dewline_quantity_status", place="return", status="decided") == 1


def test_a_module_whose_assessment_is_old_shows_its_alarms_and_age_and_no_values(scraped):
    scraped.metrics.show(shown(alarms=[ALARM], newest_us=NOON_US - MINUTE_US))
    scraped.now_us = NOON_US + STALE_US
    assert scraped.of("dewline_return_superheat_kelvin") == 6.0
    scraped.now_us += 1
    left = {name for name, labels in scraped.samples() if ("module", "m1") in labels}
    assert left == {"dewline_alarm_active", "dewline_reading_age_seconds"}
    assert scraped.of("dewline_alarm_active", alarm="superheat-low", priority="high") == 1
    assert scraped.of("dewline_reading_age_seconds") == pytest.approx(240, abs=0.01)


def test_the_state_of_an_alarm_is_told_as_long_as_it_is_not_normal(scraped):
    def show(state, shadow_ends_us=None):
        lives = Lives({ALARM.name: Life(state)}, shadow_ends_us, NOON_US)
        scraped.metrics.show(dataclasses.replace(shown(alarms=[ALARM]), lives=lives))

    show(State(active=True, acknowledged=False), NOON_US + 1)
    assert scraped.of("dewline_alarm_state", alarm=ALARM.name, state="unacknowledged") == 1
    assert scraped.of("dewline_shadow", module="m1") == 1
    show(State(acknowledged=False))
    assert scraped.of("dewline_alarm_state", state="unacknowledged") is None
    assert scraped.of("dewline_alarm_state", state="returned to normal unacknowledged") == 1
    assert scraped.of("dewline_shadow") is None
    show(State())
    assert scraped.of("dewline_alarm_state") is None


def test_an_alarm_that_ended_and_a_value_that_stopped_are_gone(scraped):
    scraped.metrics.show(shown(alarms=[ALARM]))
    scraped.metrics.show(shown(assessment(returned=MISSING)))
    assert scraped.of("dewline_alarm_active") is None
    assert scraped.of("dewline_return_superheat_kelvin") is None


def test_a_module_that_was_never_assessed_shows_the_age_of_its_readings_alone(scraped):
    scraped.metrics.show(ModuleView(PATH, None, (), NOON_US - 5_000_000))
    assert scraped.of("dewline_reading_age_seconds", module="m1") == 5.0
    assert scraped.of("dewline_mode") is None


def test_times_count_forward_while_running_and_by_cause_while_undecided(scraped):
    count = scraped.metrics.count_assessed
    count(PATH, [assessment(), assessment(returned=NOT_SETTLED)], 30)
    count(PATH, [assessment(mode="off"), assessment(mode="unknown", returned=MISSING)], 30)
    assert scraped.of("dewline_running_seconds_total", module="m1") == 60
    assert scraped.of("dewline_undecided_seconds_total", module="m1", cause="spread") == 30
    seen = scraped.samples()
    count(PATH, [assessment(returned=NOT_MEASURABLE)], 30)
    count(PATH, [], 30)
    scraped.metrics.count_readings({PATH: 13}, {"unmapped": 2, "conflict": 0})
    scraped.metrics.count_work(0.5)
    scraped.metrics.count_failed("store")
    after = scraped.samples()
    counters = [key for key in seen if key[0].endswith(("_total", "_count", "_sum"))]
    assert counters and all(after[key] >= seen[key] for key in counters)
    assert scraped.of("dewline_running_seconds_total") == 90
    assert scraped.of("dewline_undecided_seconds_total", cause="piping") == 30
    assert scraped.of("dewline_readings_total", module="m1") == 13
    assert scraped.of("dewline_readings_refused_total", reason="unmapped") == 2
    assert scraped.of("dewline_work_failed_total", work="store") == 1
    assert scraped.of("dewline_assess_duration_seconds_count") == 1
    assert scraped.of("dewline_assess_duration_seconds_sum") == 0.5


def test_labels_are_escaped(scraped):
    path = ModulePath('a "quoted" site', "back\\slash", "two\nlines")
    scraped.metrics.show(shown(path=path))
    text = scraped.text()
    assert 'site="a \\"quoted\\" site"' in text
    assert 'system="back\\\\slash"' in text
    assert 'module="two\\nlines"' in text
    assert scraped.of("dewline_mode", **path._asdict()) == 1


def test_modules_stand_beside_each_other(scraped):
    other = ModulePath("hill-house", "one", "m2")
    scraped.metrics.show(shown())
    scraped.metrics.show(shown(assessment(returned=decided(1.0, 1, 1, "suction_pipe")), path=other))
    assert scraped.of("dewline_return_superheat_kelvin", module="m1") == 6.0
    assert scraped.of("dewline_return_superheat_kelvin", module="m2") == 1.0


def facts(**changes):
    plain = Facts(
        connected=True,
        subscribed=True,
        protocol="5",
        connects=3,
        disconnects=2,
        sessions_lost=0,
        sheds=0,
        callback_errors=0,
        acks_dropped=0,
        publishes_dropped=0,
        subscriptions_refused=0,
        last_reason=None,
        last_arrival_us=None,
        oldest_unacknowledged_us=None,
        unconnected_since_us=None,
    )
    return dataclasses.replace(plain, **changes)


def test_facts_of_the_connection_are_asked_when_scraped(scraped):
    told = [facts()]
    scraped.metrics.ask(lambda: told[-1])
    assert scraped.of("dewline_broker_connected") == 1
    assert scraped.of("dewline_broker_oldest_unacknowledged_seconds") is None
    told.append(facts(connected=False, oldest_unacknowledged_us=NOON_US - 2_500_000))
    assert scraped.of("dewline_broker_connected") == 0
    assert scraped.of("dewline_broker_oldest_unacknowledged_seconds") == 2.5


@needs_prometheus
def test_promtool_finds_nothing_wrong_with_every_family_filled(scraped):
    metrics = scraped.metrics
    metrics.show(shown(alarms=[ALARM]))
    metrics.count_assessed(PATH, [assessment(returned=NOT_SETTLED)], 30)
    metrics.count_readings({PATH: 13}, {"unmapped": 2})
    metrics.count_work(0.5)
    metrics.count_failed("store")
    metrics.ask(lambda: facts(oldest_unacknowledged_us=NOON_US))
    assert lint(scraped.text().encode()) == ""


@pytest.mark.parametrize(
    "accept",
    [
        "",
        "*/*",
        "text/plain;version=0.0.4",
        "text/plain;version=1.0.0;escaping=allow-utf-8",
        "application/openmetrics-text;version=1.0.0;q=0.6,text/plain;version=0.0.4;q=0.3,*/*;q=0.2",
        "application/openmetrics-text",
        "application/json",
    ],
)
def test_the_form_is_the_one_that_prometheus_client_gives(scraped, accept):
    scraped.metrics.show(shown(alarms=[ALARM]))
    registry = CollectorRegistry(auto_describe=False)
    registry.register(scraped.metrics)
    said = {}
    environ = {"REQUEST_METHOD": "GET", "PATH_INFO": "/", "HTTP_ACCEPT": accept, "QUERY_STRING": ""}
    body = b"".join(make_wsgi_app(registry)(environ, lambda status, headers: said.update(headers)))
    assert scraped.metrics.exposition(accept) == (body, said["Content-Type"])


def test_since_when_readings_are_kept_is_absent_where_there_are_none(scraped):
    name = "dewline_readings_kept_from_timestamp_seconds"
    assert scraped.of(name) is None
    scraped.metrics.ask_kept(lambda: NOON_US)
    assert scraped.of(name) == NOON_US / 1e6


FORMS = ("text/plain;version=0.0.4", "application/openmetrics-text;version=1.0.0")


def test_what_is_kept_of_a_text_is_what_a_text_from_the_beginning_would_be(scraped):
    chance = random.Random(4711)
    registry = CollectorRegistry(auto_describe=False)
    registry.register(scraped.metrics)
    paths = [ModulePath("hill-house", "one", name) for name in ("m1", 'm"2"', "m\n3")]
    lives = [
        NO_LIVES,
        Lives({ALARM.name: Life(State(active=True, acknowledged=False))}, at_us=NOON_US),
        Lives({ALARM.name: Life(State(acknowledged=False))}, at_us=NOON_US),
        Lives(shadow_ends_us=NOON_US + 1, at_us=NOON_US),
    ]
    seen = set()
    for _ in range(120):
        scraped.now_us = NOON_US + chance.choice((0, STALE_US, STALE_US + MINUTE_US))
        if chance.random() < 0.7:
            of = assessment(
                NOON_US + chance.choice((0, MINUTE_US)),
                returned=chance.choice((None, *UNDECIDED.values())),
                mode=chance.choice(("cooling", "heating")),
            )
            urgent = ALARM._replace(priority=chance.choice(list(Priority)))
            view = shown(of, chance.choice(((), (ALARM,), (urgent,))), chance.choice(paths))
            assessed = chance.choice((of, of, None))
            scraped.metrics.show(dataclasses.replace(view, assessment=assessed, lives=chance.choice(lives)))
        accept = chance.choice(FORMS) if chance.random() < 0.2 else FORMS[0]
        text, _ = scraped.metrics.exposition(accept)
        encode, _ = choose_encoder(accept)
        assert text == encode(registry)
        seen.add(text)
    assert len(seen) > 60


def test_a_module_is_written_anew_when_it_changed_and_alone():
    written = []

    def encode(registry):
        text = generate_latest(registry)
        written.extend(line for line in text.decode().splitlines() if not line.startswith("#"))
        return text

    modules = [Told.of(shown(path=ModulePath("hill-house", "one", name)), NOON_US) for name in ("m1", "m2")]
    text = ModuleText(encode)
    first = text.text(modules)
    assert len(written) == first.decode().count("module=")
    written.clear()
    assert text.text(modules) == first
    assert not written
    changed = modules[1]._replace(shadow=True)
    assert text.text([modules[0], changed]).decode().count("module=") == first.decode().count("module=") + 1
    assert written and all('module="m2"' in line for line in written)
    assert b'module="m1"' not in text.text([changed])
