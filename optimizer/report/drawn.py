"""A figure as the bytes of its file: the same figure, the same bytes."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def drawn(figure: Figure, form: str) -> bytes:
    """Draw a figure as ``png`` or ``svg``."""
    import matplotlib

    out = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "scullion"}), warnings.catch_warnings():
        # Of a letter that the font does not have.
        warnings.simplefilter("ignore", UserWarning)
        figure.savefig(out, format=form, dpi=150, metadata={"Date": None} if form == "svg" else None)
    return out.getvalue()
