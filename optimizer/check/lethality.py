"""Doses of soil removal and hygiene: the integral over time of a rate that depends on the temperature.

Between two samples the temperature is taken as a straight line, and there the integral is exact: the
difference of the rate's antiderivative over the slope. So the jump of a rate at its floor and its kink at
the ceiling are met exactly, whatever the step size.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check.certificate import EarnedDose, Trace
from optimizer.check.lethality_kernel import integrals_s
from optimizer.check.worst_cases import Array
from optimizer.profile.goal import Dose, Goal
from optimizer.programme.constants import Constants, Round
from optimizer.units import S_PER_MIN, celsius_from_fahrenheit

SOON_S = 1e-6
"""Less than this is no time left [s]: phases are added up."""


@dataclass(frozen=True)
class Rate:
    """A rate r [s/s]: equivalent seconds a second at a temperature T [°C].

    ``r(T) = share · exp(ln_at_0c + per_k · min(T, ceiling_c))`` from ``floor_c`` up, and 0 below it.

    Attributes
    ----------
    ln_at_0c : float
        Natural logarithm of the rate at 0 °C [1].
    per_k : float
        Growth of that logarithm [1/K].
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
        """Make the rate ``10^((T - reference_c) / z_k)``: 1 at the reference, tenfold each ``z_k`` kelvin."""
        per_k = math.log(10.0) / z_k
        return cls(-reference_c * per_k, per_k, floor_c, ceiling_c)

    def integral_s(self, time_s: Array, temperature_c: Array) -> Array:
        """Integrate ``∫ r(T(t)) dt`` along samples, the last axis being time: equivalent seconds at rate 1.

        Examples
        --------
        >>> a0 = Rate.from_z(80.0, 10.0, floor_c=65.0, ceiling_c=120.0)
        >>> float(a0.integral_s(np.array([0.0, 60.0]), np.array([90.0, 90.0])).round(6))
        600.0
        """
        samples_c = temperature_c.reshape(-1, temperature_c.shape[-1])
        times_s = np.broadcast_to(time_s, temperature_c.shape).reshape(samples_c.shape)
        total_s = integrals_s(times_s, samples_c, self.ln_at_0c, self.per_k, self.floor_c, self.ceiling_c)
        return np.asarray(self.share * total_s.reshape(temperature_c.shape[:-1]))

    def at(self, temperature_c: Array) -> Array:
        """Equivalent seconds a second at temperatures."""
        return self.share * self._rate(temperature_c)

    def _exponential(self, temperature_c: Array | float) -> Array:
        return np.exp(self.ln_at_0c + self.per_k * np.asarray(temperature_c))

    def _rate(self, temperature_c: Array) -> Array:
        return self._exponential(np.minimum(temperature_c, self.ceiling_c)) * (temperature_c >= self.floor_c)


A0 = Rate.from_z(reference_c=80.0, z_k=10.0, floor_c=65.0, ceiling_c=120.0)
"""A0 value, ``∫ 10^((T - 80) / 10) dt`` in seconds at 80 °C, T from 65 °C up (ISO 15883-1, Annex B)."""

HUE = Rate(
    ln_at_0c=math.log(3.03438e-17) + 0.265972 * 32.0,
    per_k=0.265972 * 1.8,
    floor_c=celsius_from_fahrenheit(143.0),
    ceiling_c=celsius_from_fahrenheit(165.0),
)
"""Heat-unit equivalents, ``3.03438e-17 · exp(0.265972 · T_F)`` a second with T_F in °F, from 143 °F up and
capped at 165 °F (slides of 2009 on the history of dish-machine sanitation, on NSF/ANSI 3)."""

HYGIENE = {"a0": A0, "hue": HUE}


def soil_rate(dose: Dose, detergent: bool, dissolves_from_c: float = 0.0) -> Rate:
    """Give the rate of a soil dose while the wash pump runs.

    With detergent nothing counts below the temperature at which that dissolves. Without it only the bare
    share counts, and only from the higher of the two floors up.
    """
    rate = Rate.from_z(dose.reference_c, dose.z_k, dose.floor_c, dose.ceiling_c)
    if detergent:
        return replace(rate, floor_c=max(dose.floor_c, dissolves_from_c))
    return replace(rate, floor_c=max(dose.floor_c, dose.bare_floor_c), share=dose.bare_share)


