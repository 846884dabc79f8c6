"""Full-span ceiling fields: which rows lay one, and which fields no board can lay.

A field is laid in rows as wide as the board, meeting on factory edges, the last row ripped. Every
row is one board over the whole span: there is no other way to make a row in this room.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from cutopt.cutlist import Part
from cutopt.materials import Edges, Offer
from cutopt.plan import Group, Unplanned
from cutopt.solve.words import shown

__all__ = ["Boards", "Field", "Mix", "boards_of", "fields_of", "laid_rows"]


@dataclass(frozen=True, slots=True)
class Mix:
    """One way to lay a field: how many rows of each board width, widths ascending.

    `ripped` is the width of the board that the last row is ripped from: the widest unless its rest
    is worth something, since that leaves the widest row.
    """

    material: str
    rows: tuple[tuple[int, int], ...]
    ripped: int


@dataclass(frozen=True, slots=True)
class Field:
    """Equal fields: `span` from wall to wall, `run` along the section, in `copies`.

    `parts` are the rows of the cut lists with how many each asks for, first wanted first.
    """

    span: int
    run: int
    copies: int
    parts: tuple[tuple[Part, int], ...]
    mixes: tuple[Mix, ...]


#: The offers of a material by board width, widths ascending.
Boards = dict[int, tuple[Offer, ...]]


def boards_of(group: Group, material: str) -> Boards:
    """What can be had of a material with both its factory edges, by width."""
    found: dict[int, list[Offer]] = {}
    for o in group.offers:
        if o.edges is not Edges.BOTH or o.width is None:
            continue
        if o.material == material and o.available != 0:
            found.setdefault(o.width, []).append(o)
    return {w: tuple(found[w]) for w in sorted(found)}


def _mixes(widths: Sequence[int], run: int) -> Iterator[tuple[tuple[int, int], ...]]:
    """Rows of these widths that cover the run, none of them to spare."""

    def extend(
        at: int, left: int, rows: tuple[tuple[int, int], ...]
    ) -> Iterator[tuple[tuple[int, int], ...]]:
        if left <= 0:
            if left + rows[0][0] > 0:
                yield rows
            return
        if at < 0:
            return
        width = widths[at]
        for n in range(-(-left // width), -1, -1):
            yield from extend(at - 1, left - n * width, ((width, n), *rows) if n else rows)

    # Widest first, so that rows[0] is the narrowest used: without it the field is not covered.
    yield from extend(len(widths) - 1, run, ())


def laid_rows(mix: Mix, run: int) -> list[tuple[int, int, int]]:
    """The rows of a field as (board width, finished width, how many); at most one is ripped."""
    spare = sum(w * n for w, n in mix.rows) - run
    whole = [(w, w, n - (spare > 0 and w == mix.ripped)) for w, n in mix.rows]
    rows = [row for row in whole if row[2]]
    if spare:
        rows.append((mix.ripped, mix.ripped - spare, 1))
    return rows


def _too_narrow(mix: Mix, run: int, least: int) -> bool:
    """Whether a last row would be ripped to less than `least`."""
    return any(done < min(width, least) for width, done, _ in laid_rows(mix, run))


def fields_of(
    group: Group, parts: Sequence[Part], any_ripped: bool = False
) -> tuple[tuple[Field, ...], tuple[tuple[str, Unplanned], ...]]:
    """Equal fields together, longest span first; and those whose span no board covers, named.

    With `any_ripped` the last row is ripped from a board of any width of its mix, else the widest.
    """
    equal: dict[tuple[int, int, tuple[str, ...]], list[Part]] = {}
    for part in parts:
        key = (part.length, part.width or 0, tuple(sorted(set(part.materials))))
        equal.setdefault(key, []).append(part)
    boards = {m: boards_of(group, m) for m in group.materials}
    fields: list[Field] = []
    unplanned: list[tuple[str, Unplanned]] = []
    for (span, run, materials), members in sorted(equal.items(), key=lambda e: (-e[0][0], e[0])):
        mixes = []
        for material in materials:
            widths = [
                w
                for w, offers in boards.get(material, {}).items()
                if any(o.length >= span for o in offers)
            ]
            least = group.rules.for_sheets(material).least_rip
            mixes += [
                mix
                for rows in sorted(_mixes(widths, run))
                for ripped in ([w for w, _ in rows] if any_ripped else [rows[-1][0]])
                for mix in [Mix(material, rows, ripped)]
                if not _too_narrow(mix, run, least)
            ]
        wanted = sorted(members, key=_first_wanted)
        if mixes:
            asked = tuple((p, p.qty) for p in wanted)
            copies = sum(p.qty for p in wanted)
            fields.append(Field(span, run, copies, asked, tuple(mixes)))
        else:
            unplanned += [_no_board(group, part) for part in wanted]
    return tuple(fields), tuple(unplanned)


def _first_wanted(part: Part) -> tuple[bool, int, str, str, str]:
    return (part.need is None, part.need or 0, part.section, part.jig, part.mark)


def _no_board(group: Group, part: Part) -> tuple[str, Unplanned]:
    names = ", ".join(part.materials)
    offers = [o for m in part.materials for b in boards_of(group, m).values() for o in b]
    lengths = [o.length for o in offers]
    longest = (
        f"the longest board of {names} is {shown(max(lengths))}"
        if lengths
        else (f"no board of {names} can be had")
    )
    if lengths and part.length <= max(lengths):
        rips = ", ".join(
            f"{shown(rule)} in {m}"
            for m in part.materials
            if (rule := group.rules.for_sheets(m).least_rip)
        )
        why = (
            f"section {part.section}: the last row of a run of {shown(part.width or 0)} would be "
            f"ripped narrower than least_rip allows ({rips}); boards of another width would do, or "
            "a least_rip of 0 for a material that is scored and snapped"
        )
        return part.material, Unplanned(
            part.section, part.mark, part.length, part.width, part.qty, why
        )
    why = (
        f"section {part.section}: a span of {shown(part.length)} is covered by no board; "
        f"{longest}; a board of {shown(part.length)} or longer would do; "
        "a full-span row is never pieced"
    )
    return part.material, Unplanned(part.section, part.mark, part.length, part.width, part.qty, why)
