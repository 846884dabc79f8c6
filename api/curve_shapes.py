"""The documents of curves: cost against joints, set-ups or board lengths, as they go over the wire.

Figures here are for showing; the exact ones are in the CSV file.
"""

from __future__ import annotations

from typing import Literal

from pydantic import BaseModel, ConfigDict, Field

from api.shapes import Failure, MaterialProgress, NewPlan, PlanSummary

__all__ = [
    "Curve",
    "CurvePage",
    "CurvePoint",
    "CurveSummary",
    "MaterialCurve",
    "NewCurve",
    "Of",
]

Of = Literal["joints", "setups", "lengths"]


class _Shape(BaseModel):
    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)


class NewCurve(NewPlan):
    """What a curve is wanted of."""

    model_config = ConfigDict(
        json_schema_extra={
            "examples": [
                {
                    "days": ["8f14e45fceea467a9d0c1f2b3a4c5d6e"],
                    "of": "joints",
                    "seconds": 60,
                    "seed": 1,
                }
            ]
        }
    )

    of: Of = Field(
        description="What cost is set against: joints in runs, set-ups (different layouts), or the "
        "board lengths that ceilings buy."
    )


class CurvePoint(_Shape):
    """What the best plan found under one setting comes to. Money in dollars."""

    setting: str
    joints: int
    setups: int
    sticks: int
    cost: float = Field(description="Of the stock.")
    objective: float = Field(description="Stock, less kept drops, plus joints at that setting.")
    bound: float | None = Field(description="No plan at that setting costs less, where sought.")
    choice: bool = Field(
        description="No other has both fewer joints, set-ups or board lengths and lower cost."
    )
    lengths: int | None = Field(
        default=None, description="Different board lengths bought, where cost is set against them."
    )


class MaterialCurve(_Shape):
    """The points of materials that are planned together."""

    materials: list[str]
    points: list[CurvePoint]
    note: str = Field(description="What is to be known of all points, or why there are none.")


class CurveSummary(PlanSummary):
    """A curve in a list."""

    of: Of


class Curve(CurveSummary):
    """A curve: how far it is, and its points once it has ended."""

    progress: list[MaterialProgress]
    curves: list[MaterialCurve] | None = Field(description="Null until there is a result.")
    failure: Failure | None = Field(description="Why there is no result, where it failed.")
    files: dict[str, str] = Field(description="Where its table and its drawing are, by name.")


class CurvePage(_Shape):
    """Curves, the newest first."""

    items: list[CurveSummary]
    next: str | None = Field(description="The next page, where there is one.")
