"""Compile inner loops: the function that is run a million times in a proof."""

from __future__ import annotations

import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

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


_load_arrays()

Function = TypeVar("Function", bound=Callable[..., object])


def compiled(function: Function) -> Function:
    """Compile a function of numbers and arrays at its first call, and keep the result on disk.

    Where nothing may be written it is compiled anew in each process. What is kept is made anew when the file
    of the function changes, not when a file changes that it takes numbers or formulas from.

    Examples
    --------
    >>> @compiled
    ... def doubled(value: float) -> float:
    ...     return 2.0 * value
    >>> doubled(1.5)
    3.0
    """
    try:
        return cast("Function", numba.njit(function, cache=True, nogil=True, error_model="numpy"))
    except RuntimeError:
        return cast("Function", numba.njit(function, nogil=True, error_model="numpy"))


def is_ready(function: Any) -> bool:
    """Whether a compiled function has been called in this process, or is kept on disk from another.

    What is kept may still be too old, and is then compiled anew.
    """
    if function.signatures:
        return True
    folder = function.stats.cache_path
    return folder is not None and any(Path(folder).glob(f"*.{function.__name__}-*.nbi"))
