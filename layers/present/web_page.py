"""A web page in one file, which may run and load nothing but its own content."""

from __future__ import annotations

import base64
import hashlib
from collections.abc import Sequence
from typing import Final

from seabed.files import MAKER
from seabed.markup import markup_text

PICTURES: Final = "data: blob:"


def web_page(
    title: str,
    body: str,
    *,
    styles: Sequence[str],
    scripts: Sequence[str] = (),
    pictures_from: str = "",
) -> str:
    """Put a page together.

    Its Content Security Policy (level 2, W3C, 2016) names each style sheet and script by its
    SHA-256: the browser refuses any other, style attributes and event handlers too, and every
    address but that of pictures.

    title: text, not HTML.
    body: HTML, without scripts that run.
    styles, scripts: CSS for the head, JavaScript for the end of the body.
    pictures_from: scheme and host of a server of pictures; none if empty.

    >>> page = web_page("A & B", "<p>Words</p>", styles=["p { color: black; }"])
    >>> page[page.index("style-src") :][:63]
    "style-src 'sha256-qcTOq41wFQo7kQmnvsvfKPbOGq7L/MkPyzJ/vYV2t6w='"
    """
    policy = "; ".join(
        (
            "default-src 'none'",
            f"img-src {PICTURES} {pictures_from}".strip(),
            f"style-src {_sources(styles)}",
            f"script-src {_sources(scripts)}",
            "base-uri 'none'",
            "form-action 'none'",
        )
    )
    sheets = "".join(f"<style>{sheet}</style>\n" for sheet in styles)
    code = "".join(f"<script>{script}</script>\n" for script in scripts)
    return (
        '<!doctype html>\n<html lang="en">\n<head>\n<meta charset="utf-8">\n'
        f'<meta name="generator" content="{MAKER}">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{policy}">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<title>{markup_text(title)}</title>\n{sheets}</head>\n"
        f"<body>\n{body}\n{code}</body>\n</html>\n"
    )


def _sources(parts: Sequence[str]) -> str:
    hashes = (hashlib.sha256(part.encode("utf-8")).digest() for part in parts)
    return " ".join(f"'sha256-{base64.b64encode(one).decode()}'" for one in hashes) or "'none'"
