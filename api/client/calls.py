"""Calls of the service, made from its description by `python -m api.client`; not to be edited."""

# ruff: noqa: N818

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping
from typing import Any, ClassVar, Literal, NotRequired, TypedDict

from api.client.transport import Event, Files, ProblemError, Reply, Transport


class Act(TypedDict):
    """Who did what, and what came of it."""

    act: str
    moment: str
    name: str
    number: int
    outcome: str
    request: str
    target: str
    who: Literal["person", "station", "nobody"]


class ActPage(TypedDict):
    """Acts, the newest first."""

    items: list[Act]
    next: str | None


class Check(TypedDict):
    """A plan to be checked against days alone."""

    days: list[str]
    plan: dict[str, Any]
    tables: NotRequired[dict[str, str]]


class CheckResult(TypedDict):
    """Whether a plan keeps its promises."""

    checks: bool
    faults: list[str]


class ChosenPassword(TypedDict):
    """A password that a person chose for themselves."""

    link: str
    password: str


class Curve(TypedDict):
    """A curve: how far it is, and its points once it has ended."""

    cancel_asked: bool
    created: str
    curves: list[MaterialCurve] | None
    days: list[str]
    ended: str | None
    failure: Failure | None
    files: dict[str, str]
    id: str
    of: Literal["joints", "setups", "lengths"]
    outcome: Outcome | None
    progress: list[MaterialProgress]
    seconds: float
    seed: int
    started: str | None
    status: PlanStatus


class CurvePage(TypedDict):
    """Curves, the newest first."""

    items: list[CurveSummary]
    next: str | None


class CurvePoint(TypedDict):
    """What the best plan found under one setting comes to. Money in dollars."""

    bound: float | None
    choice: bool
    cost: float
    joints: int
    lengths: NotRequired[int | None]
    objective: float
    setting: str
    setups: int
    sticks: int


class CurveSummary(TypedDict):
    """A curve in a list."""

    cancel_asked: bool
    created: str
    days: list[str]
    ended: str | None
    id: str
    of: Literal["joints", "setups", "lengths"]
    outcome: Outcome | None
    seconds: float
    seed: int
    started: str | None
    status: PlanStatus


class CutRow(TypedDict):
    """A part of a layout; `stop` is the running measure from the squared head to its far end."""

    count: int
    jig: str
    layout: str
    length: float
    mark: str
    material: str
    pattern: str
    section: str
    source: Literal["buy", "on-hand"]
    stock_length: float
    stock_width: float | None
    stop: float
    turned: Literal["yes", "no"]
    width: float | None


class CutRows(TypedDict):
    """The cut list, in cutting order."""

    rows: list[CutRow]


class Day(TypedDict):
    """A day: what it asks for, and what a person should look at before it is cut."""

    created: str
    date: str
    digest: str
    files: list[str]
    id: str
    materials: list[str]
    name: str
    pieces: int
    plant: str
    rows: int
    sections: list[str]
    unit: Literal["in", "mm"]
    warnings: list[ReadFault]


class DayDocument(TypedDict):
    """A day as one JSON document: what day.toml, stock.csv and cuts/*.csv hold."""

    cuts: list[dict[str, Any]]
    day: dict[str, Any]
    stock: NotRequired[list[dict[str, Any]] | None]


class DayPage(TypedDict):
    """Days, the newest first."""

    items: list[DaySummary]
    next: str | None


class DaySummary(TypedDict):
    """A day in a list."""

    created: str
    date: str
    id: str
    name: str
    pieces: int
    plant: str
    rows: int
    unit: Literal["in", "mm"]


class Failure(TypedDict):
    """Why a plan failed."""

    detail: str
    faults: list[ReadFault]
    promises: list[str]


class Fault(TypedDict):
    """One thing wrong with a request: where in it, what is wrong, what would be right."""

    place: str
    read: NotRequired[str]
    right: NotRequired[str]
    wrong: str


class Link(TypedDict):
    """A link that is good once. It is told this once, and kept as a digest only."""

    path: str
    person: Person
    seconds: int


class MaterialCurve(TypedDict):
    """The points of materials that are planned together."""

    materials: list[str]
    note: str
    points: list[CurvePoint]


