"""The documents that go over the wire, with an example of each.

Figures here are for showing; the exact ones are in plan.json and the CSV files.
"""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date, datetime
from enum import StrEnum
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field, PlainSerializer

from cutopt.records import Fault as LibraryFault

__all__ = [
    "Check",
    "CheckResult",
    "CutRows",
    "Day",
    "DayDocument",
    "DayPage",
    "DaySummary",
    "Failure",
    "Fault",
    "MaterialProgress",
    "MaterialResult",
    "NewPlan",
    "OrderRows",
    "Outcome",
    "Plan",
    "PlanDocument",
    "PlanPage",
    "PlanStatus",
    "PlanSummary",
    "Problem",
    "ProblemKind",
    "ProblemKindPage",
    "RackRows",
    "ReadFault",
    "SheetCutRows",
    "State",
    "Unplanned",
    "YieldRows",
    "read_faults",
]

#: The largest seed: what fits a signed 32-bit number.
LARGEST_SEED = 2**31 - 1
#: Days in one plan, and the longest search in seconds.
MOST_DAYS = 31
MOST_SECONDS = 3600


def _utc(moment: datetime) -> str:
    return moment.strftime("%Y-%m-%dT%H:%M:%S.%f")[:-3] + "Z"


Moment = Annotated[
    datetime,
    PlainSerializer(_utc, return_type=str),
    Field(json_schema_extra={"format": "date-time"}),
]


class _Shape(BaseModel):
    """What is sent in may hold nothing unknown."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class PlanStatus(StrEnum):
    """Where a plan stands.

    `stopped`: cancelled; the best plan so far is kept where there was one. `failed`: there is no
    plan, and `failure` says why.
    """

    QUEUED = "queued"
    RUNNING = "running"
    DONE = "done"
    STOPPED = "stopped"
    FAILED = "failed"


class Outcome(StrEnum):
    """What came of a plan, as the command's exit codes say it: 0, 3, 2, 4.

    `not-cuttable`: something can't be cut from the stock offered, the rest is planned; `refused`:
    the days can't be planned together; `does-not-check`: the plan broke a promise and was withheld.
    """

    PLANNED = "planned"
    NOT_CUTTABLE = "not-cuttable"
    REFUSED = "refused"
    DOES_NOT_CHECK = "does-not-check"


class ReadFault(_Shape):
    """One thing wrong in what was read: where, what, what was read, what would be right."""

    file: str = Field(examples=["cuts/walls.csv"])
    row: int = Field(description="As an editor counts; the header is 1, 0 means the whole file.")
    column: str
    wrong: str
    read: str
    right: str
    text: str = Field(description="All of it in one line.")


def read_faults(faults: Sequence[LibraryFault]) -> list[ReadFault]:
    """Faults of the library as they go over the wire."""
    return [
        ReadFault(
            file=fault.place.file,
            row=fault.place.row,
            column=fault.place.column,
            wrong=fault.wrong,
            read=fault.read,
            right=fault.right,
            text=str(fault),
        )
        for fault in faults
    ]


class Fault(_Shape):
    """One thing wrong with a request: where in it, what is wrong, what would be right."""

    place: str = Field(examples=["body.days[0]"])
    wrong: str
    read: str = ""
    right: str = ""


class ReadyPart(_Shape):
    """A part of the service, and how it is."""

    name: str = Field(examples=["database"])
    ok: bool
    told: str = Field(description="How it is, in words.", examples=["it answered in 2 ms"])
    needed: bool = Field(description="Whether the service is unready without it.")


class Problem(BaseModel):
    """An error, as RFC 9457 has it."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "type": "/problems/not-found",
                    "title": "Nothing is here",
                    "status": 404,
                    "detail": "there is no day 'spring'",
                    "instance": "/days/spring",
                }
            ]
        }
    )

    type: str = Field(description="What kind of problem, and where it is described.")
    title: str
    status: int = Field(ge=400, le=599)
    detail: str
    instance: str = Field(description="The path that was asked.")
    request: str | None = Field(
        default=None,
        description="The request's id, as in the header X-Request-ID and in the service's log.",
    )
    faults: list[ReadFault | Fault] | None = Field(
        default=None, description="Everything that is wrong, where it can be told one by one."
    )
    parts: list[ReadyPart] | None = Field(
        default=None, description="Of a service that is not ready, how each part is."
    )


