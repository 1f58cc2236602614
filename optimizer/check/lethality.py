"""Doses over a run: the integral of a rate of temperature, exact on every straight piece of it.

A rate jumps at its floor and has a kink at its ceiling. Between two samples the temperature is taken as
straight, and on a straight piece the integral is a difference of the antiderivative of the rate, jump and
kink included; no step size has to find them.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.worst_cases import Array
from optimizer.profile.goal import Dose
from optimizer.units import celsius_from_fahrenheit

STRAIGHT_K = 1e-7
"""Below this change the rate of the middle is as good as the integral [K]."""


@dataclass(frozen=True)
class Rate:
    """Rate ``share · exp(ln_at_0c + per_k · T)`` between floor and ceiling.

    Attributes
    ----------
    ln_at_0c : float
        Logarithm of the rate at 0 °C [1].
    per_k : float
        Its growth [1/K].
    floor_c : float
        No effect below [°C].
    ceiling_c : float
        No further gain above [°C].
    share : float
        Factor on the whole [1].
    """

    ln_at_0c: float
    per_k: float
    floor_c: float
    ceiling_c: float
    share: float = 1.0

    @classmethod
    def from_z(cls, reference_c: float, z_k: float, floor_c: float, ceiling_c: float) -> Rate:
        """Make the rate ``10^((T - reference_c) / z_k)``.

        Parameters
        ----------
        reference_c : float
            Temperature at which the rate is 1 [°C].
        z_k : float
            Kelvin for ten times the rate, above 0 [K].
        floor_c, ceiling_c : float
            No effect below, no further gain above [°C].

        Returns
        -------
        Rate
            The rate.
        """
        per_k = math.log(10.0) / z_k
        return cls(-reference_c * per_k, per_k, floor_c, ceiling_c)

    def integral_s(self, time_s: Array, temperature_c: Array) -> Array:
        """Integrate along samples.

        Parameters
        ----------
        time_s, temperature_c : ndarray
            Samples, time along the last axis [s], [°C].

        Returns
        -------
        ndarray
            Equivalent time at rate 1 [s].

        Examples
        --------
        >>> a0 = Rate.from_z(80.0, 10.0, floor_c=65.0, ceiling_c=120.0)
        >>> float(a0.integral_s(np.array([0.0, 60.0]), np.array([90.0, 90.0])).round(6))
        600.0
        """
        change_k = np.diff(temperature_c)
        flat = np.abs(change_k) < STRAIGHT_K
        mean = np.diff(self._antiderivative(temperature_c)) / np.where(flat, 1.0, change_k)
        middle = self._rate(0.5 * (temperature_c[..., 1:] + temperature_c[..., :-1]))
        total: Array = (np.where(flat, middle, mean) * np.diff(time_s)).sum(axis=-1)
        return self.share * total

    def _exponential(self, temperature_c: Array | float) -> Array:
        return np.exp(self.ln_at_0c + self.per_k * np.asarray(temperature_c))

    def _rate(self, temperature_c: Array) -> Array:
        return self._exponential(np.minimum(temperature_c, self.ceiling_c)) * (temperature_c >= self.floor_c)

    def _antiderivative(self, temperature_c: Array) -> Array:
        between = self._exponential(np.clip(temperature_c, self.floor_c, self.ceiling_c))
        rising = (between - self._exponential(self.floor_c)) / self.per_k
        above = self._exponential(self.ceiling_c) * np.maximum(temperature_c - self.ceiling_c, 0.0)
        return rising + above


A0 = Rate.from_z(reference_c=80.0, z_k=10.0, floor_c=65.0, ceiling_c=120.0)
"""A0 value in seconds at 80 °C (ISO 15883-1, Annex B)."""

HUE = Rate(
    ln_at_0c=math.log(3.03438e-17) + 0.265972 * 32.0,
    per_k=0.265972 * 1.8,
    floor_c=celsius_from_fahrenheit(143.0),
    ceiling_c=celsius_from_fahrenheit(165.0),
)
"""Heat-unit equivalents, ``3.03438e-17 · exp(0.265972 · T_F)`` per second, from 143 °F, capped at 165 °F."""

HYGIENE = {"a0": A0, "hue": HUE}


def soil_rate(dose: Dose, detergent: bool) -> Rate:
    """Rate of a soil dose while the wash pump runs.

    Parameters
    ----------
    dose : Dose
        The dose.
    detergent : bool
        Whether there is detergent in the water.

    Returns
    -------
    Rate
        Its rate; without detergent only the bare share, and from the higher of the two floors.
    """
    rate = Rate.from_z(dose.reference_c, dose.z_k, dose.floor_c, dose.ceiling_c)
    if detergent:
        return rate
    return replace(rate, floor_c=max(dose.floor_c, dose.bare_floor_c), share=dose.bare_share)
