"""What the outside models of sticks, sheets and ceilings share, none of it with cutopt.

`scipy.optimize.milp` carries a solver of its own. `settled` asks it; `covered` is the model of how
often each filling or pattern is cut; `verdict` holds a plan against its answer; `compare_many` is
the command that does so for many random days.
"""

from __future__ import annotations

import random
import sys
import time
from collections import Counter
from collections.abc import Callable, Sequence
from fractions import Fraction
from typing import Any

import numpy as np
from scipy.optimize import Bounds, LinearConstraint, milp
from scipy.sparse import lil_matrix

from cutopt.cutlist import Day
from cutopt.materials import Offer

__all__ = ["compare_many", "count_and_seed", "covered", "day_of_seed", "settled", "verdict"]


def settled(
    cost: Sequence[float],
    matrix: Any,
    low: Any,
    high: Any,
    upper: Any = np.inf,
    whole: Any = 1,
) -> tuple[float, list[int]] | None:
    """The least cost, as the outside solver says it, and the values rounded; None where none is.

    Parameters
    ----------
    matrix, low, high
        Rows and what they lie between; shapes (rows, len(cost)), (rows,), (rows,).
    upper, whole
        Per variable the most, and 1 where it must be whole; one for all, or shape (len(cost),).

    Raises
    ------
    RuntimeError
        Where the solver says neither within a minute.
    """
    answer = milp(
        np.asarray(cost),
        constraints=LinearConstraint(matrix, low, high),
        bounds=Bounds(0, upper),
        integrality=np.broadcast_to(whole, len(cost)),
        options={"mip_rel_gap": 0.0, "time_limit": 60.0},
    )
    if answer.status == 2:
        return None
    if answer.status != 0:
        raise RuntimeError(answer.message)
    return float(answer.fun), [round(x) for x in answer.x]


def covered(
    offers: Sequence[Offer],
    wanted: Sequence[int],
    found: Sequence[tuple[int, Sequence[int], Fraction]],
    over: bool = False,
) -> Fraction | None:
    """The least cost of cutting every kind as often as wanted; None where that can't be.

    Parameters
    ----------
    wanted
        Pieces of each kind.
    found
        Ways to cut: which offer, pieces of each kind, dollars.
    over
        Whether a kind may be cut more often: a piece too many may as well be left on its drop.
    """
    if not found:
        return None
    limited = [s for s, o in enumerate(offers) if o.available is not None]
    matrix = lil_matrix((len(wanted) + len(limited), len(found)))
    for j, (s, cuts, _) in enumerate(found):
        for i, q in enumerate(cuts):
            matrix[i, j] = q
        if s in limited:
            matrix[len(wanted) + limited.index(s), j] = 1
    least = [float(n) for n in wanted]
    most = [np.inf] * len(wanted) if over else least
    answer = settled(
        [float(dollars) for *_, dollars in found],
        matrix.tocsr(),
        np.array(least + [-np.inf] * len(limited)),
        np.array(most + [float(offers[s].available or 0) for s in limited]),
    )
    if answer is None:
        return None
    # Exact: the outside optimum is costed in fractions from the ways to cut that it chose.
    chosen = [(n, *way) for n, way in zip(answer[1], found, strict=True) if n]
    cut = [sum(n * cuts[i] for n, _, cuts, _ in chosen) for i in range(len(wanted))]
    if any(n < m or (n > m and not over) for n, m in zip(cut, wanted, strict=True)):
        raise RuntimeError("the outside solver cuts something too often or too seldom")
    return sum((n * dollars for n, _, _, dollars in chosen), Fraction(0))


def verdict(
    best: Fraction | None, left: Sequence[object], objective: Fraction, bound: Fraction
) -> tuple[str, list[str]]:
    """How a plan ended, and what is wrong with it.

    `best` is the least that can be, None where not all can be cut; `left` what the plan leaves out.
    """
    if best is None:
        return "impossible", [] if left else ["planned the impossible"]
    if left:
        return "open", [f"left out what can be cut: {left[0]}"]
    words = []
    if bound > best:
        words.append(f"bound {float(bound)} above the optimum {float(best)}")
    if objective < best:
        words.append(f"objective {float(objective)} below the optimum {float(best)}")
    if objective == bound:
        return "proved", words
    return ("closed" if objective == best else "open"), words


def day_of_seed(random_day: Callable[[random.Random], Day], seed: int, k: int) -> Day:
    """The same day for the same seed and number."""
    return random_day(random.Random(seed * 1_000_003 + k))


def compare_many(
    count: int,
    seed: int,
    random_day: Callable[[random.Random], Day],
    compare: Callable[[Day, bool], tuple[str, list[str]]],
    traits_of: Callable[[Day], Sequence[str]],
) -> int:
    """Compare so many random days, every tenth with a second model too; the number of faults."""
    ends: Counter[str] = Counter()
    traits: Counter[str] = Counter()
    bad = 0
    started = time.perf_counter()
    for k in range(count):
        day = day_of_seed(random_day, seed, k)
        try:
            end, words = compare(day, k % 10 == 0)
        except Exception as error:  # a day that breaks the solver is a fault like any other
            end, words = "broken", [f"{type(error).__name__}: {error}"]
        ends[end] += 1
        traits.update(traits_of(day))
        if words:
            bad += 1
            print(f"day {k}: {'; '.join(words)}", flush=True)
    seconds = time.perf_counter() - started
    print("with", ", ".join(f"{word} {n}" for word, n in sorted(traits.items())))
    print(
        f"{count} days: {ends['proved']} proved optimal, {ends['closed']} optimal with a bound"
        f" below, {ends['open']} open, {ends['impossible']} impossible; {bad} faulty,"
        f" {seconds:.0f} s"
    )
    return bad


def count_and_seed(seed: int = 1) -> tuple[int, int]:
    """The words of such a command: how many, and a seed where one is given."""
    return int(sys.argv[1]), int(sys.argv[2]) if len(sys.argv) > 2 else seed
