"""Closed forms of heating, cooling, filling and draining, and the power of an element.

One body: ``C dT/dt = P - UA (T - T_room)``. Two nodes (bath and ware): the same with an exchange
``G (T_bath - T_ware)``. All functions take scalars or arrays that broadcast against each other.
"""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.physics import Array, Number, Real


def element_power_w(supply_v: Real, rated_w: Real | float, rated_v: Real | float) -> Real:
    """Power of a resistive element off its rated voltage.

    Parameters
    ----------
    supply_v : float or ndarray
        Voltage at its terminals [V], 0 or more.
    rated_w : float or ndarray
        Rated power [W].
    rated_v : float or ndarray
        Voltage at which it takes that power [V], above 0.

    Returns
    -------
    float or ndarray
        Power [W].

    Notes
    -----
    Ohm's law: ``P = P_rated (U / U_rated)^2``. The few per cent by which a sheathed element's resistance
    rises when it is hot are within its name-plate tolerance and left out.

    Examples
    --------
    >>> f"{element_power_w(253.0, 1000.0, 230.0):.0f}"
    '1210'
    """
    return rated_w * (supply_v / rated_v) ** 2


def heating_time_s(
    start_c: Number,
    target_c: Number,
    capacity_j_per_k: Number,
    power_w: Number,
    loss_w_per_k: Number,
    room_c: Number,
) -> Array:
    """Time to bring one body from one temperature to another at constant power.

    Parameters
    ----------
    start_c, target_c : float or ndarray
        Temperatures at the start and the end [°C].
    capacity_j_per_k : float or ndarray
        Heat capacity of the body, above 0 [J/K].
    power_w : float or ndarray
        Heat put in [W].
    loss_w_per_k : float or ndarray
        Heat loss to the room, above 0 [W/K].
    room_c : float or ndarray
        Room temperature [°C].

    Returns
    -------
    ndarray, broadcast
        Time [s]; 0 where the target is already met, inf where it is never met.

    Notes
    -----
    Solution of ``C dT/dt = P - UA (T - T_room)``, a first-order linear equation:
    ``t = C/UA ln((T_end - T_start) / (T_end - T_target))`` with ``T_end = T_room + P/UA``. Newton's law of
    cooling; the tests hold it against numerical integration.

    Examples
    --------
    10 l from 15 °C to 55 °C at 1 kW with next to no loss take m c dT / P:

    >>> float(heating_time_s(15.0, 55.0, 41800.0, 1000.0, 1e-6, 20.0).round(1))
    1672.0
    """
    settled_c = np.asarray(room_c + power_w / loss_w_per_k, dtype=float)
    tau_s = capacity_j_per_k / loss_w_per_k
    with np.errstate(divide="ignore", invalid="ignore"):
        ratio = (settled_c - start_c) / (settled_c - target_c)
        time_s = np.where(ratio > 0.0, tau_s * np.log(np.maximum(ratio, 1e-300)), np.inf)
    time_s = np.where((settled_c - target_c) * (target_c - start_c) < 0.0, np.inf, time_s)
    return np.where(np.asarray(target_c) <= start_c, 0.0, time_s)


def temperature_after_c(
    start_c: Number,
    time_s: Number,
    capacity_j_per_k: Number,
    power_w: Number,
    loss_w_per_k: Number,
    room_c: Number,
) -> Array:
    """Temperature of one body after a time at constant power.

    Parameters
    ----------
    start_c : float or ndarray
        Temperature at the start [°C].
    time_s : float or ndarray
        Time, 0 or more [s].
    capacity_j_per_k : float or ndarray
        Heat capacity of the body, above 0 [J/K].
    power_w : float or ndarray
        Heat put in [W].
    loss_w_per_k : float or ndarray
        Heat loss to the room, above 0 [W/K].
    room_c : float or ndarray
        Room temperature [°C].

    Returns
    -------
    ndarray, broadcast
        Temperature [°C].

    Notes
    -----
    ``T(t) = T_end + (T_start - T_end) exp(-UA t / C)`` with ``T_end = T_room + P/UA``.

    Examples
    --------
    >>> float(temperature_after_c(15.0, 1672.0, 41800.0, 1000.0, 1e-6, 20.0).round(2))
    55.0
    """
    settled_c = room_c + power_w / loss_w_per_k
    decay = np.exp(-time_s * loss_w_per_k / capacity_j_per_k)
    return settled_c + (start_c - settled_c) * decay


