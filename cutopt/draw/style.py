"""The colours and the style of every drawing, as CSS.

Ink on paper and nothing else: hatching, line style and words carry the meaning, so that a drawing
says the same in black and white.
"""

from __future__ import annotations

__all__ = ["COLOURS", "DRAWING_STYLE"]

#: Custom properties for a page: light, dark, and printed (where the paper is the paper).
COLOURS = (
    ":root{color-scheme:light dark;"
    "--paper:#faf7f0;--ink:#1c1b19;--accent:#0b5d5e;--alarm:#9b1c1c}"
    "@media screen and (prefers-color-scheme:dark){:root{"
    "--paper:#191815;--ink:#f2eee4;--accent:#7cc9c4;--alarm:#ff9c8f}}"
    "@media print{:root{color-scheme:light;--paper:#fff}}"
)

DRAWING_STYLE = (
    ".drawing{display:block;width:100%;height:auto;overflow:visible;"
    "font-family:system-ui,'Segoe UI',Roboto,'Helvetica Neue',Arial,sans-serif;"
    "font-variant-numeric:tabular-nums lining-nums}"
    ".drawing text{fill:var(--ink);text-anchor:middle;font-weight:400;white-space:pre}"
    ".drawing .b{font-weight:700}"
    ".drawing .s{text-anchor:start}"
    ".drawing .e{text-anchor:end}"
    ".drawing path{fill:none;stroke:var(--ink)}"
    ".drawing path:not(.tick){stroke-width:1.2}"
    ".drawing path.heavy,.drawing path.axis{stroke-width:2.4}"
    ".drawing path.hatch{stroke-width:1.4}"
    ".drawing path.halo{stroke:var(--paper);stroke-width:6}"
    ".drawing path.c0{stroke-width:2.6;stroke-dasharray:16 4 3 4}"
    ".drawing path.c1{stroke-width:3.4}"
    ".drawing path.c2{stroke-width:2.8;stroke-dasharray:14 5}"
    ".drawing path.c3{stroke-width:2.6;stroke-dasharray:6 4}"
    ".drawing path.ct{stroke-width:3;stroke-dasharray:.1 5.6;stroke-linecap:round}"
    ".drawing .head{fill:var(--ink);stroke:none}"
    ".drawing rect{stroke:var(--ink);stroke-width:1.4}"
    ".drawing .part,.drawing .edge{fill:none}"
    ".drawing .edge{stroke-width:1}"
    ".drawing .part{stroke-width:1.8}"
    ".drawing .kept{fill:none;stroke-dasharray:7 4}"
    ".drawing .paper{fill:var(--paper);stroke:none}"
    ".drawing .ring{fill:var(--paper);stroke:var(--ink);stroke-width:1.6}"
)
