"""What workers do: read days, search one group's plan or curve, write the answer.

Tasks are plain values and functions of a module, so that they can be sent to any worker with this
version of cutopt, in this machine or elsewhere.
"""

from __future__ import annotations

import pickle
import time
from collections.abc import Callable
from dataclasses import dataclass
from fractions import Fraction
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
from cutopt.plan import Group, MaterialPlan, Plan, Problem, Source, Stop
from cutopt.records import CutoptError, InputRefused, PlanFaulty
from cutopt.solve import Progress, Report, heaviest_first, plan_of, solve_group
from cutopt.solve.curves import Against, Curve, curve_groups, curve_of_group
from cutopt.yields import YieldLine, yields

__all__ = [
    "Answer",
    "Done",
    "Groups",
    "PackedGroup",
    "Task",
    "make_answer",
    "perform",
    "read_groups",
    "search",
]

Answer = PlannedFiles | CurvedFiles | Refused | Unsound | Crashed
#: What is told of a group's progress, and whether to end with the best so far.
Cancelled = Callable[[], bool]


@dataclass(frozen=True, slots=True)
class Task:
    """One thing for a worker to do.

    Parameters
    ----------
    number
        Its own within this service process.
    do
        A function of a module: `do(*words, cancelled, report)`.
    words
        What it is given.
    cancelled
        Whether its flag is raised from the start.
    """

    number: int
    do: Callable[..., Any]
    words: tuple[Any, ...]
    cancelled: bool = False


@dataclass(frozen=True, slots=True)
class Done:
    """What a task made, the last that it had to tell, and its worker's seconds."""

    value: Any
    told: Told | None
    seconds: float


@dataclass(frozen=True, slots=True)
class PackedGroup:
    """A group of materials as one worker sends it to another.

    The service passes it on unread: to take thousands of parts apart and put them together again
    would hold its requests up.
    """

    materials: tuple[str, ...]
    content: bytes


@dataclass(frozen=True, slots=True)
class Groups:
    """The groups of materials of a job, and their order from the one that takes longest."""

    groups: tuple[PackedGroup, ...]
    heaviest: tuple[int, ...]


def perform(task: Task, cancelled: Cancelled, tell: Callable[[Told], None], every: float) -> Done:
    """Do a task in this process; what it tells goes out at most once in `every` seconds.

    The first words go out at once; the last come back with the result.
    """
    began = time.monotonic()
    last: Told | None = None
    spoke = -every

    def report(progress: Progress) -> None:
        nonlocal last, spoke
        last = Told(
            progress.materials, progress.phase, progress.objective, progress.bound, progress.done
        )
        now = time.monotonic() - began
        if now - spoke >= every:
            spoke = now
            tell(last)

    try:
        value = task.do(*task.words, lambda: task.cancelled or cancelled(), report)
    except Exception as error:  # whatever it is, the service hears of it in words
        value = Crashed(f"{type(error).__name__}: {error}")
    return Done(value, last, time.monotonic() - began)


def read_groups(job: Job, cancelled: Cancelled, report: Report) -> Groups | Answer:
    """What a job asks for, read and taken apart."""
    try:
        problem = _problem(job)
        groups = problem.groups if job.of is None else curve_groups(problem, Against(job.of))
    except InputRefused as error:
        return Refused(error.faults)
    except CutoptError as error:
        return Crashed(str(error))
    packed = tuple(PackedGroup(group.materials, _packed(group)) for group in groups)
    return Groups(packed, tuple(heaviest_first(groups)))


def search(
    of: str | None,
    packed: PackedGroup,
    seconds: float,
    seed: int,
    cancelled: Cancelled,
    report: Report,
) -> bytes | Crashed:
    """One group's plans, or its curve where `of` says of what; packed for `make_answer`."""
    group: Group = _unpacked(packed.content)
    try:
        if of is not None:
            return _packed(curve_of_group(Against(of), group, seconds, seed, cancelled, report))
        return _packed(solve_group(group, seconds, seed, cancelled, report))
    except CutoptError as error:
        return Crashed(str(error))


def make_answer(
    job: Job, packed: tuple[bytes, ...], cancelled: Cancelled, report: Report
) -> Answer:
    """The files of what `search` found for all groups, checked."""
    found: tuple[Any, ...] = tuple(_unpacked(content) for content in packed)
    try:
        problem = _problem(job)
        if job.of is not None:
            files = {"curve.csv": curves_csv(found), "curve.svg": curves_svg(found)}
            return CurvedFiles(files, tuple(_curve(c) for c in found), interrupted=cancelled())
        plan = plan_of(problem, found)
        return PlannedFiles(
            outputs(problem, plan),
            _figures(problem, plan),
            interrupted=any(m.stop is Stop.INTERRUPTED for m in plan.materials),
        )
    except InputRefused as error:
        return Refused(error.faults)
    except PlanFaulty as error:
        return Unsound(error.faults)
    except CutoptError as error:
        return Crashed(str(error))


def _packed(value: Group | tuple[MaterialPlan, ...] | Curve) -> bytes:
    return pickle.dumps(value, pickle.HIGHEST_PROTOCOL)


def _unpacked(content: bytes) -> Any:
    return pickle.loads(content)  # noqa: S301  from our own workers


def _problem(job: Job) -> Problem:
    reading = read_sources(job.days)
    return Problem(reading.days, reading.warnings)


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
