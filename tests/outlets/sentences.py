"""Every sentence of the product that holds a figure with a unit, taken from the source with figures put in.

What a person reads is one of these, filled in; so none can be forgotten, whether a scene makes it or not.
"""

import ast
from collections.abc import Iterator

from tests.service.site import ROOT

ROOMS = ("alarms", "assess", "piping", "outlets", "service")
UNITS = ("K", "degC", "kPa")
FIGURE = 12.34


def sentences() -> Iterator[tuple[str, str]]:
    """Where each stands, and the sentence."""
    for room in ROOMS:
        for path in sorted((ROOT / "agent" / room).rglob("*.py")):
            tree = ast.parse(path.read_text(encoding="utf-8"))
            docs = {id(each) for each in _docstrings(tree)}
            parts = {
                id(value)
                for node in ast.walk(tree)
                if isinstance(node, ast.JoinedStr)
                for value in node.values
            }
            for node in ast.walk(tree):
                if isinstance(node, ast.JoinedStr):
                    text = _filled(node)
                elif (
                    isinstance(node, ast.Constant)
                    and isinstance(node.value, str)
                    and id(node) not in docs | parts
                ):
                    text = node.value.replace("{:.0f}", "12")
                else:
                    continue
                if any(f" {unit}" in text for unit in UNITS):
                    yield f"{path.relative_to(ROOT)}:{node.lineno}", text


def _docstrings(tree: ast.AST) -> Iterator[ast.Constant]:
    for node in ast.walk(tree):
        if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
            yield node.value


def _filled(node: ast.JoinedStr) -> str:
    """Figures where a format is stated or a unit follows, names elsewhere."""
    found = ""
    for number, value in enumerate(node.values):
        if isinstance(value, ast.Constant):
            found += str(value.value).replace("{:.0f}", "12")
            continue
        assert isinstance(value, ast.FormattedValue)
        form = _filled(value.format_spec) if isinstance(value.format_spec, ast.JoinedStr) else ""
        rest = node.values[number + 1] if number + 1 < len(node.values) else None
        behind = str(rest.value) if isinstance(rest, ast.Constant) else ""
        if form.endswith(("f", "g", "%")):
            found += format(FIGURE, form if "name" not in form else ".1f")
        elif behind.startswith(tuple(f" {unit}" for unit in UNITS)):
            found += f"{FIGURE:.1f}"
        elif not found.endswith(
            tuple(f" {unit}" for unit in UNITS)
        ):  # else what is added is of another sentence
            found += "name"
    return found