class MaterialProgress(TypedDict):
    """How far one group of materials is."""

    bound: float | None
    done: bool
    gap: float | None
    materials: list[str]
    objective: float | None
    phase: str


class MaterialResult(TypedDict):
    """The figures of one material's plan. Money in dollars."""

    bought: int
    bound: float
    cost: float
    drop_credit: float
    gap: float
    joint_cost: float
    joint_with: list[str]
    joints: int
    kind: Literal["lumber", "sheet"]
    layouts: int
    material: str
    objective: float
    on_hand: int
    patterns: int
    pieces: int
    seconds: float
    shortages: NotRequired[list[str]]
    status: Literal["optimal", "best-found", "infeasible"]
    stop: str
    unplanned: list[Unplanned]
    waste_percent: float
    yield_percent: float


class Me(TypedDict):
    """Who is signed in, and what they may do."""

    csrf: str
    kind: Literal["person", "station"]
    name: str
    plant: str | None
    plant_name: str
    rights: list[Right]
    role: Role
    zone: str


class NewCurve(TypedDict):
    """What a curve is wanted of."""

    days: list[str]
    of: Literal["joints", "setups", "lengths"]
    seconds: NotRequired[float]
    seed: NotRequired[int]


class NewPerson(TypedDict):
    """Somebody to be let in."""

    group: NotRequired[bool]
    name: str
    plant: NotRequired[str | None]
    role: Literal["planner", "purchasing", "accountant", "admin"]


class NewPlan(TypedDict):
    """What is to be planned."""

    days: list[str]
    seconds: NotRequired[float]
    seed: NotRequired[int]


class NewStation(TypedDict):
    """A station to be let in; a program may have another role, but never an admin's."""

    name: str
    plant: NotRequired[str | None]
    role: NotRequired[Literal["station", "planner", "purchasing", "accountant"]]


class OrderRow(TypedDict):
    """A line of the stock order."""

    board_feet: float | None
    bundles: int | None
    extension: float
    length: float
    material: str
    per: Literal["each", "LF", "MBF", "MSF"]
    pieces: int
    price: float
    square_feet: float | None
    width: float | None


class OrderRows(TypedDict):
    """The stock order."""

    rows: list[OrderRow]


Outcome = Literal["planned", "not-cuttable", "refused", "does-not-check"]


class Pairing(TypedDict):
    """A pairing code, as it was shown or read from the QR code."""

    code: str


class PairingCode(TypedDict):
    """A code that is good once, for a few minutes, and takes the place of the one before."""

    code: str
    path: str
    qr: str
    seconds: int
    station: Station


class Person(TypedDict):
    """A person."""

    active: bool
    created: str
    id: str
    name: str
    password_set: bool
    plant: str | None
    role: Literal["planner", "purchasing", "accountant", "admin"]


class PersonChange(TypedDict):
    """What is to be otherwise; what is absent stays."""

    active: NotRequired[bool | None]
    role: NotRequired[Literal["planner", "purchasing", "accountant", "admin"] | None]


class PersonPage(TypedDict):
    """People, the newest first."""

    items: list[Person]
    next: str | None


class Plan(TypedDict):
    """A plan: how far it is, what came of it, where its files are."""

    bound: float | None
    cancel_asked: bool
    created: str
    days: list[str]
    ended: str | None
    failure: Failure | None
    files: dict[str, str]
    id: str
    materials: list[MaterialResult] | None
    objective: float | None
    outcome: Outcome | None
    progress: list[MaterialProgress]
    seconds: float
    seed: int
    started: str | None
    status: PlanStatus


class PlanDocument(TypedDict):
    """plan.json, as README.md describes it."""

    format: Literal["cutopt-plan-1"]
    materials: list[dict[str, Any]]
    unit: Literal["in", "mm"]


class PlanPage(TypedDict):
    """Plans, the newest first."""

    items: list[PlanSummary]
    next: str | None


PlanStatus = Literal["queued", "running", "done", "stopped", "failed"]


class PlanSummary(TypedDict):
    """A plan in a list."""

    cancel_asked: bool
    created: str
    days: list[str]
    ended: str | None
    id: str
    outcome: Outcome | None
    seconds: float
    seed: int
    started: str | None
    status: PlanStatus


