"""HTML from the templates of a package of outlets; whatever is put in is escaped."""

from __future__ import annotations

from functools import cache

from jinja2 import Environment, PackageLoader, StrictUndefined
from markupsafe import Markup, escape


def page(package: str, template: str, **values: object) -> str:
    """A template of a package, such as "web", with these values in it, as HTML."""
    return _environment(package).get_template(template).render(values)


@cache
def _environment(package: str) -> Environment:
    made = Environment(
        loader=PackageLoader(f"agent.outlets.{package}"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
    )
    made.filters["told"] = _with_commands
    return made


def _with_commands(words: str) -> Markup:
    """Escaped, with what stands between backticks as a command."""
    parts = words.split("`")
    if len(parts) % 2 == 0:  # one of them stands alone
        return escape(words)
    said = [
        f"<code>{escape(part)}</code>" if number % 2 else str(escape(part))
        for number, part in enumerate(parts)
    ]
    return Markup("".join(said))
