"""What modules, and the systems and sites they belong to, are called everywhere."""

from __future__ import annotations

from typing import Annotated, NamedTuple

from pydantic import Field

NAME = r"^[a-z0-9][a-z0-9_-]*$"

Name = Annotated[str, Field(pattern=NAME)]


class ModulePath(NamedTuple):
    """Site, system and module: the name of a module everywhere.

    What belongs to a whole system or site is named by the same, with nothing in the parts below it.
    """

    site: str
    system: str = ""
    module: str = ""

    def __str__(self) -> str:
        return "/".join(filter(None, self))

    @property
    def local(self) -> str:
        """System and module, as its site and commands call it."""
        return f"{self.system}/{self.module}"
