"""Takes up queued plans, one at a time per slot, and keeps what comes of them.

A plan is claimed by a lease that is renewed while it is under way. Plants take turns: the one that
has the fewest plans under way comes next, of these the one that this process served longest ago,
and its oldest plan. Whoever lost the lease writes
nothing more. When a service process dies, the lease runs out and the next one that looks, perhaps
the same service started again, plans it anew: the same input and seed give the same result.
"""

from __future__ import annotations

import logging
import threading
import time
import uuid
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import Any

from sqlalchemy.exc import SQLAlchemyError

from api.jobs import (
    Answer,
    Crashed,
    CurvedFiles,
    DayFiles,
    Gone,
    Job,
    Lost,
    PlannedFiles,
    Refused,
    Run,
    Told,
    Turns,
    Unsound,
    crew_of,
)
from api.operation import Metrics
from api.services.queue import ENDED
from api.settings import Settings
from api.shapes import Outcome, PlanStatus, read_faults
from api.store import Database, PlanRow
from api.store.plans import PlanStore

__all__ = ["Planner"]

_LOG = logging.getLogger("cutopt.planner")
_LOOK = 1.0
_LISTEN = 0.2
_LAST_TRIES = 5
#: Progress is written at most this often, and the less often the longer a plan takes: a plan of
#: any length leaves some hundreds of events a material, not thousands.
_WRITE_EVERY = 0.5
_WRITE_SHARE = 0.01


@dataclass(frozen=True, slots=True)
class _Claim:
    number: int
    id: str
    owner: str
    plant: int
    job: Job