class Plant(TypedDict):
    """A plant."""

    created: str
    id: str
    name: str
    unit: Literal["in", "mm"]
    zone: str


class PlantChange(TypedDict):
    """A plant's name, zone and unit."""

    name: str
    unit: Literal["in", "mm"]
    zone: str


class PlantPage(TypedDict):
    """Plants, the newest first."""

    items: list[Plant]
    next: str | None


class Problem(TypedDict):
    """An error, as RFC 9457 has it."""

    detail: str
    faults: NotRequired[list[ReadFault | Fault] | None]
    instance: str
    parts: NotRequired[list[ReadyPart] | None]
    request: NotRequired[str | None]
    status: int
    title: str
    type: str


class ProblemKind(TypedDict):
    """A kind of problem, described."""

    remedy: str
    status: int
    title: str
    type: str


class ProblemKindPage(TypedDict):
    """Kinds of problems, by their status."""

    items: list[ProblemKind]
    next: str | None


class RackRow(TypedDict):
    """Kept drops of one size, as a row of stock.csv; a length with `mm` where the unit [...]"""

    bundle: int | None
    edges: str | None
    kind: Literal["lumber", "sheet"]
    length: float | str
    limit: int
    lot: str | None
    material: str
    nominal: str | None
    on_hand: int
    per: Literal["each", "LF", "MBF", "MSF"]
    price: float
    width: float | str | None


class RackRows(TypedDict):
    """What goes to the rack."""

    rows: list[RackRow]


class ReadFault(TypedDict):
    """One thing wrong in what was read: where, what, what was read, what would be right."""

    column: str
    file: str
    read: str
    right: str
    row: int
    text: str
    wrong: str


class Readiness(TypedDict):
    """Whether the service is ready, part by part."""

    parts: list[ReadyPart]
    status: Literal["ok"]


class ReadyPart(TypedDict):
    """A part of the service, and how it is."""

    name: str
    needed: bool
    ok: bool
    told: str


Right = Literal[
    "days.read",
    "days.write",
    "plans.read",
    "plans.start",
    "order.read",
    "cuts.read",
    "yield.read",
    "state.read",
    "people.manage",
    "stations.manage",
    "audit.read",
    "settings.manage",
]

Role = Literal["planner", "purchasing", "accountant", "admin", "station"]


class SetUp(TypedDict):
    """The first person, an admin, and the first plant."""

    link: str
    name: str
    password: str
    plant: str
    unit: NotRequired[Literal["in", "mm"]]
    zone: NotRequired[str]


#: A saw cut of a sheet; `measure` from the piece's edge named, `fence` from the [...]
SheetCutRow = TypedDict(
    "SheetCutRow",
    {
        "count": "int",
        "cut": "int",
        "direction": Literal["rip", "crosscut"],
        "fence": "float",
        "from": "str",
        "layout": "str",
        "marks": "str",
        "material": "str",
        "measure": "float",
        "pattern": "str",
        "piece": "str",
        "stage": "int",
        "yields": "str",
    },
)


class SheetCutRows(TypedDict):
    """The saw cuts of the sheets, in the order to be made."""

    rows: list[SheetCutRow]


class SignIn(TypedDict):
    """Who signs in."""

    name: str
    password: str


class State(TypedDict):
    """Whether the service is alive."""

    status: Literal["ok"]


class Station(TypedDict):
    """A saw's screen, or a program."""

    active: bool
    created: str
    id: str
    name: str
    paired: bool
    plant: str
    role: Literal["station", "planner", "purchasing", "accountant"]


class StationKey(TypedDict):
    """A station's key. It is told this once, and kept as a digest only."""

    key: str
    role: Literal["station", "planner", "purchasing", "accountant"]
    station: str


class StationPage(TypedDict):
    """Stations, the newest first."""

    items: list[Station]
    next: str | None


class Unplanned(TypedDict):
    """Parts that can't be cut from the stock offered."""

    length: str
    mark: str
    qty: int
    reason: str
    section: str
    width: str | None


class YieldRow(TypedDict):
    """Where one material goes; `input` is the sum of the six amounts behind it."""

    cost_in: float
    cost_waste: float
    input: float
    kept_drop: float
    kerf: float
    material: str
    parts: float
    scrap: float
    trim: float
    waste_drop: float
    waste_percent: float
    yield_percent: float


