"""Figures as text that stands inside an HTML page, without links to anywhere."""

from __future__ import annotations

import base64
import hashlib
import io
import re
from typing import TYPE_CHECKING

from matplotlib import rc_context

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def as_svg(figure: Figure) -> str:
    """Return a figure as an SVG element."""
    with rc_context({"svg.fonttype": "none", "svg.hashsalt": "guideproof"}):
        text = io.StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None})
    svg = text.getvalue()
    svg = svg[svg.index("<svg") :]
    # HTML knows the SVG elements by itself; names of XML vocabularies only look like addresses.
    for name in (
        'xmlns:xlink="http://www.w3.org/1999/xlink"',
        'xmlns="http://www.w3.org/2000/svg"',
    ):
        svg = svg.replace(name, "")
    start, end = svg.find("<metadata>"), svg.find("</metadata>")
    svg = svg[:start] + svg[end + len("</metadata>") :] if start >= 0 else svg
    return _with_own_names(svg)


def _with_own_names(svg: str) -> str:
    """Return a figure whose elements share no name with those of another on the same page."""
    used = set(re.findall(r'(?:href="#|url\(#)([^")]+)', svg))
    mark = hashlib.sha1(svg.encode("utf-8"), usedforsecurity=False).hexdigest()[:8]

    def named(found: re.Match[str]) -> str:
        return f' id="{found[1]}-{mark}"' if found[1] in used else ""

    svg = re.sub(r'\sid="([^"]+)"', named, svg)
    return re.sub(r'(href="#|url\(#)([^")]+)', rf"\g<1>\g<2>-{mark}", svg)


def as_svg_file(svg: str) -> bytes:
    """Return an SVG element as the content of a file of its own."""
    # the names of the XML vocabularies that `as_svg` takes out for a page
    space = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink"'
    heading = '<?xml version="1.0" encoding="utf-8"?>\n'
    return (heading + svg.replace("<svg", space, 1)).encode("utf-8")


def as_png_address(figure: Figure) -> str:
    """Return a figure as a data address for an image in HTML."""
    image = io.BytesIO()
    figure.savefig(image, format="png", dpi=170)
    return "data:image/png;base64," + base64.b64encode(image.getvalue()).decode("ascii")
