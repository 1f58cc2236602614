"""What every answer keeps to, whatever the width of the terminal."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from optimizer.report.layout import pages_of

WIDTHS = (40, 47, 64, 80, 118, 200)
WORD = re.compile(r"[^\W\d_]{2,}")


def assert_fits(lay_out: Callable[..., str], *given: Any) -> None:
    """No line is wider than the terminal or ends in blanks, and every word of the widest is in the others."""
    words: set[str] = set()
    for width in reversed(WIDTHS):
        with pages_of(width):
            text = lay_out(*given)
        lines = text.splitlines()
        assert [line for line in lines if len(line) > width] == []
        assert [line for line in lines if line != line.rstrip()] == []
        words = words or set(WORD.findall(text))
        assert words - set(WORD.findall(text)) == set()
