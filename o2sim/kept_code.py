"""Where compiled code is kept for the next process, under a key of all the sources it may be made from."""

from __future__ import annotations

import hashlib
import os
import sys
from functools import lru_cache
from pathlib import Path

_PACKAGE = Path(__file__).parent
_FOLDERS = ("compiler", "draws", "model", "quantities", "scenario")  # where they lie, those that are there


def sources(package: Path) -> list[Path]:
    """Return the files that compiled code may be made from: those of some folders, at any depth, and of the top.

    The compiler's own cache looks only at the file of one function; ours calls functions of many.
    """
    below = (path for name in _FOLDERS for path in (package / name).rglob("*.py"))
    return sorted([*package.glob("*.py"), *below])


def key(package: Path, more: str) -> str:
    """Return what stands for the sources of a package, by name and content, and for what else code depends on."""
    found = hashlib.blake2b(more.encode(), digest_size=8)
    for path in sources(package):
        content = path.read_bytes()
        found.update(f"\n{path.relative_to(package).as_posix()} {len(content)}\n".encode() + content)
    return found.hexdigest()


@lru_cache(maxsize=1)
def folder() -> Path:
    """Return the folder for code of these sources and libraries, whether it is there or not.

    Raises RuntimeError where there is no home folder and none is named.
    """
    import numba
    import scipy

    versions = f"{sys.implementation.cache_tag} numba {numba.__version__} scipy {scipy.__version__}"
    home = os.environ.get("NUMBA_CACHE_DIR") or os.environ.get("XDG_CACHE_HOME") or Path.home() / ".cache"
    return Path(home) / "o2sim" / key(_PACKAGE, f"{versions} checks {numba.config.BOUNDSCHECK}")
