"""A plan.json as it was read, in counts of 1/1600 mm and fractions; nothing is believed yet."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction

__all__ = ["Box", "SeenDrop", "SeenLayout", "SeenMaterial", "SeenPart", "SeenPlan", "SeenUnplanned"]


@dataclass(frozen=True, slots=True)
class Box:
    """A rectangle from the squared head (`x`) and the squared edge (`y`); flat for sticks."""

    x: int
    y: int
    along: int
    across: int

    @property
    def x_end(self) -> int:
        """Where it ends along the stock."""
        return self.x + self.along

    @property
    def y_end(self) -> int:
        """Where it ends across the stock."""
        return self.y + self.across


@dataclass(frozen=True, slots=True)
class SeenPart:
    """A part of a layout. `width` and the run are None where the document says null.

    `edge` is what it says of factory edges, blank where it says nothing.
    """

    section: str
    mark: str
    length: int
    width: int | None
    x: int
    y: int
    turned: bool
    run: str | None
    run_at: int | None
    asked: str | None
    edge: str = ""

    @property
    def box(self) -> Box:
        """What it takes of the stock, turned or not."""
        across = self.width or 0
        if self.turned:
            return Box(self.x, self.y, across, self.length)
        return Box(self.x, self.y, self.length, across)

    def __str__(self) -> str:
        name = f"part {self.mark} for {self.section}"
        return name if self.run is None else f"{name}, run {self.run}"


@dataclass(frozen=True, slots=True)
class SeenDrop:
    """A drop of a layout."""

    x: int
    y: int
    length: int
    width: int | None
    kept: bool

    @property
    def box(self) -> Box:
        """Where it lies."""
        return Box(self.x, self.y, self.length, self.width or 0)


@dataclass(frozen=True, slots=True)
class SeenLayout:
    """A layout and the stock that it says it is cut from.

    `edges` is what it says of the stock's factory edges, None where it says nothing.
    """

    id: str
    pattern: str
    count: int
    row: int
    length: int
    width: int | None
    source: str
    lot: str | None
    parts: tuple[SeenPart, ...]
    drops: tuple[SeenDrop, ...]
    edges: str | None = None


@dataclass(frozen=True, slots=True)
class SeenUnplanned:
    """Parts that the plan leaves out. `width` is None where the document has none."""

    section: str
    mark: str
    length: int
    width: int | None
    qty: int
    reason: str


@dataclass(frozen=True, slots=True)
class SeenMaterial:
    """The plan of one material, money in exact dollars as written."""

    material: str
    kind: str
    kerf: int
    head_trim: int
    cost: Fraction
    drop_credit: Fraction
    joints: int
    joint_cost: Fraction
    objective: Fraction
    bound: Fraction
    gap: Fraction
    status: str
    stop: str
    joint_with: tuple[str, ...]
    layouts: tuple[SeenLayout, ...]
    unplanned: tuple[SeenUnplanned, ...]
    #: (row, pieces) bought beyond what is cut.
    surplus: tuple[tuple[int, int], ...] = ()
    stack: int = 1
    books: int | None = None

    def lengths(self) -> Iterator[int]:
        """Every length that was written."""
        yield self.kerf
        yield self.head_trim
        for layout in self.layouts:
            yield from (layout.length, layout.width or 0)
            for part in layout.parts:
                yield from (part.length, part.width or 0, part.x, part.y, part.run_at or 0)
            for drop in layout.drops:
                yield from (drop.x, drop.y, drop.length, drop.width or 0)
        for missing in self.unplanned:
            yield from (missing.length, missing.width or 0)


@dataclass(frozen=True, slots=True)
class SeenPlan:
    """The document. `whole` is False where some of it could not be read and is left out."""

    unit: str
    materials: tuple[SeenMaterial, ...]
    whole: bool