def mixed_c(first_c: Number, first_j_per_k: Number, second_c: Number, second_j_per_k: Number) -> Array:
    """Temperature of two bodies after they have exchanged heat.

    Parameters
    ----------
    first_c, second_c : float or ndarray
        Temperatures [°C].
    first_j_per_k, second_j_per_k : float or ndarray
        Heat capacities [J/K].

    Returns
    -------
    ndarray, broadcast
        Common temperature [°C].

    Notes
    -----
    Energy is kept: ``T = (C_1 T_1 + C_2 T_2) / (C_1 + C_2)``.

    Examples
    --------
    >>> float(mixed_c(60.0, 3.0, 20.0, 1.0))
    50.0
    """
    mixed: Array = (first_c * first_j_per_k + second_c * second_j_per_k) / (first_j_per_k + second_j_per_k)  # type: ignore[assignment]
    return mixed


class Flow(NamedTuple):
    """Water that comes into a tank, or leaves it.

    Attributes
    ----------
    heat_w_per_k : float or ndarray
        Mass flow times specific heat, above 0 [W/K].
    water_c : float or ndarray
        Temperature of the water that comes in [°C]; not used while draining.
    """

    heat_w_per_k: Number
    water_c: Number


def filled_c(
    start_c: Number,
    time_s: Number,
    capacity_j_per_k: Number,
    flow: Flow,
    loss_w_per_k: Number,
    room_c: Number,
) -> Array:
    """Temperature of a tank after water has run in.

    Parameters
    ----------
    start_c : float or ndarray
        Temperature at the start [°C].
    time_s : float or ndarray
        Time the inlet is open [s].
    capacity_j_per_k : float or ndarray
        Heat capacity at the start, above 0 [J/K].
    flow : Flow
        The inflow.
    loss_w_per_k : float or ndarray
        Heat loss to the room [W/K].
    room_c : float or ndarray
        Room temperature [°C].

    Returns
    -------
    ndarray, broadcast
        Temperature [°C].

    Notes
    -----
    ``C(t) dT/dt = q (T_in - T) - UA (T - T_room)`` with ``C(t) = C_0 + q t``, a linear equation with a
    power of C as its solution: ``T = T_end + (T_start - T_end) (C(t)/C_0)^(-(q + UA)/q)``.

    Examples
    --------
    >>> flow = Flow(heat_w_per_k=418.0, water_c=10.0)
    >>> round(filled_c(50.0, 100.0, 41800.0, flow, 0.0, 20.0), 2)
    30.0
    """
    draw = flow.heat_w_per_k + loss_w_per_k
    settled_c = (flow.heat_w_per_k * flow.water_c + loss_w_per_k * room_c) / draw
    growth = 1.0 + flow.heat_w_per_k * time_s / capacity_j_per_k
    return settled_c + (start_c - settled_c) * growth ** (-draw / flow.heat_w_per_k)


def drained_c(
    start_c: Number,
    water_j_per_k: Number,
    kept_j_per_k: Number,
    flow_w_per_k: Number,
    loss_w_per_k: Number,
    room_c: Number,
) -> Array:
    """Temperature of what stays in a tank when the water has been pumped out.

    The water leaves at bath temperature, so only the loss to the room cools what stays.

    Parameters
    ----------
    start_c : float or ndarray
        Temperature at the start [°C].
    water_j_per_k : float or ndarray
        Heat capacity of the water that leaves [J/K].
    kept_j_per_k : float or ndarray
        Heat capacity of what stays, above 0 [J/K].
    flow_w_per_k : float or ndarray
        Mass flow of the drain times specific heat, above 0 [W/K].
    loss_w_per_k : float or ndarray
        Heat loss to the room [W/K].
    room_c : float or ndarray
        Room temperature [°C].

    Returns
    -------
    ndarray, broadcast
        Temperature [°C].

    Notes
    -----
    On a falling heat capacity, ``(C_0 - q t) dT/dt = -UA (T - T_room)``, until ``C_kept`` is left:
    ``T = T_room + (T_start - T_room) (C_kept/C_0)^(UA/q)``.

    Examples
    --------
    >>> float(drained_c(60.0, 41800.0, 5000.0, 500.0, 0.0, 20.0))
    60.0
    """
    shrink = kept_j_per_k / (kept_j_per_k + water_j_per_k)
    return room_c + (start_c - room_c) * shrink ** (loss_w_per_k / flow_w_per_k)
