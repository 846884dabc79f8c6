"""`python -m tests.bench fuzz [--quick] [--bytes N] [--seed S] [--only READER]`: damaged inputs.

Inputs made from the demo days and a plan are damaged by a seeded generator and given to every
reader until each has read so many bytes: tables of a day folder, its rules, the same as a document
and as a workbook, and plan.json to the checker. Each is read in a process with a limit of 512 MB.

Promises: nothing comes out but the library's own faults; no input takes two CPU seconds; the memory
suffices. An input that breaks one is kept under `out/fuzz`, and its seed repeats it.
"""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from tests.bench.fuzz.feeding import MEMORY, SECONDS, feed_alone
from tests.bench.fuzz.readers import READERS

__all__ = ["main"]

KEPT = Path(__file__).resolve().parents[3] / "out" / "fuzz"
MIB = 1024 * 1024


def main(arguments: Sequence[str]) -> int:
    """0 where every reader kept its promises, 1 where one did not."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench fuzz", description=__doc__)
    parser.add_argument("--quick", action="store_true", help="a tenth of the bytes")
    parser.add_argument("--bytes", type=int, default=1_000_000, help="to be read by each reader")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--only", nargs="+", choices=sorted(READERS), help="these readers alone")
    words = parser.parse_args(arguments)
    most = words.bytes // (10 if words.quick else 1)
    print(f"{'reader':<8}{'bytes':>12}{'inputs':>9}{'taken':>8}{'slowest':>10}{'memory':>10}")
    short = 0
    for name in words.only or READERS:
        fed = feed_alone(name, most, words.seed, KEPT)
        print(
            f"{name:<8}{fed.bytes:>12,}{fed.inputs:>9,}{fed.taken:>8,}{fed.slowest:>8.2f} s"
            f"{fed.peak / MIB:>6.0f} MiB  {READERS[name].about}",
            flush=True,
        )
        for defect in fed.defects:
            print(f"    {defect}")
        short += bool(fed.defects) or fed.slowest > SECONDS or fed.peak > MEMORY
    print("ok" if not short else f"SHORT: {short} readers", "(a sample)" if words.quick else "")
    return 1 if short else 0
