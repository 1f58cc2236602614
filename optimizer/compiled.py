"""Compile inner loops: the function that is run a million times in a proof."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar, cast

import numba

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
