"""`python -m tests.bench lumber [--quick] [--only NAME ...]`: the stick solver, measured.

Per instance cutopt's objective, bound, gap and seconds, beside first-fit and best-fit decreasing on
the best single length, the greedy over all lengths, and a plain assignment model through PuLP with
CBC and HiGHS and through CP-SAT, 60 s each, on a stated few instances. A full run takes under an
hour and writes `tests/bench/results/lumber.md`; `--quick` is a sample in under two minutes.
`--first`, `--like`, `--rows` and `--resume` as in `sheets`.
"""

from tests.bench.lumber.command import main

__all__ = ["main"]
