"""saws.toml from disk."""

from __future__ import annotations

import os
from collections.abc import Mapping
from pathlib import Path

from cutopt.materials import Kind
from cutopt.measure import Unit
from cutopt.records import Faults, Place
from cutopt.saw.saws import Saw, read_saws

__all__ = ["read_saws_file"]

#: Bytes; the reader's own limit on characters comes after it.
_LARGEST = 256 * 1024


def read_saws_file(
    path: str | os.PathLike[str], unit: Unit, kinds: Mapping[str, Kind] | None = None
) -> tuple[Saw, ...]:
    """The plant's saws as a file has them; see `cutopt.saw.saws.read_saws`.

    Raises `InputRefused` where the file can't be read or has faults.
    """
    faults = Faults()
    file = Path(path)
    text = ""
    try:
        with file.open("rb") as stream:
            content = stream.read(_LARGEST + 1)
        if len(content) > _LARGEST:
            faults.add(Place(file.name), "too many bytes", right=f"at most {_LARGEST}")
        else:
            text = content.decode("utf-8-sig")
    except OSError as error:
        faults.add(Place(file.name), f"can't be read: {error.strerror}")
    except UnicodeDecodeError as error:
        faults.add(Place(file.name), f"not UTF-8 at byte {error.start}", right="a UTF-8 text")
    faults.raise_if_any()
    return read_saws(text, unit, kinds, file.name)