class YieldRows(TypedDict):
    """The yield."""

    rows: list[YieldRow]


class BusyProblem(ProblemError):
    """There is no room now."""


class ChangedMeanwhileProblem(ProblemError):
    """It was changed meanwhile."""


class FinishedProblem(ProblemError):
    """It has ended."""


class InUseProblem(ProblemError):
    """A plan or a curve uses this day."""


class InputRefusedProblem(ProblemError):
    """The day has faults."""


class InternalProblem(ProblemError):
    """A fault of the service."""


class KeyInFlightProblem(ProblemError):
    """This very request is being carried out."""


class KeyUsedOtherwiseProblem(ProblemError):
    """This key came with another request."""


class MalformedProblem(ProblemError):
    """The request can't be read."""


class NoResultProblem(ProblemError):
    """It ended without a result."""


class NotAcceptableProblem(ProblemError):
    """It is not kept in that form."""


class NotAllowedProblem(ProblemError):
    """You may not do this."""


class NotFinishedProblem(ProblemError):
    """It has not ended."""


class NotFoundProblem(ProblemError):
    """Nothing is here."""


class NotPossibleProblem(ProblemError):
    """It would leave nobody to manage."""


class NotReadyProblem(ProblemError):
    """The service is not ready."""


class NotSignedInProblem(ProblemError):
    """You are not signed in."""


class PreconditionRequiredProblem(ProblemError):
    """It must be said which state is meant."""


class RequestInvalidProblem(ProblemError):
    """The request can't be carried out."""


class TimeoutProblem(ProblemError):
    """The request took too long to arrive."""


class TooLargeProblem(ProblemError):
    """The request is too large."""


class TooManyProblem(ProblemError):
    """It was tried too often."""


class UnsupportedMediaTypeProblem(ProblemError):
    """This form can't be read."""


