"""The goal's doses and hygiene as one list of equal things: a rate of the ware temperature, and a target."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.physics.dose import A0, HEAT_UNITS, DoseSpec, linear_dose_s
from optimizer.profile.goal import Dose, Goal
from optimizer.programme.constants import KINDS
from optimizer.units import S_PER_MIN

Array = NDArray[np.float64]

HYGIENE = {"a0": A0, "hue": HEAT_UNITS}


@dataclass(frozen=True)
class Needs:
    """Doses to reach, one entry each.

    Attributes
    ----------
    keys : tuple of str
        Requirement names as the check uses them (``dose.grease``, ``hygiene.a0``).
    target_s : ndarray
        Equivalent seconds at the reference temperature [s].
    reference_c, z_k, ceiling_c : ndarray
        Rate of the dose, per need [°C, K, °C].
    share : ndarray
        Rate factor, kinds × needs; 0 where a kind of round does not count [1].
    floor_c : ndarray
        No effect below, kinds × needs [°C].
    soak_share : ndarray
        Share of the rate left with the spray off [1].
    """

    keys: tuple[str, ...]
    target_s: Array
    reference_c: Array
    z_k: Array
    ceiling_c: Array
    share: Array
    floor_c: Array
    soak_share: Array

    def rate(self, ware_c: Array, kind: int) -> Array:
        """Dose rate in a kind of round.

        Parameters
        ----------
        ware_c : ndarray
            Ware temperature, any shape [°C].
        kind : int
            Index into `KINDS` [1].

        Returns
        -------
        ndarray
            Equivalent seconds a second, with one more axis for the needs [1].
        """
        at_c = np.asarray(ware_c)[..., None]
        rate = 10.0 ** ((np.minimum(at_c, self.ceiling_c) - self.reference_c) / self.z_k)
        return np.asarray(np.where(at_c >= self.floor_c[kind], rate * self.share[kind], 0.0))

    def spec(self, need: int, kind: int) -> DoseSpec:
        """One need as a dose.

        Parameters
        ----------
        need : int
            Index of the need [1].
        kind : int
            Index into `KINDS` [1].

        Returns
        -------
        DoseSpec
            The dose.
        """
        return DoseSpec(
            float(self.reference_c[need]),
            float(self.z_k[need]),
            float(self.floor_c[kind, need]),
            float(self.ceiling_c[need]),
        )

    def counts(self, kind: int) -> bool:
        """Whether anything in a kind of round counts for any need.

        Parameters
        ----------
        kind : int
            Index into `KINDS` [1].

        Returns
        -------
        bool
            True where it does.
        """
        return bool(self.share[kind].any())

    def sum_cells(self, ware_c: Array, cells_s: Array, kind: int) -> Array:
        """Dose of a ware temperature given at the nodes of a grid, straight between them.

        Parameters
        ----------
        ware_c : ndarray
            Ware temperature at the nodes, last axis n + 1 long [°C].
        cells_s : ndarray
            Time between the nodes, last axis n long [s].
        kind : int
            Index into `KINDS` [1].

        Returns
        -------
        ndarray
            Equivalent seconds, the last axis now being the needs [s].
        """
        out = np.zeros((*ware_c.shape[:-1], len(self.keys)))
        for need in np.flatnonzero(self.share[kind]):
            cells = linear_dose_s(ware_c[..., :-1], ware_c[..., 1:], cells_s, self.spec(int(need), kind))
            out[..., need] = self.share[kind, need] * cells.sum(axis=-1)
        return out


def needs_of(goal: Goal) -> Needs:
    """List the doses of a goal, hygiene last.

    Parameters
    ----------
    goal : Goal
        The goal.

    Returns
    -------
    Needs
        Its doses.
    """
    rows = [_soil_row(dose, goal) for dose in goal.dose]
    if goal.hygiene.method != "none" and goal.hygiene.target_s is not None:
        rows.append(_hygiene_row(goal.hygiene.method, goal.hygiene.target_s))
    keys, *columns = zip(*rows, strict=True)
    target, reference, z, ceiling, share, floor, soak = (np.array(column) for column in columns)
    return Needs(tuple(keys), target, reference, z, ceiling, share.T, floor.T, soak)


def _soil_row(dose: Dose, goal: Goal) -> tuple[object, ...]:
    shares, floors = [], []
    for kind in KINDS:
        bare = kind != "wash" or goal.detergent is None
        shares.append((dose.bare_share if bare else 1.0) if kind in dose.kinds else 0.0)
        floors.append(max(dose.floor_c, dose.bare_floor_c) if bare else dose.floor_c)
    return (
        f"dose.{dose.name}",
        dose.minutes * S_PER_MIN,
        dose.reference_c,
        dose.z_k,
        dose.ceiling_c,
        shares,
        floors,
        dose.soak_share,
    )


def _hygiene_row(method: str, target_s: float) -> tuple[object, ...]:
    spec = HYGIENE[method]
    counts = [1.0 if kind == "rinse" else 0.0 for kind in KINDS]
    floors = [spec.floor_c] * len(KINDS)
    ceiling_c = spec.ceiling_c if math.isfinite(spec.ceiling_c) else 120.0
    return f"hygiene.{method}", target_s, spec.reference_c, spec.z_k, ceiling_c, counts, floors, 1.0
