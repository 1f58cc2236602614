"""What a check that a programme failed teaches the planner: points to count with, and what to keep back."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from optimizer.check.certificate import Certificate
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.corners import KeptBack, WorstPoint
from optimizer.planner.margins import Assessor
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs

BACKOFF_STEP = 0.0015
"""Margin that the second and third try aim at, a share of the limit, and each later one at twice the one
before [1]: a bound is cut off by a budget of boxes, and stays just under the limit where many of them do."""

NEAR_SHARE = 0.01
"""Where a plan falls short, the planner is given the worst points of requirements that hold by less than this
share of their limits as well [1]."""

BACKOFF_KEYS = (
    *("dose.", "hygiene.", "tank.", "prerinse.bath_c", "detergent.", "drain.bath_c", "cover."),
    *("drying.", "steam.", "limits.", "rinse.residue", "rinse.soil", "rinse.film_mg_per_l", "watchdog."),
    *("ware.", "first_rinse.", "first_wash."),
)
"""Requirements on which planner and check may differ by their physics. Any other failure is a bug."""

POINT_KEYS = (
    *("dose.", "hygiene.", "tank.", "prerinse.bath_c", "detergent.", "drain.bath_c"),
    *("drying.", "limits.duration_min", "ware.", "first_rinse.", "first_wash."),
)
"""Requirements whose worst points the planner can count with; others it knows from the ends themselves."""


@dataclass(frozen=True)
class Reserve:
    """What a lesson keeps back beyond what was short, shares of limits [1].

    Of requirements that fell ``short``, and of what ``holds`` nearly. Where every point that was run holds
    and the bound alone does not, a part of all that may do: ``by_bound``.
    """

    short: float = BACKOFF_STEP
    holds: float = 0.0
    by_bound: float = 1.0


def points_of(certificate: Certificate, keys: Iterable[str] | None = None) -> tuple[WorstPoint, ...]:
    """Give the worst points of a check that the planner can count with, for some requirements or all."""
    asked = certificate.worst_points if keys is None else keys
    return tuple(
        WorstPoint(key, certificate.worst_points[key])
        for key in asked
        if key.startswith(POINT_KEYS) and key in certificate.worst_points
    )


def kept_after(
    inputs: Inputs,
    constants: Constants,
    certificate: Certificate,
    kept: KeptBack,
    reserve: Reserve = Reserve(),
) -> KeptBack:
    """Add what a check that failed teaches: points to count with, and what to keep back beside them.

    From try to try a margin of the check follows the planner's: where the planner sees a margin of p at its
    corners and points, and the check one of c, holding p - c more brings c to nothing, and a ``reserve``
    to a little over it.
    """
    near = [row for row in certificate.rows if row.margin_share < NEAR_SHARE]
    found = points_of(certificate, [row.key for row in near])
    kept = KeptBack(kept.backoff, (*kept.points, *(point for point in found if point not in kept.points)))
    margins, _ = Assessor(inputs, kept).run(programme_of(constants, inputs.machine))
    backoff = dict(kept.backoff)
    for row in near:
        if row.key.startswith(BACKOFF_KEYS) and (row.key in margins or not row.passed):
            seen = float(margins[row.key].min()) if row.key in margins else 0.0
            by_bound_alone = not row.passed and replace(row, guaranteed=None).passed
            over = reserve.holds if row.passed else reserve.short
            # A bound that holds is made no nearer than its limit: it does not say how much is to spare.
            met = (replace(row, guaranteed=None) if row.passed else row).margin_share
            more = (seen - met + over) * (reserve.by_bound if by_bound_alone else 1.0)
            backoff[row.key] = backoff.get(row.key, 0.0) + max(more, 0.0)
    return KeptBack(backoff, kept.points)
