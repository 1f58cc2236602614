"""A figure as the bytes of its file: the same figure, the same bytes."""

from __future__ import annotations

import io
import warnings
from typing import TYPE_CHECKING, Literal

from optimizer.errors import InputError, InputIssue

if TYPE_CHECKING:
    from matplotlib.figure import Figure

PictureForm = Literal["png", "svg"]
PICTURE_FORMS: tuple[PictureForm, ...] = ("png", "svg")


def require_matplotlib() -> None:
    """Refuse, where the library that draws is not installed."""
    try:
        import matplotlib  # noqa: F401
    except ImportError as error:
        fix = "pip install matplotlib; the table and --csv need nothing more"
        rule = "needs matplotlib, which is not installed"
        raise InputError([InputIssue("--plot", "", rule, "", fix)]) from error


def drawn(figure: Figure, form: PictureForm) -> bytes:
    """Draw a figure as ``png`` or ``svg``."""
    import matplotlib

    out = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "scullion"}), warnings.catch_warnings():
        # Of a letter that the font does not have.
        warnings.simplefilter("ignore", UserWarning)
        figure.savefig(out, format=form, dpi=150, metadata={"Date": None} if form == "svg" else None)
    return out.getvalue()
