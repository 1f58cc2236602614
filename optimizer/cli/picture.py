"""The option `--plot`: in which form a picture is drawn."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.errors import InputError, InputIssue, quoted

if TYPE_CHECKING:
    from optimizer.report.drawn import PictureForm


def picture_form(plot: Path | None, example: str) -> PictureForm | None:
    """Find the form that the ending of a file asks for; None where nothing is to be drawn."""
    if plot is None:
        return None
    from optimizer.report.drawn import PICTURE_FORMS, require_matplotlib

    require_matplotlib()
    ending = plot.suffix.lower().removeprefix(".")
    for form in PICTURE_FORMS:
        if form == ending:
            return form
    rule = f"ends in {' or '.join(f'.{form}' for form in PICTURE_FORMS)}, which says how to draw"
    raise InputError([InputIssue("--plot", "", rule, quoted(plot.name), f"--plot {example}")])
