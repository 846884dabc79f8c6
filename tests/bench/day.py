"""`python -m tests.bench day [DAY ...] [--fresh]`: the main job, measured as a mill would run it.

For each day (the demo days unless others are named): the command plans it, `cutopt check` passes
it, every material is held against its bound and against first-fit decreasing on the best single
size, and every mutated plan must be found. The first day is also planned by the library and by
the service, and the three results compared byte for byte but for `seconds`. `--fresh` measures
README's first command in a fresh clone with an empty virtual environment.

Promises: a day in at most 10 s wall; lumber within 0.1 % of its bound, sheets within 1 % or one
sheet; cheaper than the single size in sum; every mutation found; the three results identical.
"""

from __future__ import annotations

import argparse
import json
import random
import re
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from fractions import Fraction
from pathlib import Path

from cutopt.files import read_days
from cutopt.files.results import outputs, parse_document
from cutopt.materials import Kind
from cutopt.plan import Problem
from cutopt.plan.check import check_plan
from cutopt.solve import Settings, solve
from tests.bench.baselines import single_size_cost
from tests.plan.damages import DAMAGES

ROOT = Path(__file__).resolve().parents[2]
WALL = 10.0
LUMBER_GAP = Fraction(1, 1000)
SHEET_GAP = Fraction(1, 100)
SETUP = 60.0
TURNS = 3


class Ledger:
    """What fell short, told at the end."""

    def __init__(self) -> None:
        self.short: list[str] = []

    def hold(self, kept: bool, promise: str) -> str:
        """`ok` or `SHORT`, remembering the latter."""
        if not kept:
            self.short.append(promise)
        return "ok" if kept else "SHORT"


def command(*words: str | Path, cwd: Path = ROOT) -> tuple[int, float, str]:
    """Run the installed command: exit code, wall seconds, what it printed."""
    start = time.perf_counter()
    done = subprocess.run(
        [Path(sys.executable).parent / "cutopt", *words],
        cwd=cwd,
        capture_output=True,
        text=True,
        check=False,
    )
    return done.returncode, time.perf_counter() - start, done.stdout + done.stderr


def measure_day(day: Path, out: Path, ledger: Ledger) -> None:
    """Plan one day by the command and hold its plan against the promises."""
    code, wall, said = command("plan", day, "--out", out)
    print(f"\n{day.name}: exit {code}, {wall:.1f} s wall", end=" ")
    print(ledger.hold(wall <= WALL, f"{day.name}: planned in {wall:.1f} s, promised {WALL:.0f}"))
    if code not in (0, 3):
        ledger.hold(False, f"{day.name}: exit {code}\n{said}")
        return
    checked, seconds, faults = command("check", day, "--plan", out / "plan.json")
    print(f"  check: exit {checked}, {seconds:.1f} s", end=" ")
    print(ledger.hold(checked == 0, f"{day.name}: does not check\n{faults[:2000]}"))
    problem = Problem(read_days([day]).days)
    document = parse_document((out / "plan.json").read_bytes())
    pieces = sum(p.qty for p in problem.parts)
    print(f"  {pieces} pieces, {len({p.section for p in problem.parts})} sections")
    hold_materials(day.name, problem, document, ledger)
    found, missed = damage_found(problem, out / "plan.json")
    for name in missed:
        ledger.hold(False, f"{day.name}: the checker misses {name}")
    print(f"  mutated plans: {found} found, {len(missed)} missed")


def damage_found(problem: Problem, path: Path) -> tuple[int, list[str]]:
    """How many damaged plans the checker finds, and the damage that it misses."""
    found, missed = 0, []
    text = path.read_bytes()
    for damage in DAMAGES:
        chance = random.Random(damage.__name__)
        for _ in range(TURNS):
            mutated = parse_document(text)
            if not damage(mutated, chance):
                continue
            if check_plan(problem.days, mutated):
                found += 1
            else:
                missed.append(damage.__name__)
    return found, missed


