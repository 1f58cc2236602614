"""Charts of a frontier and of trials."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from optimizer.page.drawing import Chart, Frame, chart
from optimizer.page.marks import legend
from optimizer.page.palette import stand_in
from optimizer.report.frontier import axis_unit
from optimizer.report.trial import asked_text, chart_doses, percent
from optimizer.report.trial_picture import share_bands
from optimizer.trial.soil_fit import SoilFit
from optimizer.whatif.frontier import Frontier

if TYPE_CHECKING:
    from matplotlib.figure import Figure


def frontier_chart(found: Frontier) -> Chart:
    """Draw the points of a frontier, each with the number of its plan."""
    first, second = found.axes
    units = [axis_unit(axis, found.inputs.tariff.currency) for axis in found.axes]
    knee = f" Plan {found.knee + 1} is the knee, ringed." if found.knee is not None else ""
    words = (
        f"Each dot is a plan of the table by its number: {first} of a run across, {second} up. None has less "
        f"of one than another without more of the other.{knee} Along the dotted line nothing was planned."
    )

    def draw(figure: Figure, frame: Frame) -> int:
        axes = figure.subplots()
        xs, ys = zip(*(point.at for point in found.points), strict=True)
        axes.plot(xs, ys, linestyle=(0, (1, 2)), color=stand_in("quiet"), linewidth=1.2)
        axes.plot(xs, ys, "o", color=stand_in("bath"), markersize=6, linestyle="none")
        if found.knee is not None:
            axes.plot(xs[found.knee], ys[found.knee], "o", color=stand_in("heat"), markersize=13,
                      markerfacecolor="none", markeredgewidth=1.6)  # fmt: skip
        for number, at in enumerate(zip(xs, ys, strict=True)):
            name = f"{number + 1} knee" if number == found.knee else str(number + 1)
            axes.annotate(name, at, xytext=(8, 7), textcoords="offset points", color=stand_in("ink"))
        axes.margins(x=0.1, y=0.14)
        axes.set_xlabel(f"{first} of a run [{units[0]}]")
        axes.set_ylabel(f"{second} of a run [{units[1]}]")
        return 0

    return chart("frontier", f"{first.capitalize()} against {second}", words, 380.0, draw)


def trial_charts(fits: Sequence[SoilFit]) -> list[Chart]:
    """Draw each soil: washes, and the curve with its band."""
    return [_trial_chart(number, fit) for number, fit in enumerate(fits, start=1)]


def _trial_chart(number: int, fit: SoilFit) -> Chart:
    doses_min = chart_doses(fit)
    low, middle, high = (100.0 * share for share in share_bands(fit, np.log(doses_min)))
    asked = ""
    if fit.asked_min is not None:
        bound = "the minutes to ask for" if fit.status == "learnt" else "what the prior bounds them to"
        asked = f" The upright line is at {bound}: {asked_text(fit)} min."
    words = (
        "Each dot is a wash. The curve is the share of the pieces that a dose cleans, in the "
        "middle of what is believed; the band holds it with 90 %. The level line is what is wished for, "
        f"{percent(fit.share)}.{asked} The scale of the doses is logarithmic."
    )

    def draw(figure: Figure, frame: Frame) -> int:
        axes = figure.subplots()
        axes.fill_between(doses_min, low, high, color=stand_in("bath"), alpha=0.22, linewidth=0)
        axes.plot(doses_min, middle, color=stand_in("bath"), linewidth=2.0, label="share cleaned, 90 % band")
        given = [wash.given.dose_min for wash in fit.washes]
        clean = [100.0 * wash.trial.clean / wash.trial.pieces for wash in fit.washes]
        axes.plot(given, clean, "o", color=stand_in("ink"), markersize=5, linestyle="none", label="washes")
        axes.axhline(100.0 * fit.share, color=stand_in("heat"), linewidth=1.4, linestyle=(0, (4, 2)),
                     label=f"wished for: {percent(fit.share)}")  # fmt: skip
        if fit.asked_min is not None:
            said = "ask for" if fit.status == "learnt" else "bound by the prior:"
            axes.axvline(fit.asked_min, color=stand_in("good"), linewidth=1.6, linestyle=(0, (7, 2, 1.5, 2)),
                         label=f"{said} {asked_text(fit)} min")  # fmt: skip
        axes.set_xscale("log")
        from matplotlib.ticker import LogLocator, NullFormatter, StrMethodFormatter

        axes.xaxis.set_major_locator(LogLocator(subs=(1.0, 2.0, 5.0)))
        axes.xaxis.set_major_formatter(StrMethodFormatter("{x:g}"))
        axes.xaxis.set_minor_formatter(NullFormatter())
        axes.set(ylim=(-5.0, 105.0), ylabel="% clean", xlabel=f"dose [min at {fit.dose.reference_c:g} °C]",
                 xlim=(float(doses_min[0]), float(doses_min[-1])))  # fmt: skip
        return legend(figure, axes, 1 if frame.narrow else 2)

    return chart(f"soil-{number}", f"Pieces with {fit.dose.name} that come clean", words, 330.0, draw)
