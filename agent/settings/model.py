"""The configuration as a person writes it: every key, its type, its default.

A unit stands in the key's name or in a key beside it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import BeforeValidator, Field, model_validator
from pydantic_core import PydanticCustomError

from agent.settings.corrections import CATCH_UP_DAYS
from agent.settings.dated import DatedLayouts
from agent.settings.http import HttpSettings
from agent.settings.kinds import File, Port, Section, Variable, Zone, pem_masked, with_files_from
from agent.settings.mapping import Kind
from agent.settings.names import Name
from agent.settings.notices import NoticesSettings

# Ahead of what is gone over as much again, to learn from what is usual; design choice, no source.
LEAST_KEPT_DAYS = 2 * CATCH_UP_DAYS
LONGEST_STEP_S = 180

TOPIC = r"^[^+#\x00]+$"
PREFIX = r"^[^+#\x00]*[^+#/\x00]$"

Topic = Annotated[str, Field(pattern=TOPIC)]
Prefix = Annotated[str, Field(pattern=PREFIX)]
Positive = Annotated[float, Field(gt=0)]


def _number_or_word(value: Any) -> Any:
    number = isinstance(value, int | float) and abs(value) < 2**63 and not isinstance(value, bool)
    if not (number or isinstance(value, str)):
        raise PydanticCustomError("sentinel", "a number of up to 63 bits or a word")
    return value


Sentinel = Annotated[str | int | float, BeforeValidator(_number_or_word)]


class StoreSettings(Section):
    """Where readings, assessments and alarms are kept."""

    url: str = Field(description="SQLAlchemy URL; a relative SQLite path starts at the config file's folder")
    durable: bool = Field(
        False,
        description="lose nothing over a power cut either, at the price of slower writing (synchronous=FULL)",
    )
    keep_readings_days: Annotated[int, Field(ge=LEAST_KEPT_DAYS, le=36_525)] | None = Field(
        None,
        description="how long readings are kept as received, counted back from the newest; what is older is "
        "summed up by the quarter of an hour. Unless stated they are kept for ever",
    )


class BrokerSettings(Section):
    """The MQTT broker that the building gateway publishes to; relative files start at the config's folder."""

    host: str = Field("127.0.0.1", description="name or address of the broker")
    port: Port = Field(1883, description="port of the broker; with TLS usually 8883")
    client_id: Name = Field(
        "dewline",
        description="the broker keeps what waits for the agent under it: give each agent one of its own, and "
        "never change it",
    )
    username: str | None = Field(None, description="as whom the agent connects")
    password_env: Variable | None = Field(None, description="environment variable that holds the password")
    password_file: File | None = Field(None, description="file that holds it, instead of the variable")
    ca_file: File | None = Field(
        None, description="speak TLS, and check the broker's certificate against this one"
    )
    cert_file: File | None = Field(None, description="certificate that the agent shows to the broker")
    key_file: File | None = Field(None, description="the private key of cert_file")
    key_password_env: Variable | None = Field(
        None, description="environment variable that holds the passphrase of key_file"
    )
    key_password_file: File | None = Field(None, description="file that holds it, instead of the variable")
    keepalive_s: Annotated[int, Field(ge=10, le=3600)] = Field(
        60, description="how long it takes, about, until a dead connection is noticed"
    )
    session_expiry_s: Annotated[int, Field(ge=60)] = Field(
        604_800,
        description="how long the broker keeps what waits for an agent that is away: longer than the longest "
        "outage",
    )
    receive_maximum: Annotated[int, Field(ge=1, le=65535)] = Field(
        1000, description="how many messages the broker may send ahead of those that are stored"
    )
    telemetry: Prefix = Field(
        description="topic prefix of the gateway; a module's topic is PREFIX/SITE/SYSTEM/MODULE unless it "
        "says otherwise"
    )
    prefix: Prefix = Field("dewline", description="topic prefix of the agent: it publishes nowhere else")

    @model_validator(mode="after")
    def _one_password(self) -> Self:
        if self.password_env is not None and self.password_file is not None:
            raise PydanticCustomError("one_password", "password_env or password_file, not both")
        return self

    @model_validator(mode="before")
    @classmethod
    def _mask(cls, data: Any) -> Any:
        return pem_masked(data)

    @model_validator(mode="after")
    def _certificate_and_key(self) -> Self:
        has_key = self.key_file is not None
        if has_key != (self.cert_file is not None):
            raise PydanticCustomError("certificate", "a broker with cert_file and key_file, both or neither")
        if has_key and self.ca_file is None:
            raise PydanticCustomError("certificate", "a broker with ca_file too where it has cert_file")
        if not has_key and (self.key_password_env is not None or self.key_password_file is not None):
            raise PydanticCustomError("certificate", "a broker with key_file where it has a key password")
        return self

    def with_files_from(self, folder: Path) -> Self:
        """The same, with each relative file taken from a folder."""
        return with_files_from(self, folder)


