"""What each kind of problem means, for people: where a problem's `type` leads a browser."""

from __future__ import annotations

from typing import Annotated

from fastapi import Depends, Request, Response

from api.access.caller import public
from api.pages.looks import page, pages_router
from api.pages.viewer import Viewer, viewer_of
from api.problems import KINDS

__all__ = ["router"]

router = pages_router()


@router.get("/pages/problems", dependencies=[public])
def problems(request: Request, viewer: Annotated[Viewer, Depends(viewer_of)]) -> Response:
    """Every kind with its status and what to do about it."""
    return page(request, viewer, "problems.html", kinds=list(KINDS.values()))
