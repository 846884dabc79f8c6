"""Where the money goes beyond the wood: parts that are dear to cut, limits that bind.

All figures stand at the margin: what one piece more or less changes where whole sticks and sheets
are not counted. Since stock comes whole, a single piece may change less, or a whole stick.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction

from cutopt.materials import Kind
from cutopt.measure import Unit, rounded, show_length

__all__ = ["Cause", "Shortage", "counted_marks", "dearest"]

#: Parts, runs and spans that are named for a material, and lines in all.
_PARTS = 3
_LINES = 5
#: Marks that are named of a part.
_MARKS = 3
_CENT = Fraction(1, 100)


class Cause(StrEnum):
    """What is dear, or short.

    `part`: a size; `run`: a jointed run, or mates together; `span`: the rows of ceiling fields
    over one span; `limit`: stock of which no more can be had; `lengths`: how many different board
    lengths may be bought.
    """

    PART = "part"
    RUN = "run"
    SPAN = "span"
    LIMIT = "limit"
    LENGTHS = "lengths"


@dataclass(frozen=True, slots=True)
class Shortage:
    """One reason why a plan can't cost less.

    Parameters
    ----------
    cause
        What is dear, or short.
    kind
        Lumber or sheet.
    length, width
        Of the part, the run (mates together) or the stock, in counts; a length of 0 where there
        is none.
    pieces
        How many are wanted; of stock with a limit how many can be had; of board lengths how many
        may be bought.
    worth
        Dollars at the margin: what one piece costs at least; of a limit the most that one more
        would save. Of a span what its rows cost in this plan, on average.
    plain
        What the piece would cost if only its wood counted, a kerf added, at the least price per
        length or area offered without a limit; 0 for limits.
    marks, more
        Some of its marks, those with the most pieces first, and how many further ones there are.
    rows
        Of stock with a limit, its lines in stock.csv.
    mates
        How many runs are jointed together; 1 for a run alone.
    """

    cause: Cause
    kind: Kind
    length: int
    width: int | None
    pieces: int
    worth: Fraction
    plain: Fraction = Fraction(0)
    marks: tuple[str, ...] = ()
    more: int = 0
    rows: tuple[int, ...] = ()
    mates: int = 1

    @property
    def limits(self) -> bool:
        """Whether it is a limit and no part."""
        return self.cause in (Cause.LIMIT, Cause.LENGTHS)

    @property
    def money(self) -> Fraction:
        """What all pieces together cost beyond their wood; of a limit what one more would save."""
        return self.worth if self.limits else (self.worth - self.plain) * self.pieces

    def text(self, unit: Unit, feet: bool = False, of: Fraction | None = None) -> str:
        """The reason in words and money; `of` is what the material costs in all."""
        if self.cause is Cause.LENGTHS:
            many = f"{self.pieces} board length" + "s" * (self.pieces != 1)
            return f"At most {many} may be bought: one more would save up to ${_two(self.worth)}."
        size = _size(self.length, self.width, unit, feet)
        if self.cause is Cause.LIMIT:
            what = "sticks" if self.kind is Kind.LUMBER else "sheets"
            rows = f"row{'s' * (len(self.rows) > 1)} {_listed(self.rows)}"
            return (
                f"{size} {what} ({rows}: {self.pieces:,} can be had) are short: at the margin one "
                f"more would save up to ${_two(self.worth)}."
            )
        wood = "wood" if self.kind is Kind.LUMBER else "area"
        each, alone = _apart(self.worth, self.plain)
        share = "" if of is None else f" of the ${_two(of)}"
        how = {
            Cause.PART: "at the margin",
            Cause.RUN: "at the margin, joints included",
            Cause.SPAN: "in this plan",
        }[self.cause]
        return (
            f"{self._what(size)}: ${each} each {how}, ${alone} for the {wood} alone; "
            f"${_two(self.money)}{share} goes beyond the {wood}."
        )

    def _what(self, size: str) -> str:
        marks = _listed(self.marks)
        if self.more:
            marks += f" and {self.more:,} more"
        word = f"mark{'s' * (len(self.marks) + self.more > 1)}"
        if self.cause is Cause.RUN:
            runs = "a jointed run" if self.mates == 1 else f"{self.mates} mated runs together"
            return f"{size} of {runs} ({self.pieces:,} wanted, {word} {marks})"
        if self.cause is Cause.SPAN:
            rows = f"row{'s' * (self.pieces != 1)}"
            return f"Span {size} ({self.pieces:,} {rows}, {word} {marks})"
        noun = f"piece{'s' * (self.pieces != 1)}"
        return f"{size} ({self.pieces:,} {noun}, {word} {marks})"


def counted_marks(marks: Iterable[tuple[str, int]]) -> tuple[tuple[str, ...], int]:
    """The marks with the most pieces, and how many further ones there are."""
    counts: Counter[str] = Counter()
    for mark, n in marks:
        counts[mark] += n
    order = sorted(counts, key=lambda m: (-counts[m], m))
    return tuple(order[:_MARKS]), max(0, len(order) - _MARKS)


def dearest(found: Iterable[Shortage]) -> tuple[Shortage, ...]:
    """The dearest parts, then the limits that bind, each with the most money first.

    At most three parts, runs and spans, and five lines in all; what comes to less than a cent is
    left out.
    """
    worthy = [s for s in found if s.money >= _CENT]
    parts = sorted((s for s in worthy if not s.limits), key=_order)[:_PARTS]
    limits = sorted((s for s in worthy if s.limits), key=_order)
    return (*parts, *limits[: _LINES - len(parts)])


def _order(s: Shortage) -> tuple[object, ...]:
    return (-s.money, s.cause.value, -s.length, s.width or 0, s.rows, s.marks)


def _size(length: int, width: int | None, unit: Unit, feet: bool) -> str:
    size = show_length(length, unit, feet)
    return size if width is None else f"{size} x {show_length(width, unit, feet)}"


def _listed(words: Sequence[object]) -> str:
    return ", ".join(str(w) for w in words)


def _two(value: Fraction) -> str:
    return f"{rounded(value, 2):,}"


def _apart(a: Fraction, b: Fraction) -> tuple[str, str]:
    """Two amounts with as many places, from two to four, as tell them apart."""
    for places in (2, 3):
        x, y = rounded(a, places), rounded(b, places)
        if x != y:
            return f"{x:,}", f"{y:,}"
    return f"{rounded(a, 4):,}", f"{rounded(b, 4):,}"
