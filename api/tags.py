"""Entity tags: what tells one state of a thing from the next (RFC 9110, 8.8.3 and 13.1).

All tags are strong: two answers with the same tag are the same, byte for byte.
"""

from __future__ import annotations

import hashlib
import re

from pydantic import BaseModel

__all__ = ["ANY", "content_tag", "is_among", "is_known", "view_tag"]

#: What stands for any state.
ANY = "*"
_LENGTH = 32
_TAG = re.compile(r'(W/)?("[\x21\x23-\x7e\x80-\xff]*")')


def view_tag(view: BaseModel) -> str:
    """The tag of a document: the same document always has the same."""
    return content_tag(view.model_dump_json().encode(), "application/json")


def content_tag(content: bytes, kind: str) -> str:
    """The tag of a file in one of its forms."""
    digest = hashlib.sha256(kind.encode() + b"\0" + content)
    return f'"{digest.hexdigest()[:_LENGTH]}"'


def is_among(tag: str, condition: str) -> bool:
    """Whether If-Match names this state; a weak tag names none."""
    return condition.strip() == ANY or tag in {
        text for weak, text in _TAG.findall(condition) if not weak
    }


def is_known(tag: str, condition: str) -> bool:
    """Whether If-None-Match names this state, weakly or not."""
    return condition.strip() == ANY or tag in {text for _, text in _TAG.findall(condition)}
