"""Compile inner loops: the function that is run a million times in a proof."""

from __future__ import annotations

import hashlib
import shutil
import sys
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path
from typing import Any, TypeVar, cast

import numba
from numba.core.runtime.nrt import rtsys

_SLOW = "scipy.linalg"


def _load_arrays() -> None:
    """Load numba's functions of arrays without scipy's linear algebra.

    As they load they look whether it is there, for one function that does without it (of two arrays,
    `numba.np.arraymath`), and it takes longer to load than all else. What needs it loads it later.
    """
    if _SLOW in sys.modules:
        return
    sys.modules[_SLOW] = None  # type: ignore[assignment]
    try:
        import numba.np.arraymath  # noqa: F401
    finally:
        del sys.modules[_SLOW]


def _loads_what_is_kept(cache: Any) -> None:
    """Have a function's cache load what it keeps, and not first all that it takes to compile.

    Before numba looks there it makes every operation known that a function may be compiled of, which takes as
    long as all runs of a short check. What is kept is machine code, which needs the memory of arrays and no
    more; where nothing is kept, the compiler makes the operations known by itself. In a numba that is built
    otherwise the cache is left as it is.
    """
    if not (hasattr(cache, "_load_overload") and hasattr(cache, "_guard_against_spurious_io_errors")):
        return

    def load_overload(sig: Any, target_context: Any) -> Any:
        _load_arrays()
        rtsys.initialize(target_context)
        with cache._guard_against_spurious_io_errors():
            return cache._load_overload(sig, target_context)

    cache.load_overload = load_overload


_NUMBA: Any = numba.config

SOURCES = ("check", "physics", "planner", "programme", "units.py")
"""What compiled functions take formulas and numbers from, in the package's folder."""

KEPT = 4
"""Folders of compiled functions that stay, the newest [1]: there may be copies with other sources at work."""


def kept_under(package: Path) -> str:
    """Name a folder for compiled functions by the sources that they may be made of.

    A function is compiled together with what it calls, and numba looks at its own file alone: after a change
    of another file it would go on with the old formula. Names, sizes and times of `SOURCES` count.
    """
    digest = hashlib.sha256()
    for name in SOURCES:
        for file in sorted([package / name, *(package / name).rglob("*.py")]):
            if file.suffix == ".py":
                now = file.stat()
                digest.update(f"{file.relative_to(package)} {now.st_size} {now.st_mtime_ns}\n".encode())
    return f"compiled-{digest.hexdigest()[:16]}"


def keep_under(package: Path) -> None:
    """Have numba keep what it compiles there, unless it was told where; old folders go.

    Where it may not be written, numba takes its usual folder of the user.
    """
    if _NUMBA.CACHE_DIR:
        return
    folder = package / "__pycache__" / kept_under(package)
    _NUMBA.CACHE_DIR = str(folder)
    if not folder.exists():
        # Another process may be at it as well.
        with suppress(OSError):
            others = sorted(folder.parent.glob("compiled-*/"), key=lambda one: one.stat().st_mtime_ns)
            for old in others[: -(KEPT - 1)]:
                shutil.rmtree(old, ignore_errors=True)


keep_under(Path(__file__).resolve().parent)

Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile a function of numbers and arrays at its first call, and keep the result on disk.

    Where nothing may be written it is compiled anew in each process. What is kept is made anew when a
    file changes that it may be made of (`kept_under`).

    Examples
    --------
    >>> @compiled
    ... def doubled(value: float) -> float:
    ...     return 2.0 * value
    >>> doubled(1.5)
    3.0
    """
    try:
        made = numba.njit(function, cache=True, nogil=True, error_model="numpy")
    except RuntimeError:
        _load_arrays()
        return cast("Function", numba.njit(function, nogil=True, error_model="numpy"))
    _loads_what_is_kept(getattr(made, "_cache", None))
    return cast("Function", made)


def is_ready(function: Any) -> bool:
    """Whether a compiled function has been called in this process, or is kept on disk from another.

    What is kept may still be too old, and is then compiled anew.
    """
    if function.signatures:
        return True
    folder = function.stats.cache_path
    return folder is not None and any(Path(folder).glob(f"*.{function.__name__}-*.nbi"))
