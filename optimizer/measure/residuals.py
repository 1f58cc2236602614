"""What the residuals show, in words: readings far off, an event, a test that contradicts the others."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.measure.contradicting_test import Contradiction
from optimizer.measure.joint_fit import Fitted
from optimizer.measure.score_test import scores
from optimizer.measure.thermal_sessions import Event, Series
from optimizer.physics import Array
from optimizer.physics.water import specific_heat_kj_per_kg_k
from optimizer.units import J_PER_KJ, S_PER_MIN, figure

NOTICED_STEP = 5.5
"""The same for something that happened, looked for at every point [1]."""

LASTS_S = (0.0, 60.0, 120.0)
"""How long a step may take [s]: a probe moves at once, a lid is open for a minute or two."""

LEAST_STEP_K = 0.08
"""A step is not noticed below this [K]."""

MOST_STEPS = 3
"""So many steps are allowed for [1]."""

EDGE_POINTS = 3
"""No step is looked for so close to the ends of a log [1]."""


@dataclass(frozen=True)
class Step:
    """An event that explains the readings after it.

    Attributes
    ----------
    event : Event
        What happened.
    series, point : int
        Where it begins.
    deviations : float
        Standard deviations that it is away from none [1].
    size_k : float
        How large [K].
    """

    event: Event
    series: int
    point: int
    deviations: float
    size_k: float


def remarks_of(fit: Fitted, steps: Sequence[Step], odd: Contradiction | None) -> tuple[str, ...]:
    """Say what the residuals show.

    Parameters
    ----------
    steps : sequence of Step
        What it allows for.
    odd : Contradiction or None
        The test that does not go with the others.

    Returns
    -------
    tuple of str
        A sentence without a full stop each; none where the logs go together.
    """
    said = () if odd is None else (odd.words,)
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
    """Find the step that would explain most; None where none is worth a word."""
    off = fit.problem.residuals(fit.coordinates)
    best: Step | None = None
    for i, series in enumerate(fit.problem.bench.series):
        points = range(EDGE_POINTS, len(series.time_s) - EDGE_POINTS)
        kinds = [(lasts_s, np.inf) for lasts_s in LASTS_S]
        if series.probe == 0:
            kinds += [(lasts_s, _fades_s(fit, series)) for lasts_s in LASTS_S]
        for lasts_s, decay_s in kinds if len(points) else ():
            events = [
                Event(series.session, series.probe, float(series.time_s[point]), lasts_s, decay_s)
                for point in points
            ]
            sizes, deviations = scores(fit, _columns(fit, events), off)
            large = np.where(np.abs(sizes) >= LEAST_STEP_K, np.abs(deviations), 0.0)
            at = int(np.argmax(large))
            if large[at] >= max(NOTICED_STEP, abs(best.deviations) if best else 0.0):
                best = Step(events[at], i, points[at], float(deviations[at]), float(sizes[at]))
    return best


def _columns(fit: Fitted, events: Sequence[Event]) -> Array:
    """How the residuals would move with each of some events on one probe, shape (rows, events)."""
    whole = np.zeros((len(fit.slopes), len(events)))
    begin = 0
    for i, (series, use) in enumerate(zip(fit.problem.bench.series, fit.problem.use, strict=True)):
        rows = slice(begin, begin + int(use.sum()))
        begin = rows.stop
        shapes = [event.shape(series) for event in events]
        if any(shape is not None for shape in shapes):
            nothing = np.zeros(len(series.time_s))
            stacked = np.stack([nothing if shape is None else shape for shape in shapes], axis=1)
            whole[rows] = fit.problem.whitened(i, stacked[use])
    return whole


def _fades_s(fit: Fitted, series: Series) -> float:
    """Time constant of the bath of a series [s]: with it fades what heat was lost."""
    test = fit.problem.bench.tests[series.test]
    nodes = fit.problem.parameters.nodes(fit.coordinates[None], series.session)
    loss = nodes.loss_spraying_w_per_k if test.pump_on else nodes.loss_still_w_per_k
    water_j = J_PER_KJ * specific_heat_kj_per_kg_k(40.0) * nodes.water_kg[0]
    return float((water_j + nodes.tank_j_per_k[0]) / loss[0])


def _said(fit: Fitted, step: Step) -> str:
    series = fit.problem.bench.series[step.series]
    name = fit.problem.bench.tests[series.test].name
    over = f" within {step.event.lasts_s:.0f} s" if step.event.lasts_s else ""
    why = "was the lid opened, or the probe moved" if step.size_k < 0.0 else "was the probe moved"
    return (
        f'"{name}", {_probe(series)}: a step of {step.size_k:+.2f} K at {_at(fit, series, step.point)}{over}'
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
