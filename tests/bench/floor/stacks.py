"""`python -m tests.bench floor stacks [--quick] [--only SET ...]`: open stacks, measured.

Per instance our bounds on the carts open at once, CPU seconds and states looked at, beside a
greedy order (next the product that opens fewest new carts, of these the one that ends most) and
its ratio to our lower bound; then the limit one below our order's: what was found, how many carts
make it so, whether fewer can't, CPU seconds. Every order is counted again from the definition.

Exits 1 where a published instance is not proved in 1 s, an optimum is not the published one, an
order is not what is said of it, a plant-like one is not proved in 1 s, or fewer than 95 % of the
other unseen ones up to 50 carts are. `--seed N` makes other instances.
"""

from __future__ import annotations

import argparse
import time
from collections.abc import Sequence
from dataclasses import dataclass

from cutopt.saw.stacks import Held, Stacks, Verdict, can_hold, fewest_open
from tests.bench.common.promises import Check
from tests.bench.floor.stack_sets import SETS, Instance
from tests.saw.stacks.reference import open_at_most

__all__ = ["Row", "checks_of", "greedy", "main", "measure"]

#: CPU seconds within which a proof is promised.
SECONDS = 1.0
#: Percent that must be, of all other sets together; of these sets by themselves.
_SHARE = 95
_APART = {"published": 100, "plant": 100, "beyond": 0}


@dataclass(frozen=True)
class Row:
    """An instance, our bounds, the greedy's peak, and the limit one below."""

    instance: Instance
    ours: Stacks
    cpu: float
    greedy: int
    held: Held
    held_cpu: float
    faults: tuple[str, ...]

    @property
    def in_time(self) -> bool:
        """Whether it was proved in the seconds promised."""
        return self.ours.proved and self.cpu <= SECONDS


def greedy(needs: Sequence[Sequence[int]]) -> list[int]:
    """Next the product that opens fewest new carts, of these the one that ends most."""
    left = {p: set(own) for p, own in enumerate(needs)}
    waiting: dict[int, int] = {}
    for own in left.values():
        for cart in own:
            waiting[cart] = waiting.get(cart, 0) + 1
    opened: set[int] = set()
    order = []
    while left:
        chosen = min(
            left, key=lambda p: (len(left[p] - opened), -sum(waiting[c] == 1 for c in left[p]), p)
        )
        own = left.pop(chosen)
        opened |= own
        for cart in own:
            waiting[cart] -= 1
        order.append(chosen)
    return order


def measure(instance: Instance) -> Row:
    """Our bounds and the limit one below our order, both counted again."""
    needs = instance.needs
    started = time.process_time()
    ours = fewest_open(needs)
    cpu = time.process_time() - started
    started = time.process_time()
    held = can_hold(needs, max(0, ours.upper - 1))
    held_cpu = time.process_time() - started
    faults = []
    if sorted(ours.products) != list(range(len(needs))):
        faults.append("the order is not one of all products")
    elif open_at_most(needs, ours.products) != ours.upper:
        faults.append(f"the order needs {open_at_most(needs, ours.products)}, not {ours.upper}")
    if instance.optimum is not None and ours.proved and ours.upper != instance.optimum:
        faults.append(f"{ours.upper} proved, {instance.optimum} published")
    if ours.proved and held.verdict is Verdict.MET:
        faults.append(f"{ours.upper} proved least, {held.most} met")
    peak = open_at_most(needs, greedy(needs))
    return Row(instance, ours, cpu, peak, held, held_cpu, tuple(faults))


_HEAD = (
    f"{'instance':<24}{'carts':>6}{'prod':>6}{'lower':>7}{'upper':>6}{'CPU s':>8}{'states':>9}"
    f"{'greedy':>8}{'ratio':>7}   one below: carts that make it so, CPU s"
)


def _line(row: Row) -> str:
    ours, held = row.ours, row.held
    ratio = f"{row.greedy / ours.lower:.3f}" if ours.lower else "-"
    least = "" if held.minimal else ", not proved fewest"
    so = f"{len(held.blocking)}{least}" if held.verdict is Verdict.IMPOSSIBLE else ""
    return (
        f"{row.instance.name:<24}{row.instance.carts:>6}{len(row.instance.needs):>6}"
        f"{ours.lower:>7}{ours.upper:>6}{row.cpu:>8.3f}{ours.work:>9}{row.greedy:>8}{ratio:>7}"
        f"   {held.verdict.value} {so} {row.held_cpu:.2f}" + ("" if ours.proved else "  OPEN")
    )


def checks_of(found: dict[str, list[Row]]) -> list[Check]:
    """What is promised of the sets that were measured."""
    unseen = [row for name, rows in found.items() if name not in _APART for row in rows]
    shares = [(name, found[name], share) for name, share in _APART.items() if name in found]
    if unseen:
        shares.append(("unseen, up to 50 carts", unseen, _SHARE))
    checks = []
    for name, rows, share in shares:
        proved = sum(row.in_time for row in rows)
        checks.append(
            Check(
                f"{name}: proved in {SECONDS:g} CPU s",
                f"{proved} of {len(rows)}",
                f"{share} %",
                100 * proved >= share * len(rows),
            )
        )
    wrong = sum(bool(row.faults) for rows in found.values() for row in rows)
    count = sum(map(len, found.values()))
    checks.append(Check("orders and optima", f"{wrong} wrong of {count}", "none", not wrong))
    return checks


def _summary(rows: Sequence[Row]) -> str:
    seconds = sorted(row.cpu for row in rows)
    ratios = [row.greedy / row.ours.lower for row in rows if row.ours.lower]
    mean = sum(ratios) / len(ratios) if ratios else 1.0
    return (
        f"  CPU s: median {seconds[len(seconds) // 2]:.3f}, worst {seconds[-1]:.3f};"
        f" open: {sum(not r.ours.proved for r in rows)}; greedy to lower bound: mean {mean:.3f}"
    )


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept, 1 where one falls short."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench floor stacks")
    parser.add_argument("--quick", action="store_true", help="one instance of each kind")
    parser.add_argument("--only", nargs="+", choices=list(SETS), help="these sets alone")
    parser.add_argument("--seed", type=int, default=1, help="of the made instances")
    words = parser.parse_args(arguments)
    found: dict[str, list[Row]] = {}
    for name in words.only or SETS:
        print(f"\n{name}: {SETS[name].about}\n{_HEAD}", flush=True)
        found[name] = []
        for instance in SETS[name].make(words.quick, words.seed):
            row = measure(instance)
            found[name].append(row)
            print(_line(row), flush=True)
            for fault in row.faults:
                print(f"    wrong: {fault}")
        print(_summary(found[name]))
    print()
    checks = checks_of(found)
    for c in checks:
        word = "ok   " if c.kept else "SHORT"
        print(f"{word} {c.name}: {c.measured} (required: {c.required})")
    return 0 if all(c.kept for c in checks) else 1
