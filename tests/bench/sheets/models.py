"""General-purpose models, each in a process of its own with a clock that is kept.

`python -m tests.bench.sheets.models cbc|highs|cpsat SECONDS` reads a task and writes the plan.
"""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tests.bench.sheets.level import MOST_VARIABLES, plan_with_pulp, variables_of
from tests.bench.sheets.task import Filled, Laid, Task

__all__ = ["MODELS", "Answer", "answered"]

MODELS = {"cbc": "CBC", "highs": "HiGHS", "cpsat": "CP-SAT"}
#: Seconds beyond the limit to build the model and to write the answer; then the process is ended.
_GRACE = 30.0
ROOT = Path(__file__).resolve().parents[3]


@dataclass(frozen=True, slots=True)
class Answer:
    """What a model gave: a plan, or why none; `seconds` with building it."""

    plan: list[Filled | Laid] | None
    seconds: float
    why: str = ""


def answered(task: Task, solver: str, seconds: float) -> Answer:
    """The plan of one solver within its time."""
    size = variables_of(task)
    if size > MOST_VARIABLES:
        return Answer(None, 0.0, f"not built: {size:,} variables, at most {MOST_VARIABLES:,}")
    started = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        process = subprocess.Popen(
            [sys.executable, "-m", "tests.bench.sheets.models", solver, str(seconds)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env={**os.environ, "TMPDIR": folder},  # where CBC leaves its files
            start_new_session=True,
        )
        try:
            said, wrong = process.communicate(task.to_json(), timeout=seconds + _GRACE)
        except subprocess.TimeoutExpired:
            os.killpg(process.pid, signal.SIGKILL)
            process.communicate()
            return Answer(
                None, time.perf_counter() - started, f"nothing {_GRACE:.0f} s after its limit"
            )
        except BaseException:
            os.killpg(process.pid, signal.SIGKILL)
            raise
    spent = time.perf_counter() - started
    if process.returncode != 0:
        return Answer(None, spent, f"failed: {wrong.strip().splitlines()[-1:]}")
    plan = json.loads(said.strip().splitlines()[-1])
    if plan is None:
        return Answer(None, spent, "found nothing")
    return Answer(_read(plan), spent)


def _written(plan: Sequence[Filled | Laid]) -> list[list[Any]]:
    return [
        [f.field, f.sheet, f.count] if isinstance(f, Laid) else [f.sheet, f.rip, f.shelves, None]
        for f in plan
    ]


def _read(plan: Sequence[Sequence[Any]]) -> list[Filled | Laid]:
    found: list[Filled | Laid] = []
    for row in plan:
        if len(row) == 3:
            found.append(Laid(*row))
        else:
            shelves = tuple((high, tuple((i, turned) for i, turned in own)) for high, own in row[2])
            found.append(Filled(row[0], row[1], shelves))
    return found


def main() -> int:
    """Read a task, write the plan as the last line."""
    solver, seconds = sys.argv[1], float(sys.argv[2])
    task = Task.from_json(sys.stdin.read())
    if solver == "cpsat":
        from tests.bench.sheets.cpsat import plan_with_cpsat

        plan = plan_with_cpsat(task, seconds)
    else:
        plan = plan_with_pulp(task, solver, seconds)
    print()
    print(json.dumps(None if plan is None else _written(plan)))
    return 0


if __name__ == "__main__":
    sys.exit(main())
