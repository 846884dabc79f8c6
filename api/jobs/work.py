"""What runs in a planning process.

The process leads a group of its own, so that its solvers end with it: when the service dies, the
pipe to it closes and the whole group is ended; when this process dies, the service ends the group.
"""

from __future__ import annotations

import contextlib
import os
import signal
import threading
from collections.abc import Callable
from fractions import Fraction
from multiprocessing.connection import Connection
from typing import Any

from api.jobs.job import (
    Crashed,
    CurvedFiles,
    Job,
    MaterialFigures,
    PlannedFiles,
    Refused,
    Told,
    Unsound,
    read_sources,
)
from cutopt.files import curves_csv, curves_svg, outputs
from cutopt.measure import rounded, show_length
from cutopt.plan import MaterialPlan, Plan, Problem, Source, Stop
from cutopt.records import CutoptError, InputRefused, PlanFaulty
from cutopt.solve import Progress, Report, Settings, solve
from cutopt.solve.curves import Against, Curve, curves
from cutopt.yields import YieldLine, yields

__all__ = ["CANCEL", "Answer", "plan_job", "work"]

#: The one word that the service sends.
CANCEL = "cancel"
#: Requests come before plans where cores are few.
_NICE = 5

Answer = PlannedFiles | CurvedFiles | Refused | Unsound | Crashed


def work(job: Job, pipe: Connection) -> None:
    """Plan a job and send what is told on the way, then the answer, through `pipe`."""
    with contextlib.suppress(OSError):
        os.setsid()
    os.nice(_NICE)
    signal.signal(signal.SIGINT, signal.SIG_IGN)
    signal.signal(signal.SIGTERM, signal.SIG_DFL)
    cancelled = threading.Event()
    ended = threading.Event()
    listener = threading.Thread(target=_listen, args=(pipe, cancelled, ended), daemon=True)
    listener.start()
    sending = threading.Lock()

    def tell(told: Told) -> None:
        with sending, contextlib.suppress(OSError):  # the listener ends us if nobody hears
            pipe.send(told)

    try:
        answer = plan_job(job, tell, cancelled.is_set)
    except Exception as error:  # whatever it is, the service hears of it in words
        answer = Crashed(f"{type(error).__name__}: {error}")
    ended.set()
    with sending, contextlib.suppress(OSError):
        pipe.send(answer)


def _listen(pipe: Connection, cancelled: threading.Event, ended: threading.Event) -> None:
    try:
        while True:
            if pipe.recv() == CANCEL:
                cancelled.set()
    except (EOFError, OSError):
        if not ended.is_set():
            os.killpg(os.getpgrp(), signal.SIGKILL)


def plan_job(job: Job, tell: Callable[[Told], None], cancelled: Callable[[], bool]) -> Answer:
    """Read, solve, check and write a job's plan, or its curves, in this process."""

    def report(progress: Progress) -> None:
        tell(
            Told(
                progress.materials,
                progress.phase,
                progress.objective,
                progress.bound,
                progress.done,
            )
        )

    try:
        reading = read_sources(job.days)
        problem = Problem(reading.days, reading.warnings)
        if job.of is not None:
            return _curves(Against(job.of), job, problem, report, cancelled)
        settings = Settings(seconds=job.seconds, seed=job.seed, workers=job.workers)
        plan = solve(problem, settings, report, cancelled)
        files = outputs(problem, plan)
    except InputRefused as error:
        return Refused(error.faults)
    except PlanFaulty as error:
        return Unsound(error.faults)
    except CutoptError as error:
        return Crashed(str(error))
    return PlannedFiles(
        files,
        _figures(problem, plan),
        interrupted=any(m.stop is Stop.INTERRUPTED for m in plan.materials),
    )


def _curves(
    against: Against,
    job: Job,
    problem: Problem,
    report: Report,
    cancelled: Callable[[], bool],
) -> CurvedFiles:
    found = curves(
        problem,
        against,
        seconds=job.seconds,
        seed=job.seed,
        workers=job.workers,
        report=report,
        cancelled=cancelled,
    )
    files = {"curve.csv": curves_csv(found), "curve.svg": curves_svg(found)}
    return CurvedFiles(files, tuple(_curve(c) for c in found), interrupted=cancelled())


def _curve(curve: Curve) -> dict[str, Any]:
    choices = curve.choices
    return {
        "materials": list(curve.materials),
        "points": [
            {
                "setting": p.setting,
                "joints": p.joints,
                "setups": p.setups,
                "sticks": p.sticks,
                "cost": _number(p.cost),
                "objective": _number(p.objective),
                "bound": None if p.bound is None else _number(p.bound),
                "choice": p in choices,
                "lengths": p.lengths if curve.against is Against.LENGTHS else None,
            }
            for p in curve.points
        ],
        "note": curve.note,
    }


def _figures(problem: Problem, plan: Plan) -> tuple[MaterialFigures, ...]:
    amounts = yields(plan, problem.rules)
    return tuple(
        _material(plan, material, line)
        for material, line in zip(plan.materials, amounts, strict=True)
    )


def _material(plan: Plan, material: MaterialPlan, line: YieldLine) -> MaterialFigures:
    return {
        "material": material.material,
        "kind": material.kind.value,
        "pieces": sum(len(lay.parts) * lay.count for lay in material.layouts),
        "bought": sum(lay.count for lay in material.layouts if lay.source is Source.BUY)
        + sum(more for _, more in material.surplus),
        "on_hand": sum(lay.count for lay in material.layouts if lay.source is Source.ON_HAND),
        "layouts": len(material.layouts),
        "patterns": len({lay.pattern for lay in material.layouts}),
        "joints": material.joints,
        "cost": _number(material.cost),
        "drop_credit": _number(material.drop_credit),
        "joint_cost": _number(material.joint_cost),
        "objective": _number(material.objective),
        "bound": _number(material.bound),
        "gap": _number(material.gap, 8),
        "joint_with": list(material.joint_with),
        "status": material.status.value,
        "stop": material.stop.value,
        "yield_percent": _number(Fraction(line.yield_percent)),
        "waste_percent": _number(Fraction(line.waste_percent)),
        "seconds": round(material.seconds, 3),
        "shortages": [s.text(plan.unit, of=material.objective) for s in material.shortages],
        "unplanned": [
            {
                "section": missing.section,
                "mark": missing.mark,
                "length": show_length(missing.length, plan.unit),
                "width": None if missing.width is None else show_length(missing.width, plan.unit),
                "qty": missing.qty,
                "reason": missing.reason,
            }
            for missing in material.unplanned
        ],
    }


def _number(value: Fraction, places: int = 4) -> float:
    """A figure for showing; the exact ones are in plan.json."""
    return float(rounded(value, places))
