"""Checks that several tests ask for are worked out once a run of the tests; its workers share them.

The same input gives the same certificate, as the tests show that check twice by `inspect.unwrap(check)`. So
does a run of all single faults of a programme that was checked.
"""

from __future__ import annotations

import functools
import hashlib
import os
import pickle
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any, TypeVar

import pytest

from optimizer.check import bound_search, certify
from optimizer.check.certificate import Certificate
from optimizer.check.faults import run_faults as faults
from optimizer.check.faults.outcome import FaultReport

Answer = TypeVar("Answer")


def keep_checks(folder: Path) -> None:
    """Let every module of this process that has `check` or `run_faults` ask the folder first."""
    check, run_faults, guaranteed = certify.check, faults.run_faults, bound_search.guaranteed

    @functools.wraps(check)
    def kept_check(*args: Any, **options: Any) -> Certificate:
        if bound_search.guaranteed is not guaranteed:
            return check(*args, **options)
        return _kept(folder, check, *args, **options)

    @functools.wraps(run_faults)
    def kept_faults(*args: Any) -> FaultReport:
        # Without a certificate it is a hand-made case, of which some tests change what is run.
        return _kept(folder, run_faults, *args) if len(args) == KNOWN_CERTIFICATE else run_faults(*args)

    for module in list(sys.modules.values()):
        if getattr(module, "check", None) is check:
            module.check = kept_check  # type: ignore[attr-defined]
        if getattr(module, "run_faults", None) is run_faults:
            module.run_faults = kept_faults  # type: ignore[attr-defined]


KNOWN_CERTIFICATE = 5
"""Arguments of `run_faults` where a certificate is known [1]."""


def _kept(folder: Path, function: Callable[..., Answer], *args: Any, **options: Any) -> Answer:
    """What a function answered to the same before, from the folder; else it is asked."""
    asked = repr((args, sorted(options.items())))
    path = folder / f"{function.__name__} {hashlib.sha256(asked.encode()).hexdigest()}"
    if path.exists():
        found: Answer = pickle.loads(path.read_bytes())
        return found
    found = function(*args, **options)
    new = path.with_name(f"{path.name} {os.getpid()}")
    new.write_bytes(pickle.dumps(found))
    new.replace(path)
    return found


@contextmanager
def no_bounds() -> Iterator[None]:
    """Leave the bounds of every check out, for a test that looks at the worst values that are found."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bound_search, "guaranteed", lambda *_, **__: {})
        yield
