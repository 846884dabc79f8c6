"""Sticks: the least-cost plan of lumber by column generation, with a bound proved in integers."""

from cutopt.solve.lumber.solver import solve_sticks

__all__ = ["solve_sticks"]