class DisplaySettings(Section):
    """How people are shown figures and times. What programs read (JSON, CSV, MQTT, metrics) stays SI, UTC."""

    temperature: Literal["degC", "degF"] = Field(
        "degC", description="unit of temperatures; differences follow it: K with degC, degF with degF"
    )
    pressure: Literal["kPa", "bar", "psi"] = Field("kPa", description="unit of pressures")
    zone: Zone = Field("UTC", description="IANA time zone of the site's clock, shown with its offset")


class AssessSettings(Section):
    """When modules are judged: on a grid of times, by the time of the readings."""

    step_s: Annotated[int, Field(ge=5, le=LONGEST_STEP_S)] = Field(
        30, description="from one judgement to the next"
    )
    grace_s: Annotated[int, Field(ge=0)] = Field(
        45, description="how long each judgement waits for its readings"
    )
    tolerance_s: Annotated[int, Field(ge=0)] = Field(
        120, description="how far ahead of now a sample may be stamped"
    )
    max_skew_s: Positive = Field(
        90, description="how far apart in time a temperature and its pressure may be"
    )
    silence_s: Positive = Field(
        120, description="how long a module that sends on change may be silent before it counts as not heard"
    )
    learning_hours: Annotated[int, Field(ge=4, le=500)] = Field(
        48, description="settled hours of a mode that teach what is usual for a module"
    )


class SignalSettings(Section):
    """One signal. Accuracy (limit of error) and step are in the signal's own unit."""

    unit: str | None = Field(None, description="unit of the values, where the payload does not state it")
    reference: Literal["absolute", "gauge-vented", "gauge-sealed"] | None = Field(
        None, description="what a pressure is counted from: vacuum, the air around, or the air sealed in"
    )
    sealed_at_kpa: Annotated[float, Field(ge=50, le=150)] | None = Field(
        None, description="absolute pressure sealed in, where it is not 101.325"
    )
    accuracy: Positive | None = Field(
        None,
        description="limit of error of the instrument with its probe, in unit; must be stated of a "
        "temperature or a pressure",
    )
    step: Annotated[float, Field(ge=0)] = Field(
        0.0, description="the steps that the values arrive in, in unit; 0: fine ones"
    )
    point: Annotated[str, Field(min_length=1)] | None = Field(
        None,
        description="name in the payload, where it differs from the signal's; of json a JSON Pointer, of "
        "scalar what follows the module's topic",
    )
    sentinels: list[Sentinel] | None = Field(
        None, description="values that mean that there is none, in place of the set's"
    )
    values: dict[str | int | float | bool, str] | None = Field(
        None,
        min_length=1,
        description="what each value of a state means: a mode, open or shut, a coil's role",
    )
    every_s: Positive | None = Field(None, description="as in the set, where it differs for this signal")
    max_age_s: Positive | None = Field(None, description="as in the set, where it differs for this signal")
    on_change: bool | None = Field(None, description="as in the set, where it differs for this signal")


class SignalSetSettings(Section):
    """The signals of like modules, written once."""

    every_s: Positive = Field(description="how often the gateway reports")
    max_age_s: Positive = Field(description="how old a value may be and still count")
    on_change: bool = Field(False, description="sent only when it changes, repeated within max_age_s")
    payload: Kind = Field("senml", description="json: an object, or an array of them; scalar: a topic each")
    time: Annotated[str, Field(min_length=1)] | None = Field(
        None, description="of json: JSON Pointer to the sample time; without it the arrival is the time"
    )
    sentinels: list[Sentinel] = Field(
        default_factory=list, description="values that mean that there is none, such as -999 or N/A"
    )
    signals: dict[Name, SignalSettings] = Field(description="by name: a probe, a transducer, a valve, mode")


class SharedSettings(Section):
    """Signals that every module below has in common, of the whole site or of a system."""

    signal_set: Name = Field(description="the signals; one that a module has itself wins, then the system's")
    topic: Topic | None = Field(
        None,
        description="where they come in, PREFIX/SITE or PREFIX/SITE/SYSTEM unless stated; "
        "{site} and {system} stand for the names",
    )
    stamps_zone: str | None = Field(
        None, description="IANA time zone of the stamps on this topic; in a system as in the system"
    )


