"""Dose targets: the goal's soil doses and its hygiene in one list, each with its rate and its target."""

from __future__ import annotations

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from optimizer.physics import Array
from optimizer.physics.dose import A0, HEAT_UNITS, DoseSpec
from optimizer.profile.goal import Dose, Goal
from optimizer.programme.constants import KINDS
from optimizer.units import S_PER_MIN

UNDISSOLVED = len(KINDS)
"""In the place of a kind: a wash whose detergent has not dissolved, which counts as plain water."""

HYGIENE = {"a0": A0, "hue": HEAT_UNITS}


@dataclass(frozen=True)
class DoseTargets:
    """Doses to reach, one entry each.

    A dose grows at the rate ``share · 10^((min(T, ceiling) − reference) / z)`` a second while the ware is at
    the floor temperature or above, and not below it.

    Attributes
    ----------
    keys : tuple of str
        Requirement names as the check uses them (``dose.grease``, ``hygiene.a0``).
    target_s : ndarray
        Equivalent seconds at the reference temperature [s].
    reference_c, z_k, ceiling_c : ndarray
        Rate of the dose [°C, K, °C].
    share : ndarray
        Rate factor, kinds × targets, `UNDISSOLVED` last; 0 where a kind of round does not count [1].
    floor_c : ndarray
        No effect below, kinds × targets [°C].
    soak_share : ndarray
        Share of the rate left with the spray off [1].
    sprayed_off : ndarray of bool
        Whether the spray does part of the work, so that a stronger one does more; not so for hygiene.
    """

    keys: tuple[str, ...]
    target_s: Array
    reference_c: Array
    z_k: Array
    ceiling_c: Array
    share: Array
    floor_c: Array
    soak_share: Array
    sprayed_off: NDArray[np.bool_]

    def under_spray(self, mechanics: Array) -> Array:
        """Factor on each rate under a spray so strong, with one more axis for the targets [1]."""
        return np.where(self.sprayed_off, np.asarray(mechanics)[..., None], 1.0)

    def rate(self, ware_c: Array, kind: int) -> Array:
        """Equivalent seconds a second in a kind of round, with one more axis for the targets [1]."""
        at_c = np.asarray(ware_c)[..., None]
        rate = 10.0 ** ((np.minimum(at_c, self.ceiling_c) - self.reference_c) / self.z_k)
        return np.asarray(np.where(at_c >= self.floor_c[kind], rate * self.share[kind], 0.0))

    def spec(self, target: int, kind: int) -> DoseSpec:
        """One target as a dose."""
        return DoseSpec(
            float(self.reference_c[target]),
            float(self.z_k[target]),
            float(self.floor_c[kind, target]),
            float(self.ceiling_c[target]),
        )

    def counts(self, kind: int) -> bool:
        """Whether a kind of round adds to any dose."""
        return bool(self.share[kind].any())


def dose_targets_of(goal: Goal) -> DoseTargets:
    """The doses of a goal, hygiene last."""
    rows = [_soil_row(dose, goal) for dose in goal.dose]
    if goal.hygiene.method != "none" and goal.hygiene.target_s is not None:
        rows.append(_hygiene_row(goal.hygiene.method, goal.hygiene.target_s))
    keys, *columns = zip(*rows, strict=True)
    target, reference, z, ceiling, share, floor, soak, off = (np.array(column) for column in columns)
    return DoseTargets(tuple(keys), target, reference, z, ceiling, share.T, floor.T, soak, off)


def _soil_row(dose: Dose, goal: Goal) -> tuple[object, ...]:
    shares, floors = [], []
    for number, kind in enumerate([*KINDS, "wash"]):
        bare = kind != "wash" or goal.detergent is None or number == UNDISSOLVED
        shares.append((dose.bare_share if bare else 1.0) if kind in dose.kinds else 0.0)
        floors.append(max(dose.floor_c, dose.bare_floor_c if bare else goal.dissolves_from_c))
    return (
        f"dose.{dose.name}",
        dose.minutes.high * S_PER_MIN,
        dose.reference_c,
        dose.z_k,
        dose.ceiling_c,
        shares,
        floors,
        dose.soak_share,
        True,
    )


def _hygiene_row(method: str, target_s: float) -> tuple[object, ...]:
    spec = HYGIENE[method]
    counts = [*(1.0 if kind == "rinse" else 0.0 for kind in KINDS), 0.0]
    floors = [spec.floor_c] * len(counts)
    ceiling_c = spec.ceiling_c if math.isfinite(spec.ceiling_c) else 120.0
    return f"hygiene.{method}", target_s, spec.reference_c, spec.z_k, ceiling_c, counts, floors, 1.0, False
