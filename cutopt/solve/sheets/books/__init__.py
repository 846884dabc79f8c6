"""Fewer set-ups and books of sheets: the same parts from fewer different layouts.

`key` says what one set-up is and how many books it is cut in, `fit` fills one sheet, `exchange`
takes some layouts out and puts their parts into fewer, `promising` says which, `exact` takes the
fewest of a short list, `gather` lays the waste of the emptiest sheets together, `reduce` is what
the solver calls.
"""

from cutopt.solve.sheets.books.reduce import fewer_setups

__all__ = ["fewer_setups"]
