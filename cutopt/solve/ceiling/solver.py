"""Ceiling fields planned: boards chosen, every row one board over the whole span."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from fractions import Fraction

from cutopt.cutlist import Part
from cutopt.materials import Edge
from cutopt.plan import Group, Unplanned
from cutopt.plan.shortage import Shortage
from cutopt.solve.ceiling.boards import Choice, choose_boards
from cutopt.solve.ceiling.fields import Field, fields_of, laid_rows
from cutopt.solve.ceiling.model import Price
from cutopt.solve.ceiling.reasons import reasons
from cutopt.solve.ceiling.rows import row_drops, row_price
from cutopt.solve.demand import Item, Piece, items_of
from cutopt.solve.outcome import Spot, Use
from cutopt.solve.search import Watch
from cutopt.solve.words import shown

__all__ = ["Ceilings", "ceiling_rule", "plan_chosen", "plan_fields"]


@dataclass(frozen=True, slots=True)
class Ceilings:
    """The plan of all fields of a group.

    `taken` counts boards per offer (by index in the group); `bought` the lengths bought per
    material. `proved` is whether the bound was reached.
    """

    items: tuple[Item, ...]
    uses: tuple[Use, ...]
    bound: Fraction
    proved: bool
    taken: dict[int, int]
    bought: frozenset[tuple[str, int]]
    unplanned: tuple[tuple[str, Unplanned], ...]
    shortages: tuple[tuple[str, Shortage], ...] = ()


def ceiling_rule(group: Group) -> str:
    """What the ceilings' bound holds for, in words."""
    words = (
        "ceiling fields in rows as wide as the board, one board for every row over the whole span, "
        "only the last row of a field ripped, each field in one material"
    )
    limits = sorted({n for m in group.materials if (n := group.rules.for_ceiling(m).order_lengths)})
    if limits:
        words += (
            f", at most {limits[0]} board lengths bought"
            if len(limits) == 1
            else (", board lengths limited by material")
        )
    return words


def plan_fields(
    group: Group,
    parts: Sequence[Part],
    forced: frozenset[tuple[str, int]],
    watch: Watch,
    price: Price | None = None,
) -> Ceilings:
    """Plan the group's full-span fields.

    Parameters
    ----------
    group
        Offers and rules.
    parts
        The rows of the cut lists with `Rule.FULL_SPAN`.
    forced
        (material, length) that are bought for other parts in any case and count.
    price
        What a board cut to a row costs where its rest earns something: bound and choice are of
        these prices.
    watch
        Ends the search early.
    """
    price = price or row_price(group)
    fields, unplanned = fields_of(group, parts, price is not None)
    lengths = {m: group.rules.for_ceiling(m).order_lengths for m in group.materials}
    left_out: list[tuple[str, Unplanned]] = list(unplanned)
    while True:
        if not fields:
            return Ceilings((), (), Fraction(0), True, {}, frozenset(), tuple(left_out))
        choice = choose_boards(group, fields, lengths, forced, watch, price)
        if not any(choice.short):
            break
        # The bound is to hold for what can be planned: plan again without the rest.
        kept: list[Field] = []
        for field, short in zip(fields, choice.short, strict=True):
            shorter, out = _without(group, field, short, lengths)
            left_out += out
            if shorter.copies:
                kept.append(shorter)
        fields = tuple(kept)
    planned = plan_chosen(group, fields, choice, tuple(left_out), price is not None)
    in_time = watch.stop() is None
    why = reasons(group, fields, lengths, forced, planned.items, planned.uses, price, in_time)
    return replace(planned, shortages=why)


def _without(
    group: Group, field: Field, short: int, lengths: dict[str, int]
) -> tuple[Field, list[tuple[str, Unplanned]]]:
    """A field without `short` copies, the last wanted left out."""
    parts: list[tuple[Part, int]] = []
    out: list[tuple[str, Unplanned]] = []
    left = short
    for part, copies in reversed(field.parts):
        gone = min(copies, left)
        left -= gone
        if gone:
            out.append(_too_few(group, part, gone, lengths))
        if copies > gone:
            parts.append((part, copies - gone))
    fewer = replace(field, copies=field.copies - short, parts=tuple(reversed(parts)))
    return fewer, out


