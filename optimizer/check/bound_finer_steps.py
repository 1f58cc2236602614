"""How far the steps of the courses put bounds off on this machine: points are bounded in finer steps too."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace

import numpy as np

from optimizer.check.bound_aims import Aim
from optimizer.check.bound_box import Boxes
from optimizer.check.bound_rows import values_of
from optimizer.check.bound_step_errors import STEPS_K
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

FINER = 4.0
"""Steps over the finer ones [1]: steps an eighth as long moved bounds further by a tenth at the most."""

LEAST_SHARE = 1e-3
"""What is taken off a bound at the least, a share of it [1], however little finer steps moved it at points
of this machine. Of 4,551 bounds of 1,156 machines drawn far out none was too high with it within 1 % of
a programme's worst; elsewhere in the tolerances 2 of 2,298 were, by up to 0.06 %."""

TIMES = 2.0
"""What is taken off, over what finer steps moved a bound at some points [1]: others may be moved more. Of
3,654 bounds of 1,600 machines drawn far out one was too high after it, by 0.01 %."""


def with_steps(
    constants: Constants, machine: Machine, goal: Goal, aims: Mapping[str, Aim], points: Boxes
) -> dict[str, Aim]:
    """Aims that take off what the steps put a bound off at some points, and `LEAST_SHARE` of it at the least.

    Of a temperature no less is taken off than is usual.

    Parameters
    ----------
    constants, machine, goal
        The programme, and what it is held against.
    aims : mapping
        By the key of each requirement.
    points : Boxes
        Boxes without width: the worst points that were found, and some that were drawn.
    """
    usual, fine = (values_of(constants, machine, goal, points, finer=finer) for finer in (1.0, FINER))
    found = dict(aims)
    for key, aim in aims.items():
        if not all(key in values and np.isfinite(values[key]).all() for values in (usual, fine)):
            continue
        off = TIMES * np.maximum(aim.sign * (usual[key] - fine[key]), 0.0)
        if not aim.exact:
            shares = np.divide(off, np.abs(usual[key]), out=np.zeros_like(off), where=usual[key] != 0.0)
            found[key] = replace(aim, steps_share=max(LEAST_SHARE, float(shares.max())))
        elif key.endswith(("_c", "_k")):
            # What is usual is counted in these already.
            found[key] = replace(aim, off=max(float(off.max()) - STEPS_K, 0.0))
    return found
