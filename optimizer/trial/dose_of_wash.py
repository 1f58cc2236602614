"""The dose that a wash gave to a soil: from its log, else from its plan, else from minutes and °C by hand.

A wash is kept as seconds at temperatures of the ware, so that its dose can be had at any z.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace

import numpy as np

from optimizer.profile.goal import Dose
from optimizer.programme.plan import Plan
from optimizer.trial.dose_response import Array
from optimizer.trial.wash_log import WashLog
from optimizer.units import S_PER_MIN, celsius_from_fahrenheit, short


@dataclass(frozen=True)
class Heat:
    """How long the ware was how warm: seconds that count, with the rate's share in them.

    Attributes
    ----------
    ware_c : ndarray, shape (parts,)
        Temperature of the ware [°C].
    counts_s : ndarray, shape (parts,)
        Seconds at it, times the share of the rate that was there [s].
    """

    ware_c: Array
    counts_s: Array

    def dose_min(self, dose: Dose, z_k: float | None = None) -> float:
        """Dose at a z [K], that of the profile if left out [min]."""
        return float((self.counts_s * _rate(self.ware_c, dose, z_k)).sum()) / S_PER_MIN

    def mean_c(self, dose: Dose) -> float:
        """Mean temperature at which the dose was earned [°C]; nan where there is none."""
        weight = self.counts_s * _rate(self.ware_c, dose)
        return float((weight * self.ware_c).sum() / weight.sum()) if weight.sum() > 0.0 else math.nan


def _rate(ware_c: Array, dose: Dose, z_k: float | None = None) -> Array:
    over_k = np.minimum(ware_c, dose.ceiling_c) - dose.reference_c
    return np.asarray(10.0 ** (over_k / (z_k or dose.z_k)) * (ware_c >= dose.floor_c))


@dataclass(frozen=True)
class WashDose:
    """The dose of one wash for one soil.

    Attributes
    ----------
    dose_min : float
        The dose [min].
    common_sd, own_sd : float
        Standard deviations of its logarithm [1]: by what is the same in all washes of the machine, and by
        what is another in each.
    heat : Heat
        How long the ware was how warm.
    source : str
        ``log``, ``plan`` or ``by hand``.
    machine : str
        Name of the machine, empty by hand.
    remarks : tuple of str
        What a reader has to know, a sentence each.
    may_be_none : bool
        Whether there is none at the end of a tolerance.
    """

    dose_min: float
    common_sd: float
    own_sd: float
    heat: Heat
    source: str
    machine: str = ""
    remarks: tuple[str, ...] = ()
    may_be_none: bool = False


BATH_AS_WARE = (
    "The log {log} has the bath only, which is warmer than the ware while it heats: its dose is taken too "
    "large."
)
VERY_HOT_C = 80.0
"""Few washes have ware so hot [°C]: our choice."""
MAYBE_F = "Ware at {hot:g} °C is very hot: if that was °F, it was {cool:.0f} °C."
OTHER_DOSE = (
    "The log {log} gives {given} min, its plan {planned} min: is it the log of this wash and this machine, "
    "and of no other rounds than those with detergent?"
)
FOLLOWED = "The log {log} has the bath only: the ware was let follow it as it does on {machine}."


def dose_by_hand(minutes: float, ware_c: float, dose: Dose) -> WashDose:
    """Dose of minutes of spray with detergent at a temperature of the ware [min, °C]."""
    heat = Heat(np.array([ware_c]), np.array([minutes * S_PER_MIN]))
    remarks: tuple[str, ...] = ()
    if ware_c >= VERY_HOT_C:
        remarks = (MAYBE_F.format(hot=ware_c, cool=celsius_from_fahrenheit(ware_c)),)
    return WashDose(heat.dose_min(dose), 0.0, 0.0, heat, "by hand", remarks=remarks)


def dose_of_log(log: WashLog, name: str, dose: Dose, plan: Plan | None = None) -> WashDose:
    """Dose of a log of the rounds that count; with the plan, its machine's spray and its ware are counted
    with."""
    machine = plan.inputs.machine if plan else None
    ware_c, remarks = log.temperature_c, tuple(f"the log {name}: {remark}" for remark in log.remarks)
    if not log.of_ware and machine is None:
        remarks = (*remarks, BATH_AS_WARE.format(log=name))
    elif not log.of_ware and machine is not None:
        follows_s = machine.ware.response_spraying_s.nominal
        ware_c = _following(log.time_s, ware_c, follows_s)
        remarks = (*remarks, FOLLOWED.format(log=name, machine=machine.title))
    strength = machine.wash_pump.mechanics_factor if machine else None
    share = np.where(log.sprays, strength.nominal if strength else 1.0, dose.soak_share)
    # A temperature between two readings lies on the straight line between them.
    part = np.arange(PARTS) / PARTS + 0.5 / PARTS
    middle_c = (ware_c[:-1, None] + np.diff(ware_c)[:, None] * part).ravel()
    counts_s = np.repeat(share * np.diff(log.time_s) / PARTS, PARTS)
    heat = Heat(middle_c, counts_s)
    common = ln_sd(strength.low, strength.high) if strength else 0.0
    machine_name = plan.inputs.names[0] if plan else ""
    return WashDose(heat.dose_min(dose), common, 0.0, heat, "log", machine_name, remarks)


FAR_SIGMAS, FAR_RATIO = 3.0, 1.3
"""A log tells another dose than its plan where it is off by more than both: standard deviations of the plan's
dose, and a ratio [1]: our choice."""


def beside_plan(given: WashDose, name: str, planned: WashDose) -> WashDose:
    """Put a remark on the dose of a log that its plan cannot have given."""
    if planned.may_be_none or not (planned.dose_min > 0.0 and given.dose_min > 0.0):
        return given
    off = abs(math.log(given.dose_min / planned.dose_min))
    if off <= max(FAR_SIGMAS * math.hypot(planned.common_sd, planned.own_sd), math.log(FAR_RATIO)):
        return given
    remark = OTHER_DOSE.format(log=name, given=short(given.dose_min, 3), planned=short(planned.dose_min, 3))
    return replace(given, remarks=(*given.remarks, remark))


PARTS = 4
"""Parts of a step of a log in which its temperature counts as level [1]."""


def _following(time_s: Array, bath_c: Array, follows_s: float) -> Array:
    """Ware that follows a bath with a time constant, from the first reading on [°C]."""
    ware_c = np.array(bath_c)
    for at in range(1, len(ware_c)):
        left = math.exp(-(time_s[at] - time_s[at - 1]) / follows_s)
        middle = 0.5 * (bath_c[at] + bath_c[at - 1])
        ware_c[at] = middle + (ware_c[at - 1] - middle) * left
    return ware_c


def ln_sd(low: float, high: float) -> float:
    """Standard deviation of a logarithm that lies anywhere between those of two ends [1]."""
    return math.log(high / low) / math.sqrt(12.0)
