"""Modules written once for many: ranges of names, templates, and placeholders in topics.

Works on plain data ahead of any check of types, so that all else knows only single modules; and tells for
each value of a module where it was written.
"""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from agent.settings.model import ModuleSettings
from agent.settings.sentences import Wrong, meant, shown
from agent.settings.source import Where

STAND_IN = "0-unusable"  # a name that stands where there has to be one
MODULE = ModuleSettings.model_validate({"layout": "unknown", "signal_set": "unknown"})
MOST = 1000  # modules of one block: more is a slip of the hand

_BLOCK = re.compile(r"(?P<stem>[^\[\]]*)\[(?P<numbers>[^\[\]]*)\]")
_RANGE = re.compile(r"(\d{1,6})\s*\.\.\s*(\d{1,6})")
_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
_SAID_OF_A_BLOCK = "right would be a name, a range of names such as n[1..20] or a list such as n[1,3,7]"


@dataclass(frozen=True)
class Written:
    """Where a module was written: the key of its block, and what of it stands in a template."""

    key: Any
    template: str | None = None
    from_template: frozenset[Any] = frozenset()


class Expansion:
    """``data`` with a block for each single module; ``wrong`` holds what was found on the way, by its place.

    ``unusable`` holds the modules of which nothing can be said.
    """

    def __init__(self, data: Any) -> None:
        self.wrong: list[Wrong] = []
        self.unusable: set[Where] = set()
        self.written: dict[Where, Written] = {}
        self._speakers: dict[Where, Any] = {}
        self._whole = data if isinstance(data, dict) else {}
        self.data = data
        systems = self._whole.get("systems")
        if isinstance(systems, dict):
            self.data = data | {"systems": {name: self._system(name, body) for name, body in systems.items()}}

    def place(self, where: Where) -> Where | None:
        """Where in the file a value of a module was written; all else stays.

        None where another module of the same block has spoken of that place: one sentence is enough.
        """
        module = where[:4]
        written = self.written.get(module)
        if written is None:
            return where
        block = (*where[:3], written.key)
        in_template = written.template is not None and bool(where[4:]) and where[4] in written.from_template
        place: Where = ("templates", str(written.template), *where[4:]) if in_template else block + where[4:]
        speaker = self._speakers.setdefault(block + place, module)
        return place if speaker == module else None

    def _system(self, system: Any, body: Any) -> Any:
        modules = body.get("modules") if isinstance(body, dict) else None
        if not isinstance(modules, dict):
            return body
        found: dict[Any, Any] = {}
        for key, described in modules.items():
            at_key: Where = ("systems", system, "modules", key)
            for name, number in self._names(key, at_key):
                where = (*at_key[:3], name)
                if name in found:
                    text = f"module {name} is in {self.written[where].key} already; a module is named once"
                    self.wrong.append(Wrong(at_key, text, True))
                    continue
                found[name] = self._module(where, key, number, described)
        if modules and not found:
            found[STAND_IN] = self._unusable(("systems", system, "modules", STAND_IN))
        return body | {"modules": found}

    def _names(self, key: Any, at_key: Where) -> Iterator[tuple[Any, str | None]]:
        """The modules that a key stands for, each with its number."""
        if not isinstance(key, str) or not set(key) & set("[]"):
            number = re.search(r"\d+$", key) if isinstance(key, str) else None
            yield key, number[0] if number else None
            return
        block = _BLOCK.fullmatch(key)
        numbers = _numbers(block["numbers"]) if block else []
        if block and 0 < len(numbers) <= MOST:
            yield from ((f"{block['stem']}{number}", number) for number in numbers)
            return
        text = f"it names more than {MOST} modules" if numbers else _SAID_OF_A_BLOCK
        self.wrong.append(Wrong(at_key, f"found {shown(key)}; {text}", True))

    def _module(self, where: Where, key: Any, number: str | None, described: Any) -> Any:
        self.written[where] = Written(key)
        if not isinstance(described, dict):
            return described
        merged = described
        if "template" in described:
            templates = self._whole.get("templates", {})
            name = described["template"]
            known = templates if isinstance(templates, dict) else {}
            if isinstance(name, str) and name not in known:
                self._say((*where, "template"), f"no template {name!r}{meant(name, known)}")
            body = known.get(name) if isinstance(name, str) else None
            if not isinstance(body, dict):
                return self._unusable(where)
            merged = body | described
            self.written[where] = Written(key, name, frozenset(body) - frozenset(described))
        if isinstance(merged.get("topic"), str):
            names = {"system": str(where[1]), "module": str(where[3]), "number": number}
            merged = merged | {"topic": self._filled(merged["topic"], names, (*where, "topic"))}
        return merged

    def _unusable(self, where: Where) -> ModuleSettings:
        self.unusable.add(where)
        return MODULE

    def _filled(self, topic: str, names: Mapping[str, str | None], where: Where) -> str:
        text, sentences = filled(topic, {"site": str(self._whole.get("site"))} | dict(names))
        for sentence in sentences:
            self._say(where, sentence)
        return text

    def _say(self, where: Where, sentence: str) -> None:
        place = self.place(where)
        if place is not None:
            self.wrong.append(Wrong(place, sentence, False))


def filled(topic: str, names: Mapping[str, str | None]) -> tuple[str, list[str]]:
    """A topic with its placeholders filled, and what is wrong with them."""
    wrong = []

    def fill(found: re.Match[str]) -> str:
        name = found[1]
        if name not in names:
            wrong.append(f"no placeholder {found[0]}{meant(name, names)}")
        elif names[name] is None:
            wrong.append(f"found {found[0]}, and the name {names['module']} does not end in a number")
        return names.get(name) or found[0]

    text = _PLACEHOLDER.sub(fill, topic)
    if set(_PLACEHOLDER.sub("", topic)) & set("{}"):
        wrong.append(f"found {topic!r}; a brace belongs to a placeholder: {{{'}, {'.join(names)}}}")
    return text, wrong


def _numbers(text: str) -> list[str]:
    """The numbers of a range or list, as they stand in names; none where it is neither."""
    found: list[str] = []
    for part in text.split(","):
        ends = _RANGE.fullmatch(part.strip())
        if ends:
            first, last = ends.groups()
            padded = first.startswith("0") and len(first) > 1
            if int(last) < int(first) or (last.startswith("0") and len(last) != len(first)):
                return []
            width = len(first) if padded else 0
            many = range(int(first), min(int(last), int(first) + MOST) + 1)
            found += [f"{number:0{width}d}" for number in many]
        elif re.fullmatch(r"\d{1,6}", part.strip()):
            found.append(part.strip())
        else:
            return []
    return found
