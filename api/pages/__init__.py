"""Pages for people, made on the server from what the services give."""

from api.pages.home import router as home

__all__ = ["PAGES"]

PAGES = (home,)
