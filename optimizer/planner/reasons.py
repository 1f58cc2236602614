"""Why there is no plan: each requirement in the way, with the nearest value at which it would not be.

A requirement is taken out of the model and brought as far as it goes under all the others; the programme
found is trimmed for it, so that the value given is one a plan exists at. Where no single one is in the way,
as few as possible are left out together.
"""

from __future__ import annotations

from optimizer.errors import Reason
from optimizer.planner.fitting import fits, model_for
from optimizer.planner.machine_limits import around
from optimizer.planner.model import Ask
from optimizer.planner.reason_words import reason_of
from optimizer.planner.requirements import Assessor
from optimizer.planner.solve import SolverName, run_solver
from optimizer.planner.space import Space
from optimizer.planner.trim import furthest

BY_A_HAIR = 0.005
"""Margin that whole seconds may take [1]."""

NEAR = 0.01
"""Gap at which a requirement counts as brought as far as it goes; trimming does the rest [1]."""


def asked_keys(assessor: Assessor) -> list[str]:
    """List what a goal asks that may be left out of a model.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.

    Returns
    -------
    list of str
        Keys of the requirements.
    """
    goal = assessor.inputs.goal
    keys = [*assessor.simulator.needs.keys, "rinse.residue", "limits.duration_min"]
    keys += ["limits.water_l"] if goal.limits.water_l is not None else []
    return [*keys, "drying.ware_heat"] if goal.drying.method == "hot_rinse" else keys


def alone(assessor: Assessor, solver: SolverName = "auto") -> list[Reason]:
    """Find requirements that stand in the way alone: with any one of them eased there is a plan.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners; known to have no plan.
    solver : str
        ``auto``, ``highs`` or ``cbc``.

    Returns
    -------
    list of Reason
        Each with the nearest value at which it is in nobody's way.
    """
    found = [in_the_way(assessor, solver, key) for key in asked_keys(assessor)]
    found += around(assessor, solver)
    return [reason for reason in found if reason is not None]


def together(assessor: Assessor, solver: SolverName = "auto") -> tuple[list[Reason], bool]:
    """Find requirements that stand in the way together: only with all of them eased there is a plan.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners; known to have no plan, and none to blame alone.
    solver : str
        ``auto``, ``highs`` or ``cbc``.

    Returns
    -------
    tuple
        Reasons, each as far as it goes with the others of them left out; and whether these are all.
    """
    keys = asked_keys(assessor)
    dropped = frozenset(keys)
    for key in keys:
        if fits(assessor, solver, dropped - {key}):
            dropped -= {key}
    found = [in_the_way(assessor, solver, key, dropped - {key}) for key in keys if key in dropped]
    return [reason for reason in found if reason is not None], None not in found


def in_the_way(
    assessor: Assessor,
    solver: SolverName,
    key: str,
    drop: frozenset[str] = frozenset(),
    limit_s: float | None = None,
) -> Reason | None:
    """Bring a requirement as far as it goes under the others.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff with their corners.
    solver : str
        ``auto``, ``highs`` or ``cbc``.
    key : str
        The requirement.
    drop : frozenset of str
        Keys of others to leave out.
    limit_s : float or None
        Longest solve, after which the best found will do; None: the usual one [s].

    Returns
    -------
    Reason or None
        How far; None where it can be met, or the others cannot be met even without it.
    """
    margin = _reach(assessor, solver, key, drop, limit_s)
    # Met by a hair means met between whole seconds: a little more must be asked for.
    return reason_of(assessor, key, min(margin, 0.0)) if margin is not None and margin < BY_A_HAIR else None


def _reach(
    assessor: Assessor, solver: SolverName, key: str, drop: frozenset[str], limit_s: float | None
) -> float | None:
    """Best margin of one requirement under the others; None where they can't be met even so."""
    for safe in (True, False):
        model = model_for(assessor, Ask(aim=key, drop=drop), safe=safe)
        if run_solver(model.problem, solver, gap=NEAR, limit_s=limit_s).status == "infeasible":
            continue
        structure, start = model.chosen()
        margin = furthest(Space(assessor, structure, aim=key, drop=drop), start)
        if margin is not None:
            return margin
    return None


def all_at_once(assessor: Assessor) -> Reason:
    """Say that nothing is to blame: the requirements hold one by one, and no programme was found for all.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff.

    Returns
    -------
    Reason
        The reason.
    """
    asked = f"all that {assessor.inputs.names[1]} asks, at once"
    advice = "ask for a little less: a longer duration, a larger residue, fewer minutes of a dose"
    return Reason("requirements together", asked, "no programme found, each alone within reach", advice)
