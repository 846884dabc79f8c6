"""Sets of carts as bits of an int: cart c is bit c."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

__all__ = ["bits_of", "members"]


def bits_of(numbers: Iterable[int]) -> int:
    """The set of these carts."""
    bits = 0
    for number in numbers:
        bits |= 1 << number
    return bits


def members(bits: int) -> Iterator[int]:
    """The carts of a set, ascending."""
    while bits:
        low = bits & -bits
        yield low.bit_length() - 1
        bits ^= low
