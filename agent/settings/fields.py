"""What several sections of the configuration have in common: how strictly they are read, files, secrets."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated, ClassVar, Self

from pydantic import AfterValidator, BaseModel, ConfigDict, Field
from pydantic_core import PydanticCustomError

PEM = "-----BEGIN"  # how a key or a certificate begins

Port = Annotated[int, Field(ge=1, le=65535)]


def _path(value: str) -> str:
    if "\n" in value or PEM in value:
        raise PydanticCustomError("path", "the path of a file")
    return value


def _variable(value: str) -> str:
    if not value.isidentifier():
        raise PydanticCustomError("variable", "the name of an environment variable")
    return value


File = Annotated[str, Field(min_length=1), AfterValidator(_path)]
Variable = Annotated[str, AfterValidator(_variable)]


class Section(BaseModel):
    """A section of the configuration: no key that is not known, no value taken for another kind."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True, allow_inf_nan=False)


class SectionWithFiles(Section):
    """One that names files; a relative one starts at the configuration's folder."""

    FILES: ClassVar[tuple[str, ...]]

    def with_files_from(self, folder: Path) -> Self:
        """The same, with each relative file taken from a folder."""
        stated = {name: getattr(self, name) for name in self.FILES if getattr(self, name) is not None}
        return self.model_copy(update={name: str((folder / f).absolute()) for name, f in stated.items()})


def pem_masked(data: object) -> object:
    """A finding shows what it found, which is a secret where a key itself stands for its file."""
    if not isinstance(data, dict):
        return data
    return {k: f"{PEM}..." if isinstance(v, str) and PEM in v else v for k, v in data.items()}