class Planner:
    """Threads that each hold one plan at a time, over one crew of workers."""

    def __init__(
        self, database: Database, settings: Settings, metrics: Metrics | None = None
    ) -> None:
        self._database = database
        self._settings = settings
        self._metrics = metrics
        self._news = threading.Condition()
        self._stopping = threading.Event()
        self._threads: list[threading.Thread] = []
        self._turns = Turns(crew_of(settings.scheduler, settings.workers))
        self._claiming = threading.Lock()
        self._served: dict[int, int] = {}
        self._servings = 0
        self._unreached: str | None = None

    def start(self) -> None:
        """Begin to take up plans."""
        if self._settings.plans_at_once:
            self._turns.start()
        for slot in range(self._settings.plans_at_once):
            thread = threading.Thread(target=self._run, name=f"planner-{slot}", daemon=True)
            thread.start()
            self._threads.append(thread)

    def alive(self) -> int:
        """How many of its threads live; of as many as plans may run at the same time."""
        return sum(thread.is_alive() for thread in self._threads)

    def workers(self) -> int | None:
        """How many tasks can be done side by side; None where the workers can't be reached."""
        return None if self._turns.reached() else self._turns.count

    def wake(self) -> None:
        """Something was queued."""
        with self._news:
            self._news.notify_all()

    def stop(self) -> None:
        """End every search and hand its plan back, to be taken up at the next start."""
        self._stopping.set()
        self.wake()
        for thread in self._threads:
            thread.join()
        self._threads.clear()
        self._turns.stop()

    def _run(self) -> None:
        while not self._stopping.is_set():
            try:
                claim = self._claim()
                if claim is not None:
                    self._plan(claim)
                    continue
            except Exception:  # a slot never dies: what it held is taken up again
                _LOG.exception("a plan was dropped and will be taken up again")
            with self._news:
                if not self._stopping.is_set():
                    self._news.wait(_LOOK)

    # Claiming and holding

    def _claim(self) -> _Claim | None:
        with self._database.read() as session:
            if PlanStore(session).free(self._database.clock(session)) is None:
                return None
        why = self._turns.reached()
        if why != self._unreached:
            self._unreached = why
            _LOG.warning("%s", f"plans wait: {why}" if why else "the workers are there again")
        if why is not None:
            return None
        with self._claiming:
            claim = self._claim_next()
            if claim is not None:
                self._servings += 1
                self._served[claim.plant] = self._servings
            return claim

    def _claim_next(self) -> _Claim | None:
        owner = uuid.uuid4().hex
        with self._database.write() as session:
            plans = PlanStore(session)
            now = self._database.clock(session)
            until = now + self._settings.lease_seconds
            turns = sorted(
                plans.turns(now),
                key=lambda t: (t.running, self._served.get(t.plant, 0), t.oldest),
            )
            if not turns:
                return None
            plant, number = turns[0].plant, turns[0].oldest
            if not plans.claim(number, owner, now, until, datetime.now(UTC)):
                return None
            row = plans.owned(number, owner)
            if row is None:
                return None
            row.progress = []
            plans.add_events(number, [("status", {"status": row.status})])
            days = tuple(
                DayFiles(
                    used.day.name,
                    used.day.form,
                    {file.name: file.content for file in used.day.files},
                )
                for used in row.days
            )
            of = None if row.curve is None else row.curve.of
            job = Job(days, row.seconds, row.seed, of)
            return _Claim(number, row.id, owner, plant, job)

    def _hold(self, claim: _Claim) -> bool | None:
        """Whether to cancel, or None where the plan is no longer ours."""
        try:
            with self._database.write() as session:
                until = self._database.clock(session) + self._settings.lease_seconds
                return PlanStore(session).hold(claim.number, claim.owner, until)
        except SQLAlchemyError as error:
            _LOG.warning("plan %s: the lease could not be renewed: %s", claim.id, error)
            return False

    # Planning

    def _plan(self, claim: _Claim) -> None:
        _LOG.info("plan %s: taken up for plant %d", claim.id, claim.plant)
        most, grace = self._settings.most_crashes, self._settings.grace_seconds
        with Run(self._turns, claim.job, claim.plant, most, grace) as run:
            answer = self._follow(claim, run)
        if answer is None:
            return
        for again in range(_LAST_TRIES):
            try:
                self._keep(claim, answer)
                return
            except SQLAlchemyError:
                if again == _LAST_TRIES - 1:
                    raise
                time.sleep(_LOOK)

    def _follow(self, claim: _Claim, run: Run) -> Answer | None:
        """What came of it; None where the plan was handed back or lost."""
        began = time.monotonic()
        hold_every = min(_LOOK, self._settings.lease_seconds / 5)
        held = written = 0.0
        progress: dict[tuple[str, ...], Told] = {}
        changed: dict[tuple[str, ...], Told] = {}
        while True:
            said = run.next(_LISTEN)
            now = time.monotonic() - began
            if self._stopping.is_set():
                self._hand_back(claim)
                return None
            if isinstance(said, Gone):
                _LOG.error("plan %s: %s", claim.id, said.why)
                self._hand_back(claim)
                self._stopping.wait(_LOOK)
                return None
            if isinstance(said, Told):
                changed[said.materials] = said
            elif isinstance(said, Lost):
                self._lost(claim, said)
            elif said is not None:
                self._tell(claim, progress, changed)
                return said
            if now >= held:
                cancel = self._hold(claim)
                if cancel is None:
                    _LOG.warning("plan %s: somebody else has taken it up", claim.id)
                    return None
                if cancel:
                    run.cancel()
                held = now + hold_every
            if changed and now >= written:
                self._tell(claim, progress, changed)
                written = now + max(_WRITE_EVERY, _WRITE_SHARE * now)

    def _tell(
        self,
        claim: _Claim,
        progress: dict[tuple[str, ...], Told],
        changed: dict[tuple[str, ...], Told],
    ) -> None:
        progress |= changed
        steps = [("progress", _step(told)) for told in changed.values()]
        changed.clear()

        def write(plans: PlanStore, row: PlanRow) -> None:
            row.progress = [_step(told) for told in progress.values()]
            plans.add_events(claim.number, steps)

        try:
            self._if_ours(claim, write)
        except SQLAlchemyError as error:
            _LOG.warning("plan %s: progress could not be written: %s", claim.id, error)

    def _lost(self, claim: _Claim, lost: Lost) -> None:
        """A worker was lost; what it had is under way again."""

        def write(plans: PlanStore, row: PlanRow) -> None:
            row.crashes += lost.times

        _LOG.error("plan %s: %s; planned again", claim.id, lost.why)
        if self._metrics is not None:
            self._metrics.plan_crashed()
        try:
            self._if_ours(claim, write)
        except SQLAlchemyError as error:
            _LOG.warning("plan %s: a lost worker could not be counted: %s", claim.id, error)

    def _if_ours(self, claim: _Claim, write: Callable[[PlanStore, PlanRow], None]) -> None:
        with self._database.write() as session:
            plans = PlanStore(session)
            row = plans.owned(claim.number, claim.owner)
            if row is not None:
                write(plans, row)

    # What came of it

    def _hand_back(self, claim: _Claim) -> None:
        def write(plans: PlanStore, row: PlanRow) -> None:
            row.status = PlanStatus.QUEUED.value
            row.owner = row.lease_until = None
            row.progress = []
            plans.add_events(claim.number, [("status", {"status": row.status})])

        _LOG.info("plan %s: handed back", claim.id)
        self._if_ours(claim, write)

    def _keep(self, claim: _Claim, answer: Answer) -> None:
        def write(plans: PlanStore, row: PlanRow) -> None:
            if isinstance(answer, PlannedFiles):
                _planned(plans, row, answer)
            elif isinstance(answer, CurvedFiles):
                _curved(plans, row, answer)
            elif isinstance(answer, Refused):
                _failed(row, Outcome.REFUSED, "the days can't be planned together", answer)
            elif isinstance(answer, Unsound):
                _failed(row, Outcome.DOES_NOT_CHECK, "the plan does not check", answer)
            elif row.cancel_asked:
                row.status = PlanStatus.STOPPED.value
            else:
                row.crashes += answer.died
                _failed(row, None, answer.why)
            row.owner = row.lease_until = None
            row.ended = datetime.now(UTC)
            end = {"status": row.status, "outcome": row.outcome}
            plans.add_events(claim.number, [(ENDED, end)])
            took.append((row.status, (row.ended - (row.started or row.ended)).total_seconds()))

        took: list[tuple[str, float]] = []
        if isinstance(answer, Crashed):
            _LOG.error("plan %s: %s", claim.id, answer.why)
        self._if_ours(claim, write)
        for status, seconds in took:
            _LOG.info("plan %s: %s after %.1f s", claim.id, status, seconds)
        if self._metrics is not None:
            self._measure(self._metrics, claim, answer, took)

    def _measure(
        self, metrics: Metrics, claim: _Claim, answer: Answer, took: list[tuple[str, float]]
    ) -> None:
        if isinstance(answer, Crashed) and answer.died:
            metrics.plan_crashed()
        noun = "plan" if claim.job.of is None else "curve"
        materials = answer.materials if isinstance(answer, PlannedFiles) else ()
        for status, seconds in took:
            metrics.plan_ended(noun, status, seconds, materials)


