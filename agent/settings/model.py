"""The configuration as a person writes it: every key, its type, its default.

A unit stands in the key's name or in a key beside it.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any, Literal, Self, TypeVar
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BaseModel, BeforeValidator, ConfigDict, Field, SecretStr, model_validator
from pydantic_core import PydanticCustomError

from agent.settings.dated import DatedLayouts
from agent.settings.mapping import Kind
from agent.settings.names import Name

ALERTMANAGER = "alertmanager"  # what it is called beside the routes
TOPIC = r"^[^+#\x00]+$"
_PEM = "-----BEGIN"  # how a key or a certificate begins
PREFIX = r"^[^+#\x00]*[^+#/\x00]$"

Topic = Annotated[str, Field(pattern=TOPIC)]
Prefix = Annotated[str, Field(pattern=PREFIX)]
Positive = Annotated[float, Field(gt=0)]
Port = Annotated[int, Field(ge=1, le=65535)]


def _number_or_word(value: Any) -> Any:
    number = isinstance(value, int | float) and abs(value) < 2**63 and not isinstance(value, bool)
    if not (number or isinstance(value, str)):
        raise PydanticCustomError("sentinel", "a number of up to 63 bits or a word")
    return value


Sentinel = Annotated[str | int | float, BeforeValidator(_number_or_word)]


class _Settings(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


_AnySettings = TypeVar("_AnySettings", bound=_Settings)


def _with_files_from(settings: _AnySettings, folder: Path) -> _AnySettings:
    stated = {name: getattr(settings, name) for name in type(settings).model_fields if name.endswith("_file")}
    files = {name: str((folder / file).absolute()) for name, file in stated.items() if file is not None}
    return settings.model_copy(update=files)


class StoreSettings(_Settings):
    """Where readings, assessments and alarms are kept."""

    url: str = Field(description="SQLAlchemy URL; a relative SQLite path starts at the config file's folder")
    durable: bool = Field(False, description="survive a power cut, not only a crash (synchronous=FULL)")


def _path(value: str) -> str:
    if "\n" in value or _PEM in value:
        raise PydanticCustomError("path", "the path of a file")
    return value


def _variable(value: str) -> str:
    if not value.isidentifier():
        raise PydanticCustomError("variable", "the name of an environment variable")
    return value


File = Annotated[str, Field(min_length=1), AfterValidator(_path)]
Variable = Annotated[str, AfterValidator(_variable)]


class BrokerSettings(_Settings):
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
        """A finding shows what it found, which is a secret where a key itself stands for its file."""
        if not isinstance(data, dict):
            return data
        return {k: f"{_PEM}..." if isinstance(v, str) and _PEM in v else v for k, v in data.items()}

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
        return _with_files_from(self, folder)


def _web(value: str) -> str:
    """An address on the web that holds no secret and can be added to."""
    parts = urlsplit(value)
    if parts.scheme not in ("http", "https") or not parts.hostname or parts.query or parts.fragment:
        raise PydanticCustomError("web", "an address such as https://HOST:PORT")
    if "@" in parts.netloc:
        raise PydanticCustomError("web", "an address without user and password")
    return value.rstrip("/")


class MetricsSettings(_Settings):
    """The HTTP endpoint that Prometheus scrapes."""

    host: str = Field(
        "127.0.0.1", description="address to listen on; beyond this machine, mind who can reach it"
    )
    port: Port = Field(9464, description="port to listen on")
    public_url: Annotated[str, AfterValidator(_web)] | None = Field(
        None, description="what the links of notices begin with, as people reach this machine"
    )


def _zone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise PydanticCustomError("zone", "an IANA time zone such as Europe/Berlin") from None
    return value


class DisplaySettings(_Settings):
    """How people are shown figures and times. What programs read (JSON, CSV, MQTT, metrics) stays SI, UTC."""

    temperature: Literal["degC", "degF"] = Field(
        "degC", description="unit of temperatures; differences follow it: K with degC, degF with degF"
    )
    pressure: Literal["kPa", "bar", "psi"] = Field("kPa", description="unit of pressures")
    zone: Annotated[str, AfterValidator(_zone)] = Field(
        "UTC", description="IANA time zone of the site's clock, shown with its offset"
    )


class AssessSettings(_Settings):
    """The grid in event time."""

    step_s: Annotated[int, Field(ge=5, le=180)] = Field(30, description="from one grid time to the next")
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


class SignalSettings(_Settings):
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


class SignalSetSettings(_Settings):
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


class SharedSettings(_Settings):
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


class TemplateSettings(_Settings):
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


class SystemSettings(_Settings):
    """One refrigerant circuit."""

    refrigerant: str = Field(description="by its ASHRAE number, such as R-410A")
    stamps_zone: str | None = Field(
        None, description="IANA time zone, where the gateway stamps in local wall time instead of UTC"
    )
    shared: SharedSettings | None = Field(None, description="signals that its modules have in common")
    modules: Annotated[dict[Name, ModuleSettings], Field(min_length=1)] = Field(
        description="by name, or by a range of names"
    )


class LimitSettings(_Settings):
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


class AlarmsSettings(_Settings):
    """What holds for every alarm."""

    shadow_days: Annotated[float, Field(ge=0, le=365)] = Field(
        7,
        description="so long from its first assessment a module's alarms are shown and not sent, or until "
        "`dewline service MODULE confirm`; 0: sent at once",
    )


def _url(value: SecretStr) -> SecretStr:
    if not value.get_secret_value():
        raise PydanticCustomError("url", "text that is not empty")
    return value


def _absolute(value: str) -> str:
    if not value.startswith("/"):
        raise PydanticCustomError("absolute", "an absolute path")
    return value


def _time_of_day(value: Any) -> Any:
    if not isinstance(value, str) or not re.fullmatch(r"([01]\d|2[0-3]):[0-5]\d", value):
        raise PydanticCustomError("time_of_day", 'a time of day in quotes, such as "22:00"')
    return value


TimeOfDay = Annotated[str, BeforeValidator(_time_of_day)]


class QuietSettings(_Settings):
    """Hours of the day in which a route is spared what can wait. What stands after them is told then."""

    begins: TimeOfDay = Field(alias="from", description='such as "22:00"')
    ends: TimeOfDay = Field(alias="to", description='such as "06:00", of the next day where it is earlier')
    zone: Annotated[str, AfterValidator(_zone)] | None = Field(
        None, description="IANA time zone of these times; display.zone unless stated"
    )
    let_through: list[Literal["high", "medium", "low"]] = Field(
        ["high"], description="priorities that are told at once all the same"
    )

    @model_validator(mode="after")
    def _some_hours(self) -> Self:
        if self.begins == self.ends:
            raise PydanticCustomError("hours", "quiet hours that begin and end at different times")
        return self


class RepeatSettings(_Settings):
    """How often that an alarm stands is said again while nobody has acknowledged it."""

    most: Annotated[int, Field(ge=0, le=100)] = Field(3, description="times at most; 0: never")
    every_h: Annotated[float, Field(ge=0.1, le=168)] = Field(4, description="from one time to the next")


class RouteSettings(_Settings):
    """One receiver of notices; where its URL stands: here, in a variable of the environment or in a file."""

    name: Name = Field(description="what it is called in metrics and logs")
    url: Annotated[SecretStr, AfterValidator(_url)] | None = Field(
        None, description="where it holds no secret"
    )
    url_env: Variable | None = Field(None, description="environment variable that holds the URL")
    url_file: Annotated[str, AfterValidator(_absolute)] | None = Field(
        None, description="or the file that does, by its absolute path"
    )
    quiet: QuietSettings | None = Field(None, description="its quiet hours; without them there are none")

    @model_validator(mode="after")
    def _one_url(self) -> Self:
        if sum(each is not None for each in (self.url, self.url_env, self.url_file)) != 1:
            raise PydanticCustomError("one_url", "a route with exactly one of url, url_env and url_file")
        return self


def _names_apart(routes: list[RouteSettings]) -> list[RouteSettings]:
    names = [route.name for route in routes]
    twice = next((name for name in names if names.count(name) > 1), None)
    if twice is not None:
        raise PydanticCustomError("twice", "routes with a name each, not {name} twice", {"name": repr(twice)})
    return routes


class AlertmanagerSettings(_Settings):
    """The Alertmanager that groups, repeats and sends alarms in place of the routes."""

    url: Annotated[str, AfterValidator(_web)] = Field(description="such as https://HOST:9093, with its prefix")
    every_s: Annotated[int, Field(ge=5, le=180)] = Field(
        60, description="how often what stands is posted; unheard for four times that, it is over there"
    )
    username: str | None = Field(None, description="as whom, with HTTP basic authentication")
    password_env: Variable | None = Field(None, description="environment variable that holds the password")
    password_file: File | None = Field(None, description="or the file that does")
    token_env: Variable | None = Field(None, description="environment variable that holds a bearer token")
    token_file: File | None = Field(None, description="or the file that does")
    ca_file: File | None = Field(
        None, description="what its certificate is checked against; the system's authorities unless stated"
    )

    @model_validator(mode="after")
    def _one_secret(self) -> Self:
        secrets = (self.password_env, self.password_file, self.token_env, self.token_file)
        if sum(each is not None for each in secrets) > 1:
            raise PydanticCustomError("one_secret", "one of password_env, password_file, token_env, token_file")
        has_password = self.password_env is not None or self.password_file is not None
        if has_password != (self.username is not None):
            raise PydanticCustomError("user", "username with password_env or password_file, both or neither")
        return self

    def with_files_from(self, folder: Path) -> Self:
        """The same, with each relative file taken from a folder."""
        return _with_files_from(self, folder)


class NoticesSettings(_Settings):
    """Who is told of alarms, and when a sign of life goes out. Without routes nobody is told."""

    heartbeat_hour: Annotated[int, Field(ge=0, le=23)] = Field(6, description="of the day, by display.zone")
    repeat: RepeatSettings = Field(
        RepeatSettings(), description="what stands is said again until somebody acknowledges it"
    )
    alertmanager: AlertmanagerSettings | None = Field(
        None, description="where alarms are posted; routes then get only the sign of life and the past"
    )
    routes: Annotated[list[RouteSettings], AfterValidator(_names_apart)] = Field(
        default_factory=list, description="one receiver each"
    )

    @model_validator(mode="after")
    def _apart_from_alertmanager(self) -> Self:
        if self.alertmanager is not None and any(route.name == ALERTMANAGER for route in self.routes):
            raise PydanticCustomError("taken", "another name for the route alertmanager, which metrics use")
        return self

    @model_validator(mode="before")
    @classmethod
    def _mask(cls, data: Any) -> Any:
        """A finding shows what it found, and a misplaced URL may hold a password."""
        return _masked(data)


def _masked(data: Any, key: object = None) -> Any:
    if isinstance(data, dict):
        return {_masked(name): _masked(value, name) for name, value in data.items()}
    if isinstance(data, list):
        return [_masked(value) for value in data]
    if isinstance(data, str) and "://" in data and key != "url":
        return f"{data.partition('://')[0]}://..."
    return data


class Settings(_Settings):
    """The whole configuration file."""

    site: Name = Field(description="the building")
    elevation_m: Annotated[float, Field(ge=-400, le=6000)] | None = Field(
        None, description="above sea level; a vented gauge counts from the air there"
    )
    layouts: str = Field("layouts", description="folder of the layout files, from the config file's folder")
    store: StoreSettings = Field(description="where everything is kept")
    broker: BrokerSettings = Field(description="where readings come from")
    metrics: MetricsSettings = Field(MetricsSettings(), description="where figures are scraped")
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
        """The same, with each relative file of the broker and of Alertmanager taken from a folder."""
        changed: dict[str, Any] = {"broker": self.broker.with_files_from(folder)}
        if self.notices.alertmanager is not None:
            alertmanager = self.notices.alertmanager.with_files_from(folder)
            changed["notices"] = self.notices.model_copy(update={"alertmanager": alertmanager})
        return self.model_copy(update=changed)