def hold_materials(name: str, problem: Problem, document: dict, ledger: Ledger) -> None:  # type: ignore[type-arg]
    """Each material against its bound and against the best single size."""
    single: dict[str, Fraction | None] = {}
    for group in problem.groups:
        single |= single_size_cost(group)
    cheapest = {}
    for offer in problem.offers:
        if offer.limit != 0 or offer.on_hand:
            cost = cheapest.get(offer.material, offer.cost)
            cheapest[offer.material] = min(cost, offer.cost)
    ours = theirs = Fraction(0)
    print(
        f"  {'material':<18}{'objective':>12}{'bound':>12}{'gap %':>9}{'s':>6}{'single size':>13}"
    )
    for material in document["materials"]:
        code = material["material"]
        objective, bound = Fraction(material["objective"]), Fraction(material["bound"])
        gap = (objective - bound) / objective if objective else Fraction(0)
        if material["kind"] == Kind.LUMBER:
            kept = gap <= LUMBER_GAP
        else:
            kept = gap <= SHEET_GAP or objective - bound < cheapest[code]
        said = ledger.hold(kept, f"{name}: {code} gap {float(100 * gap):.4f} %")
        base = single.get(code)
        ratio = f"{float(base / objective):.3f} x" if base and objective else "none holds all"
        print(
            f"  {code:<18}{float(objective):>12.2f}{float(bound):>12.2f}{float(100 * gap):>9.4f}"
            f"{float(material['seconds']):>6.1f}{ratio:>15} {said}"
        )
        if base and not material["unplanned"]:
            ours, theirs = ours + objective, theirs + base
    if ours:
        print(
            "  in all, first-fit decreasing on the best single size costs",
            f"{float(theirs / ours):.4f} x ours",
            end=" ",
        )
        print(ledger.hold(ours < theirs, f"{name}: not cheaper than the best single size"))


def without_seconds(text: bytes) -> bytes:
    """plan.json with every `seconds` blanked: the only thing that may differ between two runs."""
    return re.sub(rb'("seconds": )[0-9.eE+-]+', rb"\1 0", text)


def same_everywhere(day: Path, out: Path, ledger: Ledger) -> None:
    """The command's plan.json beside the library's and the service's."""
    command_plan = without_seconds((out / "plan.json").read_bytes())
    problem = Problem(read_days([day]).days)
    plan = solve(problem, Settings(workers=2))
    library = without_seconds(outputs(problem, plan)["plan.json"])
    print("  library:", ledger.hold(library == command_plan, "the library's plan differs"))
    from tests.bench.client import plan_through_service

    service = without_seconds(plan_through_service(day))
    print("  service:", ledger.hold(service == command_plan, "the service's plan differs"))


def fresh(ledger: Ledger) -> None:
    """README's first command in a fresh clone."""
    with tempfile.TemporaryDirectory() as folder:
        clone = Path(folder) / "clone"
        subprocess.run(["git", "clone", "-q", ROOT, clone], check=True)
        start = time.perf_counter()
        done = subprocess.run(["sh", ".ci/demo"], cwd=clone, capture_output=True, check=False)
        wall = time.perf_counter() - start
    print(f"\nfresh clone, first command: exit {done.returncode}, {wall:.1f} s", end=" ")
    kept = done.returncode == 0 and wall < SETUP
    print(ledger.hold(kept, f"first command: exit {done.returncode} in {wall:.1f} s"))


def main(arguments: Sequence[str]) -> int:
    """0 where every promise was kept."""
    parser = argparse.ArgumentParser(prog="python -m tests.bench day")
    parser.add_argument("days", nargs="*", type=Path)
    parser.add_argument("--fresh", action="store_true")
    words = parser.parse_args(arguments)
    days = words.days or sorted((ROOT / "demo_orders").glob("20*"))
    ledger = Ledger()
    with tempfile.TemporaryDirectory() as folder:
        for number, day in enumerate(days):
            out = Path(folder) / str(number)
            measure_day(day.resolve(), out, ledger)
            if number == 0 and (out / "plan.json").exists():
                same_everywhere(day.resolve(), out, ledger)
    if words.fresh:
        fresh(ledger)
    print()
    for line in ledger.short:
        print("falls short:", line)
    print(json.dumps({"days": len(days), "short": len(ledger.short)}))
    return 1 if ledger.short else 0