class Client(Transport):
    """All calls of the service."""

    problems: ClassVar[Mapping[str, type[ProblemError]]] = {
        "busy": BusyProblem,
        "changed-meanwhile": ChangedMeanwhileProblem,
        "finished": FinishedProblem,
        "in-use": InUseProblem,
        "input-refused": InputRefusedProblem,
        "internal": InternalProblem,
        "key-in-flight": KeyInFlightProblem,
        "key-used-otherwise": KeyUsedOtherwiseProblem,
        "malformed": MalformedProblem,
        "no-result": NoResultProblem,
        "not-acceptable": NotAcceptableProblem,
        "not-allowed": NotAllowedProblem,
        "not-finished": NotFinishedProblem,
        "not-found": NotFoundProblem,
        "not-possible": NotPossibleProblem,
        "not-ready": NotReadyProblem,
        "not-signed-in": NotSignedInProblem,
        "precondition-required": PreconditionRequiredProblem,
        "request-invalid": RequestInvalidProblem,
        "timeout": TimeoutProblem,
        "too-large": TooLargeProblem,
        "too-many": TooManyProblem,
        "unsupported-media-type": UnsupportedMediaTypeProblem,
    }

    def list_acts(self, *, limit: int | None = None, after: int | None = None) -> Reply[ActPage]:
        """Read who did what: the newest first."""
        return self.call(
            "GET", "/audit", {}, query={"limit": limit, "after": after}, read=json.loads
        )

    def check_plan(self, body: Check, *, key: str | None = None) -> Reply[CheckResult]:
        """Check a plan: whether the plan keeps its promises; each that it breaks."""
        return self.call(
            "POST", "/check", {}, headers={"Idempotency-Key": key}, body=body, read=json.loads
        )

    def list_curves(
        self, *, limit: int | None = None, after: int | None = None, day: str | None = None
    ) -> Reply[CurvePage]:
        """List curves: curves, the newest first."""
        return self.call(
            "GET",
            "/curves",
            {},
            query={"limit": limit, "after": after, "day": day},
            read=json.loads,
        )

    def start_curve(self, body: NewCurve, *, key: str | None = None) -> Reply[Curve]:
        """Start a curve: the curve is queued."""
        return self.call(
            "POST", "/curves", {}, headers={"Idempotency-Key": key}, body=body, read=json.loads
        )

    def remove_curve(self, curve: str, *, if_match: str, key: str | None = None) -> Reply[None]:
        """Remove a curve: the curve is gone."""
        return self.call(
            "DELETE",
            "/curves/{curve}",
            {"curve": curve},
            headers={"Idempotency-Key": key, "If-Match": if_match},
            read=lambda _: None,
        )

    def read_curve(self, curve: str, *, if_none_match: str | None = None) -> Reply[Curve]:
        """Read a curve: the curve."""
        return self.call(
            "GET",
            "/curves/{curve}",
            {"curve": curve},
            headers={"If-None-Match": if_none_match},
            read=json.loads,
        )

    def cancel_curve(
        self, curve: str, *, if_match: str | None = None, key: str | None = None
    ) -> Reply[Curve]:
        """Cancel a curve: the curve ends with the points that it has; its status tells when."""
        return self.call(
            "POST",
            "/curves/{curve}/cancel",
            {"curve": curve},
            headers={"If-Match": if_match, "Idempotency-Key": key},
            read=json.loads,
        )

    def read_curve_drawing(self, curve: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the drawing: the curves drawn one under the other, a table under each, without
        outside links."""
        return self.call(
            "GET",
            "/curves/{curve}/drawing",
            {"curve": curve},
            headers={"If-None-Match": if_none_match},
            read=bytes,
        )

    def read_curve_points(self, curve: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the points: a row per point, exact, byte for byte as the command writes it."""
        return self.call(
            "GET",
            "/curves/{curve}/points",
            {"curve": curve},
            headers={"If-None-Match": if_none_match},
            read=bytes,
        )

    def list_days(self, *, limit: int | None = None, after: int | None = None) -> Reply[DayPage]:
        """List days: days, the newest first."""
        return self.call(
            "GET", "/days", {}, query={"limit": limit, "after": after}, read=json.loads
        )

    def post_day(
        self,
        body: DayDocument,
        *,
        name: str | None = None,
        first: str | None = None,
        plant: str | None = None,
        key: str | None = None,
    ) -> Reply[Day]:
        """Post a day: the day was read without a fault and is kept."""
        return self.call(
            "POST",
            "/days",
            {},
            query={"name": name, "first": first, "plant": plant},
            headers={"Idempotency-Key": key},
            body=body,
            read=json.loads,
        )

    def post_day_files(
        self,
        files: Files,
        *,
        name: str | None = None,
        first: str | None = None,
        plant: str | None = None,
        key: str | None = None,
    ) -> Reply[Day]:
        """Post a day: the day was read without a fault and is kept."""
        return self.call(
            "POST",
            "/days",
            {},
            query={"name": name, "first": first, "plant": plant},
            headers={"Idempotency-Key": key},
            files=files,
            read=json.loads,
        )

    def remove_day(self, day: str, *, if_match: str, key: str | None = None) -> Reply[None]:
        """Remove a day: the day is gone."""
        return self.call(
            "DELETE",
            "/days/{day}",
            {"day": day},
            headers={"Idempotency-Key": key, "If-Match": if_match},
            read=lambda _: None,
        )

    def read_day(self, day: str, *, if_none_match: str | None = None) -> Reply[Day]:
        """Read a day: the day."""
        return self.call(
            "GET",
            "/days/{day}",
            {"day": day},
            headers={"If-None-Match": if_none_match},
            read=json.loads,
        )

    def is_alive(self) -> Reply[State]:
        """Whether the service is alive: it is."""
        return self.call("GET", "/livez", {}, read=json.loads)

    def read_metrics(self) -> Reply[bytes]:
        """Read what is measured: every figure, in the form that Prometheus reads."""
        return self.call("GET", "/metrics", {}, read=bytes)

    def pair_station(self, body: Pairing) -> Reply[StationKey]:
        """Exchange a pairing code for a key: the station's key, told this once."""
        return self.call("POST", "/pair", {}, body=body, read=json.loads)

    def choose_password(self, body: ChosenPassword) -> Reply[Me]:
        """Choose a password: a session has begun."""
        return self.call("POST", "/password", {}, body=body, read=json.loads)

    def list_people(
        self, *, limit: int | None = None, after: int | None = None
    ) -> Reply[PersonPage]:
        """List people: the newest first."""
        return self.call(
            "GET", "/people", {}, query={"limit": limit, "after": after}, read=json.loads
        )

    def add_person(self, body: NewPerson) -> Reply[Link]:
        """Let somebody in: they are let in; the link is told this once."""
        return self.call("POST", "/people", {}, body=body, read=json.loads)

    def read_person(self, person: str, *, if_none_match: str | None = None) -> Reply[Person]:
        """Read a person: the person."""
        return self.call(
            "GET",
            "/people/{person}",
            {"person": person},
            headers={"If-None-Match": if_none_match},
            read=json.loads,
        )

    def change_person(
        self, person: str, body: PersonChange, *, if_match: str, key: str | None = None
    ) -> Reply[Person]:
        """Change a person: the person."""
        return self.call(
            "PATCH",
            "/people/{person}",
            {"person": person},
            headers={"Idempotency-Key": key, "If-Match": if_match},
            body=body,
            read=json.loads,
        )

    def link_person(self, person: str) -> Reply[Link]:
        """Make a link to choose a password: the link, told this once."""
        return self.call("POST", "/people/{person}/link", {"person": person}, read=json.loads)

    def list_plans(
        self, *, limit: int | None = None, after: int | None = None, day: str | None = None
    ) -> Reply[PlanPage]:
        """List plans: plans, the newest first."""
        return self.call(
            "GET", "/plans", {}, query={"limit": limit, "after": after, "day": day}, read=json.loads
        )

    def start_plan(self, body: NewPlan, *, key: str | None = None) -> Reply[Plan]:
        """Start a plan: the plan is queued."""
        return self.call(
            "POST", "/plans", {}, headers={"Idempotency-Key": key}, body=body, read=json.loads
        )

    def remove_plan(self, plan: str, *, if_match: str, key: str | None = None) -> Reply[None]:
        """Remove a plan: the plan is gone."""
        return self.call(
            "DELETE",
            "/plans/{plan}",
            {"plan": plan},
            headers={"Idempotency-Key": key, "If-Match": if_match},
            read=lambda _: None,
        )

    def read_plan(self, plan: str, *, if_none_match: str | None = None) -> Reply[Plan]:
        """Read a plan: the plan."""
        return self.call(
            "GET",
            "/plans/{plan}",
            {"plan": plan},
            headers={"If-None-Match": if_none_match},
            read=json.loads,
        )

    def cancel_plan(
        self, plan: str, *, if_match: str | None = None, key: str | None = None
    ) -> Reply[Plan]:
        """Cancel a plan: the plan ends with the best that it has; its status tells when."""
        return self.call(
            "POST",
            "/plans/{plan}/cancel",
            {"plan": plan},
            headers={"If-Match": if_match, "Idempotency-Key": key},
            read=json.loads,
        )

    def read_cut_list(self, plan: str, *, if_none_match: str | None = None) -> Reply[CutRows]:
        """Read the cut list: a row per part of a layout, in cutting order."""
        return self.call(
            "GET",
            "/plans/{plan}/cut-list",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "application/json"},
            read=json.loads,
        )

    def read_cut_list_csv(self, plan: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the cut list: a row per part of a layout, in cutting order."""
        return self.call(
            "GET",
            "/plans/{plan}/cut-list",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "text/csv"},
            read=bytes,
        )

    def read_cuts(self, plan: str, *, if_none_match: str | None = None) -> Reply[SheetCutRows]:
        """Read the saw cuts of the sheets: a row per saw cut of a sheet, in the order to be
        made."""
        return self.call(
            "GET",
            "/plans/{plan}/cuts",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "application/json"},
            read=json.loads,
        )

    def read_cuts_csv(self, plan: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the saw cuts of the sheets: a row per saw cut of a sheet, in the order to be
        made."""
        return self.call(
            "GET",
            "/plans/{plan}/cuts",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "text/csv"},
            read=bytes,
        )

    def follow_plan(self, plan: str, *, last_event_id: str | None = None) -> Iterator[Event]:
        """Follow a plan: server-sent events `status`, `progress` and, as the last, `ended`,
        each with its JSON; comments in between while nothing happens."""
        return self.stream("/plans/{plan}/events", {"plan": plan}, {"last-event-id": last_event_id})

    def read_plan_document(
        self, plan: str, *, if_none_match: str | None = None
    ) -> Reply[PlanDocument]:
        """Read plan.json: the whole plan, exact, byte for byte as the command writes it."""
        return self.call(
            "GET",
            "/plans/{plan}/plan.json",
            {"plan": plan},
            headers={"If-None-Match": if_none_match},
            read=json.loads,
        )

    def read_rack(self, plan: str, *, if_none_match: str | None = None) -> Reply[RackRows]:
        """Read the rack: kept drops of sticks and sheets as rows of stock.csv, for the next
        day's."""
        return self.call(
            "GET",
            "/plans/{plan}/rack",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "application/json"},
            read=json.loads,
        )

    def read_rack_csv(self, plan: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the rack: kept drops of sticks and sheets as rows of stock.csv, for the next
        day's."""
        return self.call(
            "GET",
            "/plans/{plan}/rack",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "text/csv"},
            read=bytes,
        )

    def read_report(self, plan: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the report: figures and every layout drawn to scale, in one page without
        outside links."""
        return self.call(
            "GET",
            "/plans/{plan}/report",
            {"plan": plan},
            headers={"If-None-Match": if_none_match},
            read=bytes,
        )

    def read_stock_order(self, plan: str, *, if_none_match: str | None = None) -> Reply[OrderRows]:
        """Read the stock order: what must be bought."""
        return self.call(
            "GET",
            "/plans/{plan}/stock-order",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "application/json"},
            read=json.loads,
        )

    def read_stock_order_csv(self, plan: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the stock order: what must be bought."""
        return self.call(
            "GET",
            "/plans/{plan}/stock-order",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "text/csv"},
            read=bytes,
        )

    def read_yield(self, plan: str, *, if_none_match: str | None = None) -> Reply[YieldRows]:
        """Read the yield: where the material goes: feet of lumber, square feet of sheets."""
        return self.call(
            "GET",
            "/plans/{plan}/yield",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "application/json"},
            read=json.loads,
        )

    def read_yield_csv(self, plan: str, *, if_none_match: str | None = None) -> Reply[bytes]:
        """Read the yield: where the material goes: feet of lumber, square feet of sheets."""
        return self.call(
            "GET",
            "/plans/{plan}/yield",
            {"plan": plan},
            headers={"If-None-Match": if_none_match, "Accept": "text/csv"},
            read=bytes,
        )

    def list_plants(
        self, *, limit: int | None = None, after: int | None = None
    ) -> Reply[PlantPage]:
        """List plants: the newest first."""
        return self.call(
            "GET", "/plants", {}, query={"limit": limit, "after": after}, read=json.loads
        )

    def add_plant(self, body: PlantChange, *, key: str | None = None) -> Reply[Plant]:
        """Add a plant: the plant."""
        return self.call(
            "POST", "/plants", {}, headers={"Idempotency-Key": key}, body=body, read=json.loads
        )

    def read_plant(self, plant: str, *, if_none_match: str | None = None) -> Reply[Plant]:
        """Read a plant: the plant."""
        return self.call(
            "GET",
            "/plants/{plant}",
            {"plant": plant},
            headers={"If-None-Match": if_none_match},
            read=json.loads,
        )

    def change_plant(
        self, plant: str, body: PlantChange, *, if_match: str, key: str | None = None
    ) -> Reply[Plant]:
        """Change a plant: the plant."""
        return self.call(
            "PUT",
            "/plants/{plant}",
            {"plant": plant},
            headers={"Idempotency-Key": key, "If-Match": if_match},
            body=body,
            read=json.loads,
        )

    def list_problems(
        self, *, limit: int | None = None, after: int | None = None
    ) -> Reply[ProblemKindPage]:
        """List the kinds of problems: kinds of problems, by their status."""
        return self.call(
            "GET", "/problems", {}, query={"limit": limit, "after": after}, read=json.loads
        )

    def read_problem(self, name: str) -> Reply[ProblemKind]:
        """Read what a problem means: the kind."""
        return self.call("GET", "/problems/{name}", {"name": name}, read=json.loads)

    def is_ready(self) -> Reply[Readiness]:
        """Whether the service is ready: it is."""
        return self.call("GET", "/readyz", {}, read=json.loads)

    def sign_out(self) -> Reply[None]:
        """Sign out: the session has ended."""
        return self.call("DELETE", "/session", {}, read=lambda _: None)

    def read_session(self) -> Reply[Me]:
        """Read who is signed in: who it is."""
        return self.call("GET", "/session", {}, read=json.loads)

    def sign_in(self, body: SignIn) -> Reply[Me]:
        """Sign in: a session has begun."""
        return self.call("POST", "/session", {}, body=body, read=json.loads)

    def set_up(self, body: SetUp) -> Reply[Me]:
        """Set the service up: a session has begun."""
        return self.call("POST", "/set-up", {}, body=body, read=json.loads)

    def list_stations(
        self, *, limit: int | None = None, after: int | None = None
    ) -> Reply[StationPage]:
        """List stations: the newest first."""
        return self.call(
            "GET", "/stations", {}, query={"limit": limit, "after": after}, read=json.loads
        )

    def add_station(self, body: NewStation, *, key: str | None = None) -> Reply[Station]:
        """Let a station in: the station, not paired yet."""
        return self.call(
            "POST", "/stations", {}, headers={"Idempotency-Key": key}, body=body, read=json.loads
        )

    def read_station(self, station: str, *, if_none_match: str | None = None) -> Reply[Station]:
        """Read a station: the station."""
        return self.call(
            "GET",
            "/stations/{station}",
            {"station": station},
            headers={"If-None-Match": if_none_match},
            read=json.loads,
        )

    def pairing_code(self, station: str) -> Reply[PairingCode]:
        """Make a pairing code: the code, told this once."""
        return self.call("POST", "/stations/{station}/code", {"station": station}, read=json.loads)

    def end_station(
        self, station: str, *, if_match: str | None = None, key: str | None = None
    ) -> Reply[None]:
        """End a station: its key is no longer good."""
        return self.call(
            "POST",
            "/stations/{station}/end",
            {"station": station},
            headers={"If-Match": if_match, "Idempotency-Key": key},
            read=lambda _: None,
        )


