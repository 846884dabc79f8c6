"""What is measured, in the text form that Prometheus reads (exposition format 0.0.4).

Every application has a registry of its own, so that several in one process do not share figures.
Labels hold words of ours only: templates of routes, never paths, and of methods those that we know;
so no caller can make series without end.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from prometheus_client import (
    CONTENT_TYPE_PLAIN_0_0_4,
    CollectorRegistry,
    Counter,
    Gauge,
    Histogram,
    Info,
    ProcessCollector,
    disable_created_metrics,
    generate_latest,
)
from prometheus_client.metrics_core import GaugeMetricFamily, Metric
from prometheus_client.registry import Collector

from cutopt import __version__

__all__ = ["MEDIA_TYPE", "Metrics", "QueueFigures"]

MEDIA_TYPE = CONTENT_TYPE_PLAIN_0_0_4
_METHODS = {"DELETE", "GET", "HEAD", "PATCH", "POST", "PUT"}
_REQUEST = (0.005, 0.01, 0.025, 0.05, 0.1, 0.25, 0.5, 1, 2.5, 5, 10, 30)
_PLAN = (1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1800)
_GAP = (0, 0.0001, 0.0005, 0.001, 0.0025, 0.005, 0.01, 0.02, 0.05, 0.1)
_WASTE = (1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 50)


@dataclass(frozen=True, slots=True)
class QueueFigures:
    """Plans and curves that wait and that are under way, on all processes of the database."""

    waiting: int
    running: int
    #: Seconds since the oldest of the waiting came; 0 where none waits.
    oldest_seconds: float


class Metrics:
    """The figures of one service process. `queue` is asked at every reading; it may fail."""

    def __init__(self, queue: Callable[[], QueueFigures]) -> None:
        disable_created_metrics()  # type: ignore[no-untyped-call]
        self.registry = registry = CollectorRegistry()
        Info("cutopt", "What is running.", registry=registry).info({"version": __version__})
        self._requests = Histogram(
            "cutopt_request_seconds",
            "Time to answer a request; of an event stream, until its head was sent.",
            ["method", "route", "status"],
            buckets=_REQUEST,
            registry=registry,
        )
        self._plans = Histogram(
            "cutopt_plan_seconds",
            "From the first claim of a plan or a curve to its end.",
            ["noun", "status"],
            buckets=_PLAN,
            registry=registry,
        )
        self._gaps = Histogram(
            "cutopt_plan_gap",
            "Gap of a planned material, as a share of its objective.",
            ["kind"],
            buckets=_GAP,
            registry=registry,
        )
        self._wastes = Histogram(
            "cutopt_waste_percent",
            "Waste percent of a planned material: 100 less its yield percent.",
            ["kind"],
            buckets=_WASTE,
            registry=registry,
        )
        self._crashes = Counter(
            "cutopt_plan_crashes", "Planning processes that died.", registry=registry
        )
        self._tickets = Histogram(
            "cutopt_ticket_seconds",
            "From a station's asking for a ticket to its having it.",
            buckets=_REQUEST,
            registry=registry,
        )
        self._streams = Gauge("cutopt_streams", "Open event streams.", registry=registry)
        registry.register(_QueueCollector(queue))
        ProcessCollector(registry=registry)

    def request(self, method: str, route: str, status: int, seconds: float) -> None:
        """A request was answered; `route` is a template such as `/plans/{plan}`."""
        known = method if method in _METHODS else "other"
        self._requests.labels(known, route, str(status)).observe(seconds)

    def plan_ended(
        self,
        noun: str,
        status: str,
        seconds: float,
        materials: Iterable[Mapping[str, Any]] = (),
    ) -> None:
        """A plan or a curve (`noun`) ended; `materials` are a plan's figures, each one's."""
        self._plans.labels(noun, status).observe(seconds)
        for figures in materials:
            self._gaps.labels(figures["kind"]).observe(figures["gap"])
            self._wastes.labels(figures["kind"]).observe(figures["waste_percent"])

    def plan_crashed(self) -> None:
        """A planning process died."""
        self._crashes.inc()

    def count_streams(self, count: Callable[[], int]) -> None:
        """Ask `count` for the open event streams at every reading."""
        self._streams.set_function(lambda: float(count()))

    def ticket(self, seconds: float) -> None:
        """A station has the ticket that it asked for."""
        self._tickets.observe(seconds)

    def text(self) -> bytes:
        """Everything, as it is read."""
        return generate_latest(self.registry)


class _QueueCollector(Collector):
    """The queue as the database has it at the moment of reading."""

    def __init__(self, queue: Callable[[], QueueFigures]) -> None:
        self._queue = queue

    def describe(self) -> Iterable[Metric]:
        """Nothing is asked while the registry is set up."""
        return []

    def collect(self) -> Iterator[Metric]:
        """Whether the database answers and, where it does, its queue."""
        try:
            figures: QueueFigures | None = self._queue()
        except Exception:  # that it does not answer is a figure too
            figures = None
        yield GaugeMetricFamily(
            "cutopt_database_up", "1 where the database answers.", value=float(figures is not None)
        )
        if figures is None:
            return
        plans = GaugeMetricFamily(
            "cutopt_queue_plans", "Plans and curves that have not ended.", labels=["status"]
        )
        plans.add_metric(["queued"], figures.waiting)
        plans.add_metric(["running"], figures.running)
        yield plans
        yield GaugeMetricFamily(
            "cutopt_queue_age_seconds",
            "Seconds that the oldest waiting plan or curve has waited; 0 where none waits.",
            value=figures.oldest_seconds,
        )
