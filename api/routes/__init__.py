"""Requests in, answers out; everything else is done by the services."""

from api.routes.checks import router as checks
from api.routes.curves import router as curves
from api.routes.days import router as days
from api.routes.people import router as people
from api.routes.plans import router as plans
from api.routes.results import router as results
from api.routes.signing import router as signing
from api.routes.state import router as state

__all__ = ["ROUTERS"]

ROUTERS = (days, plans, results, curves, checks, signing, people, state)