class ProblemKind(_Shape):
    """A kind of problem, described."""

    type: str
    title: str
    status: int
    remedy: str = Field(description="What to do about it.")


class ProblemKindPage(_Shape):
    """Kinds of problems, by their status."""

    items: list[ProblemKind]
    next: str | None = Field(description="The next page, where there is one.")


class State(_Shape):
    """Whether the service is alive."""

    status: Literal["ok"]


class Readiness(_Shape):
    """Whether the service is ready, part by part."""

    status: Literal["ok"]
    parts: list[ReadyPart]


class DaySummary(_Shape):
    """A day in a list."""

    id: str
    name: str
    plant: str
    date: date
    unit: Literal["in", "mm"]
    rows: int = Field(description="Rows of the cut lists.")
    pieces: int = Field(description="Pieces asked for; a field or a run counts as one.")
    created: Moment


class Day(DaySummary):
    """A day: what it asks for, and what a person should look at before it is cut."""

    sections: list[str]
    materials: list[str]
    files: list[str] = Field(description="The files it came as; `day.json` for a JSON document.")
    digest: str = Field(description="SHA-256 over names and contents of its files.")
    warnings: list[ReadFault]


class DayPage(_Shape):
    """Days, the newest first."""

    items: list[DaySummary]
    next: str | None = Field(description="The next page, where there is one.")


class NewPlan(_Shape):
    """What is to be planned."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [{"days": ["8f14e45fceea467a9d0c1f2b3a4c5d6e"], "seconds": 60, "seed": 1}]
        }
    )

    days: list[Annotated[str, Field(min_length=1, max_length=64)]] = Field(
        min_length=1,
        max_length=MOST_DAYS,
        description="Ids of days that are planned together, against the stock of the first.",
    )
    seconds: float = Field(
        default=60.0,
        gt=0,
        le=MOST_SECONDS,
        description="A guard on the search; a usual day ends by itself well before.",
    )
    seed: int = Field(default=1, ge=0, le=LARGEST_SEED, description="Same seed, same plan.")


class MaterialProgress(_Shape):
    """How far one group of materials is."""

    materials: list[str]
    phase: str
    objective: float | None
    bound: float | None
    gap: float | None
    done: bool


class Unplanned(_Shape):
    """Parts that can't be cut from the stock offered."""

    section: str
    mark: str
    length: str
    width: str | None
    qty: int
    reason: str


class MaterialResult(_Shape):
    """The figures of one material's plan. Money in dollars."""

    material: str
    kind: Literal["lumber", "sheet"]
    pieces: int
    bought: int
    on_hand: int
    layouts: int
    patterns: int
    joints: int
    cost: float
    drop_credit: float
    joint_cost: float
    objective: float
    bound: float
    gap: float
    joint_with: list[str]
    status: Literal["optimal", "best-found", "infeasible"]
    stop: str
    yield_percent: float
    waste_percent: float
    seconds: float
    shortages: list[str] = Field(
        default_factory=list,
        description="Why it can't cost less: the dearest sizes and the limits that bind, in words.",
    )
    unplanned: list[Unplanned]


class Failure(_Shape):
    """Why a plan failed."""

    detail: str
    faults: list[ReadFault] = Field(description="Where the days can't be planned together.")
    promises: list[str] = Field(description="Where the plan does not check: what it breaks.")


class PlanSummary(_Shape):
    """A plan in a list."""

    id: str
    status: PlanStatus
    outcome: Outcome | None = Field(description="Null until it ended with one.")
    days: list[str]
    seconds: float
    seed: int
    cancel_asked: bool
    created: Moment
    started: Moment | None
    ended: Moment | None


class Plan(PlanSummary):
    """A plan: how far it is, what came of it, where its files are."""

    progress: list[MaterialProgress]
    materials: list[MaterialResult] | None = Field(description="Null until there is a plan.")
    objective: float | None = Field(description="In all: stock, less kept drops, plus joints.")
    bound: float | None = Field(description="No plan for the same input costs less.")
    failure: Failure | None = Field(description="Why there is no plan, where it failed.")
    files: dict[str, str] = Field(description="Where its files are, by name.")


