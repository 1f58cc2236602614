"""Second looks for a plan: by rules that the first leaves out because they seldom pay, and make it slower.

Each is an assessor with other rules for the models, to be asked after the usual one.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace
from typing import NamedTuple

from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode
from optimizer.planner.tabulate import Tabulator
from optimizer.programme.constants import KINDS

WASH, RINSE = KINDS.index("wash"), KINDS.index("rinse")
WARM_C = (40.0, 50.0, 60.0)
"""Baths of a wash that has to find room in its tank, first or behind a prerinse [°C]: our choice."""


class SecondLook(NamedTuple):
    """Rules to look for a plan by, what for, and whether it may be cheaper than one that was found."""

    assessor: Assessor
    what_for: str
    may_be_cheaper: bool = False


def second_looks(assessor: Assessor, *, thorough: bool) -> Iterator[SecondLook]:
    """Rules that may have a plan where those of an assessor have none, one after the other.

    Those that take most time only if ``thorough``.
    """
    if assessor.epsilon_constraint is not None:
        return
    laxest = assessor
    if (behind := behind_a_prerinse(laxest)) is not None:
        laxest = behind
        yield SecondLook(laxest, "rounds behind a prerinse", may_be_cheaper=True)
    if (heated := any_rinse_heated(laxest, thorough=thorough)) is not None:
        laxest = heated
        yield SecondLook(laxest, "rounds with any rinse heated")


def behind_a_prerinse(assessor: Assessor) -> Assessor | None:
    """The same with a prerinse asked for, where a wash has more room there with the element on.

    A machine may have dried out before its first round, which takes more water to be covered for sure.
    """
    if not assessor.washes_first:
        return None
    goal = assessor.inputs.goal
    prerinse = goal.prerinse.model_copy(update={"rounds_min": 1})
    behind = assessor.again(replace(assessor.inputs, goal=goal.model_copy(update={"prerinse": prerinse})))
    modes = [mode for mode in (Mode.THEN_SPRAY, Mode.WHILE_SPRAYING) if assessor.heats(mode)]
    tables = [Tabulator(judge, safe=False) for judge in (assessor, behind)]
    first, later = (
        [bool(table.fills(WASH, mode, warm_c)) for mode in modes for warm_c in WARM_C] for table in tables
    )
    return behind if first != later else None


def any_rinse_heated(assessor: Assessor, *, thorough: bool) -> Assessor | None:
    """The same with any rinse heated, where there are several and heat in one does anything.

    Where it serves a dose or dries, there are many ways to heat each: only if ``thorough``.
    """
    several = assessor.rounds_most["rinse"] > 1
    heats = assessor.heats(Mode.THEN_SPRAY) or assessor.heats(Mode.WHILE_SPRAYING)
    counts = assessor.heat_counts(RINSE)
    serves = thorough if counts else assessor.warms_first_rinse
    if not (several and heats and serves):
        return None
    return assessor.by(replace(assessor.terms, any_rinse_heated=True))
