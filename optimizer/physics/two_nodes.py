"""Two nodes, bath and ware, that exchange heat: the exact course at constant power."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from optimizer.physics import Number


class TwoNodes(NamedTuple):
    """Bath and ware that exchange heat, with a constant heat input to the bath.

    ``C_b dT_b/dt = P - UA (T_b - T_room) - G (T_b - T_w)``, ``C_w dT_w/dt = G (T_b - T_w)``: two linear
    equations, solved by their two decay rates.

    Attributes
    ----------
    bath_j_per_k, ware_j_per_k : float or ndarray
        Heat capacities, above 0 [J/K].
    exchange_w_per_k : float or ndarray
        Conductance between bath and ware, above 0 [W/K].
    loss_w_per_k : float or ndarray
        Heat loss of the bath to the room, above 0 [W/K].
    power_w : float or ndarray
        Heat put into the bath [W].
    room_c : float or ndarray
        Room temperature [°C].
    """

    bath_j_per_k: Number
    ware_j_per_k: Number
    exchange_w_per_k: Number
    loss_w_per_k: Number
    power_w: Number
    room_c: Number


class Course(NamedTuple):
    """How two nodes go on from a moment; made by `course_of`.

    Attributes
    ----------
    settled_c : float or ndarray
        Temperature both nodes tend to [°C].
    slow_per_s, fast_per_s : float or ndarray
        Decay rates [1/s].
    slow_k, fast_k : float or ndarray
        Their amplitudes on the ware [K].
    ware_per_s : float or ndarray
        Exchange over heat capacity of the ware [1/s].
    """

    settled_c: Number
    slow_per_s: Number
    fast_per_s: Number
    slow_k: Number
    fast_k: Number
    ware_per_s: Number


def course_of(nodes: TwoNodes, bath_c: Number, ware_c: Number) -> Course:
    """Solve for the course from given temperatures.

    Parameters
    ----------
    nodes : TwoNodes
        The bodies and their heat.
    bath_c, ware_c : float or ndarray
        Temperatures at the start [°C].

    Returns
    -------
    Course
        The course, to be asked for temperatures at any time.

    Examples
    --------
    >>> course = course_of(TwoNodes(50e3, 8e3, 200.0, 9.0, 900.0, 20.0), 15.0, 20.0)
    >>> bath_c, ware_c = after(course, 1800.0)
    >>> f"{bath_c:.2f} {ware_c:.2f}"
    '41.16 40.67'
    """
    bath_rate = nodes.exchange_w_per_k / nodes.bath_j_per_k
    loss_rate = nodes.loss_w_per_k / nodes.bath_j_per_k
    ware_rate = nodes.exchange_w_per_k / nodes.ware_j_per_k
    half_trace = 0.5 * (bath_rate + loss_rate + ware_rate)
    root = np.sqrt(half_trace**2 - loss_rate * ware_rate)
    fast, slow = half_trace + root, loss_rate * ware_rate / (half_trace + root)
    settled_c = nodes.room_c + nodes.power_w / nodes.loss_w_per_k
    # Ware above its final value: a e^(-slow t) + b e^(-fast t); its slope at 0 is ware_rate (T_b - T_w).
    above, slope = ware_c - settled_c, ware_rate * (bath_c - ware_c)
    slow_part = (fast * above + slope) / (fast - slow)
    return Course(settled_c, slow, fast, slow_part, above - slow_part, ware_rate)


def after(course: Course, time_s: Number) -> tuple[Number, Number]:
    """Temperatures after a time.

    Parameters
    ----------
    course : Course
        The course.
    time_s : float or ndarray
        Time, 0 or more [s].

    Returns
    -------
    tuple of float or ndarray
        Bath and ware temperature [°C].

    Notes
    -----
    ``T_w = T_end + a exp(-t s) + b exp(-t f)`` with the slow and the fast decay rate; ``T_b`` follows
    from ``dT_w/dt = G/C_w (T_b - T_w)``.
    """
    slow = course.slow_k * np.exp(-course.slow_per_s * time_s)
    fast = course.fast_k * np.exp(-course.fast_per_s * time_s)
    ware_c = course.settled_c + slow + fast
    bath_c = ware_c - (course.slow_per_s * slow + course.fast_per_s * fast) / course.ware_per_s
    return bath_c, ware_c


def bath_slope_k_per_s(course: Course, time_s: Number) -> Number:
    """How fast the bath warms after a time.

    Parameters
    ----------
    course : Course
        The course.
    time_s : float or ndarray
        Time, 0 or more [s].

    Returns
    -------
    float or ndarray
        Slope of the bath's temperature [K/s].

    References
    ----------
    The derivative of `after`.
    """
    slow = course.slow_k * course.slow_per_s * np.exp(-course.slow_per_s * time_s)
    fast = course.fast_k * course.fast_per_s * np.exp(-course.fast_per_s * time_s)
    slope: Number = -slow - fast + (course.slow_per_s * slow + course.fast_per_s * fast) / course.ware_per_s
    return slope
