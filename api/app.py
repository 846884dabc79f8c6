"""The application: limits around routes around services."""

from __future__ import annotations

import asyncio
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager

from fastapi import Depends, FastAPI

from api import problems
from api.edge import BodyGuard, HeadAsGet, Requests, SafeAnswers
from api.openapi import describe
from api.pages import PAGES
from api.routes import ROUTERS
from api.routes.common import known_query
from api.routes.deprecation import Deprecations
from api.services import make_health, make_services
from api.settings import Settings

__all__ = ["create_app"]


def create_app(settings: Settings, demo: bool = False) -> FastAPI:
    """Make the service. It begins to plan when it is started and hands plans back when it stops.

    A demo is entered without a password: for this machine alone.

    Raises CutoptError where the database's address can't be used.
    """
    services = make_services(settings, demo)

    @asynccontextmanager
    async def lifespan(app: FastAPI) -> AsyncIterator[None]:
        await asyncio.to_thread(services.start)
        try:
            yield
        finally:
            app.state.stopping.set()
            await asyncio.to_thread(services.stop)

    app = FastAPI(
        title="cutopt",
        openapi_url="/openapi.json",
        docs_url=None,
        redoc_url=None,
        redirect_slashes=False,
        lifespan=lifespan,
        dependencies=[Depends(known_query)],
    )
    app.state.settings = settings
    app.state.services = services
    app.state.streams = set()
    app.state.stopping = asyncio.Event()
    app.state.health = make_health(
        services.database, services.planner, settings, app.state.stopping.is_set
    )
    services.metrics.count_streams(lambda: len(app.state.streams))
    for router in (*ROUTERS, *PAGES):
        app.include_router(router)
    problems.install(app)
    app.openapi = lambda: describe(app)  # type: ignore[method-assign]
    # The last one added is the first to see a request.
    app.add_middleware(Deprecations)
    app.add_middleware(BodyGuard, most=settings.body_bytes, seconds=settings.body_seconds)
    app.add_middleware(HeadAsGet)
    app.add_middleware(Requests, metrics=services.metrics)
    app.add_middleware(SafeAnswers)
    return app
