"""What the residuals show, in words: readings far off, an event, a test that contradicts the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.measure.contradicting_test import contradiction
from optimizer.measure.joint_fit import Fitted
from optimizer.measure.score_test import column, score
from optimizer.measure.thermal_sessions import Series
from optimizer.physics import Array
from optimizer.units import S_PER_MIN, figure

NOTICED_STEP = 5.5
"""The same for something that happened, looked for at every point [1]."""

LEAST_STEP_K = 0.08
"""A step is not noticed below this [K]."""

MOST_STEPS = 3
"""So many steps are allowed for [1]."""

EDGE_POINTS = 3
"""No step is looked for so close to the ends of a log [1]."""


@dataclass(frozen=True)
class Step:
    """Something that happened at one moment: the reading is another from there on.

    Attributes
    ----------
    series, point : int
        From which point of which series.
    deviations : float
        Standard deviations that it is away from none [1].
    size_k : float
        How large [K].
    """

    series: int
    point: int
    deviations: float
    size_k: float


def remarks_of(fit: Fitted, steps: Sequence[Step]) -> tuple[str, ...]:
    """Say what the residuals show.

    Parameters
    ----------
    fit : Fitted
        The joint fit.
    steps : sequence of Step
        What it allows for.

    Returns
    -------
    tuple of str
        A sentence without a full stop each; none where the logs go together.
    """
    found = contradiction(fit)
    said = () if found is None else (found.words,)
    return (*_left_out(fit), *(_said(fit, step) for step in steps), *said, *_noise(fit))


def _left_out(fit: Fitted) -> list[str]:
    found = []
    for series, use in zip(fit.problem.bench.series, fit.problem.use, strict=True):
        count = series.dropped_rows + int(series.rows[~use].sum())
        if count:
            name = fit.problem.bench.tests[series.test].name
            at = "" if use.all() else f", the first at {_at(fit, series, int(np.argmin(use)))}"
            noun = "reading is" if count == 1 else "readings are"
            found.append(
                f'"{name}", {_probe(series)}: {count} {noun} far from the others and left out{at}: '
                "was the probe knocked, or out of the water"
            )
    return found


def _probe(series: Series) -> str:
    return "probe on the ware" if series.probe else "probe in the bath"


def _at(fit: Fitted, series: Series, point: int) -> str:
    """When a point was read, in the time of its test."""
    session = fit.problem.bench.sessions[series.session]
    since_s = series.time_s[point] - session.begins_s[session.tests.index(series.test)]
    return f"{figure(since_s / S_PER_MIN, 2)} min"


def largest_step(fit: Fitted) -> Step | None:
    """Find the step that would explain most; None where none is worth a word.

    Parameters
    ----------
    fit : Fitted
        The joint fit.

    Returns
    -------
    Step or None
        The step.
    """
    off = fit.problem.residuals(fit.coordinates)
    best = Step(0, 0, 0.0, 0.0)
    for i, series in enumerate(fit.problem.bench.series):
        for point in range(EDGE_POINTS, len(series.time_s) - EDGE_POINTS):

            def step_of(at: int, one: Series, point: int = point, i: int = i) -> Array | None:
                return (np.arange(len(one.time_s)) >= point).astype(float) if at == i else None

            size, deviations = score(fit, column(fit, step_of), off)
            if abs(deviations) > abs(best.deviations) and abs(size) >= LEAST_STEP_K:
                best = Step(i, point, deviations, size)
    return best if abs(best.deviations) >= NOTICED_STEP else None


def _said(fit: Fitted, step: Step) -> str:
    series = fit.problem.bench.series[step.series]
    name = fit.problem.bench.tests[series.test].name
    why = "was the lid opened, or the probe moved" if step.size_k < 0.0 else "was the probe moved"
    return (
        f'"{name}", {_probe(series)}: a step of {step.size_k:+.2f} K at {_at(fit, series, step.point)}'
        f" ({why}); the fit allows for it"
    )


def _noise(fit: Fitted) -> list[str]:
    """How much a reading counts, where it is much less than one."""
    worth: dict[int, float] = {}
    for series in fit.problem.bench.series:
        worth[series.probe] = min(worth.get(series.probe, 1.0), fit.noise.rows_worth(series))
    return [
        f"readings of the probe {'on the ware' if probe else 'in the bath'} wander by "
        f"{figure(fit.noise.wander_k[probe], 2)} K over {figure(fit.noise.memory_s[probe], 2)} s: "
        f"one counts as {figure(value, 2)} of a reading"
        for probe, value in sorted(worth.items())
        if value < 0.3
    ]