class PlanPage(_Shape):
    """Plans, the newest first."""

    items: list[PlanSummary]
    next: str | None = Field(description="The next page, where there is one.")


class Check(BaseModel):
    """A plan to be checked against days alone."""

    model_config = ConfigDict(extra="forbid")

    days: list[Annotated[str, Field(min_length=1, max_length=64)]] = Field(
        min_length=1,
        max_length=MOST_DAYS,
        description="Ids of the days, as they were planned together.",
    )
    plan: Any = Field(description="A plan.json.", json_schema_extra={"type": "object"})
    tables: dict[str, str] = Field(
        default_factory=dict,
        description="Texts of the CSV files beside it, where wanted.",
        json_schema_extra={
            "propertyNames": {
                "enum": ["stock_order.csv", "cut_list.csv", "cuts.csv", "yield.csv", "rack.csv"]
            }
        },
    )


class DayDocument(BaseModel):
    """A day as one JSON document: what day.toml, stock.csv and cuts/*.csv hold."""

    model_config = ConfigDict(extra="forbid")

    day: dict[str, Any] = Field(description="The keys of day.toml.")
    stock: list[dict[str, Any]] | None = Field(
        default=None,
        description="The rows of stock.csv by column; absent only where a later day of a plan "
        "uses the first day's.",
    )
    cuts: list[dict[str, Any]] = Field(
        description="The rows of the cut lists by column; `file` names the list, such as walls."
    )


class PlanDocument(BaseModel):
    """plan.json, as README.md describes it."""

    format: Literal["cutopt-plan-1"]
    unit: Literal["in", "mm"]
    materials: list[dict[str, Any]]


class _Row(BaseModel):
    """A row of a result; lengths in the plan's unit."""

    material: str


class OrderRow(_Row):
    """A line of the stock order."""

    length: float
    width: float | None
    pieces: int
    bundles: int | None
    board_feet: float | None
    square_feet: float | None
    price: float
    per: Literal["each", "LF", "MBF", "MSF"]
    extension: float


class CutRow(_Row):
    """A part of a layout; `stop` is the running measure from the squared head to its far end."""

    layout: str
    pattern: str
    count: int
    stock_length: float
    stock_width: float | None
    source: Literal["buy", "on-hand"]
    stop: float
    length: float
    width: float | None
    section: str
    jig: str
    mark: str
    turned: Literal["yes", "no"]


class SheetCutRow(_Row):
    """A saw cut of a sheet; `measure` from the piece's edge named, `fence` from the fresh edge."""

    layout: str
    pattern: str
    count: int
    cut: int
    stage: int
    direction: Literal["rip", "crosscut"]
    piece: str
    measure: float
    from_: str = Field(alias="from")
    fence: float
    yields: str
    marks: str


class YieldRow(_Row):
    """Where one material goes; `input` is the sum of the six amounts behind it."""

    input: float
    parts: float
    kerf: float
    trim: float
    kept_drop: float
    waste_drop: float
    scrap: float
    yield_percent: float
    waste_percent: float
    cost_in: float
    cost_waste: float


class RackRow(_Row):
    """Kept drops of one size, as a row of stock.csv; a length with `mm` where the unit differs."""

    kind: Literal["lumber", "sheet"]
    nominal: str | None
    length: float | str
    width: float | str | None
    price: float
    per: Literal["each", "LF", "MBF", "MSF"]
    on_hand: int
    limit: int
    bundle: int | None
    lot: str | None
    edges: str | None


class OrderRows(BaseModel):
    """The stock order."""

    rows: list[OrderRow]


class CutRows(BaseModel):
    """The cut list, in cutting order."""

    rows: list[CutRow]


class SheetCutRows(BaseModel):
    """The saw cuts of the sheets, in the order to be made."""

    rows: list[SheetCutRow]


class YieldRows(BaseModel):
    """The yield."""

    rows: list[YieldRow]


class RackRows(BaseModel):
    """What goes to the rack."""

    rows: list[RackRow]


class CheckResult(_Shape):
    """Whether a plan keeps its promises."""

    checks: bool
    faults: list[str] = Field(description="The promises that it breaks, each in words.")
