"""What a service refuses, in plain words; `api.problems` makes HTTP of it.

ServiceError
├── NotSignedIn       nobody is signed in, or with what is not known
├── NotAllowed        who is signed in may not do it
├── TooMany           it was tried too often; `seconds` says when to come back
├── NotPossible       it would leave nobody to manage
├── NotFound          no such day, plan or file
├── InUse             a day that a plan uses
├── NotFinished       a plan that is still waiting or running
├── Finished          a plan that has ended already
├── NoResult          a plan that ended without a result
├── ConditionMissing  a change that does not say which state it is of
├── ChangedMeanwhile  a change of a state that is no more
├── KeyInFlight       the same request, while it is carried out
├── KeyUsedOtherwise  a key that came with another request
├── RequestInvalid    what was asked can't be; a fault for each
├── NotReady          a part of the service can't work; `parts` says which
└── Busy              no room now; `seconds` says when to come back
"""

from __future__ import annotations

from collections.abc import Sequence

from api.operation import Part
from api.shapes import Fault

__all__ = [
    "Busy",
    "ChangedMeanwhile",
    "ConditionMissing",
    "Finished",
    "InUse",
    "KeyInFlight",
    "KeyUsedOtherwise",
    "NoResult",
    "NotAllowed",
    "NotFinished",
    "NotFound",
    "NotPossible",
    "NotReady",
    "NotSignedIn",
    "RequestInvalid",
    "ServiceError",
    "TooMany",
]


class ServiceError(Exception):
    """Any refusal of a service."""


class NotFound(ServiceError):  # noqa: N818
    """There is no such thing."""


class InUse(ServiceError):  # noqa: N818
    """It can't be removed while something else needs it."""


class NotFinished(ServiceError):  # noqa: N818
    """It can't be done before the plan has ended."""


class Finished(ServiceError):  # noqa: N818
    """It can't be done any more: the plan has ended."""


class NoResult(ServiceError):  # noqa: N818
    """The plan ended without one."""


class ConditionMissing(ServiceError):  # noqa: N818
    """Who changes or removes something says which state of it was seen."""


class ChangedMeanwhile(ServiceError):  # noqa: N818
    """It is no longer in the state that was seen."""


class KeyInFlight(ServiceError):  # noqa: N818
    """The same request is being carried out."""


class KeyUsedOtherwise(ServiceError):  # noqa: N818
    """The request's key came with another request before."""


class NotSignedIn(ServiceError):  # noqa: N818
    """Nobody is signed in, or with what is not known."""


class NotAllowed(ServiceError):  # noqa: N818
    """Whoever is signed in may not do it."""


class TooMany(ServiceError):  # noqa: N818
    """It was tried too often; `seconds` says when it may be tried again."""

    def __init__(self, message: str, seconds: int) -> None:
        super().__init__(message)
        self.seconds = seconds


class NotPossible(ServiceError):  # noqa: N818
    """It would leave the plant without what it needs: without an admin, say."""


class RequestInvalid(ServiceError):  # noqa: N818
    """What was asked can't be; `faults` holds every reason."""

    def __init__(self, faults: Sequence[Fault]) -> None:
        self.faults = tuple(faults)
        super().__init__("; ".join(f"{f.place}: {f.wrong}" for f in self.faults))


class Busy(ServiceError):  # noqa: N818
    """There is no room now; `seconds` says when to come back."""

    def __init__(self, message: str, seconds: int) -> None:
        super().__init__(message)
        self.seconds = seconds


class NotReady(ServiceError):  # noqa: N818
    """The service can't do all of its work now; `parts` tells of each part how it is."""

    def __init__(self, parts: Sequence[Part]) -> None:
        self.parts = tuple(parts)
        super().__init__("; ".join(f"{p.name}: {p.told}" for p in self.parts if not p.ok))
