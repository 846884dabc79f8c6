"""The files of curves: a line per point, and the drawing."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence

from cutopt.draw import curves_drawing
from cutopt.measure import money, money_floor
from cutopt.solve.curves import Against, Curve

__all__ = ["curves_csv", "curves_svg"]

_COLUMNS = (
    "material",
    "of",
    "setting",
    "joints",
    "setups",
    "sticks",
    "cost",
    "objective",
    "bound",
    "choice",
    "lengths",
)


def curves_csv(curves: Sequence[Curve]) -> bytes:
    """The points as a table.

    `material` holds all that were planned together, `;` between them; `choice` is yes where no
    other point has both fewer joints, set-ups or board lengths and lower cost. `lengths` is blank
    where nobody asked for it. Money is in dollars.
    """
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(_COLUMNS)
    for curve in curves:
        choices = curve.choices
        for p in curve.points:
            writer.writerow(
                (
                    ";".join(curve.materials),
                    curve.against.value,
                    p.setting,
                    p.joints,
                    p.setups,
                    p.sticks,
                    f"{money(p.cost):f}",
                    f"{money(p.objective):f}",
                    "" if p.bound is None else f"{money_floor(p.bound):f}",
                    "yes" if p in choices else "no",
                    p.lengths if curve.against is Against.LENGTHS else "",
                )
            )
    return text.getvalue().encode()


def curves_svg(curves: Sequence[Curve]) -> bytes:
    """The curves drawn one under the other, in one SVG that stands alone."""
    return (curves_drawing(curves) + "\n").encode()
