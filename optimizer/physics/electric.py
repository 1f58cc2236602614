"""Power and current of heaters and motors."""

from __future__ import annotations

from optimizer.physics import Real


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


def resistor_current_a(supply_v: Real, rated_w: Real | float, rated_v: Real | float) -> Real:
    """Current of a resistive load off its rated voltage.

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
        Current [A]: it grows with the voltage, so that the high end is the bad one.

    Notes
    -----
    Ohm's law: ``I = P_rated U / U_rated^2``.

    Examples
    --------
    >>> f"{resistor_current_a(253.0, 1150.0, 230.0):.2f}"
    '5.50'
    """
    return rated_w * supply_v / rated_v**2


def motor_current_a(supply_v: Real, power_w: Real | float, power_factor: Real | float) -> Real:
    """Running current of a motor that keeps its power when the voltage changes.

    Parameters
    ----------
    supply_v : float or ndarray
        Voltage at its terminals [V], above 0.
    power_w : float or ndarray
        Electrical power taken [W].
    power_factor : float or ndarray
        Power factor [1], above 0 and at most 1.

    Returns
    -------
    float or ndarray
        Current [A]: it falls with the voltage, so that the low end is the bad one. Added to a
        resistor's current as a plain number it overstates the sum, which is the safe side.

    Notes
    -----
    ``I = P / (U cos phi)``, single-phase alternating current.

    Examples
    --------
    >>> f"{motor_current_a(230.0, 92.0, 0.5):.2f}"
    '0.80'
    """
    current: Real = power_w / (supply_v * power_factor)
    return current


def inrush_current_a(running_a: Real, multiple: Real | float) -> Real:
    """Current of a motor in the first half-waves after it is switched on.

    Parameters
    ----------
    running_a : float or ndarray
        Running current [A].
    multiple : float or ndarray
        Inrush over running current [1]; 3–8 where it was not measured (sources differ).

    Returns
    -------
    float or ndarray
        Current [A].

    Notes
    -----
    ``I_start = m I_running``; the multiple is measured, or 6 by common practice (no source).

    Examples
    --------
    >>> inrush_current_a(0.75, 6.0)
    4.5
    """
    return running_a * multiple
