"""The steps of the check's integrator and its search for a root: those of scipy, to the last bit."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Any

import numpy as np
import pytest
from scipy.integrate import RK45, solve_ivp
from scipy.optimize import brentq
from test_compiled import BOXES, right_side_arguments

from optimizer.check import equations_kernel as kernel
from optimizer.check.brent import TOLERANCE, root_between
from optimizer.check.equations_kernel import Moves
from optimizer.check.equations_steps import (
    BETWEEN,
    ERROR,
    LEAST_FACTOR,
    MOST_FACTOR,
    RESULT,
    SAFETY,
    STAGES,
    integrated,
)


class CompiledSteps(RK45):
    """scipy's RK45 with the compiled sums of a step: what the integrator must give, bit for bit."""

    def __init__(
        self, fun: Any, t0: float, y0: np.ndarray, t_bound: float, moves: Moves, **options: Any
    ) -> None:
        super().__init__(fun, t0, y0, t_bound, **options)
        self._moves, self._shape = moves, (3, len(moves.times))
        self._stages = np.asarray(self.K, dtype=float).reshape(-1, *self._shape)
        self._rtol = float(options["rtol"])
        self.rejections = 0

    def _step_impl(self) -> tuple[bool, str | None]:
        moves, t, rejected = self._moves, self.t, False
        method, tolerances = (self.A, self.B, self.E), (self._rtol, 10.0 * self._rtol)
        at, after = self.y.reshape(self._shape), np.empty(self._shape)
        self.K[0] = self.f
        step = max(float(self.h_abs), 10.0 * float(np.nextafter(t, np.inf) - t))
        while True:
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
            rejected, step = True, step * max(LEAST_FACTOR, factor)
            REJECTED.append(t)
        self.h_previous, self.y_old = step, self.y
        self.t, self.y, self.f = t_new, after.reshape(-1), self.K[-1].copy()
        return True, None


REJECTED: list[float] = []


def a_case(seed: int, duration_s: float) -> tuple[Moves, np.ndarray]:
    """Ware that follows fast and a bath that it warms: steps that are tried too long."""
    random = np.random.default_rng(seed)
    drive, times, at, fills, vent, _, _ = right_side_arguments(random, False)
    drive[kernel.WARE_PER_S], drive[kernel.EXCHANGE] = 0.02, 80.0
    return Moves(drive, duration_s + times, fills, vent, np.empty(0)), at


def theirs_of(moves: Moves, at: np.ndarray, event: Callable[..., float] | None) -> Any:
    return solve_ivp(  # type: ignore[call-overload]
        lambda _, y: moves.slopes(y.reshape(3, BOXES)).reshape(-1), (0.0, 1.0), at.reshape(-1),
        method=CompiledSteps, rtol=1e-5, atol=1e-4, dense_output=True, events=event, moves=moves,
    )  # fmt: skip


def test_coefficients_are_those_of_scipy() -> None:
    for ours, theirs in ((STAGES, RK45.A), (RESULT, RK45.B), (ERROR, RK45.E), (BETWEEN, RK45.P)):
        assert (ours == theirs).all()


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("duration_s", [30.0, 2000.0])
def test_steps_are_those_of_scipy_to_the_last_bit(seed: int, duration_s: float) -> None:
    moves, at = a_case(seed, duration_s)
    values, sigma = integrated(moves, at, 1e-5, 4)
    theirs = theirs_of(moves, at, None)
    assert (sigma[::4] == theirs.t).all()
    assert (values.reshape(3 * BOXES, -1)[:, ::4] == theirs.y).all()
    part = theirs.sol.interpolants[1]
    inside = (sigma[5] - part.t_old) / part.h
    expected = part.Q @ (inside ** np.arange(1.0, 5.0)) * part.h + part.y_old
    assert values.reshape(3 * BOXES, -1)[:, 5] == pytest.approx(expected, rel=1e-12)


def test_some_of_these_steps_were_rejected() -> None:
    """Else nothing above looks at a step that is made shorter."""
    REJECTED.clear()
    for seed in range(6):
        theirs_of(*a_case(seed, 2000.0), None)
    assert REJECTED


@pytest.mark.parametrize("seed", range(6))
@pytest.mark.parametrize("share", [0.01, 0.3, 0.9])
def test_an_event_ends_them_where_scipy_ends_them(seed: int, share: float) -> None:
    """Where the first bath passes what it has after a share of the time."""
    moves, at = a_case(seed, 2000.0)
    whole, sigma = integrated(moves, at, 1e-5, 4)
    passed_c = float(np.interp(share, sigma, whole[0, 0]))

    def event(_: float, y: np.ndarray) -> float:
        return float(y[0] - passed_c)

    event.terminal = True  # type: ignore[attr-defined]
    values, sigma = integrated(moves, at, 1e-5, 4, event)
    theirs = theirs_of(moves, at, event)
    assert theirs.status == 1
    assert (sigma[::4] == theirs.t).all()
    assert (values[:, :, -1].reshape(-1) == theirs.y[:, -1]).all()
    assert values[0, 0, -1] == pytest.approx(passed_c, abs=1e-9)


def test_an_event_that_never_comes_ends_nothing() -> None:
    moves, at = a_case(1, 30.0)
    without, with_event = (integrated(moves, at, 1e-5, 4, event) for event in (None, lambda *_: 1.0))
    assert (without[0] == with_event[0]).all()
    assert with_event[1][-1] == 1.0


def test_slopes_that_are_no_numbers_end_it() -> None:
    moves, at = a_case(2, 30.0)
    at[0, 0] = math.nan
    values, sigma = integrated(moves, at, 1e-5, 4)
    assert sigma[-1] < 1.0
    assert values.shape[2] == len(sigma)


FUNCTIONS: dict[str, Callable[[float, float, float], Callable[[float], float]]] = {
    "cubic": lambda a, b, c: lambda x: a * x**3 + b * x + c,
    "steep": lambda a, b, c: lambda x: math.tanh(20.0 * (x - a)) + 0.1 * b,
    "exponential": lambda a, b, c: lambda x: math.exp(a * x) - 1.0 - b,
    "a jump": lambda a, b, c: lambda x: 0.5 if x > a else -0.5,
    "with ends at 0": lambda a, b, c: lambda x: max(x, 0.0) if a > 0.0 else min(x, 0.0),
}


@pytest.mark.parametrize("name", FUNCTIONS)
def test_the_root_is_scipys_to_the_last_bit(name: str) -> None:
    random, found = np.random.default_rng(7), 0
    for _ in range(3000):
        function = FUNCTIONS[name](*random.normal(size=3).tolist())
        low, high = sorted((3.0 * random.normal(size=2)).tolist())
        if function(low) * function(high) <= 0.0:
            assert root_between(function, low, high) == brentq(
                function, low, high, xtol=TOLERANCE, rtol=TOLERANCE
            )
            found += 1
    assert found > 100
