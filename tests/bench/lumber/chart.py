"""Plots as plain SVG: how far from the bound, and how the seconds grow."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import ceil, floor, log10
from xml.sax.saxutils import escape

__all__ = ["COLOURS", "distance_plot", "growth_plot"]

COLOURS = {
    "cutopt": "#1b6e5a",
    "greedy": "#c2711b",
    "best fit": "#8a6fb0",
    "first fit": "#b04a4a",
    "CBC": "#3f6fa8",
    "HiGHS": "#6b8f2f",
    "CP-SAT": "#a8498f",
}
_TEXT = 'font-family="system-ui, sans-serif" font-size="12" fill="#222"'


def _document(width: float, height: float, title: str, body: Sequence[str]) -> str:
    return "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width:g} {height:g}"'
            f' width="{width:g}" height="{height:g}" role="img">',
            f"<title>{escape(title)}</title>",
            f'<rect width="{width:g}" height="{height:g}" fill="#fff"/>',
            *body,
            "</svg>",
            "",
        ]
    )


def _word(x: float, y: float, text: str, anchor: str = "start", more: str = "") -> str:
    return (
        f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {_TEXT}{more}>{escape(text)}</text>'
    )


def _line(x1: float, y1: float, x2: float, y2: float, colour: str = "#ddd") -> str:
    return f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{colour}" fill="none"/>'


def distance_plot(sets: Mapping[str, Mapping[str, Sequence[float]]]) -> str:
    """A row per set, a dot per instance and method: percent above the bound, on a log scale.

    Parameters
    ----------
    sets
        Per set, per method, ratios to the bound, 1 or more. What is at the bound itself lies in a
        column of its own, at the left.
    """
    left, top, step, width = 230.0, 64.0, 34.0, 620.0
    low, high = -5, 2
    methods = [m for m in COLOURS if any(m in own for own in sets.values())]
    body = []
    x = left
    for method in methods:
        body.append(f'<circle cx="{x:.1f}" cy="20" r="4" fill="{COLOURS[method]}"/>')
        body.append(_word(x + 8, 24, method))
        x += 34 + 7 * len(method)
    bottom = top + step * len(sets)
    zero = left - 70
    body += [_line(zero, top - 10, zero, bottom), _word(zero, top - 16, "0", "middle")]
    for power in range(low, high + 1):
        at = left + width * (power - low) / (high - low)
        body.append(_line(at, top - 10, at, bottom))
        body.append(_word(at, top - 16, f"{Decimal(1).scaleb(power):f} %", "middle"))
    for row, (name, own) in enumerate(sets.items()):
        y = top + step * (row + 0.5)
        body.append(_word(12, y + 4, name))
        for k, method in enumerate(methods):
            across = y + (k - (len(methods) - 1) / 2) * 3.4
            for ratio in own.get(method, ()):
                percent = 100 * (ratio - 1)
                at = zero
                if percent > 10.0**low:
                    at = left + width * (min(log10(percent), high) - low) / (high - low)
                body.append(
                    f'<circle cx="{at:.1f}" cy="{across:.1f}" r="2.6" fill="{COLOURS[method]}"'
                    ' fill-opacity="0.7"/>'
                )
    body.append(_word(left, bottom + 22, "cost above the proved bound"))
    return _document(left + width + 40, bottom + 36, "Cost above the proved bound", body)


def growth_plot(panels: Mapping[str, Sequence[tuple[float, float]]]) -> str:
    """Seconds over a size, a panel a series, both axes logarithmic (a size of 0 lies at 10).

    Parameters
    ----------
    panels
        Per series, (size, CPU seconds).
    """
    wide, high, left, top = 250.0, 180.0, 60.0, 40.0
    body = []
    for k, (name, points) in enumerate(panels.items()):
        if not points:
            continue
        x0 = left + k * (wide + 60)
        xs = [log10(max(10.0, x)) for x, _ in points]
        ys = [log10(max(0.001, y)) for _, y in points]
        x_low, x_high = floor(min(xs)), ceil(max(xs))
        y_low, y_high = floor(min(ys)), ceil(max(ys))
        x_high, y_high = max(x_high, x_low + 1), max(y_high, y_low + 1)
        body.append(_word(x0, 22, name))
        for power in range(x_low, x_high + 1):
            at = x0 + wide * (power - x_low) / (x_high - x_low)
            body.append(_line(at, top, at, top + high))
            body.append(_word(at, top + high + 16, f"{10**power:,}", "middle"))
        for power in range(y_low, y_high + 1):
            at = top + high * (y_high - power) / (y_high - y_low)
            body.append(_line(x0, at, x0 + wide, at))
            body.append(_word(x0 - 6, at + 4, f"{10.0**power:g} s", "end"))
        for x, y in zip(xs, ys, strict=True):
            across = x0 + wide * (x - x_low) / (x_high - x_low)
            down = top + high * (y_high - y) / (y_high - y_low)
            body.append(
                f'<circle cx="{across:.1f}" cy="{down:.1f}" r="4" fill="{COLOURS["cutopt"]}"'
                ' fill-opacity="0.7"/>'
            )
    width = left + len(panels) * (wide + 60)
    return _document(width, top + high + 36, "Seconds as the material grows", body)
