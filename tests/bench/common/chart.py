"""Plots as plain SVG: how far from the bound, how the seconds grow, how much ends in what time."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from decimal import Decimal
from math import ceil, floor, log10
from xml.sax.saxutils import escape

__all__ = ["COLOURS", "distance_plot", "growth_plot", "share_plot"]

#: What both benches show, each in a colour that is its own.
COLOURS = {"cutopt": "#1b6e5a", "CBC": "#3f6fa8", "HiGHS": "#6b8f2f", "CP-SAT": "#a8498f"}
#: Lines of `share_plot` and series of `growth_plot`, in order.
_SERIES = ("#1b6e5a", "#c2711b", "#3f6fa8", "#b04a4a", "#6b8f2f", "#a8498f")
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


def _word(x: float, y: float, text: str, anchor: str = "start") -> str:
    return f'<text x="{x:.1f}" y="{y:.1f}" text-anchor="{anchor}" {_TEXT}>{escape(text)}</text>'


def _line(x1: float, y1: float, x2: float, y2: float, colour: str = "#ddd") -> str:
    return f'<path d="M{x1:.1f} {y1:.1f}L{x2:.1f} {y2:.1f}" stroke="{colour}" fill="none"/>'


def _dot(x: float, y: float, r: float, colour: str) -> str:
    return f'<circle cx="{x:.1f}" cy="{y:.1f}" r="{r:g}" fill="{colour}" fill-opacity="0.7"/>'


def _legend(names: Mapping[str, str], x: float, y: float) -> list[str]:
    body = []
    for name, colour in names.items():
        body += [_dot(x, y, 4, colour), _word(x + 8, y + 4, name)]
        x += 32 + 6.8 * len(name)
    return body


def distance_plot(
    sets: Mapping[str, Mapping[str, Sequence[float]]], colours: Mapping[str, str], low: int
) -> str:
    """A row per set, a dot per instance and method: percent above the bound, on a log scale.

    Parameters
    ----------
    sets
        Per set, per method, ratios to the bound, 1 or more. What is at the bound itself lies in a
        column of its own, at the left.
    colours
        Of the methods, in the order in which they are shown.
    low
        10 to this power is the least percentage with a place of its own.
    """
    left, top, step, width = 190.0, 64.0, 36.0, 720.0
    high = 2
    methods = [m for m in colours if any(m in own for own in sets.values())]
    body = _legend({m: colours[m] for m in methods}, 16, 20)
    bottom = top + step * len(sets)
    zero = left - 60
    body += [_line(zero, top - 10, zero, bottom), _word(zero, top - 16, "0", "middle")]
    for power in range(low, high + 1):
        at = left + width * (power - low) / (high - low)
        body.append(_line(at, top - 10, at, bottom))
        body.append(_word(at, top - 16, f"{Decimal(1).scaleb(power):f} %", "middle"))
    for row, (name, own) in enumerate(sets.items()):
        y = top + step * (row + 0.5)
        body.append(_word(12, y + 4, name))
        shown = [m for m in methods if m in own]
        for k, method in enumerate(shown):
            across = y + (k - (len(shown) - 1) / 2) * 4
            for ratio in own[method]:
                percent = 100 * (ratio - 1)
                at = zero
                if percent > 0:
                    place = max(low, min(log10(percent), high))
                    at = left + width * (place - low) / (high - low)
                body.append(_dot(at, across, 2.6, colours[method]))
    body.append(_word(left, bottom + 22, "cost above the proved bound"))
    return _document(left + width + 50, bottom + 36, "Cost above the proved bound", body)


def growth_plot(
    panels: Mapping[str, Mapping[str, Sequence[tuple[float, float]]]], least: float, title: str
) -> str:
    """Seconds over a size, a panel each, both axes logarithmic (a size below `least` lies there).

    Parameters
    ----------
    panels
        Per panel, per series, (size, CPU seconds).
    """
    wide, high, left, top, columns = 250.0, 170.0, 60.0, 40.0, 3
    body = []
    shown = [(name, own) for name, own in panels.items() if any(own.values())]
    for k, (name, own) in enumerate(shown):
        x0 = left + k % columns * (wide + 60)
        y0 = top + k // columns * (high + 90)
        xs = [log10(max(least, x)) for points in own.values() for x, _ in points]
        ys = [log10(max(0.001, y)) for points in own.values() for _, y in points]
        x_low, x_high = floor(min(xs)), max(ceil(max(xs)), floor(min(xs)) + 1)
        y_low, y_high = floor(min(ys)), max(ceil(max(ys)), floor(min(ys)) + 1)
        colours = dict(zip(own, _SERIES, strict=False))
        body.append(_word(x0, y0 - 18, name))
        body += _legend(colours if len(colours) > 1 else {}, x0 + 8, y0 + high + 36)
        for power in range(x_low, x_high + 1):
            at = x0 + wide * (power - x_low) / (x_high - x_low)
            body.append(_line(at, y0, at, y0 + high))
            body.append(_word(at, y0 + high + 16, f"{10**power:,}", "middle"))
        for power in range(y_low, y_high + 1):
            at = y0 + high * (y_high - power) / (y_high - y_low)
            body.append(_line(x0, at, x0 + wide, at))
            body.append(_word(x0 - 6, at + 4, f"{10.0**power:g} s", "end"))
        for series, points in own.items():
            for x, y in points:
                across = x0 + wide * (log10(max(least, x)) - x_low) / (x_high - x_low)
                down = y0 + high * (y_high - log10(max(0.001, y))) / (y_high - y_low)
                body.append(_dot(across, down, 4, colours[series]))
    rows = -(-len(shown) // columns)
    width = left + min(columns, len(shown)) * (wide + 60)
    return _document(width, top + rows * (high + 90), title, body)


def share_plot(series: Mapping[str, tuple[Sequence[float], int]], most: float, title: str) -> str:
    """Share of the instances proved optimal within so many seconds (logarithmic), a line each.

    Parameters
    ----------
    series
        Per line, the seconds of those that were proved, and how many there are in all.
    most
        Seconds at the right end.
    """
    wide, high, left, top = 620.0, 240.0, 60.0, 40.0
    low, top_power = -2, ceil(log10(most))
    colours = dict(zip(series, _SERIES, strict=False))
    body = _legend(colours, left, 18)
    for power in range(low, top_power + 1):
        at = left + wide * (power - low) / (top_power - low)
        body.append(_line(at, top, at, top + high))
        body.append(_word(at, top + high + 16, f"{10.0**power:g} s", "middle"))
    for share in range(0, 101, 20):
        at = top + high * (1 - share / 100)
        body.append(_line(left, at, left + wide, at))
        body.append(_word(left - 6, at + 4, f"{share} %", "end"))
    for name, (seconds, count) in series.items():
        path = [f"M{left:.1f} {top + high:.1f}"]
        for k, value in enumerate(sorted(seconds)):
            place = min(top_power, max(low, log10(max(value, 1e-9))))
            at = left + wide * (place - low) / (top_power - low)
            path.append(f"H{at:.1f}V{top + high * (1 - (k + 1) / count):.1f}")
        path.append(f"H{left + wide:.1f}")
        body.append(
            f'<path d="{"".join(path)}" stroke="{colours[name]}" stroke-width="2" fill="none"/>'
        )
    return _document(left + wide + 40, top + high + 30, title, body)
