"""The pieces of every wash and the curve, as a picture."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from optimizer.report.drawn import PictureForm, drawn
from optimizer.report.trial import chart_doses, percent
from optimizer.trial.dose_response import logit, share_of
from optimizer.trial.soil_fit import SoilFit

SIZE_IN = (6.4, 3.6)
"""Width and height of the picture of one soil [in]."""


def trial_picture(fits: Sequence[SoilFit], form: PictureForm) -> bytes:
    """Draw a picture for each soil, one above the other."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=(SIZE_IN[0], SIZE_IN[1] * len(fits)), layout="constrained")
    FigureCanvasAgg(figure)
    for number, fit in enumerate(fits, start=1):
        axes = figure.add_subplot(len(fits), 1, number)
        doses_min = chart_doses(fit)
        low, middle, high = share_bands(fit, np.log(doses_min))
        axes.fill_between(doses_min, low, high, color="tab:blue", alpha=0.2, linewidth=0)
        axes.plot(doses_min, middle, color="tab:blue")
        for wash in fit.washes:
            trial = wash.trial
            axes.plot(wash.given.dose_min, trial.clean / trial.pieces, "o", color="black", markersize=4)
            place = (wash.given.dose_min, trial.clean / trial.pieces)
            axes.annotate(
                f"{trial.clean}/{trial.pieces}", place, (4, -10), textcoords="offset points", fontsize=7
            )
        axes.axhline(fit.share, color="grey", linewidth=0.8, linestyle=":")
        if fit.asked_min is not None:
            axes.axvline(fit.asked_min, color="tab:red", linestyle="--")
        axes.set_xscale("log")
        axes.set_ylim(-0.05, 1.05)
        axes.set_ylabel("share of pieces clean")
        axes.set_xlabel(f"dose [min at {fit.dose.reference_c:g} °C]")
        axes.set_title(f"{fit.dose.name}: asked for {percent(fit.share)}, 90 % band", parse_math=False)
        axes.grid(visible=True, alpha=0.3)
    return drawn(figure, form)


def share_bands(fit: SoilFit, ln_doses: np.ndarray) -> np.ndarray:
    """5 %, 50 % and 95 % points of the share at doses: 3 × doses."""
    b, x = np.exp(fit.found.grid.ln_b), fit.found.grid.x
    rows = []
    for ln_dose in ln_doses:
        odds = (b * (ln_dose - x[:, None]) + logit(fit.share)).ravel()
        order = np.argsort(odds, kind="stable")
        up_to = np.cumsum(fit.found.weight.ravel()[order])
        rows.append(np.interp([0.05, 0.5, 0.95], up_to, odds[order]))
    return share_of(np.array(rows).T)
