"""Secrets: made at random, kept as digests only; passwords as argon2 hashes.

A token has 256 random bits, so that its digest needs neither salt nor slowness; a password has
few, and gets both. A pairing code is short, because it may have to be typed: it holds 50 bits, ten
minutes and one use.
"""

from __future__ import annotations

import hashlib
import hmac
import secrets
from functools import cache

from pwdlib import PasswordHash
from pwdlib.hashers.argon2 import Argon2Hasher

__all__ = [
    "LONGEST_PASSWORD",
    "SHORTEST_PASSWORD",
    "csrf_of",
    "digest",
    "hash_password",
    "new_code",
    "new_token",
    "read_code",
    "same",
    "verify_password",
]

#: NIST SP 800-63B-4 asks for at least 15 characters where a password is the only factor, and for
#: room for at least 64.
SHORTEST_PASSWORD = 15
LONGEST_PASSWORD = 200
_BYTES = 32
#: Digits and letters that can't be read as one another.
_LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
_CODE = 10
#: OWASP's Password Storage Cheat Sheet: argon2id with 19 MiB, two passes, one lane.
_HASHER = PasswordHash((Argon2Hasher(time_cost=2, memory_cost=19_456, parallelism=1),))


def new_token() -> str:
    """A secret that a program keeps: 256 random bits, fit for a cookie or an address."""
    return secrets.token_urlsafe(_BYTES)


def new_code() -> str:
    """A short secret that a person may have to type."""
    return "".join(secrets.choice(_LETTERS) for _ in range(_CODE))


def read_code(typed: str) -> str:
    """A code as it was meant: capitals, without what is put in between, I and L as 1, O as 0."""
    kept = "".join(letter for letter in typed.upper() if letter.isalnum())
    return kept.translate(str.maketrans("ILO", "110"))


def digest(secret: str) -> str:
    """What is kept of a secret."""
    return hashlib.sha256(secret.encode("utf-8", "surrogatepass")).hexdigest()


def csrf_of(token: str) -> str:
    """The token that a session's own pages send back: only who holds the session can make it."""
    return hmac.new(token.encode("utf-8", "surrogatepass"), b"csrf", hashlib.sha256).hexdigest()


def same(given: str, right: str) -> bool:
    """Whether two secrets are equal, in a time that tells nothing."""
    return hmac.compare_digest(given.encode("utf-8", "surrogatepass"), right.encode())


def hash_password(password: str) -> str:
    """A password as it is kept."""
    return _HASHER.hash(password)


def verify_password(password: str, kept: str | None) -> bool:
    """Whether it is the password; where none is kept, no, after the same work."""
    right = _HASHER.verify(password, kept or _of_nobody())
    return right and kept is not None


@cache
def _of_nobody() -> str:
    return hash_password(new_token())
