"""`python -m tests.bench floor WHAT ...`: the saw floor, measured.

`stacks`: how many carts must be open at once, exactly. `order`: the running order at the saw.
"""

from __future__ import annotations

import importlib
import sys
from collections.abc import Sequence

__all__ = ["NAMES", "main"]

NAMES = ("order", "stacks")


def main(arguments: Sequence[str]) -> int:
    """Run the named measurement of the saw floor with the rest of the words."""
    if not arguments or arguments[0] not in NAMES:
        print(f"usage: python -m tests.bench floor {{{','.join(NAMES)}}} ...", file=sys.stderr)
        return 2
    module = importlib.import_module(f"tests.bench.floor.{arguments[0]}")
    return int(module.main(arguments[1:]))
