"""Metric families as text, written by prometheus_client; of modules, only what changed is written anew."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from prometheus_client.core import Metric
from prometheus_client.registry import Collector

from agent.outlets.metrics.modules import Told, module_families
from agent.settings import ModulePath

Encode = Callable[[Collector], bytes]


class Families(Collector):
    """Families as they are given."""

    def __init__(self, families: Iterable[Metric]) -> None:
        self._families = families

    def collect(self) -> Iterator[Metric]:
        return iter(self._families)


class ModuleText:
    """The families of modules in one form. Of each module its lines are kept until it changes."""

    def __init__(self, encode: Encode) -> None:
        self._encode = encode
        self._end = len(encode(Families(())))  # what closes a text, which each has
        self._heads = [self._text(family) for family in module_families(())]
        self._lines: dict[ModulePath, tuple[Told, list[bytes]]] = {}

    def text(self, modules: Sequence[Told]) -> bytes:
        """What ``encode`` makes of all their families, but for what closes it."""
        self._lines = {each.path: self._of(each) for each in modules}
        parts: list[bytes] = []
        for number, head in enumerate(self._heads):
            parts.append(head)
            parts += [lines[number] for _, lines in self._lines.values()]
        return b"".join(parts)

    def _of(self, told: Told) -> tuple[Told, list[bytes]]:
        known = self._lines.get(told.path)
        if known is not None and known[0] == told:
            return known
        families = zip(module_families([told]), self._heads, strict=True)
        return told, [self._text(each)[len(head) :] if each.samples else b"" for each, head in families]

    def _text(self, family: Metric) -> bytes:
        text = self._encode(Families([family]))
        return text[: len(text) - self._end]