def dissolving_s(row: Round, goal: Goal) -> float:
    """Time that the pump has to spray until detergent counts in a round [s]; inf in one without."""
    if row.kind != "wash" or row.detergent_dg == 0 or goal.detergent is None:
        return math.inf
    return goal.detergent.dissolving_min * S_PER_MIN


def soil_dose_s(
    dose: Dose,
    left_s: Array | float,
    time_s: Array,
    ware_c: Array,
    *,
    spraying: bool,
    dissolves_from_c: float = 0.0,
) -> Array:
    """Integrate a soil dose along samples, the last axis being time [s].

    Until the pump has sprayed for another ``left_s`` the bath counts as plain water; with the pump off
    nothing goes on dissolving.
    """
    bare, full = soil_rate(dose, False), soil_rate(dose, True, dissolves_from_c)
    left_s = np.asarray(left_s, dtype=float)
    if (left_s <= SOON_S).all():
        return full.integral_s(time_s, ware_c)
    lasts_s = time_s[..., -1] - time_s[..., 0]
    if (left_s >= lasts_s).all() if spraying else (left_s > SOON_S).all():
        return bare.integral_s(time_s, ware_c)
    if not spraying:
        return np.where(left_s > SOON_S, bare.integral_s(time_s, ware_c), full.integral_s(time_s, ware_c))
    before, after = _parted(time_s, ware_c, time_s[..., 0] + left_s)
    return bare.integral_s(*before) + full.integral_s(*after)


def _parted(time_s: Array, value: Array, at_s: Array) -> tuple[tuple[Array, Array], tuple[Array, Array]]:
    """Part samples at a time, straight between them; each part keeps all places, some without length."""
    time_s = np.broadcast_to(time_s, value.shape)
    at_s = np.clip(np.broadcast_to(at_s, value.shape[:-1])[..., None], time_s[..., :1], time_s[..., -1:])
    place = np.clip((time_s <= at_s).sum(axis=-1, keepdims=True) - 1, 0, value.shape[-1] - 2)
    (t_0, t_1), (v_0, v_1) = (
        [np.take_along_axis(one, place + k, axis=-1) for k in (0, 1)] for one in (time_s, value)
    )
    share = np.divide(at_s - t_0, t_1 - t_0, out=np.zeros_like(t_0), where=t_1 > t_0)
    there = v_0 + share * (v_1 - v_0)
    before = np.minimum(time_s, at_s), np.where(time_s < at_s, value, there)
    return before, (np.maximum(time_s, at_s), np.where(time_s < at_s, there, value))


def earned_doses(
    goal: Goal, constants: Constants, trace: Trace, mechanics: float = 1.0
) -> tuple[EarnedDose, ...]:
    """Find at which temperature of the ware each dose of a run was earned, if it was earned at all.

    Sprays and soaks are looked at: what rest and drain add is little, at about the same heat. A second of
    spray counts as much as ``mechanics`` says [1].
    """
    starts = np.flatnonzero(np.diff(trace.wash_pump.astype(int), prepend=0) == 1)
    sprayed = [row for row in constants.rounds if row.spray_s > 0]
    # A soak parts a spray in two, and a top-up is stirred in: neither begins a round.
    firsts = np.cumsum([0, *(1 + bool(row.soak_s) + bool(row.mix_s) for row in sprayed)])
    assert firsts[-1] == len(starts), "as many sprays in the trace as in the table"
    found = []
    for dose in goal.dose:
        weights = np.zeros_like(trace.ware_c)
        for first, row in zip(starts[firsts[:-1]], sprayed, strict=True):
            if row.kind in dose.kinds:
                soak_s = row.soak_s + 2 * constants.gap_s if row.soak_s else 0
                during = slice(first, first + row.spray_s + soak_s)
                share = np.where(trace.wash_pump[during], mechanics, dose.soak_share)
                dissolved = np.cumsum(trace.wash_pump[during]) > dissolving_s(row, goal)
                rates = [
                    soil_rate(dose, detergent, goal.dissolves_from_c).at(trace.ware_c[during])
                    for detergent in (False, True)
                ]
                weights[during] = share * np.where(dissolved, rates[1], rates[0])
        if weights.any():
            mean_c = float(np.average(trace.ware_c, weights=weights))
            found.append(EarnedDose(dose.name, mean_c, dose.reference_c))
    return tuple(found)
