"""A Dask cluster of this machine that counts what its scheduler is told.

`python -m tests.bench.soak.cluster WORKERS` prints its address; at the end of its input it stops
and prints the counts as one JSON object.
"""

from __future__ import annotations

import json
import sys
from collections import Counter
from collections.abc import Callable
from inspect import iscoroutinefunction
from typing import Any

import dask
from distributed import LocalCluster

__all__: list[str] = []

#: Part of every connection, not of the work.
_LIFE = frozenset({"heartbeat_worker", "heartbeat-client", "identity", "register-client"})


def _counted(op: str, handler: Callable[..., Any], counts: Counter[str]) -> Callable[..., Any]:
    if iscoroutinefunction(handler):

        async def later(*words: Any, **more: Any) -> Any:
            counts[op] += 1
            return await handler(*words, **more)

        return later

    def now(*words: Any, **more: Any) -> Any:
        counts[op] += 1
        return handler(*words, **more)

    return now


def main() -> None:
    """Run until the input ends."""
    # A task that lost its worker comes back at once: the service counts and sends it again.
    # The workers' profiler keeps a tree of every call: 200 MB of it after sixty plans.
    dask.config.set(
        {
            "distributed.scheduler.allowed-failures": 0,
            "distributed.worker.profile.enabled": False,
        }
    )
    with LocalCluster(
        n_workers=int(sys.argv[1]), threads_per_worker=1, processes=True, dashboard_address=None
    ) as cluster:
        counts: Counter[str] = Counter()
        scheduler: Any = cluster.scheduler
        for op, handler in list(scheduler.stream_handlers.items()):
            scheduler.stream_handlers[op] = _counted(op, handler, counts)
        for op in ("event_is_set", "event_set", "event_clear", "heartbeat_worker"):
            scheduler.handlers[op] = _counted(op, scheduler.handlers[op], counts)
        print(cluster.scheduler_address, flush=True)
        sys.stdin.read()
        work = {op: n for op, n in counts.items() if op not in _LIFE}
        print(json.dumps({"work": work, "life": sum(counts.values()) - sum(work.values())}))


if __name__ == "__main__":
    main()
