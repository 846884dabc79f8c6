"""What the commands share: reading days, words for numbers, progress."""

from __future__ import annotations

import argparse
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import TextIO

from tqdm import tqdm

from cutopt.files import read_days
from cutopt.plan import Problem
from cutopt.records import CutoptError
from cutopt.solve import Progress

__all__ = [
    "DOES_NOT_CHECK",
    "NOT_CUTTABLE",
    "PLANNED",
    "REFUSED",
    "Teller",
    "add_search",
    "can_be_written",
    "print_rows",
    "print_warnings",
    "problem_of",
    "whole_number",
]

PLANNED, REFUSED, NOT_CUTTABLE, DOES_NOT_CHECK = 0, 2, 3, 4


def add_search(command: argparse.ArgumentParser) -> None:
    """The words that every search takes: days, and how long and wide to search."""
    command.add_argument(
        "days", nargs="+", type=Path, metavar="DAY", help="a day folder or workbook"
    )
    command.add_argument(
        "--seconds", type=_seconds, default=60.0, help="most time to search (default 60)"
    )
    command.add_argument(
        "--seed", type=whole_number, default=1, help="same seed, same plan (default 1)"
    )
    command.add_argument(
        "--workers",
        type=whole_number,
        default=0,
        help="processes side by side (default: the cores)",
    )


def _seconds(text: str) -> float:
    try:
        value = float(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' is no number of seconds") from error
    if not 0 < value <= 86_400:
        raise argparse.ArgumentTypeError("seconds above 0 and at most 86400")
    return value


def whole_number(text: str) -> int:
    """A whole number from the command line, zero or more."""
    try:
        value = int(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' is no whole number") from error
    if not 0 <= value < 2**31:
        raise argparse.ArgumentTypeError("a whole number, zero or more")
    return value


def problem_of(days: Sequence[Path]) -> Problem:
    """The days read together. Raises InputRefused with every fault."""
    reading = read_days(days)
    return Problem(reading.days, reading.warnings)


def print_warnings(problem: Problem) -> None:
    """Last, so that no progress scrolls them away."""
    for warning in problem.warnings:
        print(f"warning: {warning}", file=sys.stderr)


def can_be_written(word: str, path: Path, folder: bool) -> None:
    """Say so before the search where its result could not be written after it.

    `path` is what `word` gives: a folder, or a file in one.
    """
    if not folder:
        if path.is_dir():
            raise CutoptError(f"{word} {path}: is a folder, a file would be right")
        if path.exists() and not os.access(path, os.W_OK):
            raise CutoptError(f"{word} {path}: may not be written to")
        path = path.parent
    there = next(p for p in (path, *path.absolute().parents) if p.exists())
    if not there.is_dir():
        raise CutoptError(f"{word} {path}: {there} is a file, a folder would be right")
    if not os.access(there, os.W_OK | os.X_OK):
        raise CutoptError(f"{word} {path}: {there} may not be written to")


def print_rows(head: Sequence[str], rows: Sequence[Sequence[str]]) -> None:
    """A table on the terminal: words to the left, figures to the right."""
    widths = [max(len(r[i]) for r in [head, *rows]) for i in range(len(head))]
    for row in [head, *rows]:
        cells = [row[0].ljust(widths[0])]
        cells += [c.rjust(w) for c, w in zip(row[1:], widths[1:], strict=True)]
        print("  ".join(cells))


class Teller:
    """A bar on a terminal, plain lines otherwise."""

    def __init__(self, groups: int, stream: TextIO) -> None:
        self._bar = (
            tqdm(total=groups, unit="material", file=stream, leave=False)
            if stream.isatty()
            else None
        )
        self._groups = groups
        self._done = 0
        self._stream = stream

    def __enter__(self) -> Teller:
        return self

    def __exit__(self, *exc: object) -> None:
        if self._bar is not None:
            self._bar.close()

    def __call__(self, progress: Progress) -> None:
        names = ", ".join(progress.materials)
        if progress.done:
            self._done += 1
        if self._bar is not None:
            self._bar.set_description_str(f"{names}: {progress.phase}")
            self._bar.update(self._done - self._bar.n)
        elif progress.done:
            figures = ""
            if progress.objective is not None and progress.bound is not None:
                figures = f", objective {progress.objective:.2f}, bound {progress.bound:.2f}"
            print(f"{self._done}/{self._groups} {names}{figures}", file=self._stream, flush=True)