def _too_few(group: Group, part: Part, qty: int, lengths: dict[str, int]) -> tuple[str, Unplanned]:
    limited = "; ".join(
        f"{shown(o.length, o.width or 0)} of {o.material}: {o.available} (row {o.row})"
        for o in group.offers
        if o.material in part.materials and o.available and o.length >= part.length
    )
    why = f"section {part.section}: not enough boards over a span of {shown(part.length)}"
    if limited:
        why += f" can be had ({limited})"
    most = [str(lengths[m]) for m in part.materials if lengths.get(m)]
    if most:
        why += f" with at most {' or '.join(sorted(set(most)))} board lengths bought"
    why += "; a higher limit"
    if most:
        why += " or one more length to order"
    return part.material, Unplanned(
        part.section, part.mark, part.length, part.width, qty, why + " would do"
    )


def _items(pieces: Sequence[Piece]) -> tuple[Item, ...]:
    """Rows of one size and material together: that a field may be turned, or asks for an edge,
    says nothing of its rows, which never are and always have theirs.
    """
    plain = {replace(p.part, turn=False, edge=Edge.NONE): p.part for p in pieces}
    alike = (replace(p, part=replace(p.part, turn=False, edge=Edge.NONE)) for p in pieces)
    return tuple(
        replace(item, pieces=tuple(replace(p, part=plain[p.part]) for p in item.pieces))
        for item in items_of(alike)
    )


def plan_chosen(
    group: Group,
    fields: Sequence[Field],
    choice: Choice,
    unplanned: tuple[tuple[str, Unplanned], ...],
    told_apart: bool,
) -> Ceilings:
    """The plan of fields whose boards are chosen.

    `told_apart` is whether boards are chosen by the finished widths of their rows.
    """
    pieces: list[Piece] = []
    #: Rows still to be cut of (material, board width, span): (finished width, how many).
    rows: dict[tuple[str, int, int], dict[int, int]] = {}
    for field, laid in zip(fields, choice.laid, strict=True):
        open_copies = [copies for _, copies in field.parts]
        for mix, copies in zip(field.mixes, laid, strict=True):
            for width, finished, n in laid_rows(mix, field.run) if copies else ():
                wanted = rows.setdefault((mix.material, width, field.span), {})
                wanted[finished] = wanted.get(finished, 0) + n * copies
            left = copies
            for k, (part, _) in enumerate(field.parts):
                n = min(left, open_copies[k])
                open_copies[k] -= n
                left -= n
                for _, finished, per in laid_rows(mix, field.run) if n else ():
                    pieces.append(Piece(part, field.span, finished, per * n, (mix.material,)))
    items = _items(pieces)
    number = {(i.length, i.width, i.materials): n for n, i in enumerate(items)}
    uses: list[Use] = []
    taken: dict[int, int] = {}
    for (i, span, kind), boards in sorted(choice.cut.items()):
        offer = group.offers[i]
        taken[i] = taken.get(i, 0) + boards
        wanted = rows[offer.material, offer.width or 0, span]
        # Where all boards cost the same they go to the widest rows first.
        for finished in [kind] if told_apart else sorted(wanted, reverse=True):
            n = min(boards, wanted[finished])
            if n:
                item = number[span, finished, (offer.material,)]
                drops = row_drops(group, offer, span, finished)
                uses.append(Use(offer, (Spot(item, 0, 0),), drops, n))
                wanted[finished] -= n
                boards -= n
    bought = frozenset(
        (group.offers[i].material, group.offers[i].length)
        for i, n in taken.items()
        if n > group.offers[i].on_hand
    )
    return Ceilings(items, tuple(uses), choice.bound, choice.proved, taken, bought, unplanned)
