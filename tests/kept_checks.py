"""Checks that several tests ask for are worked out once a run of the tests; its workers share them.

The same input gives the same certificate, as the tests show that check twice by `inspect.unwrap(check)`.
"""

from __future__ import annotations

import functools
import hashlib
import os
import pickle
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import pytest

from optimizer.check import bound_search, certify
from optimizer.check.certificate import Certificate


def keep_checks(folder: Path) -> None:
    """Let every module of this process that has `check` ask the folder first."""
    check, guaranteed = certify.check, bound_search.guaranteed

    @functools.wraps(check)
    def kept(*args: Any, **options: Any) -> Certificate:
        if bound_search.guaranteed is not guaranteed:
            return check(*args, **options)
        asked = repr((args, sorted(options.items())))
        path = folder / f"check {hashlib.sha256(asked.encode()).hexdigest()}"
        if path.exists():
            found: Certificate = pickle.loads(path.read_bytes())
            return found
        found = check(*args, **options)
        new = path.with_name(f"{path.name} {os.getpid()}")
        new.write_bytes(pickle.dumps(found))
        new.replace(path)
        return found

    for module in list(sys.modules.values()):
        if getattr(module, "check", None) is check:
            module.check = kept  # type: ignore[attr-defined]


@contextmanager
def no_bounds() -> Iterator[None]:
    """Leave the bounds of every check out, for a test that looks at the worst values that are found."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(bound_search, "guaranteed", lambda *_, **__: {})
        yield
