"""YAML text with the place of every value, so that an error can say file, line and column.

Scalars follow the YAML 1.2 core schema: ``off`` and ``no`` are words, ``010`` is text, not eight.
"""

from __future__ import annotations

import re
from collections.abc import Hashable
from pathlib import Path
from typing import Any, NamedTuple

import yaml


class Finding(NamedTuple):
    """One thing wrong in a file: where, and what would be right."""

    file: str
    line: int
    column: int
    message: str

    def __str__(self) -> str:
        return f"{self.file}:{self.line}:{self.column}: {self.message}"


class ConfigError(Exception):
    """A configuration that cannot be used, with every finding."""

    def __init__(self, findings: list[Finding]) -> None:
        self.findings = sorted(findings)
        super().__init__("\n".join(map(str, self.findings)))


class _Loader(yaml.SafeLoader):
    """SafeLoader with the scalars of YAML 1.2."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012


_Loader.add_implicit_resolver("tag:yaml.org,2002:null", re.compile(r"^(?:~|null)?$"), ["~", "n", ""])
_Loader.add_implicit_resolver("tag:yaml.org,2002:bool", re.compile(r"^(?:true|false)$"), ["t", "f"])
_Loader.add_implicit_resolver(
    "tag:yaml.org,2002:int", re.compile(r"^[-+]?(?:0|[1-9][0-9]*)$"), list("-+0123456789")
)
_Loader.add_implicit_resolver(
    "tag:yaml.org,2002:float",
    re.compile(r"^[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?=[eE]))(?:[eE][-+]?[0-9]+)?$"),
    list("-+.0123456789"),
)
_Loader.add_implicit_resolver("tag:yaml.org,2002:merge", re.compile(r"^<<$"), ["<"])


class Source:
    """One YAML file: its data, and where each value of it stands."""

    def __init__(self, path: Path) -> None:
        self.file = str(path)
        try:
            text = path.read_text(encoding="utf-8")
        except FileNotFoundError:
            raise ConfigError([Finding(self.file, 1, 1, "no such file")]) from None
        except (OSError, UnicodeDecodeError) as error:
            raise ConfigError([Finding(self.file, 1, 1, f"cannot be read as UTF-8 text: {error}")]) from None
        try:
            loader = _Loader(text)
            self.root = loader.get_single_node()
            self._refuse_duplicates()
            self.data: Any = loader.construct_document(self.root) if self.root else None
            loader.dispose()
        except yaml.MarkedYAMLError as error:
            mark = error.problem_mark
            line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
            raise ConfigError([Finding(self.file, line, column, f"not YAML: {error.problem}")]) from None

    def at(self, path: tuple[str | int, ...], message: str) -> Finding:
        """A finding at the place that a path of keys and indices leads to, or as near as the file has it."""
        node, where = self.root, self.root
        for key in path:
            if isinstance(node, yaml.MappingNode):
                pairs = [(k, v) for k, v in node.value if str(k.value) == str(key)]
                if not pairs:
                    break
                where, node = pairs[0]
                where = node if isinstance(node, yaml.ScalarNode) else where
            elif isinstance(node, yaml.SequenceNode) and isinstance(key, int) and key < len(node.value):
                node = where = node.value[key]
            else:
                break
        mark = where.start_mark if where is not None else None
        line, column = (mark.line + 1, mark.column + 1) if mark else (1, 1)
        return Finding(self.file, line, column, message)

    def _refuse_duplicates(self) -> None:
        findings: list[Finding] = []
        waiting = [self.root] if self.root else []
        while waiting:
            node = waiting.pop()
            if isinstance(node, yaml.SequenceNode):
                waiting += node.value
            elif isinstance(node, yaml.MappingNode):
                seen: set[Hashable] = set()
                for key, value in node.value:
                    if key.value in seen:
                        mark = key.start_mark
                        text = f"{key.value!r} stands twice in this mapping; the first would be lost"
                        findings.append(Finding(self.file, mark.line + 1, mark.column + 1, text))
                    seen.add(str(key.value))
                    waiting.append(value)
        if findings:
            raise ConfigError(findings)
