"""What tasks of sticks and of sheets have in common: how a day becomes some, what any plan keeps.

Jointed runs come as pieces, each as long as the stock and the joint places allow; clearances are
not asked of the comparisons, and a part is cut from its own material only.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from cutopt.cutlist import Day, Part, Rule
from cutopt.materials import Kind, Offer
from tests.bench.baselines import longest_first

__all__ = ["WrongPlanError", "check_counts", "pieces_of", "wanted"]


class WrongPlanError(Exception):
    """A comparison's plan that can't be cut."""


def wanted(day: Day, kind: Kind) -> Iterator[tuple[str, list[Offer], list[Part]]]:
    """The materials of a day that have stock and parts, with both."""
    for material in dict.fromkeys(o.material for o in day.offers if o.kind is kind):
        offers = [o for o in day.offers if o.material == material and o.available != 0]
        parts = [p for p in day.parts if p.material == material and p.qty]
        if parts and offers:
            yield material, offers, parts


def pieces_of(part: Part, longest: int, least: int) -> list[int]:
    """A part's pieces: several of a jointed run, whole where it can't be jointed at all."""
    pieces = longest_first(part, longest, least) if part.rule is Rule.JOINTED else None
    return pieces or [part.length]


def check_counts(
    used: Sequence[int],
    available: Sequence[int | None],
    cut: Sequence[int],
    asked: Sequence[int],
    word: str,
) -> None:
    """Whether no more is used than is to be had, and every part cut as often as it is asked for.

    Raises
    ------
    WrongPlanError
        Where that is not so; `word` names the stock.
    """
    for n, most in zip(used, available, strict=True):
        if most is not None and n > most:
            raise WrongPlanError(f"{n} of {most} {word}")
    if list(cut) != list(asked):
        raise WrongPlanError("parts cut too often or too seldom")
