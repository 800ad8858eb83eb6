"""The HTML pages' templates, which lie in `pages` beside this module."""

from __future__ import annotations

from functools import cache
from pathlib import Path

from jinja2 import Environment, FileSystemLoader, StrictUndefined, Template


def page_template(name: str) -> Template:
    """Return a template by file name; it escapes every value that is not markup already."""
    return _environment().get_template(name)


@cache
def _environment() -> Environment:
    return Environment(
        loader=FileSystemLoader(Path(__file__).parent / "pages"),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
    )
