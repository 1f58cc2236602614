"""What the residuals show, in words: a test that does not go with the others, a drift, an event."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.measure.joint_fit import Fitted
from optimizer.measure.thermal_sessions import Series
from optimizer.physics import Array
from optimizer.units import S_PER_MIN, figure

NOTICED = 4.0
"""A test is said not to go with the others where one change of it takes so many standard deviations [1]: with
some 40 changes looked at, one book in 400 is wronged if the noise is as it was found."""

NOTICED_STEP = 5.5
"""The same for something that happened, looked for at every point [1]."""

NEARLY = 0.7
"""Another change that explains this share of what the best one explains is named beside it [1]."""

LEAST_STEP_K = 0.08
"""A step is not noticed below this [K]."""

MOST_STEPS = 3
"""So many steps are allowed for [1]."""

EDGE_POINTS = 3
"""No step is looked for so close to the ends of a log [1]."""


@dataclass(frozen=True)
class Change:
    """A change of one test, and how much better the logs would fit with it.

    Attributes
    ----------
    session : int
        The water it is looked for in.
    size : float
        How large it is, in the coordinate of its column.
    deviations : float
        How many standard deviations it is away from none [1].
    words : str
        The change in words.
    """

    session: int
    size: float
    deviations: float
    words: str


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
    return (*_left_out(fit), *(_said(fit, step) for step in steps), *contradictions(fit), *_noise(fit))


def _names(fit: Fitted, session: int) -> str:
    tests = fit.problem.bench.tests
    return " + ".join(f'"{tests[i].name}"' for i in fit.problem.bench.sessions[session].tests)


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


def _score(fit: Fitted, column: Array, off: Array) -> tuple[float, float]:
    """Size of a change and its standard deviations: one more column beside the Jacobian's."""
    free = column - fit.slopes @ (fit.covariance @ (fit.slopes.T @ column))
    square = float(column @ free)
    if square <= 1e-9:
        return 0.0, 0.0
    pull = -float(free @ off)
    return pull / square, pull / np.sqrt(square)


def _column(fit: Fitted, slope_of: Callable[[int, Series], Array | None]) -> Array:
    """A column of the Jacobian from slopes of the series, whitened as they are."""
    column = np.zeros(len(fit.slopes))
    begin = 0
    for i, (series, use) in enumerate(zip(fit.problem.bench.series, fit.problem.use, strict=True)):
        slope = slope_of(i, series)
        if slope is not None:
            column[begin : begin + int(use.sum())] = fit.problem.whitened(i, slope[use])
        begin += int(use.sum())
    return column


def contradictions(fit: Fitted) -> list[str]:
    """Say which test contradicts the others, and what would explain it.

    Parameters
    ----------
    fit : Fitted
        The joint fit.

    Returns
    -------
    list of str
        One sentence without a full stop, or none. A test that is wrong pulls the others along, so that only
        the one that is furthest off is named.
    """
    bench, parameters = fit.problem.bench, fit.problem.parameters
    slopes, _ = fit.problem.slopes(fit.coordinates)
    off = fit.problem.residuals(fit.coordinates)
    tried: list[Change] = []
    for session in range(len(bench.sessions)):
        for name, wording in _WORDS.items():
            place = parameters.index.get((name, session), parameters.index.get((name, -1)))
            if place is None or place not in parameters.affecting(session):
                continue

            def slope_of(i: int, series: Series, place: int = place, session: int = session) -> Array | None:
                return slopes[i][:, place] if series.session == session else None

            size, deviations = _score(fit, _column(fit, slope_of), off)
            tried.append(Change(session, size, deviations, _sized(fit, place, size, wording)))
        for probe, name in ((0, "bath"), (1, "ware")):

            def drift_of(_: int, series: Series, probe: int = probe, session: int = session) -> Array | None:
                if series.session != session or series.probe != probe:
                    return None
                return np.asarray(series.time_s / 3600.0)

            size, deviations = _score(fit, _column(fit, drift_of), off)
            words = f"the probe in the {name} drifts by {size:+.1f} K an hour"
            tried.append(Change(session, size, deviations, words))
    found = []
    for session in sorted({change.session for change in tried}):
        here = sorted((c for c in tried if c.session == session), key=lambda c: -abs(c.deviations))
        if abs(here[0].deviations) < NOTICED:
            continue
        rivals = [c.words for c in here if abs(c.deviations) >= NEARLY * abs(here[0].deviations)]
        others = ", ".join(_names(fit, i) for i in range(len(bench.sessions)) if i != session)
        against = f" does not go with {others}" if others else " does not go with the equations"
        found.append((here[0], f"{_names(fit, session)}{against}, unless {'; or '.join(rivals[:4])}"))
    found.sort(key=lambda pair: -abs(pair[0].deviations))
    return [words for _, words in found[:1]]


_WORDS = {
    "water": ("its water is {value} kg and not {known} kg", ""),
    "still": ("its loss with the pump off is {value} W/K and that of the others {known} W/K", "lid"),
    "spraying": ("its loss with the pump on is {value} W/K and that of the others {known} W/K", "lid"),
    "room": ("its room is off by {shift} K", ""),
    "tank": ("its tank holds {value} kJ/K and that of the others {known} kJ/K", ""),
    "ware": ("its load holds {value} kJ/K and not {known} kJ/K", ""),
    "element": ("its element has {value} W and that of the others {known} W", ""),
    "pump": ("its pump takes {value} W and not {known} W", ""),
    "pour": ("the poured water had lost {shift} of its excess over the room", ""),
    "bath_start": ("its water did not begin as warm as the room but {shift} K off", ""),
    "ware_start": ("its load did not begin as warm as the room but {shift} K off", ""),
}


def _sized(fit: Fitted, place: int, size: float, wording: tuple[str, str]) -> str:
    parameter = fit.problem.parameters.list[place]
    at = float(fit.coordinates[place])
    known, value = (float(parameter.value(np.array(c))) for c in (at, np.clip(at + size, -6.0, 6.0)))
    shift = f"{size:+.2g}"
    words = wording[0].format(value=figure(value, 3), known=figure(known, 3), shift=shift)
    if wording[1] == "lid" and size > 0.0:
        words += " (was its lid open)"
    return words


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

            size, deviations = _score(fit, _column(fit, step_of), off)
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
