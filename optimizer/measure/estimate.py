"""What a measurement gives: a number of the profile with its ends, and what the instruments are worth."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Estimate:
    """A number of a machine profile as it was measured.

    Attributes
    ----------
    key : str
        Its key in the profile, dotted: ``tank.heat_capacity_kj_per_k``.
    nominal, low, high : float
        The number and its two ends, in the unit of the key; low ≤ nominal ≤ high.
    readings : int
        From how many readings it comes (rows of logs count one by one) [1].
    method : str
        How it came about, in a few words: ``tolerance interval, 95 % of runs``.
    remarks : tuple of str
        What stands against it, a sentence without a full stop each; empty where nothing does.
    test : str
        Table of the bench book that it comes from; empty where it comes from the thermal logs together.
    """

    key: str
    nominal: float
    low: float
    high: float
    readings: int
    method: str
    remarks: tuple[str, ...] = ()
    test: str = ""


@dataclass(frozen=True)
class Instruments:
    """What the instruments of a bench are worth.

    An error is the half-width of a rectangle (GUM 4.3.7): the reading is off by an unknown amount, the same
    for all readings of the instrument, and anything up to that is as likely. A step is the last digit shown.
    Logs are corrected before they are fitted where the thermometer was calibrated, and
    `thermometer_error_k` is then what the calibration leaves open.

    Attributes
    ----------
    thermometer_error_k, thermometer_step_k : float
        Of every thermometer [K].
    scales_error_kg, scales_step_kg : float
        Of the kitchen scales [kg].
    jug_error_share : float
        Of a measuring jug or a marked bucket, as a share of what is in it [1].
    stopwatch_error_s : float
        Of a time that a person stopped, the hand included [s].
    meter_error_share : float
        Of the plug-in meter's watts and kilowatt-hours, as a share of the reading [1].
    meter_step_kwh : float
        Last digit of its energy [kWh].
    meter_step_w : float
        Last digit of its power [W].
    voltmeter_error_share, ohmmeter_error_share : float
        Of volts and of ohms, as a share of the reading [1].
    """

    thermometer_error_k: float = 0.5
    thermometer_step_k: float = 0.1
    scales_error_kg: float = 0.005
    scales_step_kg: float = 0.001
    jug_error_share: float = 0.02
    stopwatch_error_s: float = 0.3
    meter_error_share: float = 0.02
    meter_step_kwh: float = 0.01
    meter_step_w: float = 1.0
    voltmeter_error_share: float = 0.01
    ohmmeter_error_share: float = 0.01
