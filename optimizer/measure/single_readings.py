"""What no residual shows: a mistake in the one weighing, or the one reading of the room, behind a number.

A mass of water that is 7 % wrong makes heat capacity and losses of its test 7 % wrong, and the fit as good as
before, where no other test settles them. The score test says how far such a mistake would show; where it
would not, the numbers that lean on it say so. A second reading (what is drained, the room at the end) is
held against the first before anything is fitted.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimizer.measure.contradicting_test import NOTICED, names_of
from optimizer.measure.joint_fit import Fitted
from optimizer.measure.profile_likelihood import COVER
from optimizer.measure.score_test import column, unseen
from optimizer.measure.thermal_parameters import Parameters
from optimizer.measure.thermal_problem import Problem
from optimizer.units import figure

MASS_SHARE, ROOM_K = 0.07, 3.0
"""Mistakes that are looked for [1], [K]: half a kilogram of 7 kg, a thermometer that hung elsewhere. Our
choice, *no source*."""

SURELY = 2.0
"""What shows by so many standard deviations more than are noticed is noticed in 39 of 40 books [1]."""

MATTERS = 0.5
"""A number says so where the mistake would move it by this share of its interval's half-width [1]."""


def unseen_mistakes(fit: Fitted) -> dict[str, tuple[str, ...]]:
    """Say of each wanted number which mistakes would move it and be seen by nothing.

    Returns
    -------
    dict of str to tuple of str
        By short name: a sentence without a full stop; names without any are left out.
    """
    found: dict[str, list[tuple[str, str]]] = {}
    parameters = fit.problem.parameters
    for change, words, mend in _mistakes(fit):
        shows, pull = unseen(fit, change)
        if shows >= NOTICED + SURELY:
            continue
        for name in parameters.wanted:
            place = parameters.index[(name, -1)]
            moved = abs(float(pull[place]))
            if moved >= MATTERS * COVER * np.sqrt(fit.covariance[place, place]):
                share = parameters.list[place].logarithmic
                by = f"{figure(100.0 * np.expm1(moved), 2)} %" if share else figure(moved, 2)
                found.setdefault(name, []).append((f"{words} (moves it by {by})", mend))
    return {name: (_sentence(some),) for name, some in found.items()}


def _sentence(mistakes: list[tuple[str, str]]) -> str:
    words = ", nor ".join(words for words, _ in mistakes)
    mends = list(dict.fromkeys(mend for _, mend in mistakes))
    return f"nothing would show {words}; {' and '.join(mends)} would"


def _mistakes(fit: Fitted) -> Iterator[tuple[np.ndarray, str, str]]:
    """How the residuals would move with each mistake, the mistake in words, and what would show it."""
    bench = fit.problem.bench
    for at, session in enumerate(bench.sessions):
        tests = [bench.tests[i] for i in session.tests]
        if all(test.drained_kg is None for test in tests):
            words = f"{100.0 * MASS_SHARE:.0f} % more water in {names_of(fit, at)}"
            yield _moved(fit, at, 1.0 + MASS_SHARE, 0.0), words, "drained_kg"
        if all(test.room_end_c is None for test in tests):
            words = f"a room {ROOM_K:.0f} K off in {names_of(fit, at)}"
            yield _moved(fit, at, 1.0, ROOM_K), words, "room_end_c"


def _moved(fit: Fitted, session: int, water: float, room_k: float) -> np.ndarray:
    """How the residuals move where a session is said to have had so much water and another room, whitened."""
    old, bench = fit.problem.parameters, fit.problem.bench
    here = bench.sessions[session].tests
    tests = tuple(
        replace(test, water_kg=water * test.water_kg, room_c=test.room_c + room_k) if i in here else test
        for i, test in enumerate(bench.tests)
    )
    room_c = bench.switched.room_c.copy()
    room_c[session] += room_k
    changed = replace(bench, tests=tests, switched=replace(bench.switched, room_c=room_c))
    parameters = Parameters(changed, old.instruments, old.known, events=old.events)
    other_c = Problem(parameters).readings_c(fit.coordinates[None])
    here_c = fit.problem.readings_c(fit.coordinates[None])
    moves = [other[:, 0] - read[:, 0] for other, read in zip(other_c, here_c, strict=True)]
    return column(fit, lambda i, _: moves[i])
