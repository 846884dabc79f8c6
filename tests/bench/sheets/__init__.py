"""`python -m tests.bench sheets [--quick] [--only NAME ...]`: the sheet solver, measured.

Per instance cutopt's objective, bound, gap, why it stopped and seconds, beside next-fit and
first-fit shelves in list order and sorted, the level model of Lodi, Martello and Monaci through
PuLP with CBC and HiGHS, and CP-SAT, 60 s each, on a stated few instances. A full run writes
`tests/bench/results/sheets.md`; `--quick` is a sample.

Sets (`--only`): `days` sheets of the demo days · `dataset-c`, `wood` published instances ·
`typical` 40 days of one sheet size · `gypsum` 12 sizes and 60 remnants · `large` 200 types, 10,000
pieces · `small` 120 orders of 15, 30, 60 pieces · `dense` the same with large parts · growth:
`types`, `pieces`, `grids`, `remnants`, `sizes` · `ceilings`. Beside them `single` (ceilings of one
width against an integer model), `clock` (time limits), `bounds` (small days against enumeration).

While working on the solver: `--no-baselines --no-models` for cutopt alone; `--shift N` makes the
generated instances from other seeds, so that those measured stay unseen; `--like WORD` takes the
instances alone whose name holds the word; `--busy` gives thrice the time and judges CPU seconds,
for a machine on which others work too (the page says so).

A full run takes an hour: `--first NAME ...` measures these sets first, every figure goes to
`out/bench/sheets.jsonl` as it comes (`--rows FILE` elsewhere), and after a run that was broken off
the same words with `--resume` go on with what is missing and write the whole page.
"""

from tests.bench.sheets.command import main

__all__ = ["main"]
