"""A typed client of the service, made from its description.

>>> with Client("http://127.0.0.1:8000", key="...") as service:  # doctest: +SKIP
...     day = service.post_day_files([("day.toml", b"..."), ("stock.csv", b"...")])
...     plan = service.start_plan({"days": [day.value["id"]]})

Every call returns a `Reply`: its `value` as the description has it, its `tag` for If-Match. What
changes something carries a key of its own, so that it may be sent again where no answer came. A
problem is raised as the exception of its kind, a `ProblemError`.
"""

from api.client.calls import Client
from api.client.transport import Event, ProblemError, Reply

__all__ = ["Client", "Event", "ProblemError", "Reply"]
