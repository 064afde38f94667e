"""What the values of a configuration are, beside numbers and text: files, variables, zones, web addresses."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, Any, TypeVar
from urllib.parse import urlsplit
from zoneinfo import ZoneInfo, ZoneInfoNotFoundError

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

PEM = "-----BEGIN"  # how a key or a certificate begins


class Section(BaseModel):
    """A section of the configuration: nothing but what it names, and no value taken for another."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


AnySection = TypeVar("AnySection", bound=Section)


def with_files_from(settings: AnySection, folder: Path) -> AnySection:
    """The same, with each relative file taken from a folder."""
    stated = {name: getattr(settings, name) for name in type(settings).model_fields if name.endswith("_file")}
    files = {name: str((folder / file).absolute()) for name, file in stated.items() if file is not None}
    return settings.model_copy(update=files)


def _path(value: str) -> str:
    if "\n" in value or PEM in value:
        raise PydanticCustomError("path", "the path of a file")
    return value


def _variable(value: str) -> str:
    if not value.isidentifier():
        raise PydanticCustomError("variable", "the name of an environment variable")
    return value


def pem_masked(data: Any) -> Any:
    """A finding shows what it found, which is a secret where a key itself stands for its file."""
    if not isinstance(data, dict):
        return data
    return {k: f"{PEM}..." if isinstance(v, str) and PEM in v else v for k, v in data.items()}


Port = Annotated[int, Field(ge=1, le=65535)]
File = Annotated[str, Field(min_length=1), AfterValidator(_path)]
Variable = Annotated[str, AfterValidator(_variable)]


def _zone(value: str) -> str:
    try:
        ZoneInfo(value)
    except (ZoneInfoNotFoundError, ValueError, OSError):
        raise PydanticCustomError("zone", "an IANA time zone such as Europe/Berlin") from None
    return value


def _web(value: str) -> str:
    """An address on the web that holds no secret and can be added to."""
    try:
        parts = urlsplit(value)
        known = parts.scheme in ("http", "https") and parts.hostname and parts.port != 0
    except ValueError:
        known = False
    if not known or parts.query or parts.fragment or not value.isprintable() or " " in value:
        raise PydanticCustomError("web", "an address such as https://HOST:PORT")
    if "@" in parts.netloc:
        raise PydanticCustomError("web", "an address without user and password")
    return value.rstrip("/")


Zone = Annotated[str, AfterValidator(_zone)]
WebAddress = Annotated[str, AfterValidator(_web)]
