"""General-purpose models, each in a process of its own with a clock that is kept."""

from __future__ import annotations

import json
import os
import signal
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any, Generic, TypeVar

from tests.bench.common.days import ROOT

__all__ = ["MODELS", "Answer", "answer", "serve"]

MODELS = {"cbc": "CBC", "highs": "HiGHS", "cpsat": "CP-SAT"}
#: Seconds beyond the limit to build the model and to write the answer; then the process is ended.
_GRACE = 30.0

P = TypeVar("P")


@dataclass(frozen=True, slots=True)
class Answer(Generic[P]):
    """What a model gave: a plan, or why none; `seconds` with building it."""

    plan: list[P] | None
    seconds: float
    why: str = ""


def answer(
    module: str,
    task: str,
    solver: str,
    seconds: float,
    size: tuple[int, int],
    read: Callable[[list[Any]], list[P]],
) -> Answer[P]:
    """The plan of one solver within its time.

    Parameters
    ----------
    module
        Run as a command with the solver and its seconds; it calls `serve`.
    task
        What that reads.
    size
        Variables of the model, and the most with which one is built.
    read
        Makes the plan of what was written.
    """
    variables, most = size
    if variables > most:
        return Answer(None, 0.0, f"not built: {variables:,} variables, at most {most:,}")
    started = time.perf_counter()
    with tempfile.TemporaryDirectory() as folder:
        process = subprocess.Popen(
            [sys.executable, "-m", module, solver, str(seconds)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.PIPE,
            text=True,
            cwd=ROOT,
            env={**os.environ, "TMPDIR": folder},  # where CBC leaves its files
            start_new_session=True,
        )
        try:
            said, wrong = process.communicate(task, timeout=seconds + _GRACE)
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
    return Answer(read(plan), spent)


def serve(plan_of: Callable[[str, str, float], Any]) -> int:
    """Read a task, write the plan as the last line. `plan_of` sees task, solver and seconds."""
    solver, seconds = sys.argv[1], float(sys.argv[2])
    plan = plan_of(sys.stdin.read(), solver, seconds)
    print()  # whatever the solver wrote ends here
    print(json.dumps(plan))
    return 0
