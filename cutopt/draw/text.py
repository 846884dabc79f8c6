"""Words in a drawing: how wide they may come out, how to write them safely, where to put them.

A drawing is made without knowing which font will show it. Widths are taken from DejaVu Sans, the
widest of the usual system fonts (measured in a browser), so that what does not touch here does
not touch anywhere.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Sequence
from html import escape

__all__ = ["clip", "letter", "number", "safe", "spread", "width"]

# Advance widths in hundredths of the font size, by the characters that share one.
_BOLD = {
    35: " '/\\|ijl",
    42: ",.IJ·:;-",
    48: "f!()[]t",
    53: '_`r–"*',
    60: "?zcs",
    68: "LxvykaeéEFTo",
    73: "0123456789$bdghnpqu{}SYZ",
    78: "CPBAKRVX",
    87: "UG#+<=>DHN^~×OQ&",
    100: "w@M…%",
    111: "mW",
}
_PLAIN = {
    37: " '/\\|ijlIJ,.·:;f-",
    46: '!()[]tr"',
    55: "*_`–sz?c",
    62: "LFkvxyPTYaeoé",
    66: "0123456789$ESbdghnpqu{}K",
    76: "ABVXZCRUNH",
    87: "&DGOQw#+<=>^~×M",
    100: "%mW@…",
}
_WIDTHS = tuple(
    {c: hundredths for hundredths, chars in table.items() for c in chars}
    for table in (_PLAIN, _BOLD)
)
_UNKNOWN = 90
_WIDE = 115

#: Controls, halves of pairs and the two that are no characters: XML holds none of them.
_UNHELD = re.compile(r"[\x00-\x08\x0b\x0c\x0e-\x1f\x7f-\x9f\ud800-\udfff\ufffe\uffff]")


def width(text: str, size: float, bold: bool = False) -> float:
    """The most room that the text takes at this font size, in the drawing's own units."""
    table = _WIDTHS[bold]
    return sum(table.get(c) or _other(c) for c in text) * size / 100


def _other(char: str) -> int:
    return _WIDE if unicodedata.east_asian_width(char) in "WF" else _UNKNOWN


def clip(text: str, room: float, size: float, bold: bool = False) -> str:
    """The text, or as much of its start as fits with `…` behind it; empty where nothing fits."""
    if width(text, size, bold) <= room:
        return text
    for end in range(len(text) - 1, 0, -1):
        short = text[:end].rstrip() + "…"
        if width(short, size, bold) <= room:
            return short
    return ""


def safe(text: str) -> str:
    """The text for XML, in an element or a quoted attribute; what XML can't hold becomes `�`."""
    return escape(_UNHELD.sub("�", text), quote=True)


def number(value: float) -> str:
    """A coordinate to a hundredth, as short as it can be written."""
    text = f"{value:.2f}".rstrip("0").rstrip(".")
    return "0" if text == "-0" else text


def letter(index: int) -> str:
    """A part's name within one drawing: A to Z, then AA, AB and on."""
    name = ""
    index += 1
    while index:
        index, rest = divmod(index - 1, 26)
        name = chr(65 + rest) + name
    return name


def spread(
    wanted: Sequence[float], sizes: Sequence[float], low: float, high: float
) -> list[float] | None:
    """Centres for labels in a row, each as near as can be to where it is wanted.

    Parameters
    ----------
    wanted
        Where each label's centre would best be, ascending.
    sizes
        The room each needs along the row, its margins included.
    low, high
        The ends of the row.

    Returns
    -------
    list of float or None
        Centres in the same order, no two labels overlapping, with the least sum of squared moves
        (pool adjacent violators); None where the row is too short for all of them.
    """
    if sum(sizes) > high - low + 1e-9:
        return None
    # Measured from the packed position, labels must only not go backwards.
    packed: list[float] = []
    at = 0.0
    for size in sizes:
        packed.append(at + size / 2)
        at += size
    blocks: list[tuple[float, int]] = []
    for want, offset in zip(wanted, packed, strict=True):
        blocks.append((want - offset, 1))
        while len(blocks) > 1 and blocks[-2][0] > blocks[-1][0]:
            (a, n), (b, m) = blocks[-2], blocks[-1]
            blocks[-2:] = [((a * n + b * m) / (n + m), n + m)]
    starts = [start for start, n in blocks for _ in range(n)]
    last = high - at
    return [
        min(max(start, low), last) + offset for start, offset in zip(starts, packed, strict=True)
    ]
