"""Which test does not go with the others, and what would explain it: its water, its lid, its room."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import partial

import numpy as np

from optimizer.measure.joint_fit import Fitted
from optimizer.measure.score_test import column, score
from optimizer.physics import Array
from optimizer.units import figure

NOTICED = 4.0
"""A test is said not to go with the others where one change of it takes so many standard deviations [1]: with
some 40 changes looked at, one book in 400 is wronged if the noise is as it was found."""

NEARLY = 0.7
"""Another change that explains this share of what the best one explains is named beside it [1]."""

MOST_FACTOR, MOST_OFF_K = 1.1, 12.0
"""A change beyond a factor of e^1.1 = 3, or beyond so many kelvins, is named only where nothing else
explains as much [1], [K]; our choice, *no source*."""

LEAST_EFFECT_K = 0.05
"""A change that moves no reading by more than this is no contradiction, however sure it is [K]."""

MOST_RIVALS = 4
"""So many changes that would explain it are named [1]."""


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
    likely : bool
        Whether it is of a size that happens.
    """

    session: int
    size: float
    deviations: float
    words: str
    likely: bool = True


def names_of(fit: Fitted, session: int) -> str:
    """Name the tests on a body of water."""
    tests = fit.problem.bench.tests
    return " + ".join(f'"{tests[i].name}"' for i in fit.problem.bench.sessions[session].tests)


@dataclass(frozen=True)
class Contradiction:
    """A body of water that does not go with the others.

    Attributes
    ----------
    session : int
        Which.
    deviations : float
        Standard deviations of the change that would explain it best [1].
    words : str
        A sentence without a full stop.
    """

    session: int
    deviations: float
    words: str


def contradiction(fit: Fitted) -> Contradiction | None:
    """Say which test contradicts the others, and what would explain it.

    Returns
    -------
    Contradiction or None
        The test that is furthest off: one that is wrong pulls the others along. None where all go together.
    """
    sessions = fit.problem.bench.sessions
    tried = [change for at in range(len(sessions)) for change in _changes_of(fit, at)]
    if not tried:
        return None
    best = max(tried, key=lambda change: abs(change.deviations))
    if abs(best.deviations) < NOTICED:
        return None
    here = sorted((c for c in tried if c.session == best.session), key=lambda c: -abs(c.deviations))
    rivals = [c.words for c in here if abs(c.deviations) >= NEARLY * abs(best.deviations)]
    rivals = [c.words for c in here if c.likely and c.words in rivals] or rivals[:1]
    others = " nor ".join(names_of(fit, at) for at in range(len(sessions)) if at != best.session)
    against = f"does not go with {others}" if others else "does not go with the equations"
    words = f"{names_of(fit, best.session)} {against}, unless {'; or '.join(rivals[:MOST_RIVALS])}"
    return Contradiction(best.session, abs(best.deviations), words)


def _changes_of(fit: Fitted, session: int) -> list[Change]:
    """Changes of one body of water that would move readings by more than nothing."""
    parameters = fit.problem.parameters
    slopes, _ = fit.problem.slopes(fit.coordinates)
    off = fit.problem.residuals(fit.coordinates)
    affecting = set(parameters.affecting(session))
    series = fit.problem.bench.series
    tried = []

    def look(moves: list[Array | None], words_of: Callable[[float], str], place: int | None = None) -> None:
        whole = column(fit, lambda i, _: moves[i])
        size, deviations = score(fit, whole, off)
        adapted = fit.covariance @ (fit.slopes.T @ whole)
        effect_k = max(
            float(np.abs(size * ((0.0 if move is None else move) - slope @ adapted)).max())
            for move, slope in zip(moves, slopes, strict=True)
        )
        if effect_k >= LEAST_EFFECT_K:
            likely = place is None or _likely(fit, place, size)
            tried.append(Change(session, size, deviations, words_of(size), likely))

    for name, wording in _WORDS.items():
        place = parameters.index.get((name, session), parameters.index.get((name, -1)))
        if place is not None and place in affecting:
            moves = [slopes[i][:, place] if one.session == session else None for i, one in enumerate(series)]
            look(moves, partial(_sized, fit, place, wording), place)
    for probe, name in ((0, "bath"), (1, "ware")):
        hours = [
            one.time_s / 3600.0 if (one.session, one.probe) == (session, probe) else None for one in series
        ]
        if any(move is not None for move in hours):
            look(hours, f"the probe in the {name} drifts by {{:+.1f}} K an hour".format)
    return tried


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


def _likely(fit: Fitted, place: int, size: float) -> bool:
    """Whether a change of a parameter is of a size that happens; water gains no heat as it is poured."""
    parameter = fit.problem.parameters.list[place]
    if parameter.name == "pour":
        return float(parameter.value(fit.coordinates[place]) + size) > 0.0
    return abs(size) < (MOST_FACTOR if parameter.logarithmic else MOST_OFF_K)


def _sized(fit: Fitted, place: int, wording: tuple[str, str], size: float) -> str:
    parameter = fit.problem.parameters.list[place]
    at = float(fit.coordinates[place])
    known, value = (float(parameter.value(np.array(c))) for c in (at, np.clip(at + size, -6.0, 6.0)))
    shift = f"{size:+.2g}"
    words = wording[0].format(value=figure(value, 3), known=figure(known, 3), shift=shift)
    if wording[1] == "lid" and size > 0.0:
        words += " (was its lid open)"
    return words
