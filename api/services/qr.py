"""A short text as a QR code (ISO/IEC 18004), drawn as an SVG."""

from __future__ import annotations

import segno

__all__ = ["qr_drawing"]


def qr_drawing(text: str) -> str:
    """The drawing: dark on white whatever the page's colours, for any camera; 15 % may be lost."""
    code = segno.make(text, error="m", micro=False)
    return str(code.svg_inline(scale=6, dark="#000", light="#fff", border=4, omitsize=False))
