"""The frame of a page: escaping, style, scripts, the security policy, the embedded data.

A page is one file. Its policy allows nothing but the style and the script it carries, each named
by its digest; text from files is always escaped.
"""

from __future__ import annotations

import base64
import hashlib
import json
from functools import cache
from html import escape as html_escape
from importlib.resources import files
from typing import TYPE_CHECKING, Any

from encoder.plot.palette import PALETTE

if TYPE_CHECKING:
    from collections.abc import Iterable, Mapping

CAUTION = (
    "An aid, not an authority: not for operational use without the approval of the responsible "
    "service; local instructions prevail."
)
HYDROGEN = (
    "Hydrogen burns and explodes: only trained staff handle it, under the local safety code. "
    "The gas facts on this page are a record, not advice on filling a balloon."
)


def escape(text: object) -> str:
    """Return text safe in HTML, in elements and in quoted attributes."""
    return html_escape(str(text), quote=True)


def tag(name: str, content: str = "", /, **attributes: object) -> str:
    """Return an element.

    Parameters
    ----------
    name : str
        Name of the element.
    content : str
        HTML, escaped already.
    **attributes
        Escaped here; ``class_`` gives ``class``, other underscores become hyphens. True gives an
        attribute without a value, None and False none at all.
    """
    return f"<{name}{_attributes(attributes)}>{content}</{name}>"


def _attributes(attributes: Mapping[str, object]) -> str:
    text = ""
    for name, value in attributes.items():
        if value is None or value is False:
            continue
        spelled = name.rstrip("_").replace("_", "-")
        text += f" {spelled}" if value is True else f' {spelled}="{escape(value)}"'
    return text


def scrolled(content: str, label: str) -> str:
    """Return content that may be wider than the page in a frame of its own."""
    return tag("div", content, class_="scroll", tabindex="0", role="region", aria_label=label)


def embedded(document: Any) -> str:
    """Return a JSON document that can stand inside a script element."""
    text = json.dumps(document, ensure_ascii=False, allow_nan=False, separators=(",", ":"))
    for character in "<>&\u2028\u2029":
        text = text.replace(character, f"\\u{ord(character):04x}")
    return text


@cache
def style(*names: str) -> str:
    """Return style sheets of the package, after the palette."""
    folder = files("encoder.page") / "static"
    sheets = [(folder / f"{name}.css").read_text(encoding="utf-8") for name in names]
    return "\n".join([_palette_style(), *sheets])


@cache
def script() -> str:
    """Return the scripts of the flight page as one, in the order of their names."""
    folder = files("encoder.page") / "static"
    names = sorted(item.name for item in folder.iterdir() if item.name.endswith(".js"))
    body = "\n".join((folder / name).read_text(encoding="utf-8") for name in names)
    return f'(function () {{\n"use strict";\n{body}}})();\n'


def _palette_style() -> str:
    def declared(ground: Any) -> str:
        return ";".join(f"--{role}:{colour}" for role, colour in PALETTE[ground].items())

    light, dark = declared("light"), declared("dark")
    return (
        f":root{{color-scheme:light;{light}}}\n"
        f"@media screen and (prefers-color-scheme:dark){{:root{{color-scheme:dark;{dark}}}}}\n"
        f'@media screen{{:root[data-ground="light"]{{color-scheme:light;{light}}}'
        f':root[data-ground="dark"]{{color-scheme:dark;{dark}}}}}\n'
    )


def _digest(text: str) -> str:
    return base64.b64encode(hashlib.sha256(text.encode("utf-8")).digest()).decode("ascii")


def page(
    title: str,
    body: Iterable[str],
    *,
    sheets: tuple[str, ...],
    data: Any = None,
    scripted: bool = False,
) -> str:
    """Return a whole page.

    Parameters
    ----------
    title : str
        Not escaped yet.
    body : iterable of str
        HTML, escaped already.
    sheets : tuple of str
        Names of style sheets of the package.
    data : optional
        Embedded as JSON in the element ``data``.
    scripted : bool
        Whether the page carries the scripts of the flight page.

    Returns
    -------
    str
        The same bytes for the same arguments.
    """
    css = style(*sheets)
    javascript = script() if scripted else ""
    scripts = f"'sha256-{_digest(javascript)}'" if scripted else "'none'"
    policy = (
        f"default-src 'none'; style-src 'sha256-{_digest(css)}'; script-src {scripts}; "
        "base-uri 'none'; form-action 'none'"
    )
    parts = [
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n',
        f'<meta http-equiv="Content-Security-Policy" content="{escape(policy)}">\n',
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n',
        '<meta name="generator" content="Aerogram">\n',
        f"<title>{escape(title)}</title>\n<style>{css}</style>\n</head>\n<body>\n",
        *body,
    ]
    if data is not None:
        parts.append(f'<script type="application/json" id="data">{embedded(data)}</script>\n')
    if scripted:
        parts.append(f"<script>{javascript}</script>\n")
    parts.append("</body>\n</html>\n")
    whole = "".join(parts)
    # half of a surrogate pair, which JSON can name, has no place in UTF-8
    return whole.encode("utf-16-le", "surrogatepass").decode("utf-16-le", "replace")