class TemplateSettings(Section):
    """What modules have in common; what a module says itself overrides it, key by key."""

    layout: DatedLayouts | None = Field(
        None, description="name of a layout file, or unknown; or a list of such with valid_from, by and why"
    )
    signal_set: Name | None = Field(None, description="the signals that come in on the module's topic")
    topic: Topic | None = Field(
        None,
        description="where its signals come in, PREFIX/SITE/SYSTEM/MODULE unless stated; {site}, {system}, "
        "{module} and {number} stand for the names and the module's number",
    )
    configured_probe: Name | None = Field(None, description="the probe that the site takes superheat from")
    pressure_loss_kpa: dict[Name, float] = Field(
        default_factory=dict,
        description="pressure at a probe minus pressure at the suction transducer, where known",
    )
    runs_above_hz: Positive = Field(1.0, description="speed above which a compressor counts as running")
    runs_above_a: Positive = Field(
        1.0, description="current above which a compressor counts as running; below are heaters"
    )
    unknown_loss_kpa: Annotated[float, Field(ge=0)] = Field(
        30.0,
        description="how large a loss may be that nobody stated; it widens the uncertainty downwards",
    )


class ModuleSettings(TemplateSettings):
    """One outdoor module; a key such as n[1..20] or n[1,3,7] stands for as many."""

    layout: DatedLayouts = Field(
        description="name of a layout file, or unknown; or a list of such with valid_from, by and why"
    )
    signal_set: Name = Field(description="the signals that come in on the module's topic")
    template: Name | None = Field(None, exclude=True, description="where what it does not say is taken from")


class SystemSettings(Section):
    """One refrigerant circuit."""

    refrigerant: str = Field(description="by its ASHRAE number, such as R-410A")
    stamps_zone: str | None = Field(
        None, description="IANA time zone, where the gateway stamps in local wall time instead of UTC"
    )
    shared: SharedSettings | None = Field(None, description="signals that its modules have in common")
    modules: Annotated[dict[Name, ModuleSettings], Field(min_length=1)] = Field(
        description="by name, or by a range of names"
    )


class LimitSettings(Section):
    """What a site changes of an alarm's limits; what it leaves out keeps the catalogue's default."""

    limit_k: float | None = Field(
        None, description="the superheat, swing, subcooling or rise at which it comes"
    )
    limit_c: float | None = Field(
        None, description="the temperature at which it comes; of discharge-temperature-high alone"
    )
    urgent_c: float | None = Field(
        None,
        description="the temperature from which on its priority is high; of discharge-temperature-high alone",
    )
    deadband_k: Annotated[float, Field(ge=0)] | None = Field(
        None, description="how far back behind the limit the figure must come before it is over"
    )
    on_delay_s: Annotated[float, Field(ge=0)] | None = Field(
        None, description="how long the condition must hold before it is raised"
    )
    off_delay_s: Annotated[float, Field(ge=0)] | None = Field(
        None, description="how long the condition must be gone before it is over"
    )
    latching: bool | None = Field(None, description="it stays until a person resets it")


class AlarmsSettings(Section):
    """What holds for every alarm."""

    shadow_days: Annotated[float, Field(ge=0, le=365)] = Field(
        7,
        description="so long from its first assessment a module's alarms are shown and not sent, or until "
        "`dewline service MODULE confirm --by NAME`; 0: sent at once",
    )


class Settings(Section):
    """The whole configuration file."""

    site: Name = Field(description="name of the building; it is part of every topic and label")
    elevation_m: Annotated[float, Field(ge=-400, le=6000)] | None = Field(
        None, description="height above sea level; must be stated where a gauge is vented to the air"
    )
    layouts: str = Field("layouts", description="folder of the layout files, from the config file's folder")
    store: StoreSettings = Field(description="where everything is kept")
    broker: BrokerSettings = Field(description="where readings come from")
    http: HttpSettings = Field(HttpSettings(), description="where pages, figures and history are served")
    display: DisplaySettings = Field(DisplaySettings(), description="units and clock that people are shown")
    assess: AssessSettings = Field(AssessSettings(), description="how modules are assessed in time")
    notices: NoticesSettings = Field(NoticesSettings(), description="who is told of alarms")
    alarms: AlarmsSettings = Field(AlarmsSettings(), description="what holds for every alarm")
    limits: dict[str, LimitSettings] = Field(
        default_factory=dict,
        description="by the name of the alarm: where this site differs from the catalogue",
    )
    signal_sets: dict[Name, SignalSetSettings] = Field(
        description="the signals of like modules, by a name that modules refer to"
    )
    shared: SharedSettings | None = Field(None, description="signals that all modules have in common")
    templates: dict[Name, TemplateSettings] = Field(
        default_factory=dict, description="what modules have in common, by a name that they refer to"
    )
    systems: Annotated[dict[Name, SystemSettings], Field(min_length=1)] = Field(
        description="the refrigerant circuits, by name"
    )

    def with_files_from(self, folder: Path) -> Self:
        """The same, with each relative file taken from a folder; but not those of routes."""
        changed: dict[str, Any] = {
            "broker": self.broker.with_files_from(folder),
            "http": with_files_from(self.http, folder),
        }
        if self.notices.alertmanager is not None:
            alertmanager = self.notices.alertmanager.with_files_from(folder)
            changed["notices"] = self.notices.model_copy(update={"alertmanager": alertmanager})
        return self.model_copy(update=changed)
