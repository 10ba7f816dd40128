"""The SHA-256 of a file: by it a recording is known again, and a model is known to be the one it should be."""

from __future__ import annotations

import hashlib
from functools import lru_cache
from pathlib import Path


def sha256(path: Path) -> str:
    """The SHA-256 of a file, in hex. A file is read once as long as its size and time of change stay the same."""
    stat = path.stat()
    return _sha256(path, stat.st_size, stat.st_mtime_ns)


@lru_cache(maxsize=4096)
def _sha256(path: Path, size: int, changed: int) -> str:
    with path.open("rb") as file:
        return hashlib.file_digest(file, "sha256").hexdigest()
