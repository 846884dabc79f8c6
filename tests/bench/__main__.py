"""Measurements as commands: `python -m tests.bench NAME`.

Each prints its figures and exits 1 where one falls short of what the product promises.
"""

from __future__ import annotations

import importlib
import sys

NAMES = ("day", "floor", "fuzz", "kills", "load", "lumber", "runs", "sheets", "soak")


def main() -> int:
    """Run the named measurement with the rest of the words."""
    if len(sys.argv) < 2 or sys.argv[1] not in NAMES:
        print(f"usage: python -m tests.bench {{{','.join(NAMES)}}} ...", file=sys.stderr)
        return 2
    return int(importlib.import_module(f"tests.bench.{sys.argv[1]}").main(sys.argv[2:]))


if __name__ == "__main__":
    sys.exit(main())
