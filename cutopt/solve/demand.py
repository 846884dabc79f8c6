"""Parts as a solver sees them: equal pieces are one item, whoever they are for."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from functools import cached_property

from cutopt.cutlist import Part
from cutopt.materials import Edge

__all__ = ["Item", "Piece", "items_of", "run_name"]


@dataclass(frozen=True, slots=True)
class Piece:
    """`qty` equal pieces for one row of a cut list.

    `length` and `width` differ from the row's for a row of a full-span field and for a piece of a
    jointed run; the latter has `run` and `run_at`. `materials` are what it may be cut from.
    """

    part: Part
    length: int
    width: int | None
    qty: int
    materials: tuple[str, ...]
    run: str | None = None
    run_at: int | None = None


@dataclass(frozen=True)
class Item:
    """Pieces that a solver need not tell apart: same size, turning, edges, allowed materials."""

    length: int
    width: int | None
    turn: bool
    materials: tuple[str, ...]
    pieces: tuple[Piece, ...]
    edge: Edge = Edge.NONE

    @cached_property
    def demand(self) -> int:
        """How many are wanted."""
        return sum(p.qty for p in self.pieces)


def items_of(pieces: Iterable[Piece]) -> tuple[Item, ...]:
    """Pieces gathered into items, longest first, then widest; pieces by need, section, mark."""
    groups: dict[tuple[int, int, bool, tuple[str, ...], Edge], list[Piece]] = {}
    for piece in pieces:
        square = piece.length == piece.width
        turn = piece.part.turn and piece.width is not None and not square
        allowed = tuple(sorted(set(piece.materials)))
        key = (-piece.length, -(piece.width or 0), turn, allowed, piece.part.edge)
        groups.setdefault(key, []).append(piece)
    return tuple(
        Item(
            length=-key[0],
            width=members[0].width,
            turn=key[2],
            materials=key[3],
            pieces=tuple(sorted(members, key=_first_wanted)),
            edge=key[4],
        )
        for key, members in sorted(groups.items())
    )


def _first_wanted(piece: Piece) -> tuple[bool, int, str, str, str, str, int]:
    part = piece.part
    no_need = part.need is None
    return (
        no_need,
        part.need or 0,
        part.section,
        part.jig,
        part.mark,
        piece.run or "",
        piece.run_at or 0,
    )


def run_name(mark: str, copy: int) -> str:
    """A jointed run's name: its mark; `#2`, `#3` ... behind it for further copies (from 1)."""
    return mark if copy == 1 else f"{mark}#{copy}"
