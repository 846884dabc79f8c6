"""The boards that lay all fields of a group at least cost."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction

from cutopt.plan import Group
from cutopt.solve.ceiling.fields import Field
from cutopt.solve.ceiling.lengths import search
from cutopt.solve.ceiling.model import BoardModel, Price
from cutopt.solve.ceiling.tree import Found
from cutopt.solve.search import Watch

__all__ = ["Choice", "choose_boards"]


@dataclass(frozen=True, slots=True)
class Choice:
    """What was decided.

    `laid` is, per field, how many copies in each of its mixes; `cut` how many boards of an offer
    (by index in the group) are cut to rows of a span and a finished width (the board's own for all
    of them where a board costs the same whatever row it is cut to); `short` the copies of each
    field that no board is left for. `bound` holds for the fields that are not short.
    """

    laid: tuple[tuple[int, ...], ...]
    cut: dict[tuple[int, int, int], int]
    short: tuple[int, ...]
    bound: Fraction
    proved: bool


#: Seconds for a first choice where time had run out before.
_GRACE = 2.0


def choose_boards(
    group: Group,
    fields: Sequence[Field],
    lengths: dict[str, int],
    forced: frozenset[tuple[str, int]],
    watch: Watch,
    price: Price | None = None,
) -> Choice:
    """Mixes and boards for all fields at least cost.

    Parameters
    ----------
    group
        Offers and rules.
    fields
        What is laid.
    lengths
        Per material, most different lengths that may be bought; 0 for no limit.
    forced
        (material, length) that count as bought whatever the fields need.
    watch
        Ends the search early.
    price
        What a board cut to a row costs, where that is not its price.
    """
    for shorts in (False, True):
        build = BoardModel(group, fields, lengths, forced, shorts, price)
        found = search(build, watch)
        if found.values is None and watch.stop():
            # A field without boards is no plan: the first choice is found even out of time.
            found = search(build, Watch(_GRACE))
        if found.values is not None:
            break
    return _choice(build, found)


def _choice(build: BoardModel, found: Found) -> Choice:
    values = found.values
    if values is None:
        raise RuntimeError("leaving every field out is a solution, and was not found")
    return Choice(
        laid=tuple(tuple(values[v] for v in variables) for variables in build.laid),
        cut={key: values[v] for key, v in build.cut.items() if values[v]},
        short=tuple(values[v] for v in build.short),
        bound=Fraction(found.bound or 0, build.unit),
        proved=found.bound is not None and found.bound >= found.cost,
    )
