"""The configuration of notices as a person writes it: who is told, how often, when not, and by whom."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Annotated, Any, Literal, Self

from pydantic import AfterValidator, BeforeValidator, Field, SecretStr, model_validator
from pydantic_core import PydanticCustomError

from agent.settings.kinds import File, Section, Variable, WebAddress, Zone, with_files_from
from agent.settings.names import Name

ALERTMANAGER = "alertmanager"  # what it is called beside the routes


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
        raise PydanticCustomError("time_of_day", "a time of day such as 22:00")
    return value


TimeOfDay = Annotated[str, BeforeValidator(_time_of_day)]


class QuietSettings(Section):
    """Hours of the day in which a route is spared what can wait. What stands after them is told then."""

    begins: TimeOfDay = Field(alias="from", description='when they begin, such as "22:00"')
    ends: TimeOfDay = Field(
        alias="to", description='when they end, such as "06:00"; of the next day where that is earlier'
    )
    zone: Zone | None = Field(None, description="IANA time zone of these times; display.zone unless stated")
    let_through: list[Literal["high", "medium", "low"]] = Field(
        ["high"], description="priorities that are told at once all the same"
    )

    @model_validator(mode="after")
    def _some_hours(self) -> Self:
        if self.begins == self.ends:
            raise PydanticCustomError("hours", "quiet hours that begin and end at different times")
        return self


class RepeatSettings(Section):
    """How often that an alarm stands is said again while nobody has acknowledged it."""

    most: Annotated[int, Field(ge=0, le=100)] = Field(3, description="how many times at most; 0: never")
    every_h: Annotated[float, Field(ge=0.1, le=168)] = Field(4, description="from one time to the next")


class RouteSettings(Section):
    """One receiver of notices; where its URL stands: here, in a variable of the environment or in a file."""

    name: Name = Field(description="what it is called in metrics and logs")
    url: Annotated[SecretStr, AfterValidator(_url)] | None = Field(
        None, description="where notices go, if the URL holds no secret: mailto, webhook and the like"
    )
    url_env: Variable | None = Field(None, description="environment variable that holds the URL")
    url_file: Annotated[str, AfterValidator(_absolute)] | None = Field(
        None, description="absolute path of a file that holds the URL"
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


class AlertmanagerSettings(Section):
    """The Alertmanager that groups, repeats and sends alarms in place of the routes."""

    url: WebAddress = Field(description="such as https://HOST:9093, with the path that it is served under")
    every_s: Annotated[int, Field(ge=5, le=180)] = Field(
        60, description="how often what stands is posted; unheard for four times that, it is over there"
    )
    username: str | None = Field(None, description="as whom the agent posts, with HTTP basic authentication")
    password_env: Variable | None = Field(None, description="environment variable that holds the password")
    password_file: File | None = Field(None, description="file that holds it, instead of the variable")
    token_env: Variable | None = Field(None, description="environment variable that holds a bearer token")
    token_file: File | None = Field(None, description="file that holds it, instead of the variable")
    ca_file: File | None = Field(
        None, description="what its certificate is checked against; the system's authorities unless stated"
    )

    @model_validator(mode="after")
    def _one_secret(self) -> Self:
        secrets = (self.password_env, self.password_file, self.token_env, self.token_file)
        if sum(each is not None for each in secrets) > 1:
            right = "at most one of password_env, password_file, token_env and token_file"
            raise PydanticCustomError("one_secret", right)
        has_password = self.password_env is not None or self.password_file is not None
        if has_password != (self.username is not None):
            raise PydanticCustomError("user", "username with password_env or password_file, both or neither")
        return self

    def with_files_from(self, folder: Path) -> Self:
        """The same, with each relative file taken from a folder."""
        return with_files_from(self, folder)


class NoticesSettings(Section):
    """Who is told of alarms, and when a sign of life goes out. Without routes nobody is told."""

    heartbeat_hour: Annotated[int, Field(ge=0, le=23)] = Field(
        6, description="when the daily sign of life goes out, by display.zone"
    )
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
