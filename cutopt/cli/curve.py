"""`cutopt curve`: cost against joints, set-ups or board lengths, material by material."""

from __future__ import annotations

import argparse
import sys
from fractions import Fraction
from pathlib import Path

from cutopt.cli.common import (
    PLANNED,
    Teller,
    add_search,
    can_be_written,
    print_rows,
    print_warnings,
    problem_of,
)
from cutopt.files import curves_csv, curves_svg, write_outputs
from cutopt.measure import rounded
from cutopt.solve.curves import Against, Curve, curve_groups, curves

__all__ = ["add_curve"]


def add_curve(curve: argparse.ArgumentParser) -> None:
    """The words of `curve`."""
    add_search(curve)
    curve.add_argument(
        "--of",
        required=True,
        choices=[a.value for a in Against],
        help="what cost is set against: joints in runs, set-ups (different layouts), or the board "
        "lengths that ceilings buy",
    )
    curve.add_argument("--out", type=Path, metavar="FILE.csv", help="the points as a table")
    curve.add_argument("--svg", type=Path, metavar="FILE.svg", help="the curves as a drawing")
    curve.set_defaults(run=_curve)


def _curve(words: argparse.Namespace) -> int:
    problem = problem_of(words.days)
    for word, path in (("--out", words.out), ("--svg", words.svg)):
        if path is not None:
            can_be_written(word, path, folder=False)
    against = Against(words.of)
    groups = len(curve_groups(problem, against))
    with Teller(groups, sys.stderr) as teller:
        found = curves(
            problem,
            against,
            seconds=words.seconds,
            seed=words.seed,
            workers=words.workers,
            report=teller,
        )
    if not found:
        what = "no ceiling field" if against is Against.LENGTHS else "nothing of lumber"
        print(f"{what} is to be cut: there is no curve")
    for curve in found:
        _print_curve(curve)
    for path, content in ((words.out, curves_csv), (words.svg, curves_svg)):
        if path is not None:
            write_outputs({path.name: content(found)}, path.parent)
            print(f"written to {path}")
    print_warnings(problem)
    return PLANNED


#: What the pieces of stock are called: set-ups are told of sticks and of sheets.
_PIECES = {Against.JOINTS: "sticks", Against.SETUPS: "pieces", Against.LENGTHS: "boards"}


def _print_curve(curve: Curve) -> None:
    name = ", ".join(curve.materials)
    if not curve.points:
        print(f"{name} {curve.note}\n")
        return
    print(f"{name}: cost against {curve.against.words}")
    ceilings = curve.against is Against.LENGTHS
    least = min(curve.money(p) for p in curve.points)
    rows = [
        (
            p.setting,
            f"{p.lengths if ceilings else p.joints}",
            f"{p.setups}",
            f"{p.sticks}",
            f"{rounded(p.cost, 2)}",
            f"{rounded(p.objective, 2)}",
            "" if p.bound is None else f"{rounded(p.bound, 2)}",
            f"{rounded(100 * (curve.money(p) - least) / least if least else Fraction(0), 3)}",
            "*" if p in curve.choices else "",
        )
        for p in curve.points
    ]
    head = (
        "setting",
        "lengths" if ceilings else "joints",
        "set-ups",
        _PIECES[curve.against],
        "stock",
        "objective",
        "bound",
        "dearer %",
        "*",
    )
    print_rows(head, rows)
    if curve.note:
        print(curve.note)
    print()
