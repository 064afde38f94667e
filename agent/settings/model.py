"""The configuration as a person writes it: every key, its type, its default.

A unit stands in the key's name or in a key beside it.
"""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, SecretStr, model_validator
from pydantic_core import PydanticCustomError

NAME = r"^[a-z0-9][a-z0-9_-]*$"
TOPIC = r"^[^+#\x00]+$"
_PEM = "-----BEGIN"  # how a key or a certificate begins
PREFIX = r"^[^+#\x00]*[^+#/\x00]$"

Name = Annotated[str, Field(pattern=NAME)]
Topic = Annotated[str, Field(pattern=TOPIC)]
Prefix = Annotated[str, Field(pattern=PREFIX)]
Positive = Annotated[float, Field(gt=0)]
Port = Annotated[int, Field(ge=1, le=65535)]


class _Settings(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class StoreSettings(_Settings):
    """Where readings, assessments and alarms are kept."""

    url: str = Field(description="SQLAlchemy URL; a relative SQLite path starts at the config file's folder")
    durable: bool = Field(False, description="survive a power cut, not only a crash (synchronous=FULL)")


def _path(value: str) -> str:
    if "\n" in value or _PEM in value:
        raise PydanticCustomError("path", "the path of a file")
    return value


File = Annotated[str, Field(min_length=1), AfterValidator(_path)]


class BrokerSettings(_Settings):
    """The MQTT broker that the building gateway publishes to; relative files start at the config's folder."""

    host: str = "127.0.0.1"
    port: Port = 1883
    client_id: Name = "dewline"
    username: str | None = None
    password_env: str | None = Field(None, description="environment variable that holds the password")
    password_file: File | None = Field(None, description="or the file that does")
    ca_file: File | None = Field(
        None, description="TLS, with the broker's certificate checked against this one"
    )
    cert_file: File | None = Field(None, description="certificate that the agent shows to the broker")
    key_file: File | None = Field(None, description="its private key")
    key_password_env: str | None = Field(None, description="environment variable that holds its passphrase")
    key_password_file: File | None = Field(None, description="or the file that does")
    keepalive_s: Annotated[int, Field(ge=10, le=3600)] = 60
    session_expiry_s: Annotated[int, Field(ge=60)] = Field(
        604_800, description="longer than the longest outage"
    )
    receive_maximum: Annotated[int, Field(ge=1, le=65535)] = 1000
    telemetry: Prefix = Field(
        description="topic prefix; a module's topic is PREFIX/SITE/SYSTEM/MODULE unless it says"
    )
    prefix: Prefix = Field("dewline", description="the only place where the agent publishes")

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
        files = ("password_file", "ca_file", "cert_file", "key_file", "key_password_file")
        stated = {name: getattr(self, name) for name in files if getattr(self, name) is not None}
        return self.model_copy(update={name: str((folder / f).absolute()) for name, f in stated.items()})


class MetricsSettings(_Settings):
    """The HTTP endpoint that Prometheus scrapes."""

    host: str = "127.0.0.1"
    port: Port = 9464


class AssessSettings(_Settings):
    """The grid in event time."""

    step_s: Annotated[int, Field(ge=5, le=180)] = 30
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


class SignalSettings(_Settings):
    """One signal. Accuracy (limit of error) and step are in the signal's own unit."""

    unit: str | None = Field(None, description="of the values, where the payload does not state it")
    reference: Literal["absolute", "gauge-vented", "gauge-sealed"] | None = None
    sealed_at_kpa: Annotated[float, Field(ge=50, le=150)] | None = None
    accuracy: Positive | None = None
    step: Annotated[float, Field(ge=0)] = Field(0.0, description="quantisation of the values as they arrive")
    point: Annotated[str, Field(min_length=1)] | None = Field(
        None, description="name in the payload, where it differs from the signal's"
    )
    values: dict[str | int | float | bool, str] | None = Field(
        None,
        min_length=1,
        description="what each value of a state means: a mode, open or shut, a coil's role",
    )
    every_s: Positive | None = None
    max_age_s: Positive | None = None
    on_change: bool | None = None


class SignalSetSettings(_Settings):
    """The signals of like modules, written once."""

    every_s: Positive = Field(description="how often the gateway reports")
    max_age_s: Positive = Field(description="how old a value may be and still count")
    on_change: bool = Field(False, description="sent only when it changes, repeated within max_age_s")
    signals: dict[Name, SignalSettings]


class ModuleSettings(_Settings):
    """One outdoor module."""

    layout: Name = Field(description="name of a layout file; unknown where nobody has described the piping")
    signal_set: Name
    topic: Topic | None = None
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


class SystemSettings(_Settings):
    """One refrigerant circuit."""

    refrigerant: str
    stamps_zone: str | None = Field(
        None, description="IANA time zone, where the gateway stamps in local wall time instead of UTC"
    )
    modules: Annotated[dict[Name, ModuleSettings], Field(min_length=1)]


class LimitSettings(_Settings):
    """What a site changes of an alarm's limits; what it leaves out keeps the catalogue's default."""

    limit_k: float | None = None
    deadband_k: Annotated[float, Field(ge=0)] | None = None
    on_delay_s: Annotated[float, Field(ge=0)] | None = None
    off_delay_s: Annotated[float, Field(ge=0)] | None = None


def _url(value: SecretStr) -> SecretStr:
    if not value.get_secret_value():
        raise PydanticCustomError("url", "text that is not empty")
    return value


def _variable(value: str) -> str:
    if not value.isidentifier():
        raise PydanticCustomError("variable", "the name of an environment variable")
    return value


def _absolute(value: str) -> str:
    if not value.startswith("/"):
        raise PydanticCustomError("absolute", "an absolute path")
    return value


class RouteSettings(_Settings):
    """One receiver of notices; where its URL stands: here, in a variable of the environment or in a file."""

    name: Name
    url: Annotated[SecretStr, AfterValidator(_url)] | None = Field(
        None, description="where it holds no secret"
    )
    url_env: Annotated[str, AfterValidator(_variable)] | None = None
    url_file: Annotated[str, AfterValidator(_absolute)] | None = None
    quiet: Literal["none"] = Field("none", description="no quiet hours: a notice goes out at once")

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


class NoticesSettings(_Settings):
    """Who is told of alarms, and when a sign of life goes out. Without routes nobody is told."""

    heartbeat_hour: Annotated[int, Field(ge=0, le=23)] = Field(6, description="of the day in UTC")
    routes: Annotated[list[RouteSettings], AfterValidator(_names_apart)] = Field(
        default_factory=list, description="one receiver each"
    )

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

    site: Name
    elevation_m: Annotated[float, Field(ge=-400, le=6000)] | None = None
    layouts: str = Field("layouts", description="folder of the layout files, from the config file's folder")
    store: StoreSettings
    broker: BrokerSettings
    metrics: MetricsSettings = MetricsSettings()
    assess: AssessSettings = AssessSettings()
    notices: NoticesSettings = NoticesSettings()
    limits: dict[str, LimitSettings] = Field(default_factory=dict, description="per alarm of the catalogue")
    signal_sets: dict[Name, SignalSetSettings]
    systems: Annotated[dict[Name, SystemSettings], Field(min_length=1)]
