"""What requests of tests carry in their headers."""

from __future__ import annotations

#: Whatever state it is in.
ANY = {"If-Match": "*"}
