"""The entry link as a QR code (ISO/IEC 18004), for the page at the computer and for its terminal."""

from __future__ import annotations

import io

import segno

_QUIET_ZONE_MODULES = 4
"""The margin that the standard asks for."""


def qr_svg(link: str) -> str:
    """Return an inline SVG drawing of a link: dark on a light ground of its own, in a dark page too."""
    return segno.make(link, micro=False).svg_inline(
        scale=8, border=_QUIET_ZONE_MODULES, dark="#000", light="#fff", omitsize=True
    )


def qr_text(link: str) -> str:
    """Return a drawing of a link for a terminal, in block characters."""
    drawn = io.StringIO()
    segno.make(link, micro=False).terminal(drawn, border=_QUIET_ZONE_MODULES, compact=True)
    return drawn.getvalue()