__all__ = [
    "Act",
    "ActPage",
    "BusyProblem",
    "ChangedMeanwhileProblem",
    "Check",
    "CheckResult",
    "ChosenPassword",
    "Client",
    "Curve",
    "CurvePage",
    "CurvePoint",
    "CurveSummary",
    "CutRow",
    "CutRows",
    "Day",
    "DayDocument",
    "DayPage",
    "DaySummary",
    "Failure",
    "Fault",
    "FinishedProblem",
    "InUseProblem",
    "InputRefusedProblem",
    "InternalProblem",
    "KeyInFlightProblem",
    "KeyUsedOtherwiseProblem",
    "Link",
    "MalformedProblem",
    "MaterialCurve",
    "MaterialProgress",
    "MaterialResult",
    "Me",
    "NewCurve",
    "NewPerson",
    "NewPlan",
    "NewStation",
    "NoResultProblem",
    "NotAcceptableProblem",
    "NotAllowedProblem",
    "NotFinishedProblem",
    "NotFoundProblem",
    "NotPossibleProblem",
    "NotReadyProblem",
    "NotSignedInProblem",
    "OrderRow",
    "OrderRows",
    "Outcome",
    "Pairing",
    "PairingCode",
    "Person",
    "PersonChange",
    "PersonPage",
    "Plan",
    "PlanDocument",
    "PlanPage",
    "PlanStatus",
    "PlanSummary",
    "Plant",
    "PlantChange",
    "PlantPage",
    "PreconditionRequiredProblem",
    "Problem",
    "ProblemKind",
    "ProblemKindPage",
    "RackRow",
    "RackRows",
    "ReadFault",
    "Readiness",
    "ReadyPart",
    "RequestInvalidProblem",
    "Right",
    "Role",
    "SetUp",
    "SheetCutRow",
    "SheetCutRows",
    "SignIn",
    "State",
    "Station",
    "StationKey",
    "StationPage",
    "TimeoutProblem",
    "TooLargeProblem",
    "TooManyProblem",
    "Unplanned",
    "UnsupportedMediaTypeProblem",
    "YieldRow",
    "YieldRows",
]
