"""Pages for people, made on the server from what the services give."""

from api.pages.cuts import router as cuts
from api.pages.days import router as days
from api.pages.home import router as home
from api.pages.looks import static
from api.pages.papers import router as papers
from api.pages.people import router as people
from api.pages.plans import router as plans
from api.pages.problems import router as problems
from api.pages.signing import router as signing

__all__ = ["PAGES"]

PAGES = (home, days, plans, papers, cuts, people, problems, signing, static)
