"""A Dask cluster as an executor, for `--scheduler ADDRESS`."""

from __future__ import annotations

from concurrent.futures import Executor

from cutopt.records import CutoptError

__all__ = ["executor"]

_CONNECT_SECONDS = "5s"


def executor(address: str) -> Executor:
    """The cluster behind a scheduler's address, such as `tcp://mill-1:8786`, as an executor.

    The workers need the same version of cutopt. Raises CutoptError where no client is installed
    or nobody answers at the address.
    """
    try:
        from distributed import Client
    except ImportError as error:
        raise CutoptError("no cluster client is installed; install cutopt[cluster]") from error
    try:
        client = Client(address, timeout=_CONNECT_SECONDS, set_as_default=False)
    except (OSError, ValueError) as error:
        raise CutoptError(f"no scheduler answers at {address}") from error
    found: Executor = client.get_executor(pure=False)
    return found
