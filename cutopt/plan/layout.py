"""What is cut from one piece of stock, and the plan of a material made of such layouts.

Measures are counts of 1/1600 mm. `x` runs from the squared head of the stick or sheet, `y` across
the sheet from its squared edge: what head trim and edge trim take away lies outside.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction

from cutopt.materials import Edge, Kind, Offer
from cutopt.measure import Unit
from cutopt.plan.shortage import Shortage

__all__ = [
    "Drop",
    "Layout",
    "MaterialPlan",
    "Placed",
    "Plan",
    "Source",
    "Status",
    "Stop",
    "Unplanned",
]


class Source(StrEnum):
    """Where a piece of stock comes from."""

    BUY = "buy"
    ON_HAND = "on-hand"


class Status(StrEnum):
    """How good a material's plan is; why the search ended is `Stop`."""

    OPTIMAL = "optimal"
    BEST_FOUND = "best-found"
    INFEASIBLE = "infeasible"


class Stop(StrEnum):
    """Why the search ended, kept apart from how good the plan is."""

    PROVED = "proved"
    GAP = "gap"
    WORK = "work"
    TIME = "time"
    INTERRUPTED = "interrupted"
    NOTHING_TO_CUT = "nothing-to-cut"


@dataclass(frozen=True, slots=True)
class Placed:
    """A part, or a piece of a jointed run, where it lies on the stock.

    `length` and `width` are the finished ones; where `turned`, they are placed exchanged. `run` is
    the run's name (its mark, `#2` and so on behind it for further copies), `run_at` where along
    the run the piece starts. `material` in the cut list may differ from the stock's where the
    drawing allows an alternate: `asked` holds the code the row asked for. `full_span` marks a row
    of a ceiling field, which keeps its board's factory edges: no edge trim is taken off it. `edge`
    says which factory edges a part keeps: it lies flush with them.
    """

    section: str
    jig: str
    mark: str
    asked: str
    length: int
    width: int | None
    x: int
    y: int = 0
    turned: bool = False
    run: str | None = None
    run_at: int | None = None
    need: int | None = None
    full_span: bool = False
    edge: Edge = Edge.NONE

    @property
    def along(self) -> int:
        """Extent along the stock."""
        if self.turned and self.width is not None:
            return self.width
        return self.length

    @property
    def across(self) -> int:
        """Extent across the sheet; 0 for lumber."""
        if self.width is None:
            return 0
        return self.length if self.turned else self.width


@dataclass(frozen=True, slots=True)
class Drop:
    """What is left over, after the kerf that frees it. `width` is None for lumber."""

    x: int
    y: int
    length: int
    width: int | None
    kept: bool


@dataclass(frozen=True, slots=True)
class Layout:
    """What is cut from each of `count` equal pieces of stock.

    Layouts with the same `pattern` cut the same places from the same size of stock.
    """

    id: str
    pattern: str
    count: int
    offer: Offer
    source: Source
    parts: tuple[Placed, ...]
    drops: tuple[Drop, ...]


@dataclass(frozen=True, slots=True)
class Unplanned:
    """Parts that can't be cut from the stock offered, and why."""

    section: str
    mark: str
    length: int
    width: int | None
    qty: int
    reason: str


@dataclass(frozen=True, slots=True)
class MaterialPlan:
    """The plan of one material. Money is exact dollars.

    `bound` is a proved lower bound on `objective` of any plan for the same input. Where
    `joint_with` names other materials, their parts may change places (`alt`): then only the sum of
    the bounds over these materials is proved, and each holds its share of it. `shortages` say why
    it can't cost less: the dearest parts, then the limits that bind. `surplus` is bought and paid
    for beyond what is cut, since the mill sells no fewer at once: (offer, pieces); it stays whole.
    `stack` pieces of stock of one pattern are cut at once.
    """

    material: str
    kind: Kind
    kerf: int
    head_trim: int
    layouts: tuple[Layout, ...]
    cost: Fraction
    drop_credit: Fraction
    joints: int
    joint_cost: Fraction
    bound: Fraction
    status: Status
    stop: Stop
    seconds: float = 0.0
    unplanned: tuple[Unplanned, ...] = ()
    joint_with: tuple[str, ...] = ()
    cutting_rule: str = ""
    shortages: tuple[Shortage, ...] = ()
    surplus: tuple[tuple[Offer, int], ...] = ()
    stack: int = 1

    @property
    def objective(self) -> Fraction:
        """Cost less drop credit plus joint cost."""
        return self.cost - self.drop_credit + self.joint_cost

    @property
    def gap(self) -> Fraction:
        """(objective − bound) / objective; 0 where the objective is 0."""
        objective = self.objective
        return (objective - self.bound) / objective if objective > 0 else Fraction(0)


@dataclass(frozen=True, slots=True)
class Plan:
    """The plans of all materials, in the order of stock.csv.

    `unit` is what plan.json is written in; `plant` and `days` (dates as 2026-03-02, in the order
    in which they were given) say what it is a plan of.
    """

    unit: Unit
    materials: tuple[MaterialPlan, ...] = field(default_factory=tuple)
    plant: str = ""
    days: tuple[str, ...] = ()
