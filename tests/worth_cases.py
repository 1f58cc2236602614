"""What a better measurement is worth: answers made by hand, and the parts that several tests look at."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import pytest
from planner_cases import FEW, shipped

from optimizer.batch.run_cases import WorkerSettings
from optimizer.errors import NoPlanError, Reason
from optimizer.programme.plan import Costs, Inputs
from optimizer.whatif import worth as module
from optimizer.whatif.narrower_plans import Interval, intervals
from optimizer.whatif.worth import Narrowed, Worth, worth

HERE = WorkerSettings(jobs=0)


def one_of(inputs: Inputs, key: str) -> Interval:
    return next(one for one in intervals(inputs) if one.key == key)


def of_keys(inputs: Inputs, keys: tuple[str, ...]) -> Worth:
    """What some of the intervals are worth."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(module, "intervals", lambda inputs: _only(inputs, keys))
        return worth(inputs, HERE, search=FEW)


def _only(inputs: Inputs, keys: tuple[str, ...]) -> Iterator[Interval]:
    return (one for one in intervals(inputs) if one.key in keys)


def costs(money: float) -> Costs:
    return Costs(1.0, 40.0, 20.0, 100.0, money, money, money, 0.1, 4.7)


def example(**changes: Any) -> Worth:
    """A worth made by hand: three intervals of the shipped clubhouse and its circuit, round numbers."""
    inputs = shipped("clubhouse", "everyday")
    now = costs(0.5)
    rows = [
        Narrowed(one_of(inputs, "inlet.flow_l_per_min"), "planned", costs(0.48), 0.02),
        Narrowed(one_of(inputs, "ware.film_l"), "planned", costs(0.49), 0.01),
        Narrowed(one_of(inputs, "circuit.background_a"), "planned", now, 0.0),
    ]
    together = Narrowed(None, "planned", costs(0.45), 0.05)
    usual: dict[str, Any] = {"now": now, "missed": 0.0, "refusal": None, "rows": tuple(rows)}
    return Worth(**({"inputs": inputs, "all_at_once": together, "interrupted": False} | usual | changes))


def without_plan() -> Worth:
    """The same where there is no programme now, and one with a narrower interval."""
    inputs = shipped("clubhouse", "everyday")
    refusal = NoPlanError("No programme", [Reason("residue after the rinse", "0.001", "0.0012 at the least")])
    rows = (
        Narrowed(one_of(inputs, "tank.residual_l"), "planned", costs(0.7)),
        Narrowed(one_of(inputs, "ware.film_l"), "no plan"),
        Narrowed(one_of(inputs, "supply.voltage_v"), "failed", why=("its worker died",)),
    )
    return example(now=None, refusal=refusal, rows=rows, all_at_once=Narrowed(None, "planned", costs(0.6)))
