"""Charts of logs beside what explains them: thermal tests with their fit, a run with the machine it shows."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from optimizer.measure.thermal_test import Course, ThermalFit
from optimizer.page.drawing import Chart, Frame, chart
from optimizer.page.marks import LANES, legend
from optimizer.page.palette import stand_in
from optimizer.programme.plan import Plan
from optimizer.report.numbers import count, mmss
from optimizer.review.bath_courses import courses
from optimizer.review.machine_fit import SIGMAS
from optimizer.review.reviewed import Reviewed
from optimizer.units import S_PER_MIN

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from numpy.typing import NDArray

    Array = NDArray[np.float64]

MOST_DOTS = 240
"""Readings of a probe that are drawn at the most [1]: of more, each that is due."""

RUN_POINTS = 360
"""Moments at which a run is simulated for its chart [1]."""

SIGNS = {"bath": "o", "ware": "^"}
DASHES = {"bath": "solid", "ware": (0, (6, 2))}


def fit_charts(fit: ThermalFit) -> list[Chart]:
    """Draw each thermal test: readings, fit and band, and below what is left."""
    tests = list(dict.fromkeys(course.test for course in fit.courses))
    return [_fit_chart(at, [one for one in fit.courses if one.test == test]) for at, test in enumerate(tests)]


def _fit_chart(number: int, found: list[Course]) -> Chart:
    words = [*map(_fit_words, found), "Below: readings less fit, on a scale of their own."]
    return chart(
        f"log-{number + 1}",
        f"Log: {found[0].test}",
        " ".join(words),
        400.0,
        lambda *to: _fit(found, *to),
    )


def _fit_words(course: Course) -> str:
    kept = ~course.left_out
    off_k = np.abs(course.read_c - course.fitted_c)[kept]
    left = f"; {count(int(course.left_out.sum()), 'reading')} far from all others, crossed, counted little"
    every = _stride(len(course.time_s))
    drawn = f" (one in {every} is drawn)" if every > 1 else ""
    return (
        f"{course.probe.capitalize()}: {count(len(course.time_s), 'reading')}{drawn} over "
        f"{mmss(course.time_s[-1] - course.time_s[0])} min, {course.read_c[0]:.1f} °C at its start and "
        f"{course.read_c[-1]:.1f} °C at its end; the fit is off by {off_k.max(initial=0.0):.2f} K at the most"
        f"{left if course.left_out.any() else ''}. In the band, up to {course.band_k.max():.2f} K to either "
        "side, 95 % of such readings lie."
    )


def _stride(readings: int) -> int:
    return max(-(-readings // MOST_DOTS), 1)


def _fit(found: list[Course], figure: Figure, frame: Frame) -> int:
    above, below = figure.subplots(2, sharex=True, height_ratios=(2.6, 1.0))
    most_k = 0.0
    for course in found:
        colour, minutes = stand_in(course.probe), course.time_s / S_PER_MIN
        off_k, kept = course.read_c - course.fitted_c, ~course.left_out
        shown = kept & (np.arange(len(kept)) % _stride(len(kept)) == 0)
        _dots(above, minutes[shown], course.read_c[shown], course.probe, f"{course.probe}, read")
        _dots(below, minutes[shown], off_k[shown], course.probe)
        if course.left_out.any():
            above.plot(minutes[~kept], course.read_c[~kept], "x", color=stand_in("heat"), markersize=6,
                       label=f"{course.probe}, counted little")  # fmt: skip
        above.plot(minutes, course.fitted_c, color=colour, linewidth=1.6, linestyle=DASHES[course.probe],
                   label=f"{course.probe}, fit")  # fmt: skip
        for axes, middle in ((above, course.fitted_c), (below, np.zeros(len(minutes)))):
            axes.fill_between(
                minutes, middle - course.band_k, middle + course.band_k, color=colour, alpha=0.22, linewidth=0
            )
        most_k = max(most_k, float(np.abs(off_k[kept]).max(initial=0.0)), float(course.band_k.max()))
    below.axhline(0.0, color=stand_in("quiet"), linewidth=0.8)
    above.set(ylabel="°C")
    below.set(ylabel="K", xlabel="minutes", ylim=(-1.1 * most_k, 1.1 * most_k))
    return legend(figure, above, 2 if frame.narrow else 4)


def _dots(axes: Axes, minutes: Array, values: Array, probe: str, label: str | None = None) -> None:
    axes.plot(minutes, values, SIGNS[probe], color=stand_in(probe), markersize=2.6, linestyle="none",
              label=label)  # fmt: skip


def run_charts(plan: Plan, found: Reviewed) -> list[Chart]:
    """Draw the log of a run over what the machine that it shows would have done; none without a bath."""
    if found.now is None or found.log.bath_c is None:
        return []
    last_s = float(sum(part.longest_s for part in found.done.parts))
    time_s = np.linspace(0.0, last_s, RUN_POINTS)
    tables = {name: np.append(found.now.table[name], found.now.draws[name]) for name in found.now.table}
    baths_c = courses(plan, found.done.parts, tables, time_s) + tables["sensor_error_k"][:, None]
    spread_k = SIGMAS * np.hypot(baths_c[1:].std(axis=0), found.now.scatter_k)
    read_s = found.log.time_s - found.done.start_s
    inside = (read_s >= 0.0) & (read_s <= last_s)
    at, read_c = read_s[inside], found.log.bath_c[inside]
    words = (
        f"{count(len(at), 'reading')} of the bath{_drawn(len(at))}, the hottest {read_c.max():.1f} °C at "
        f"{mmss(at[read_c.argmax()])} min. The line is the bath of the machine that the run shows, "
        f"its hottest {baths_c[0].max():.1f} °C; in the band 95 % of the readings are "
        f"expected, as far as the run tells the machine: they scatter by {found.now.scatter_k:.2f} K. "
        "Below, the bars show when each output was on by the log."
    )

    def draw(figure: Figure, frame: Frame) -> int:
        bath, lanes = figure.subplots(2, sharex=True, height_ratios=(2.4, 1.0))
        minutes = time_s / S_PER_MIN
        bath.fill_between(minutes, baths_c[0] - spread_k, baths_c[0] + spread_k, color=stand_in("bath"),
                          alpha=0.22, linewidth=0)  # fmt: skip
        bath.plot(minutes, baths_c[0], color=stand_in("bath"), linewidth=1.6, label="machine of the run")
        shown = slice(None, None, _stride(len(at)))
        bath.plot(at[shown] / S_PER_MIN, read_c[shown], "o", color=stand_in("ware"), markersize=2.6,
                  linestyle="none", label="read")  # fmt: skip
        bath.set(ylabel="°C", xlim=(0.0, float(minutes[-1])))
        _lanes(lanes, found)
        return legend(figure, bath, 2)

    return [chart("run", "The log beside the machine that it shows", words, 400.0, draw)]


def _drawn(readings: int) -> str:
    every = _stride(readings)
    return f", one in {every} drawn" if every > 1 else ""


def _lanes(axes: Axes, found: Reviewed) -> None:
    segments = found.log.segments
    shown = [lane for lane in LANES if any(getattr(one.outputs, lane[1]) for one in segments)]
    for place, (_, output, shade) in enumerate(reversed(shown)):
        on = [
            ((one.start_s - found.done.start_s) / S_PER_MIN, one.lasts_s / S_PER_MIN)
            for one in segments
            if getattr(one.outputs, output)
        ]
        axes.broken_barh(on, (place - 0.36, 0.72), color=stand_in(shade), linewidth=0.6)
    axes.set_yticks(range(len(shown)), [lane[0] for lane in reversed(shown)])
    axes.set(ylim=(-0.6, len(shown) - 0.4), xlabel="minutes")
    axes.tick_params(axis="y", length=0)
    axes.grid(visible=False, axis="y")
