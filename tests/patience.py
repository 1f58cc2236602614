"""How long tests wait: long enough for any computer, however busy, so that only a hang takes longer."""

from __future__ import annotations

import time
from collections.abc import Callable

PATIENCE_S = 600.0
"""Guard against hanging [s]; no test is about speed."""


def wait_for(what: Callable[[], object]) -> None:
    end_s = time.monotonic() + PATIENCE_S
    while not what():
        assert time.monotonic() < end_s, "it never came about"
        time.sleep(0.02)
