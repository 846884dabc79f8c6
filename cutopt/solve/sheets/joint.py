"""Ceiling boards chosen together with what their leftovers give: one model over a pool of patterns.

The boards' own model, each row told apart by its finished width; beside each board cut to a row
the ways to cut it further, patterns of parts on every leftover, patterns of parts on boards of
their own. Limits, lengths bought and least orders hold for both kinds of boards together.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from fractions import Fraction

from cutopt.materials import Offer
from cutopt.plan import Group
from cutopt.solve.ceiling import BoardModel, Choice, Field
from cutopt.solve.milp import Model, Row, solve_integer
from cutopt.solve.search import Watch
from cutopt.solve.sheets.leftovers import Leftover, leftovers_of
from cutopt.solve.sheets.worth import Cut

__all__ = ["Ways", "choose_jointly"]

#: By offer (its row of stock.csv), span and finished width: leftovers of a way, how many boards.
Ways = dict[tuple[int, int, int], list[tuple[tuple[Leftover, ...], int]]]

#: Variables of a model that is still made, nodes and seconds of its search.
_LARGEST = 4_000
_NODES = 400
_SECONDS = 10.0


def choose_jointly(
    group: Group,
    fields: Sequence[Field],
    lengths: dict[str, int],
    need: Sequence[int],
    own: Mapping[int, set[Cut]],
    left: Mapping[Leftover, set[Cut]],
    watch: Watch,
) -> tuple[Choice, Ways] | None:
    """Boards for the fields that leave most for other parts, and how they are cut further.

    None where none were found.

    Parameters
    ----------
    lengths
        Per material, most different lengths that may be bought; 0 for no limit.
    need
        How often each kind of part is wanted.
    own, left
        Patterns by row of stock.csv and by leftover.
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
    for (i, span, finished), x in list(build.cut.items()):
        ways = leftovers_of(group, group.offers[i], span, finished)
        ways = tuple(way for way in ways if any(left.get(e) for e in way))
        if not ways:
            continue
        taken = [m.variable(0, m.upper[x]) for _ in ways]
        m.row({x: 1} | dict.fromkeys(taken, -1), 0)
        taken_of[i, span, finished] = list(zip(ways, taken, strict=True))
        for z, way in zip(taken, ways, strict=True):
            for e in way:
                used = []
                for cut in sorted(left.get(e, ())):
                    y = m.variable(0, min(m.upper[x], _most(cut, need)))
                    cuts(y, cut)
                    used.append(y)
                if used:
                    m.row({z: 1} | dict.fromkeys(used, -1), 0)
        if len(m.cost) > _LARGEST:
            return None
    for k, wanted in enumerate(need):
        if wanted:
            if not supply[k]:
                return None
            m.row(dict(supply[k]), wanted)
    rows = [Row(t, lower=least, upper=least if exact else None) for t, least, exact in m.rows]
    seconds = min(_SECONDS, watch.left())
    answer = solve_integer(Model(m.cost, rows, m.upper), seconds, nodes=_NODES)
    if answer.values is None:
        return None
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
    return choice, chosen


def _most(cut: Cut, need: Sequence[int]) -> int:
    """How often a pattern can be of use."""
    return max((-(-w // n) for n, w in zip(cut, need, strict=True) if n), default=0)
