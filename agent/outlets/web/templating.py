"""Pages from the templates beside this file; whatever is put in is escaped."""

from __future__ import annotations

from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined

_TEMPLATES = Environment(
    loader=FileSystemLoader(Path(__file__).with_name("templates")),
    autoescape=True,
    undefined=StrictUndefined,
    trim_blocks=True,
    lstrip_blocks=True,
)


def page(template: str, **values: object) -> str:
    """A template with these values in it, as HTML."""
    return _TEMPLATES.get_template(template).render(values)
