"""Compiled code kept on disk for the next process: made anew where spoilt, left aside where it cannot be kept.

A file has the code of one function for one set of types on one kind of processor, after a checksum of that and of
its own name: machine code with one wrong bit, or that of another function, would give wrong results. It is written
beside its place and moved there, so that no other process sees half of it. It lies in a folder whose name is a key
of all the sources that compiled code may be made from.
"""

from __future__ import annotations

import hashlib
import os
import pickle
import sys
from collections.abc import Callable
from contextlib import suppress
from functools import lru_cache
from multiprocessing import parent_process
from operator import attrgetter
from pathlib import Path
from typing import Any
from uuid import uuid4

_PACKAGE = Path(__file__).parents[1]
_RESULT = attrgetter("library", "codegen")  # of what was compiled: the code, and what made it
_FOLDERS = ("compiler", "draws", "model", "quantities", "scenario")  # where they lie, those that are there
_SUFFIX, _CHECKSUM_BYTES = ".code", 32
_ANEW = "it is compiled anew (the engine takes about half a minute)."
_ELSEWHERE = "The environment variable NUMBA_CACHE_DIR can name another folder."
_said: list[str] = []  # by this process: one note is enough


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


def is_kept(stem: str) -> bool:
    """Return True if code of a source file of that name is kept; what is spoilt is removed."""
    with suppress(OSError, RuntimeError):
        sound = []
        for path in folder().glob(f"*{_SUFFIX}"):
            if _content(path) is None:
                _remove(path)
            else:
                sound.append(path.name)
        return any(name.startswith(f"{stem}.") for name in sound)
    return False


def keep(dispatcher: Any) -> None:
    """Let a function that the compiler has wrapped keep its code here, if its source is a file."""
    function = dispatcher.py_func
    if function.__closure__ is not None or not Path(function.__code__.co_filename).is_file():
        return
    inner = _inner_names()
    if inner is not None and hasattr(dispatcher, "_cache"):
        dispatcher._cache = KeptCode(function, *inner)
    else:
        _keep_numbas_own_way(dispatcher)


def _inner_names() -> tuple[Callable[..., Any], ...] | None:
    """Return what takes a compiled result apart, puts it together and makes bytes of it, if numba has them."""
    try:
        from numba.core.compiler import CompileResult
        from numba.core.serialize import dumps

        _RESULT(CompileResult)  # raises where a name is missing
        return CompileResult._reduce, CompileResult._rebuild, dumps
    except (ImportError, AttributeError):
        return None


def _keep_numbas_own_way(dispatcher: Any) -> None:
    """Let another numba keep the code as it will, in the same folder: it checks no sums."""
    import numba

    before = numba.config.CACHE_DIR
    try:
        numba.config.CACHE_DIR = str(folder())
        dispatcher.enable_caching()
    except Exception as error:
        _say_not_kept(error)
    finally:
        numba.config.CACHE_DIR = before


class KeptCode:
    """Stands in the place of numba's own cache of one function, and never raises."""

    cache_path = None  # for numba's statistics

    def __init__(
        self,
        function: Callable[..., Any],
        reduce: Callable[..., Any],
        rebuild: Callable[..., Any],
        dumps: Callable[..., bytes],
    ) -> None:
        """Take the function and what numba makes bytes with."""
        self._function, self._reduce, self._rebuild, self._dumps = function, reduce, rebuild, dumps

    def flush(self) -> None:
        """Leave what is kept: it is of the sources as they are."""

    def load_overload(self, signature: Any, target: Any) -> Any:
        """Return the code kept for these types, None if there is none that is sound."""
        try:
            target.refresh()
            path = self._path(signature, target.codegen())
            content = _content(path)
        except (FileNotFoundError, NotADirectoryError):
            return None
        except Exception as error:
            _say_not_kept(error)
            return None
        with suppress(Exception):  # whatever bytes that are no such code lead to
            if content is not None:
                return self._rebuild(target, *pickle.loads(content))
        _remove(path)
        return None

    def save_overload(self, signature: Any, made: Any) -> None:
        """Keep what was compiled for these types."""
        try:
            code, codegen = _RESULT(made)
            if code.has_dynamic_globals:
                raise ValueError("it holds addresses of this process")
            _write(self._path(signature, codegen), self._dumps(self._reduce(made)))
        except Exception as error:
            _say_not_kept(error)

    def _path(self, signature: Any, codegen: Any) -> Path:
        code = self._function.__code__
        place, source = code.co_filename, Path(code.co_filename).read_bytes()
        of = repr((signature, codegen.magic_tuple(), place, code.co_firstlineno, source))
        digest = hashlib.blake2b(of.encode(), digest_size=16).hexdigest()
        return folder() / f"{Path(place).stem}.{self._function.__name__}-{digest}{_SUFFIX}"


def _checksum(path: Path, content: bytes) -> bytes:
    return hashlib.blake2b(path.name.encode() + content, digest_size=_CHECKSUM_BYTES).digest()


def _content(path: Path) -> bytes | None:
    """Return what is kept in a file, None if it is spoilt. Raises OSError."""
    found = path.read_bytes()
    content = found[_CHECKSUM_BYTES:]
    return content if found[:_CHECKSUM_BYTES] == _checksum(path, content) else None


def _write(path: Path, content: bytes) -> None:
    """Keep what a file is to have. Raises OSError, unless another process has kept the same meanwhile."""
    path.parent.mkdir(parents=True, exist_ok=True)
    draft = path.with_suffix(f".{uuid4().hex}")
    try:
        draft.write_bytes(_checksum(path, content) + content)
        draft.replace(path)
    except OSError:
        with suppress(OSError):
            if _content(path) is not None:  # a file that others read cannot be replaced on every system
                return
        raise
    finally:
        with suppress(OSError):
            draft.unlink()


def _remove(path: Path) -> None:
    """Remove a spoilt file and say so, unless another process has just done it."""
    spoilt = f"Note: compiled code in {path.parent} was spoilt"
    try:
        path.unlink()
    except FileNotFoundError:
        return
    except OSError as error:
        _say(f"{spoilt} and cannot be replaced ({_reason(error)}); {_ANEW} {_ELSEWHERE}")
    else:
        _say(f"{spoilt}; {_ANEW}")


def _say_not_kept(error: Exception) -> None:
    reason = _reason(error)
    with suppress(RuntimeError):
        reason = f"{folder()}: {reason}"
    _say(f"Note: compiled code cannot be kept ({reason}); next time {_ANEW} {_ELSEWHERE}")


def _reason(error: Exception) -> str:
    return getattr(error, "strerror", None) or str(error)


def _say(note: str) -> None:
    """Print one note on stderr, the first of a process that no other has started."""
    if not _said and parent_process() is None:
        _said.append(note)
        with suppress(OSError, ValueError):  # nobody listens
            print(" ".join(note.split()), file=sys.stderr)
