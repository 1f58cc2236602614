"""Formulas of the second simulator, from their sources alone: water, hygiene, and what a goal's comments say.

Water: IAPWS-IF97 by the package `iapws`.
"""

from __future__ import annotations

import numpy as np
from iapws import IAPWS97
from numpy.typing import NDArray

from optimizer.profile.goal import Dose

Numbers = NDArray[np.float64]

WEIGHED_KG_PER_L = 0.998
"""What kitchen scales make of a litre: water of a kitchen."""

_TABLE_C = np.arange(1.0, 102.0)
_WATER = [IAPWS97(T=273.15 + t, x=0) for t in _TABLE_C]
_RHO_KG_PER_L = np.array([w.rho / 1000.0 for w in _WATER])
_CP_J_PER_KG_K = np.array([w.cp * 1000.0 for w in _WATER])
_P_SAT_KPA = np.array([w.P * 1000.0 for w in _WATER])
_VAPORISATION_J_PER_KG = np.array([(IAPWS97(T=273.15 + t, x=1).h - w.h) * 1e3
                                   for t, w in zip(_TABLE_C, _WATER, strict=True)])  # fmt: skip


def boil_c(height_m: float) -> float:
    """Boiling point in the standard atmosphere (ISO 2533: 288.15 K, 6.5 K/km), by IAPWS-IF97."""
    share = (1.0 - 2.25577e-5 * height_m) ** 5.25588
    return float(IAPWS97(P=0.101325 * share, x=0).T - 273.15)


def density_kg_per_l(t_c: Numbers) -> Numbers:
    """Density of saturated water, IAPWS-IF97."""
    return np.interp(t_c, _TABLE_C, _RHO_KG_PER_L)


def cp_j_per_kg_k(t_c: Numbers) -> Numbers:
    """Its specific heat."""
    return np.interp(t_c, _TABLE_C, _CP_J_PER_KG_K)


def saturation_kpa(t_c: Numbers) -> Numbers:
    """Its vapour pressure."""
    return np.interp(t_c, _TABLE_C, _P_SAT_KPA)


def vaporisation_j_per_kg(t_c: Numbers | float) -> Numbers:
    """Its heat of vaporisation."""
    return np.interp(t_c, _TABLE_C, _VAPORISATION_J_PER_KG)


def a0_rate(t_c: Numbers) -> Numbers:
    """ISO 15883-1, Annex B: seconds at 80 °C with z = 10 K; from 65 °C on."""
    return np.where(t_c >= 65.0, 10.0 ** ((t_c - 80.0) / 10.0), 0.0)


def heat_unit_rate(t_c: Numbers) -> Numbers:
    """Heat-unit equivalents per second (NSF/ANSI 3): none under 143 °F, no more above 165 °F."""
    t_f = 1.8 * t_c + 32.0
    return np.where(t_f >= 143.0, 3.03438e-17 * np.exp(0.265972 * np.minimum(t_f, 165.0)), 0.0)


def dose_rate(dose: Dose, t_c: Numbers, detergent: bool, dissolves_from_c: float = 0.0) -> Numbers:
    """Equivalent minutes a minute of spray, as the goal's comments say."""
    floor_c = max(dose.floor_c, dissolves_from_c if detergent else dose.bare_floor_c)
    share = 1.0 if detergent else dose.bare_share
    rate = 10.0 ** ((np.minimum(t_c, dose.ceiling_c) - dose.reference_c) / dose.z_k)
    return np.where(t_c >= floor_c, share * rate, 0.0)
