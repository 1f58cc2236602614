"""An easier case never loses a plan nor costs more than whole seconds do: ladders from hard to easy."""

from __future__ import annotations

from collections.abc import Sequence
from contextlib import suppress
from dataclasses import replace
from typing import Any

import numpy as np
import pytest
from exploring import TIMES, few_of
from planner_cases import FEW, shipped, tiny, weak

from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.margins import Assessor
from optimizer.planner.search import Search
from optimizer.programme.plan import Inputs

NOISE = 0.002
"""What whole seconds may turn a cost by [1]."""

TIME, DOSE, TANK = "goal__limits__duration_min", "goal__dose__0__minutes", "machine__tank__limit_c"
SLOW_TIME: dict[str, Any] = {"tariff__value_per_min": 0.0}


def planned(inputs: Inputs, search: Search) -> Proven | None:
    with suppress(NoPlanError):
        return plan_and_prove(inputs, search=search)
    return None


def climb(steps: Sequence[Inputs], search: Search) -> list[float]:
    """Costs from hard to easy, inf without a plan; each held against the harder case's plan, costed here."""
    costs, harder = [], None
    for inputs in steps:
        proven = planned(inputs, search)
        assert proven is not None or harder is None, "a plan is lost"
        cost = np.inf if proven is None else cost_of(proven, inputs)
        if harder is not None:
            assert cost <= cost_of(harder, inputs) * (1.0 + NOISE)
        costs.append(cost)
        harder = proven
    assert costs[-1] < np.inf
    return costs


def cost_of(proven: Proven, inputs: Inputs) -> float:
    """What a programme costs on other profiles: a larger tank also loses more heat [currency]."""
    programme = programme_of(proven.plan.constants, inputs.machine)
    return float(Assessor(inputs).run(programme)[1].with_waiting[0])


RANDOM = np.random.default_rng(11)
LADDERS = [
    (TIME, (28.0, 31.0, 34.5, 35.42, 36.0, 40.0, 90.0), SLOW_TIME),
    (DOSE, (9.0, 7.0, 6.0, 5.0, 3.0), {}),
    (TANK, (46.0, 50.0, 55.0, 65.0, 80.0), {}),
    *((TIME, tuple(sorted(RANDOM.uniform(28.0, 60.0, 4))), SLOW_TIME) for _ in range(1 + 2 * TIMES)),
    *((DOSE, tuple(sorted(RANDOM.uniform(2.0, 12.0, 4), reverse=True)), {}) for _ in range(1 + 2 * TIMES)),
]


@pytest.mark.slow
@pytest.mark.parametrize(("key", "values", "changes"), LADDERS)
def test_easier_is_never_dearer_on_the_tiny_machine(
    key: str, values: tuple[float, ...], changes: dict[str, Any]
) -> None:
    costs = climb([tiny(**changes, **{key: float(value)}) for value in values], replace(FEW, why=False))
    assert costs[0] > costs[-1], "the ladder must ask for something"


ON_SHIPPED = [
    ("garage-120v", "glasses", TIME, (90.0, 105.0, 120.0)),
    ("garage-120v", "steamed-glasses", "machine__tank__capacity_l", (27.0, 30.0, 34.0)),
]


@pytest.mark.slow
@pytest.mark.parametrize(
    ("machine", "goal", "key", "values"),
    few_of(ON_SHIPPED, ON_SHIPPED[:1]),
)
def test_easier_is_never_dearer_on_shipped_machines(
    machine: str, goal: str, key: str, values: tuple[float, ...]
) -> None:
    climb([shipped(machine, goal, **{key: value}) for value in values], Search(why=False))


@pytest.mark.slow
def test_a_drain_that_stands_more_loses_no_plan_where_steps_of_temperature_come_near_their_limit() -> None:
    """A weak 100 V element, inlet water from 6 to 23 °C. A check bounds a step of temperature no nearer than
    its limit; taken for all that was to spare, 66 °C cost 2.2 % more than 63, and 60 and 70 had no plan."""
    rigs = [weak(limit_c) for limit_c in (60.0, 63.0, 66.0, 70.0)]
    costs = climb(rigs, Search(why=False))
    assert max(costs) < np.inf
