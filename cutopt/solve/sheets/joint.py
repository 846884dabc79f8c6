"""Ceiling boards chosen together with what their leftovers give: one model over a pool of patterns.

The boards' own model, each row told apart by its finished width; beside each board cut to a row
the ways to cut it further, patterns of parts on every leftover, patterns of parts on boards of
their own. Limits, lengths bought and least orders hold for both kinds of boards together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import highspy
import numpy as np

from cutopt.materials import Offer
from cutopt.plan import Group
from cutopt.solve.ceiling import BoardModel, Choice, Field, IntegerModel
from cutopt.solve.milp import Model, Row, solve_integer
from cutopt.solve.search import Watch
from cutopt.solve.sheets.leftovers import Leftover, leftovers_of
from cutopt.solve.sheets.worth import Cut
from cutopt.solve.simplex import simplex

__all__ = ["Joint", "Ways", "choose_jointly"]

#: By offer (its row of stock.csv), span and finished width: leftovers of a way, how many boards.
Ways = dict[tuple[int, int, int], list[tuple[tuple[Leftover, ...], int]]]

#: Variables of a model that is still made, nodes and seconds of its search.
_LARGEST = 6_000
_NODES = 20
_SECONDS = 10.0
_GAP = 0.005


@dataclass(frozen=True, slots=True)
class Joint:
    """`choice` is None where no plan was found in time; `duals` are dollars per kind of part."""

    choice: Choice | None
    ways: Ways
    duals: tuple[float, ...]


def choose_jointly(
    group: Group,
    fields: Sequence[Field],
    lengths: dict[str, int],
    need: Sequence[int],
    own: Mapping[int, set[Cut]],
    left: Mapping[Leftover, set[Cut]],
    worths: Sequence[float],
    watch: Watch,
) -> Joint | None:
    """Boards for the fields that leave most for other parts, and how they are cut further.

    None where the model is too large or holds no plan.

    Parameters
    ----------
    lengths
        Per material, most different lengths that may be bought; 0 for no limit.
    need
        How often each kind of part is wanted.
    own, left
        Patterns by row of stock.csv and by leftover.
    worths
        Per kind; of the patterns of a leftover the dearest are taken where all are too many.
    """

    def price(offer: Offer, span: int, finished: int) -> Fraction:
        return offer.cost

    at = {o.row: i for i, o in enumerate(group.offers)}
    uppers = {at[row]: [_most(cut, need) for cut in sorted(cuts)] for row, cuts in own.items()}
    build = BoardModel(group, fields, lengths, frozenset(), False, price, uppers)
    m = build.model
    supply: dict[int, dict[int, int]] = defaultdict(dict)
    taken_of: dict[tuple[int, int, int], list[tuple[tuple[Leftover, ...], int]]] = {}

    def cuts(variable: int, cut: Cut) -> None:
        for k, n in enumerate(cut):
            if n:
                supply[k][variable] = n

    for row, patterns in own.items():
        for variable, cut in zip(build.own.get(at[row], ()), sorted(patterns), strict=False):
            cuts(variable, cut)
    of_row = {}
    for i, span, finished in build.cut:
        ways = leftovers_of(group, group.offers[i], span, finished)
        of_row[i, span, finished] = tuple(w for w in ways if any(left.get(e) for e in w))
    places = sum(len(way) for ways in of_row.values() for way in ways)
    each = (_LARGEST - len(m.cost) - sum(map(len, of_row.values()))) // max(1, places)
    if each < 1:
        return None

    def dear(cut: Cut) -> tuple[float, Cut]:
        return -sum(n * w for n, w in zip(cut, worths, strict=True)), cut

    taken_from = {e: sorted(cuts, key=dear)[:each] for e, cuts in left.items()}
    for (i, span, finished), x in list(build.cut.items()):
        ways = of_row[i, span, finished]
        if not ways:
            continue
        taken = [m.variable(0, m.upper[x]) for _ in ways]
        m.row({x: 1} | dict.fromkeys(taken, -1), 0)
        taken_of[i, span, finished] = list(zip(ways, taken, strict=True))
        for z, way in zip(taken, ways, strict=True):
            for e in way:
                used = []
                for cut in taken_from.get(e, ()):
                    y = m.variable(0, min(m.upper[x], _most(cut, need)))
                    cuts(y, cut)
                    used.append(y)
                if used:
                    m.row({z: 1} | dict.fromkeys(used, -1), 0)
    for k, wanted in enumerate(need):
        if wanted and not supply[k]:
            return None
        m.row(dict(supply[k]), wanted)
    rows = [Row(t, lower=least, upper=least if exact else None) for t, least, exact in m.rows]
    seconds = min(_SECONDS, watch.left())
    duals = _duals(m, len(need), build.unit)
    answer = solve_integer(Model(m.cost, rows, m.upper), seconds, nodes=_NODES, gap=_GAP)
    if answer.values is None:
        return Joint(None, {}, duals)
    values = answer.values
    choice = Choice(
        laid=tuple(tuple(values[v] for v in variables) for variables in build.laid),
        cut={key: values[v] for key, v in build.cut.items() if values[v]},
        short=tuple(0 for _ in fields),
        bound=Fraction(0),
        proved=False,
    )
    chosen = {
        (group.offers[i].row, span, finished): [(way, values[z]) for way, z in taken if values[z]]
        for (i, span, finished), taken in taken_of.items()
    }
    return Joint(choice, chosen, duals)


def _duals(m: IntegerModel, kinds: int, unit: int) -> tuple[float, ...]:
    """What one more of each kind would cost in the model's relaxation, dollars; its last rows."""
    h = simplex()
    none = (np.array([], dtype=np.int32), np.array([], dtype=np.float64))
    for cost, upper in zip(m.cost, m.upper, strict=True):
        h.addCol(cost / unit, 0.0, float(upper), 0, *none)
    for terms, least, exact in m.rows:
        index = np.array(list(terms), dtype=np.int32)
        value = np.array(list(terms.values()), dtype=np.float64)
        top = float(least) if exact else highspy.kHighsInf
        h.addRow(float(least), top, len(index), index, value)
    h.run()
    return tuple(h.getSolution().row_dual[-kinds:])


def _most(cut: Cut, need: Sequence[int]) -> int:
    """How often a pattern can be of use."""
    return max((-(-w // n) for n, w in zip(cut, need, strict=True) if n), default=0)
