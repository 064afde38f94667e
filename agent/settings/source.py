"""YAML text with the place of every value, so that an error can say file, line and column.

Scalars follow the YAML 1.2 core schema: ``off`` and ``no`` are words. Where readers of YAML disagree, as
on ``010``, or a number needs more than 64 bits, it is text, and no number.
"""

from __future__ import annotations

import re
from pathlib import Path
from typing import Any, NamedTuple

import yaml
from yaml.reader import ReaderError

from agent.settings.signals import word

_TAGS = "tag:yaml.org,2002:"
_MERGE = f"{_TAGS}merge"

_HINTS = {
    "expected ',' or '}', but got '['": "; a range such as 'n[1..3]' stands in quotes here",
    "mapping values are not allowed here": "; a text that holds ': ' stands in quotes",
    "found character '\\t' that cannot start any token": "; indent with spaces, not with tabs",
}

Where = tuple[str | int | float, ...]  # keys and indices from a file's root


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
        self.findings = sorted(set(findings))  # a signal set that modules share is looked at more than once
        super().__init__("\n".join(map(str, self.findings)))


class _Loader(yaml.SafeLoader):
    """SafeLoader with the scalars of YAML 1.2."""

    yaml_implicit_resolvers: dict[str, list[tuple[str, re.Pattern[str]]]] = {}  # noqa: RUF012


for _tag, _pattern, _first in (
    ("null", r"^(?:~|null|Null|NULL)?$", ["~", "n", "N", ""]),
    ("bool", r"^(?:true|True|TRUE|false|False|FALSE)$", list("tTfF")),
    ("int", r"^[-+]?(?:0|[1-9][0-9]{0,17})$", list("-+0123456789")),
    (
        "float",
        r"^[-+]?(?:[0-9]+\.[0-9]*|\.[0-9]+|[0-9]+(?=[eE]))(?:[eE][-+]?[0-9]+)?$",
        list("-+.0123456789"),
    ),
    ("merge", r"^<<$", ["<"]),
):
    _Loader.add_implicit_resolver(f"{_TAGS}{_tag}", re.compile(_pattern), _first)


class Source:
    """One YAML file: its data, and where each value of it stands."""

    def __init__(self, path: Path) -> None:
        self.file = str(path)
        text = self._text(path)
        try:
            self._loader = _Loader(text)
            self.root = self._loader.get_single_node()
            self._check_nodes()
            self.data: Any = self._loader.construct_document(self.root) if self.root else None
            self._loader.dispose()
        except ReaderError as error:
            found = f"the character #x{ord(text[error.position]):02x} does not belong in a text file"
            raise ConfigError([self._finding(*_place(text, error.position), found)]) from None
        except yaml.MarkedYAMLError as error:
            begun = f"{error.context} (line {error.context_mark.line + 1}), " if error.context_mark else ""
            found = f"not YAML: {begun}{error.problem}{_HINTS.get(error.problem or '', '')}"
            raise ConfigError([self._finding(*_mark(error.problem_mark), found)]) from None
        except RecursionError:
            raise ConfigError([self._finding(1, 1, "nested too deeply to be read")]) from None

    def at(self, path: Where, message: str, *, at_key: bool = False) -> Finding:
        """A finding at the place that a path of keys and indices leads to, or as near as the file has it.

        The place of a scalar is its own unless its key is meant; the place of all else is its key.
        """
        node, where = self.root, self.root
        for key in path:
            if isinstance(node, yaml.MappingNode):
                pairs = [pair for pair in node.value if self._word(pair[0]) == word(key)]
                if not pairs:
                    break
                where, node = pairs[-1]  # merged pairs stand ahead of those that override them
                where = node if isinstance(node, yaml.ScalarNode) and not at_key else where
            elif isinstance(node, yaml.SequenceNode) and isinstance(key, int) and key < len(node.value):
                node = where = node.value[key]
            else:
                break
        return self._finding(*_mark(where.start_mark if where is not None else None), message)

    def _text(self, path: Path) -> str:
        try:
            raw = path.read_bytes()
            return raw.decode("utf-8")
        except FileNotFoundError:
            raise ConfigError([self._finding(1, 1, "no such file")]) from None
        except OSError as error:
            raise ConfigError([self._finding(1, 1, f"cannot be read: {error.strerror}")]) from None
        except UnicodeDecodeError as error:
            before = raw[: error.start].decode("utf-8")
            place = _place(before, len(before))
            text = f"the byte 0x{raw[error.start]:02x} is not UTF-8; save the file as UTF-8 text"
            raise ConfigError([self._finding(*place, text)]) from None

    def _check_nodes(self) -> None:
        """Refuse what PyYAML would pass over in silence, or could not make a plain value of."""
        findings: list[Finding] = []
        waiting = [self.root] if self.root else []
        seen: set[int] = set()
        while waiting:
            node = waiting.pop()
            if id(node) in seen:  # an alias
                continue
            seen.add(id(node))
            if node.tag not in self._plain_tags(node):
                text = f"the tag {node.tag.replace(_TAGS, '!!')} has no meaning here; leave it out"
                findings.append(self._finding(*_mark(node.start_mark), text))
            elif isinstance(node, yaml.SequenceNode):
                waiting += node.value
            elif isinstance(node, yaml.MappingNode):
                findings += self._check_keys(node)
                waiting += [each for pair in node.value for each in pair]
        if findings:
            raise ConfigError(findings)

    def _check_keys(self, node: yaml.MappingNode) -> list[Finding]:
        findings: list[Finding] = []
        first: dict[str, str] = {}
        for key, value in node.value:
            text, name = None, self._word(key)
            if not isinstance(key, yaml.ScalarNode):
                text = "a key is one word, not a list or a mapping"
            elif name in first:
                again = "" if first[name] == key.value else f", first as {first[name]!r}"
                text = f"{key.value!r} stands twice in this mapping{again}; one would be lost"
            elif key.tag == _MERGE and not isinstance(value, yaml.MappingNode):
                text = "<< takes one mapping, such as *NAME; of several it is not agreed which one wins"
            if text:
                findings.append(self._finding(*_mark(key.start_mark), text))
            first.setdefault(name, key.value)
        return findings

    def _plain_tags(self, node: yaml.Node) -> tuple[str, ...]:
        if isinstance(node, yaml.ScalarNode):
            return f"{_TAGS}str", self._loader.resolve(yaml.ScalarNode, node.value, (True, False))  # type: ignore[no-untyped-call]
        return (f"{_TAGS}seq" if isinstance(node, yaml.SequenceNode) else f"{_TAGS}map",)

    def _word(self, key: yaml.Node) -> str:
        """A key as it is compared: 1, 1.0 and "1" are one."""
        plain = isinstance(key, yaml.ScalarNode) and key.tag in self._plain_tags(key) and key.tag != _MERGE
        return word(self._loader.construct_object(key) if plain else key.value)

    def _finding(self, line: int, column: int, message: str) -> Finding:
        return Finding(self.file, line, column, message)


def _mark(mark: yaml.Mark | None) -> tuple[int, int]:
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)


def _place(text: str, position: int) -> tuple[int, int]:
    """Line and column of a position, both from 1."""
    before = text[:position]
    return before.count("\n") + 1, len(before) - (before.rfind("\n") + 1) + 1
