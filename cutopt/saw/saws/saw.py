"""A saw as the plant sets it: what it cuts, what its work takes, how many carts stand beside it.

Times are whole milliseconds, so that sums of them are exact; lengths counts of 1/1600 mm.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field

from cutopt.materials import Kind
from cutopt.measure import INCH

__all__ = ["Saw", "Seconds", "Weights", "materials_of", "usual_saws"]


@dataclass(frozen=True, slots=True)
class Seconds:
    """What the saw's work takes, in milliseconds.

    Parameters
    ----------
    cut
        One part cut off.
    stick
        One stick or sheet brought up and its rest taken away.
    material, stock, stop
        A set-up for another material, another size of stock of the same material, other stops
        on the same size. Each includes those behind it, so none is less than the next.
    """

    cut: int = 5_000
    stick: int = 12_000
    material: int = 300_000
    stock: int = 75_000
    stop: int = 40_000


@dataclass(frozen=True, slots=True)
class Weights:
    """What an order is judged by: thousandths of the seconds that each thing counts as.

    Parameters
    ----------
    setups
        A second of set-up.
    picking
        One cart more that stands open, on the mean over the day's sticks.
    jigs
        A second by which a cart is late.
    carts
        A cart above the limit, and 1/30 of it for each stick while which it stands there.
    """

    setups: int = 1_000
    picking: int = 1_200
    jigs: int = 50
    carts: int = 1_800_000


@dataclass(frozen=True, slots=True)
class Saw:
    """One saw.

    Parameters
    ----------
    name
        As the plant calls it.
    kind
        What it cuts where `materials` is empty: every material of the kind that no other saw
        names.
    materials
        The codes that it cuts, else all of its kind that are left.
    carts
        At most so many carts are open at once; 0 for no limit.
    window
        Carts that are planned together, in the order in which they are wanted; 0 for all.
    safe_hand
        The last part of a stick is never shorter than this where another order avoids it.
    """

    name: str
    kind: Kind = Kind.LUMBER
    materials: tuple[str, ...] = ()
    carts: int = 8
    window: int = 0
    safe_hand: int = 12 * INCH
    seconds: Seconds = field(default_factory=Seconds)
    weights: Weights = field(default_factory=Weights)


def usual_saws() -> tuple[Saw, ...]:
    """What holds where the plant has no saws.toml: one saw for lumber, one for sheets."""
    return (Saw("Lumber saw"), Saw("Panel saw", Kind.SHEET))


def materials_of(
    saw: Saw, saws: Sequence[Saw], materials: Iterable[tuple[str, Kind]]
) -> tuple[str, ...]:
    """The codes that one of the plant's saws cuts, in the order given.

    Parameters
    ----------
    saw
        One of `saws`.
    saws
        All saws of the plant.
    materials
        Codes with their kinds, as of a plan.
    """
    named = {m for other in saws for m in other.materials}
    if saw.materials:
        return tuple(m for m, _ in materials if m in saw.materials)
    return tuple(m for m, kind in materials if kind is saw.kind and m not in named)
