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
    durable: bool = Field(False, description="survive a power cut, not only a crash (synchronous=FULL)")
    keep_readings_days: Annotated[int, Field(ge=LEAST_KEPT_DAYS, le=36_525)] | None = Field(
        None,
        description="how long readings are kept as received, counted back from the newest; what is older is "
        "summed up by the quarter of an hour. Unless stated they are kept for ever",
    )


class BrokerSettings(Section):
    """The MQTT broker that the building gateway publishes to; relative files start at the config's folder."""

    host: str = Field("127.0.0.1", description="name or address of the broker")
    port: Port = Field(1883, description="its port; with TLS usually 8883")
    client_id: Name = Field(
        "dewline", description="fixed: the broker keeps under it what waits for the agent"
    )
    username: str | None = Field(None, description="as whom the agent connects")
    password_env: Variable | None = Field(None, description="environment variable that holds the password")
    password_file: File | None = Field(None, description="or the file that does")
    ca_file: File | None = Field(
        None, description="TLS, with the broker's certificate checked against this one"
    )
    cert_file: File | None = Field(None, description="certificate that the agent shows to the broker")
    key_file: File | None = Field(None, description="its private key")
    key_password_env: Variable | None = Field(
        None, description="environment variable that holds its passphrase"
    )
    key_password_file: File | None = Field(None, description="or the file that does")
    keepalive_s: Annotated[int, Field(ge=10, le=3600)] = Field(
        60, description="after about so long a dead connection is noticed"
    )
    session_expiry_s: Annotated[int, Field(ge=60)] = Field(
        604_800, description="longer than the longest outage"
    )
    receive_maximum: Annotated[int, Field(ge=1, le=65535)] = Field(
        1000, description="messages on their way that are not stored yet"
    )
    telemetry: Prefix = Field(
        description="topic prefix; a module's topic is PREFIX/SITE/SYSTEM/MODULE unless it says"
    )
    prefix: Prefix = Field("dewline", description="the only place where the agent publishes")

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
    """The grid in event time."""

    step_s: Annotated[int, Field(ge=5, le=LONGEST_STEP_S)] = Field(
        30, description="from one grid time to the next"
    )
    grace_s: Annotated[int, Field(ge=0)] = Field(
        45, description="how long a grid time waits for its readings"
    )
    tolerance_s: Annotated[int, Field(ge=0)] = Field(
        120, description="how far ahead of now a sample may be stamped"
    )
    max_skew_s: Positive = Field(90, description="between a temperature and the pressure it is set against")
    silence_s: Positive = Field(
        120, description="after which a module that sends on change counts as not heard"
    )
    learning_hours: Annotated[int, Field(ge=4, le=500)] = Field(
        48, description="settled hours of a mode that teach what is usual for a module"
    )


class SignalSettings(Section):
    """One signal. Accuracy (limit of error) and step are in the signal's own unit."""

    unit: str | None = Field(None, description="of the values, where the payload does not state it")
    reference: Literal["absolute", "gauge-vented", "gauge-sealed"] | None = Field(
        None, description="what a pressure is counted from: vacuum, the air around, or the air sealed in"
    )
    sealed_at_kpa: Annotated[float, Field(ge=50, le=150)] | None = Field(
        None, description="absolute pressure sealed in, where it is not 101.325"
    )
    accuracy: Positive | None = Field(None, description="limit of error of the instrument with its probe")
    step: Annotated[float, Field(ge=0)] = Field(0.0, description="quantisation of the values as they arrive")
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
    runs_above_a: Positive = Field(1.0, description="current above which it does; below are heaters")
    unknown_loss_kpa: Annotated[float, Field(ge=0)] = Field(
        30.0, description="bound on a loss that nobody stated"
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

    limit_k: float | None = Field(None, description="the superheat, swing or subcooling at which it comes")
    limit_c: float | None = Field(None, description="the temperature at which it comes, where it is of one")
    urgent_c: float | None = Field(None, description="the temperature from which on it is urgent")
    deadband_k: Annotated[float, Field(ge=0)] | None = Field(
        None, description="so far behind the limit it goes again"
    )
    on_delay_s: Annotated[float, Field(ge=0)] | None = Field(None, description="how long it holds before")
    off_delay_s: Annotated[float, Field(ge=0)] | None = Field(None, description="how long it is gone before")
    latching: bool | None = Field(None, description="it stays until a person resets it")


class AlarmsSettings(Section):
    """What holds for every alarm."""

    shadow_days: Annotated[float, Field(ge=0, le=365)] = Field(
        7,
        description="so long from its first assessment a module's alarms are shown and not sent, or until "
        "`dewline service MODULE confirm`; 0: sent at once",
    )


class Settings(Section):
    """The whole configuration file."""

    site: Name = Field(description="the building")
    elevation_m: Annotated[float, Field(ge=-400, le=6000)] | None = Field(
        None, description="above sea level; a vented gauge counts from the air there"
    )
    layouts: str = Field("layouts", description="folder of the layout files, from the config file's folder")
    store: StoreSettings = Field(description="where everything is kept")
    broker: BrokerSettings = Field(description="where readings come from")
    http: HttpSettings = Field(HttpSettings(), description="where pages, figures and history are served")
    display: DisplaySettings = Field(DisplaySettings(), description="units and clock that people are shown")
    assess: AssessSettings = Field(AssessSettings(), description="how modules are assessed in time")
    notices: NoticesSettings = Field(NoticesSettings(), description="who is told of alarms")
    alarms: AlarmsSettings = Field(AlarmsSettings(), description="what holds for every alarm")
    limits: dict[str, LimitSettings] = Field(default_factory=dict, description="per alarm of the catalogue")
    signal_sets: dict[Name, SignalSetSettings] = Field(description="by name")
    shared: SharedSettings | None = Field(None, description="signals that all modules have in common")
    templates: dict[Name, TemplateSettings] = Field(default_factory=dict, description="by name")
    systems: Annotated[dict[Name, SystemSettings], Field(min_length=1)] = Field(description="by name")

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
