"""Plots of the thermal logs: readings, fit, band and residuals, one picture a test."""

from __future__ import annotations

import re
from collections.abc import Sequence
from pathlib import Path

import numpy as np

from optimizer.measure.thermal_test import Course, ThermalFit
from optimizer.units import S_PER_MIN

SIZE_IN = (8.0, 6.0)
"""Size of a picture [in]."""

DOTS_PER_IN = 100
"""Resolution of a picture [1/in]."""

COLOURS = {"bath": "tab:blue", "ware": "tab:orange"}


def plot_logs(fit: ThermalFit, folder: Path) -> tuple[Path, ...]:
    """Draw every test of a fit.

    Parameters
    ----------
    fit : ThermalFit
        The fit.
    folder : Path
        Where the pictures go; it is made where it is not there.

    Returns
    -------
    tuple of Path
        One PNG file a test.

    Raises
    ------
    ImportError
        Where matplotlib is not installed.
    OSError
        Where the folder cannot be made or a picture cannot be written.

    Notes
    -----
    Above the readings, the fit and the band in which 95 % of such readings lie; below what is left. The same
    fit gives the same bytes.
    """
    from matplotlib.figure import Figure

    folder.mkdir(parents=True, exist_ok=True)
    written: list[Path] = []
    for number, test in enumerate(dict.fromkeys(course.test for course in fit.courses), start=1):
        figure = Figure(figsize=SIZE_IN, dpi=DOTS_PER_IN, layout="constrained")
        above, below = figure.subplots(2, 1, sharex=True, height_ratios=(3, 1))
        courses = [course for course in fit.courses if course.test == test]
        for course in courses:
            _draw(above, below, course)
        above.set_title(_plain(test))
        above.set_ylabel("temperature [°C]")
        above.legend(loc="best")
        above.grid(alpha=0.3)
        below.axhline(0.0, color="black", linewidth=0.8)
        below.set_ylabel("reading less fit [K]")
        below.set_xlabel("time [min]")
        below.set_ylim(*_span_k(courses))
        below.grid(alpha=0.3)
        path = folder / f"{number:02d}-{_file_stem(test)}.png"
        # Without its own name the picture holds no version and no date.
        figure.savefig(path, format="png", metadata={"Software": None})
        written.append(path)
    return tuple(written)


def _draw(above: object, below: object, course: Course) -> None:
    """Draw one probe into both parts of a picture."""
    colour, minutes = COLOURS[course.probe], course.time_s / S_PER_MIN
    off_k = course.read_c - course.fitted_c
    kept = ~course.left_out
    draw = above.plot  # type: ignore[attr-defined]
    draw(minutes[kept], course.read_c[kept], ".", color=colour, markersize=4, label=f"{course.probe}, read")
    if course.left_out.any():
        far = course.left_out
        draw(minutes[far], course.read_c[far], "x", color="tab:red", label=f"{course.probe}, left out")
    draw(minutes, course.fitted_c, "-", color=colour, linewidth=1.2, label=f"{course.probe}, fitted")
    low_c, high_c = course.fitted_c - course.band_k, course.fitted_c + course.band_k
    above.fill_between(minutes, low_c, high_c, color=colour, alpha=0.2)  # type: ignore[attr-defined]
    below.plot(minutes[kept], off_k[kept], ".", color=colour, markersize=4)  # type: ignore[attr-defined]
    below.fill_between(  # type: ignore[attr-defined]
        minutes, -course.band_k, course.band_k, color=colour, alpha=0.2
    )


def _span_k(courses: Sequence[Course]) -> tuple[float, float]:
    """Range of the residuals: what counts is seen whole, what was left out may be cut off [K]."""
    off_k = np.concatenate([(c.read_c - c.fitted_c)[~c.left_out] for c in courses])
    band_k = max(float(course.band_k.max()) for course in courses)
    most_k = 1.2 * max(float(np.abs(off_k).max(initial=0.0)), band_k)
    return -most_k, most_k


def _plain(name: str) -> str:
    """A name as text: a dollar sign would begin a formula."""
    return name.replace("$", r"\$")


def _file_stem(name: str) -> str:
    """A name as part of a file name: letters, digits and hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", name.lower()).strip("-")[:40] or "test"
