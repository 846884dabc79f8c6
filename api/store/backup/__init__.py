"""A copy of the whole database in one file, and the way back, between SQLite and PostgreSQL too."""

from api.store.backup.file import Head, Reader, Writer
from api.store.backup.restore import restore
from api.store.backup.take import take

__all__ = ["Head", "Reader", "Writer", "restore", "take"]
