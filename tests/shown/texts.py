"""What the texts show: commands in blocks, in tables and in sentences, and pieces of configuration.

Texts are the Markdown pages and the heads of the files in deploy/. In a head a command stands behind ``#``
and three blanks, on a line of its own.
"""

from __future__ import annotations

import re
import shutil
from collections.abc import Iterator
from pathlib import Path
from typing import NamedTuple

from markdown_it import MarkdownIt
from markdown_it.token import Token

from tests.service.site import ROOT

LANGUAGES = ("sh", "yaml", "text")  # what a block may be: typed, configured, or only looked at
OWN = ("dewline", "docker", "systemctl", "amtool", "promtool")  # a command, whether it is installed or not
PAGES = (
    ROOT / "README.md",
    ROOT / "DEVELOPERS.md",
    ROOT / "config" / "README.md",
    ROOT / "deploy" / "README.md",
    *sorted(ROOT.glob("config/*/*.md")),
)
HEADS = tuple(
    sorted(path for path in (ROOT / "deploy").iterdir() if path.suffix not in (".md", ".py", ".txt"))
)


class Shown(NamedTuple):
    """What is shown, and where: a file and a line."""

    text: str
    where: str
    in_block: bool = True


def commands() -> list[Shown]:
    """Every command once, in the order in which a reader meets it."""
    found: dict[str, Shown] = {}
    for each in _every_command():
        found.setdefault(each.text, each)
    return list(found.values())


def _every_command() -> Iterator[Shown]:
    for page in PAGES:
        for token, line in _tokens(page):
            if token.type == "fence" and token.info == "sh":
                for number, text in enumerate(token.content.replace("\\\n", " ").splitlines(), line + 1):
                    yield Shown(_bare(text), _where(page, number))
            elif token.type == "code_inline" and _is_command(token.content):
                yield Shown(token.content, _where(page, line), in_block=False)
    for head in (path for path in HEADS if path.is_file()):
        for number, text in enumerate(_head(head), 1):
            if text.startswith("#   "):
                yield Shown(_bare(text[1:]), _where(head, number))
            else:
                for inline in filter(_is_command, re.findall(r"`([^`]+)`", text)):
                    yield Shown(inline, _where(head, number), in_block=False)


def blocks(language: str) -> list[Shown]:
    """Every block of a language."""
    return [
        Shown(token.content, _where(page, line))
        for page in PAGES
        for token, line in _tokens(page)
        if token.type == "fence" and token.info == language
    ]


def unnamed_blocks() -> list[str]:
    """Where a block stands of which nobody can tell whether it is to be typed."""
    return [
        _where(page, line)
        for page in PAGES
        for token, line in _tokens(page)
        if token.type == "code_block" or (token.type == "fence" and token.info not in LANGUAGES)
    ]


def links(page: Path) -> list[str]:
    """Where a page's links lead."""
    return [str(token.attrs["href"]) for token, _ in _tokens(page) if token.type == "link_open"]


def headings(page: Path) -> list[str]:
    """A page's headings, as a link names them."""
    texts = re.findall(r"^#+ (.+)$", page.read_text(encoding="utf-8"), re.MULTILINE)
    return [re.sub(r"[^\w\- ]", "", text.lower()).replace(" ", "-") for text in texts]


def _tokens(page: Path) -> Iterator[tuple[Token, int]]:
    """Every token of a page with its line; those within a sentence as well."""
    line = 1
    for token in MarkdownIt("commonmark").enable("table").parse(page.read_text(encoding="utf-8")):
        line = token.map[0] + 1 if token.map else line
        yield token, line
        for inner in token.children or ():
            yield inner, line


def _head(path: Path) -> list[str]:
    """The comment that a file begins with."""
    lines = path.read_text(encoding="utf-8").splitlines()
    end = next((number for number, line in enumerate(lines) if not line.startswith("#")), len(lines))
    return lines[:end]


def _is_command(text: str) -> bool:
    """A program and what it is given; a program's name alone is only named."""
    program, _, rest = text.partition(" ")
    return bool(rest) and (
        program in OWN or bool(re.fullmatch(r"[a-z_0-9-]+", program) and shutil.which(program))
    )


def _bare(line: str) -> str:
    """Without what is said of it."""
    return re.sub(r"\s+# .*$", "", line).strip()


def _where(path: Path, line: int) -> str:
    return f"{path.relative_to(ROOT)}:{line}"
