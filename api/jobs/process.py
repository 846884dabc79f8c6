"""A planning process as the service holds it."""

from __future__ import annotations

import contextlib
import multiprocessing
import os
import signal
from types import TracebackType

from api.jobs.job import Crashed, Job, Told
from api.jobs.work import CANCEL, Answer, work

__all__ = ["PlanProcess"]

_LAST_WORDS = 5.0


class PlanProcess:
    """A job under way in a process of its own.

    A context: whatever is still running when it closes is ended, solvers included.
    """

    def __init__(self, job: Job) -> None:
        context = multiprocessing.get_context("spawn")
        self._pipe, theirs = context.Pipe()
        self._process = context.Process(target=work, args=(job, theirs), name="cutopt-plan")
        self._process.start()
        theirs.close()
        self._asked = False

    def __enter__(self) -> PlanProcess:
        return self

    def __exit__(
        self,
        kind: type[BaseException] | None,
        error: BaseException | None,
        trace: TracebackType | None,
    ) -> None:
        self.kill()

    @property
    def pid(self) -> int | None:
        """The process's number, for the log."""
        return self._process.pid

    def next(self, seconds: float) -> Told | Answer | None:
        """What the process says next, or None where it says nothing for so long."""
        try:
            if not self._pipe.poll(seconds):
                return None
            said: Told | Answer = self._pipe.recv()
        except (EOFError, OSError):
            self._process.join(_LAST_WORDS)
            return Crashed(_how_it_ended(self._process.exitcode), died=True)
        return said

    def cancel(self) -> None:
        """Ask for the best plan so far; asking twice changes nothing."""
        if not self._asked:
            self._asked = True
            with contextlib.suppress(OSError):
                self._pipe.send(CANCEL)

    def kill(self) -> None:
        """End the process and its solvers at once."""
        pid = self._process.pid
        if pid is not None:
            # The process leads its group from its first moment on; before that only it is there.
            with contextlib.suppress(ProcessLookupError, PermissionError):
                os.killpg(pid, signal.SIGKILL)
        self._process.kill()
        self._process.join()
        self._process.close()
        self._pipe.close()


def _how_it_ended(code: int | None) -> str:
    if code is not None and code < 0:
        name = signal.Signals(-code).name
        return f"the planning process was ended by {name}"
    return f"the planning process ended with code {code}"