def _planned(plans: PlanStore, row: PlanRow, answer: PlannedFiles) -> None:
    status = PlanStatus.STOPPED if answer.interrupted else PlanStatus.DONE
    outcome = Outcome.PLANNED if answer.cuts_all else Outcome.NOT_CUTTABLE
    row.status, row.outcome = status.value, outcome.value
    row.materials = list(answer.materials)
    plans.keep_files(row.number, answer.files)


def _curved(plans: PlanStore, row: PlanRow, answer: CurvedFiles) -> None:
    row.status = (PlanStatus.STOPPED if answer.interrupted else PlanStatus.DONE).value
    row.outcome = Outcome.PLANNED.value
    row.materials = list(answer.curves)
    plans.keep_files(row.number, answer.files)


def _failed(
    row: PlanRow, outcome: Outcome | None, detail: str, answer: Refused | Unsound | None = None
) -> None:
    row.status = PlanStatus.FAILED.value
    row.outcome = None if outcome is None else outcome.value
    faults = read_faults(answer.faults) if isinstance(answer, Refused) else []
    row.failure = {
        "detail": detail,
        "faults": [fault.model_dump() for fault in faults],
        "promises": list(answer.faults) if isinstance(answer, Unsound) else [],
    }


def _step(told: Told) -> dict[str, Any]:
    return {
        "materials": list(told.materials),
        "phase": told.phase,
        "objective": told.objective,
        "bound": told.bound,
        "gap": told.gap,
        "done": told.done,
    }
