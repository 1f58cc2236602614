"""Steps of the integrator: those of scipy's RK45, with the arithmetic of a step compiled, case by case.

scipy chooses the first step and finds the events; method, error and interpolation are its own too (Dormand
and Prince 1980, Shampine 1986). Only the sums are made here: case by case they stay in the processor's
registers, where whole arrays would go to memory and back some thirty times a step.
"""

from __future__ import annotations

import functools
from collections.abc import Callable
from typing import Any

import numpy as np

from optimizer.check import equations_kernel as kernel
from optimizer.check.equations_kernel import Moves
from optimizer.check.worst_cases import Array

SAFETY, LEAST_FACTOR, MOST_FACTOR = 0.9, 0.2, 10.0
"""How long a step is by the error of the one before, as scipy has it [1]."""


@functools.cache
def _compiled_steps() -> type[Any]:
    """Make the class of it; loading scipy takes a fifth of a second."""
    from scipy.integrate import RK45

    class CompiledSteps(RK45):
        """RK45 whose steps are compiled; it integrates forward, without a longest step."""

        def __init__(
            self, fun: Any, t0: float, y0: Array, t_bound: float, moves: Moves, **options: Any
        ) -> None:
            super().__init__(fun, t0, y0, t_bound, **options)
            self._moves, self._shape = moves, (3, len(moves.times))
            self._stages: Array = np.asarray(self.K, dtype=float).reshape(-1, *self._shape)
            self._rtol = float(options["rtol"])

        def _step_impl(self) -> tuple[bool, str | None]:
            moves, t, rejected = self._moves, self.t, False
            method, tolerances = (self.A, self.B, self.E), (self._rtol, 10.0 * self._rtol)
            at, after = self.y.reshape(self._shape), np.empty(self._shape)
            self.K[0] = self.f
            least = 10.0 * float(np.nextafter(t, np.inf) - t)
            step = max(float(self.h_abs), least)
            while True:
                if step < least:
                    return False, self.TOO_SMALL_STEP
                t_new = min(t + step, self.t_bound)
                step = t_new - t
                error = kernel.runge_kutta_step(
                    moves.drive, moves.times, at, step, method, tolerances,
                    moves.fills, moves.vent_kw_per_kpa, moves.steam_share, after, self._stages,
                )  # fmt: skip
                factor = MOST_FACTOR if error == 0.0 else SAFETY * error**self.error_exponent
                if error < 1.0:
                    factor = min(MOST_FACTOR, factor)
                    self.h_abs = step * (min(1.0, factor) if rejected else factor)
                    break
                # An error that is no number makes the step small too.
                rejected, step = True, step * max(LEAST_FACTOR, factor)
            self.h_previous, self.y_old = step, self.y
            self.t, self.y, self.f = t_new, after.reshape(-1), self.K[-1].copy()
            return True, None

    return CompiledSteps


def integrated(
    moves: Moves,
    start: Array,
    rtol: float,
    samples_per_step: int,
    event: Callable[[float, Array], float] | None = None,
) -> tuple[Array, Array]:
    """Integrate quantities × cases from 0 to 1, or to the event: quantities × cases × samples, and where."""
    from scipy.integrate import solve_ivp

    cases = start.shape[1]
    solved = solve_ivp(  # type: ignore[call-overload]
        lambda _, y: moves.slopes(y.reshape(3, cases)).reshape(-1),
        (0.0, 1.0),
        start.reshape(-1),
        method=_compiled_steps(),
        rtol=rtol,
        atol=10.0 * rtol,
        dense_output=True,
        events=event,
        moves=moves,
    )
    assert solved.sol is not None
    between = np.arange(samples_per_step) / samples_per_step
    sigma = np.append((solved.t[:-1, None] + np.diff(solved.t)[:, None] * between).ravel(), solved.t[-1])
    values = np.empty((3, cases, len(sigma)))
    for number, part in enumerate(solved.sol.interpolants):
        first = number * samples_per_step
        shares = (sigma[first : first + samples_per_step] - part.t_old) / part.h
        polynomial = part.Q.reshape(3, cases, -1)
        kernel.between_steps(values, first, polynomial, part.y_old.reshape(3, cases), part.h, shares)
    values[:, :, -1] = solved.y[:, -1].reshape(3, cases)
    return values, sigma
