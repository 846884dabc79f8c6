"""Sheets: two- and three-stage guillotine cutting at least cost, with a proved bound."""

from cutopt.solve.sheets.group import solve_sheets

__all__ = ["solve_sheets"]
