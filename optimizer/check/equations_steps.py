"""Steps of the integrator: Dormand and Prince's fifth order, the arithmetic of a step compiled, case by case.

Method (Dormand and Prince 1980, *J. Comput. Appl. Math.* 6:19), polynomial between two steps (Shampine 1986,
*Math. Comput.* 46:135), first step and length of the next one (Hairer, Nørsett and Wanner 1993, *Solving
Ordinary Differential Equations I*, II.4) are those of scipy's RK45, to the last bit
(`tests/test_check_steps.py`). They stand here because to load scipy takes longer than to run a plan, and
because case by case the sums stay in the processor's registers, where whole arrays would go to memory
and back some thirty times a step.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.check import equations_kernel as kernel
from optimizer.check.brent import root_between
from optimizer.check.equations_kernel import Moves
from optimizer.check.worst_cases import Array

SAFETY, LEAST_FACTOR, MOST_FACTOR = 0.9, 0.2, 10.0
"""How long a step is by the error of the one before [1]."""

ERROR_EXPONENT = -1.0 / 5.0
"""The error of a step goes with the fifth power of its length."""

STAGES = np.array(
    [
        [0, 0, 0, 0, 0],
        [1 / 5, 0, 0, 0, 0],
        [3 / 40, 9 / 40, 0, 0, 0],
        [44 / 45, -56 / 15, 32 / 9, 0, 0],
        [19372 / 6561, -25360 / 2187, 64448 / 6561, -212 / 729, 0],
        [9017 / 3168, -355 / 33, 46732 / 5247, 49 / 176, -5103 / 18656],
    ]
)
RESULT = np.array([35 / 384, 0, 500 / 1113, 125 / 192, -2187 / 6784, 11 / 84])
ERROR = np.array([-71 / 57600, 0, 71 / 16695, -71 / 1920, 17253 / 339200, -22 / 525, 1 / 40])
BETWEEN = np.array(
    [
        [1, -8048581381 / 2820520608, 8663915743 / 2820520608, -12715105075 / 11282082432],
        [0, 0, 0, 0],
        [0, 131558114200 / 32700410799, -68118460800 / 10900136933, 87487479700 / 32700410799],
        [0, -1754552775 / 470086768, 14199869525 / 1410260304, -10690763975 / 1880347072],
        [0, 127303824393 / 49829197408, -318862633887 / 49829197408, 701980252875 / 199316789632],
        [0, -282668133 / 205662961, 2019193451 / 616988883, -1453857185 / 822651844],
        [0, 40617522 / 29380423, -110615467 / 29380423, 69997945 / 29380423],
    ]
)
"""Coefficients of the stages, of the result, of its error, and of the polynomial between two steps [1]."""


@dataclass(frozen=True)
class _Step:
    """A step that was taken: where it began, how long it was, and the polynomial over it."""

    begins: float
    length: float
    at: Array
    polynomial: Array

    def state(self, place: float) -> Array:
        """The state at a place within it."""
        powers = np.cumprod(np.tile((place - self.begins) / self.length, BETWEEN.shape[1]))
        found = self.length * np.dot(self.polynomial, powers)
        found += self.at
        return np.asarray(found)


def integrated(
    moves: Moves,
    start: Array,
    rtol: float,
    samples_per_step: int,
    event: Callable[[float, Array], float] | None = None,
) -> tuple[Array, Array]:
    """Integrate quantities × cases from 0 to 1, or to the event: quantities × cases × samples, and where."""
    cases = start.shape[1]
    steps, ends, last = _steps(moves, start.reshape(-1).astype(float), rtol, event)
    between = np.arange(samples_per_step) / samples_per_step
    sigma = np.append((ends[:-1, None] + np.diff(ends)[:, None] * between).ravel(), ends[-1])
    values = np.empty((3, cases, len(sigma)))
    for number, step in enumerate(steps):
        first = number * samples_per_step
        shares = (sigma[first : first + samples_per_step] - step.begins) / step.length
        polynomial = step.polynomial.reshape(3, cases, -1)
        kernel.between_steps(values, first, polynomial, step.at.reshape(3, cases), step.length, shares)
    values[:, :, -1] = last.reshape(3, cases)
    return values, sigma


def _steps(
    moves: Moves, at: Array, rtol: float, event: Callable[[float, Array], float] | None
) -> tuple[list[_Step], Array, Array]:
    """Step from 0 to 1, or to the event: the steps, their ends, and the last state."""
    shape = (3, len(moves.times))
    flat = np.empty((len(ERROR), len(at)))
    stages, method, tolerances = flat.reshape(-1, *shape), (STAGES, RESULT, ERROR), (rtol, 10.0 * rtol)
    slope = moves.slopes(at.reshape(shape)).reshape(-1)
    length = _first_length(moves, at, slope, rtol)
    steps, ends, place = list[_Step](), [0.0], 0.0
    left = None if event is None else event(place, at)
    while place < 1.0:
        flat[0] = slope
        after, rejected = np.empty(shape), False
        least = 10.0 * float(np.nextafter(place, np.inf) - place)
        length = max(least, length)  # least where the length is no number
        while True:
            if length < least:
                return steps, np.array(ends), at
            next_place = min(place + length, 1.0)
            length = next_place - place
            error = kernel.runge_kutta_step(
                moves.drive, moves.times, at.reshape(shape), length, method, tolerances,
                moves.fills, moves.vent_kw_per_kpa, moves.steam_share, after, stages,
            )  # fmt: skip
            factor = MOST_FACTOR if error == 0.0 else SAFETY * error**ERROR_EXPONENT
            if error < 1.0:
                break
            # An error that is no number makes the step small too.
            rejected, length = True, length * max(LEAST_FACTOR, factor)
        steps.append(_Step(place, next_place - place, at, flat.T.dot(BETWEEN)))
        factor = min(MOST_FACTOR, factor)
        length *= min(1.0, factor) if rejected else factor
        place, at, slope = next_place, after.reshape(-1), flat[-1].copy()
        if event is not None and left is not None:
            now = event(place, at)
            if left <= 0.0 <= now or left >= 0.0 >= now:
                return _ended(steps, ends, place, event)
            left = now
        ends.append(place)
    return steps, np.array(ends), at


def _ended(
    steps: list[_Step], ends: list[float], place: float, event: Callable[[float, Array], float]
) -> tuple[list[_Step], Array, Array]:
    """End the last step where the event is."""
    last = steps[-1]
    place = root_between(lambda one: event(one, last.state(one)), last.begins, place)
    # At the very end of a step the one before has it already.
    if len(ends) > 1 and ends[-1] == place:
        return steps[:-1], np.array(ends), last.state(place)
    return steps, np.array([*ends, place]), last.state(place)


def _first_length(moves: Moves, at: Array, slope: Array, rtol: float) -> float:
    """Length of the first step, by the slopes at the start and a little after it [1]."""
    scale = 10.0 * rtol + np.abs(at) * rtol
    size, speed = _norm(at / scale), _norm(slope / scale)
    little = 1e-6 if size < 1e-5 or speed < 1e-5 else 0.01 * size / speed
    little = min(little, 1.0)
    shape = (3, len(moves.times))
    after = moves.slopes((at + little * slope).reshape(shape)).reshape(-1)
    bend = _norm((after - slope) / scale) / little
    if speed <= 1e-15 and bend <= 1e-15:
        length = max(1e-6, little * 1e-3)
    else:
        length = (0.01 / max(speed, bend)) ** -ERROR_EXPONENT
    return float(min(100.0 * little, length, 1.0))


def _norm(values: Array) -> float:
    return float(np.linalg.norm(values) / values.size**0.5)
