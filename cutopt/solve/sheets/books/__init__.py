"""Fewer set-ups and books of sheets: the same parts from fewer different layouts.

`key` says what one set-up is and how many books it is cut in, `fit` fills one sheet, `exchange`
takes some layouts out and puts their parts into fewer, `reduce` is what the solver calls.
"""

from cutopt.solve.sheets.books.reduce import fewer_setups

__all__ = ["fewer_setups"]
