"""`cutopt curve`: cost against joints or set-ups, material by material."""

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
from cutopt.materials import Kind
from cutopt.measure import rounded
from cutopt.solve.curves import Against, Curve, curves

__all__ = ["add_curve"]


def add_curve(curve: argparse.ArgumentParser) -> None:
    """The words of `curve`."""
    add_search(curve)
    curve.add_argument(
        "--of",
        required=True,
        choices=[a.value for a in Against],
        help="what cost is set against: joints in runs, or set-ups (different layouts)",
    )
    curve.add_argument("--out", type=Path, metavar="FILE.csv", help="the points as a table")
    curve.add_argument("--svg", type=Path, metavar="FILE.svg", help="the curves as a drawing")
    curve.set_defaults(run=_curve)


def _curve(words: argparse.Namespace) -> int:
    problem = problem_of(words.days)
    for word, path in (("--out", words.out), ("--svg", words.svg)):
        if path is not None:
            can_be_written(word, path, folder=False)
    groups = sum(g.kind is Kind.LUMBER for g in problem.groups)
    with Teller(groups, sys.stderr) as teller:
        found = curves(
            problem,
            Against(words.of),
            seconds=words.seconds,
            seed=words.seed,
            workers=words.workers,
            report=teller,
        )
    if not found:
        print("nothing of lumber is to be cut: there is no curve")
    for curve in found:
        _print_curve(curve)
    for path, content in ((words.out, curves_csv), (words.svg, curves_svg)):
        if path is not None:
            write_outputs({path.name: content(found)}, path.parent)
            print(f"written to {path}")
    print_warnings(problem)
    return PLANNED


def _print_curve(curve: Curve) -> None:
    name = ", ".join(curve.materials)
    if not curve.points:
        print(f"{name} {curve.note}\n")
        return
    print(f"{name}: cost against {'joints' if curve.against is Against.JOINTS else 'set-ups'}")
    least = min(curve.money(p) for p in curve.points)
    rows = [
        (
            p.setting,
            f"{p.joints}",
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
        "joints",
        "set-ups",
        "sticks",
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
