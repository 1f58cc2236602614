"""A frontier as a picture."""

from __future__ import annotations

import io
import warnings
from typing import Literal

from optimizer.errors import InputError, InputIssue
from optimizer.report.frontier import WORDS, axis_unit
from optimizer.whatif.frontier import Frontier

PictureForm = Literal["png", "svg"]
PICTURE_FORMS: tuple[PictureForm, ...] = ("png", "svg")
SIZE_IN = (6.4, 4.4)
"""Width and height of the picture [in]."""


def require_matplotlib() -> None:
    """Refuse, where the library that draws is not installed."""
    try:
        import matplotlib  # noqa: F401
    except ImportError as error:
        fix = "pip install '.[plot]' in the copy you installed from; the table and --csv need nothing more"
        rule = "needs matplotlib, which is not installed"
        raise InputError([InputIssue("--plot", "", rule, "", fix)]) from error


def frontier_picture(found: Frontier, form: PictureForm) -> bytes:
    """Draw a frontier."""
    import matplotlib
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    xs, ys = zip(*(point.at for point in found.points), strict=True)
    figure = Figure(figsize=SIZE_IN, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    # Between two points nothing was planned: the line is dotted.
    axes.plot(xs, ys, marker="o", linestyle=":", color="tab:blue")
    if found.knee is not None:
        at = found.points[found.knee].at
        axes.plot(*at, marker="o", markersize=11, fillstyle="none", color="tab:red")
        axes.annotate("knee", at, xytext=(8, 8), textcoords="offset points", color="tab:red")
    currency = found.inputs.tariff.currency
    labels = [f"{WORDS[axis]} of a run [{axis_unit(axis, currency)}]" for axis in found.axes]
    machine, goal, _, _ = found.inputs.names
    # A name may hold a dollar sign, which is no formula here, and letters that the font does not have.
    for put, text in ((axes.set_xlabel, labels[0]), (axes.set_ylabel, labels[1])):
        put(text, parse_math=False)
    axes.set_title(f"{goal} on {machine}", parse_math=False)
    axes.grid(visible=True, alpha=0.3)
    out = io.BytesIO()
    with matplotlib.rc_context({"svg.hashsalt": "scullion"}), warnings.catch_warnings():
        warnings.simplefilter("ignore", UserWarning)
        figure.savefig(out, format=form, dpi=150, metadata={"Date": None} if form == "svg" else None)
    return out.getvalue()
