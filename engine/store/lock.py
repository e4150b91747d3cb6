"""One process per database file, held by a lock that the system lets go if the process dies."""

import fcntl
import os
from pathlib import Path


class DatabaseInUse(Exception):
    """Another process, or another part of this one, has the database file open."""


class FileLock:
    """An exclusive lock on `<file>.lock`. Raises: DatabaseInUse at once if somebody else holds it."""

    def __init__(self, database: Path) -> None:
        self.path = database.with_name(database.name + ".lock")
        self._fd: int | None = os.open(self.path, os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o600)
        try:
            fcntl.flock(self._fd, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except OSError as error:
            os.close(self._fd)
            self._fd = None
            raise DatabaseInUse(
                f"{database} is in use by another process; stop it first, or give this one a database of its own"
            ) from error

    def release(self) -> None:
        """Let go of the lock; the lock file stays, since removing it would let two processes lock two files."""
        if self._fd is not None:
            os.close(self._fd)
            self._fd = None
