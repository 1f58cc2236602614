"""The two nodes of a bench test, bath and ware, with the lag of both probes: many cases in one sweep.

The equations are those by which a programme is checked, written here a second time from the formulas of
`physics`. A step has constant coefficients (water mass and its specific heat are those of the step's middle),
so that it is taken by its exact solution; only the slow change of the coefficients is stepped.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields

import numpy as np
from numpy.typing import NDArray

from optimizer.measure.thermal_test import ThermalTest
from optimizer.physics import Array
from optimizer.physics.evaporation import Air, evaporation_kg_per_s_m2
from optimizer.physics.water import BOILING_C, density_kg_per_l, specific_heat_kj_per_kg_k
from optimizer.units import J_PER_KJ

FILM_J_PER_KG_K = J_PER_KJ * specific_heat_kj_per_kg_k(40.0)
"""Specific heat of the film on the ware [J/(kg K)]; within 0.9 % from 0 to 100 °C (IAPWS-IF97)."""

FIRST_STEP_S = 1.0
"""First step after a switching [s]; each is longer by `GROWTH` than the one before."""

GROWTH = 1.25
"""Growth of the steps [1]."""

LEAST_STEPS = 24
"""A step is at most this part of a session [1]; with these three the tests find less than 2 mK of error."""


@dataclass(frozen=True)
class Nodes:
    """What a case is simulated with, one value a case, shape (cases,).

    Attributes
    ----------
    tank_j_per_k, ware_j_per_k : ndarray
        Heat capacities [J/K].
    loss_still_w_per_k, loss_spraying_w_per_k : ndarray
        Losses to the room [W/K].
    response_still_s, response_spraying_s : ndarray
        Time with which ware without a film follows the bath [s].
    pump_heat_w : ndarray
        What of the pump's power warms the water [W].
    element_w : ndarray
        Element at its rated voltage [W].
    evaporation : ndarray
        Evaporation over that of the formula [1].
    bath_lag_s, ware_lag_s : ndarray
        Lags of the probes [s].
    bath_c, ware_c : ndarray
        Temperatures at the start [°C].
    room_over_k : ndarray
        Room over what was noted [K].
    water_kg : ndarray
        Water at the start [kg].
    """

    tank_j_per_k: Array
    ware_j_per_k: Array
    loss_still_w_per_k: Array
    loss_spraying_w_per_k: Array
    response_still_s: Array
    response_spraying_s: Array
    pump_heat_w: Array
    element_w: Array
    evaporation: Array
    bath_lag_s: Array
    ware_lag_s: Array
    bath_c: Array
    ware_c: Array
    room_over_k: Array
    water_kg: Array


@dataclass(frozen=True)
class Surroundings:
    """What no case differs in: opening [m2] and humidity [1] for evaporation, film on wet ware [kg]."""

    vent_m2: float
    humidity: float
    film_kg: float


@dataclass(frozen=True)
class Switched:
    """What is on in the steps of all sessions, shape (sessions, steps) each; padded with steps of 0 s.

    Attributes
    ----------
    step_s : ndarray
        Length of the step [s].
    room_c : ndarray
        Room as it was noted [°C].
    spraying, with_ware, wet : ndarray of bool
        Pump on; ware in the basket; a film on the ware.
    element : ndarray
        Power of the element over the rated one: 0 where it is off [1].
    """

    step_s: Array
    room_c: Array
    spraying: Array
    with_ware: Array
    wet: Array
    element: Array


@dataclass(frozen=True)
class Traces:
    """What the probes read at the ends of the steps, with the slopes inside each step.

    Attributes
    ----------
    read_c : ndarray, shape (2, steps + 1, cases)
        Probe in the bath, probe on the ware [°C].
    slope_first, slope_last : ndarray, shape (2, steps, cases)
        Slope as a step begins and ends [K/s].
    """

    read_c: Array
    slope_first: Array
    slope_last: Array


def step_ends_s(switchings_s: Sequence[float], end_s: float) -> Array:
    """Ends of the steps of a session: short after each switching, then longer.

    Parameters
    ----------
    switchings_s : sequence of float
        When something is switched, 0 among them, rising [s].
    end_s : float
        End of the session [s].

    Returns
    -------
    ndarray
        Ends of the steps, every switching and the end of the session among them [s].

    Examples
    --------
    >>> ends_s = step_ends_s([0.0, 10.0], 30.0)
    >>> bool(10.0 in ends_s), float(ends_s[-1])
    (True, 30.0)
    """
    ends: list[Array] = []
    longest_s = end_s / LEAST_STEPS
    for begin, end in zip(switchings_s, [*switchings_s[1:], end_s], strict=True):
        steps: list[float] = []
        span_s, step_s = end - begin, min(FIRST_STEP_S, longest_s)
        while sum(steps) < span_s - 1e-9:
            steps.append(step_s)
            step_s = min(step_s * GROWTH, longest_s)
        if steps:
            ends.append(begin + span_s * np.cumsum(steps) / sum(steps))
    return np.asarray(np.round(np.concatenate(ends), 9), float)


def simulate(nodes: Nodes, session: Array, switched: Switched, around: Surroundings) -> Traces:
    """Simulate every case through its session.

    Parameters
    ----------
    nodes : Nodes
        What each case is simulated with.
    session : ndarray of int, shape (cases,)
        Session of each case, a row of `switched`.
    switched : Switched
        What is on, step by step.
    around : Surroundings
        What no case differs in.

    Returns
    -------
    Traces
        What the probes read.

    Notes
    -----
    With ``C_b = c (m - m_f) + C_tank`` and a film m_f on wet ware while nothing sprays:

        C_b dT_b/dt             = P - UA (T_b - T_room) - (C_w / tau) (T_b - T_w)
        (C_w + c m_f) dT_w/dt   = (C_w / tau) (T_b - T_w)
        lag dy/dt               = T - y          (each probe)
        dm/dt                   = - evaporation, of which the heat is in UA

    Over a step ``T_b - T_end = a exp(-s t) + b exp(-f t)`` with the slow and the fast rate.
    """
    steps = switched.step_s.shape[1]
    cases = len(session)
    read = np.empty((2, steps + 1, cases))
    first, last = np.empty((2, steps, cases)), np.empty((2, steps, cases))
    temperature = np.stack([nodes.bath_c, nodes.ware_c])
    probe = temperature.copy()
    lag_s = np.stack([nodes.bath_lag_s, nodes.ware_lag_s])
    water_kg, film_kg = nodes.water_kg.copy(), np.where(switched.wet[session, 0], around.film_kg, 0.0)
    read[:, 0] = probe
    drift_k_per_s = np.zeros(cases)
    for k in range(steps):
        h = switched.step_s[session, k]
        spraying, wet = switched.spraying[session, k], switched.wet[session, k]
        room_c = switched.room_c[session, k] + nodes.room_over_k
        middle_c = np.clip(temperature[0] + 0.5 * h * drift_k_per_s, 0.0, BOILING_C)
        c_j = J_PER_KJ * specific_heat_kj_per_kg_k(middle_c)
        film_next_kg = np.where(wet, around.film_kg, 0.0)
        if k and np.any(film_next_kg != film_kg):
            temperature = _mixed(temperature, (film_kg, film_next_kg), c_j * water_kg, nodes)
        film_kg = film_next_kg
        vapour = evaporation_kg_per_s_m2(middle_c, Air(room_c, around.humidity))
        gone_kg = h * around.vent_m2 * nodes.evaporation * np.maximum(vapour, 0.0)
        bath_j = c_j * (water_kg - 0.5 * gone_kg - film_kg) + nodes.tank_j_per_k
        water_kg = water_kg - gone_kg
        loss_w = np.where(spraying, nodes.loss_spraying_w_per_k, nodes.loss_still_w_per_k)
        response_s = np.where(spraying, nodes.response_spraying_s, nodes.response_still_s)
        exchange_w = np.where(switched.with_ware[session, k], nodes.ware_j_per_k / response_s, 0.0)
        ware_j = nodes.ware_j_per_k + FILM_J_PER_KG_K * film_kg
        heat_w = spraying * nodes.pump_heat_w + switched.element[session, k] * nodes.element_w
        settled_c = room_c + heat_w / loss_w
        rates = _Rates.of(exchange_w / bath_j, loss_w / bath_j, exchange_w / ware_j)
        before_c = temperature[0]
        first[:, k] = (temperature - probe) / lag_s
        temperature, probe = rates.after(h, temperature - settled_c, probe - settled_c, lag_s)
        temperature, probe = temperature + settled_c, probe + settled_c
        last[:, k] = (temperature - probe) / lag_s
        read[:, k + 1] = probe
        drift_k_per_s = np.where(h > 0.0, (temperature[0] - before_c) / np.where(h > 0.0, h, 1.0), 0.0)
    return Traces(read, first, last)


def _mixed(temperature: Array, film_kg: tuple[Array, Array], water_j_per_k: Array, nodes: Nodes) -> Array:
    """Give the film to the bath as a spray begins, or to the ware as it ends; heat is kept."""
    bath_c, ware_c = temperature
    old_j, new_j = FILM_J_PER_KG_K * film_kg[0], FILM_J_PER_KG_K * film_kg[1]
    to_bath, to_ware = np.maximum(old_j - new_j, 0.0), np.maximum(new_j - old_j, 0.0)
    bath_j = water_j_per_k - old_j + nodes.tank_j_per_k
    share = to_bath / (bath_j + to_bath)
    mixed_c = bath_c + share * (ware_c - bath_c)
    share = to_ware / (nodes.ware_j_per_k + to_ware)
    return np.stack([mixed_c, ware_c + share * (bath_c - ware_c)])


@dataclass(frozen=True)
class _Rates:
    """Rates of a step: exchange seen by the bath, its loss, exchange seen by the ware; both decays [1/s]."""

    bath: Array
    loss: Array
    ware: Array
    slow: Array
    fast: Array

    @classmethod
    def of(cls, bath: Array, loss: Array, ware: Array) -> _Rates:
        half = 0.5 * (bath + loss + ware)
        root = np.sqrt(np.maximum(half**2 - loss * ware, 0.0))
        return cls(bath, loss, ware, loss * ware / (half + root), half + root)

    def after(self, h: Array, over: Array, probe: Array, lag_s: Array) -> tuple[Array, Array]:
        """Temperatures and readings after a step, all over the final temperature [K]."""
        gap = over[0] - over[1]
        slope = np.stack([-self.loss * over[0] - self.bath * gap, self.ware * gap])
        slow_k = (self.fast * over + slope) / (self.fast - self.slow)
        fast_k = over - slow_k
        slow, fast = np.exp(-self.slow * h), np.exp(-self.fast * h)
        after = slow_k * slow + fast_k * fast
        lagging = probe * np.exp(-h / lag_s)
        for rate, part in ((self.slow, slow_k), (self.fast, fast_k)):
            # The integral of exp(-(h - t)/lag) exp(-rate t) / lag; written so that equal rates do no harm.
            apart = np.abs(1.0 / lag_s - rate) * h
            mean = -np.expm1(-apart) / np.where(apart > 0.0, apart, 1.0) + (apart == 0.0)
            lagging = lagging + part * (h / lag_s) * np.exp(-np.minimum(rate, 1.0 / lag_s) * h) * mean
        return after, lagging


@dataclass(frozen=True)
class Reader:
    """Reads a probe between the ends of the steps: one row a reading.

    A cubic through both ends of a step with the slopes there (Hermite).

    Attributes
    ----------
    step : ndarray of int, shape (readings,)
        Step in which the reading lies.
    weights : ndarray, shape (4, readings)
        Weights of both ends [1] and of both slopes [s].
    """

    step: NDArray[np.intp]
    weights: Array

    @classmethod
    def at(cls, time_s: Array, ends_s: Array) -> Reader:
        """Prepare to read at some times of a session, within its steps."""
        begins_s = np.concatenate([[0.0], ends_s[:-1]])
        step = np.clip(np.searchsorted(ends_s, time_s), 0, len(ends_s) - 1)
        h = ends_s[step] - begins_s[step]
        x = (time_s - begins_s[step]) / h
        weights = np.stack(
            [
                (1.0 + 2.0 * x) * (1.0 - x) ** 2,
                x**2 * (3.0 - 2.0 * x),
                h * x * (1.0 - x) ** 2,
                h * x**2 * (x - 1.0),
            ]
        )
        return cls(step, weights)

    def read(self, traces: Traces, probe: int, cases: Array) -> Array:
        """Read one probe (0 bath, 1 ware) of some cases: shape (readings, cases)."""
        first, last, slope_first, slope_last = self.weights[:, :, None]
        pick = np.ix_(self.step, cases)
        after = np.ix_(self.step + 1, cases)
        return np.asarray(
            first * traces.read_c[probe][pick]
            + last * traces.read_c[probe][after]
            + slope_first * traces.slope_first[probe][pick]
            + slope_last * traces.slope_last[probe][pick]
        )


def film_kg(film_l: float) -> float:
    """Mass of the film that hangs on the ware [kg]."""
    return float(film_l * density_kg_per_l(40.0))


def stacked(rows: Sequence[Nodes]) -> Nodes:
    """Put cases behind each other."""
    return Nodes(*(np.concatenate([getattr(row, f.name) for row in rows]) for f in fields(Nodes)))


def begins_s(test: ThermalTest) -> float:
    """When a test's condition began, in the time of its log [s]."""
    return float(test.log.time_s[0]) if test.begins_s is None else test.begins_s


def ends_s(test: ThermalTest) -> float:
    """When a test's condition ended, in the time of its log [s]."""
    return float(test.log.time_s[-1]) if test.ends_s is None else test.ends_s
