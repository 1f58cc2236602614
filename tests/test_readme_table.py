"""What the rules of the trade cost, in README and benchmarks/README.md: each shipped pair, planned anew.

The columns of before are of version 0.1.0 and cannot be planned any more.
"""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from planner_cases import answer

from optimizer.check.certificate import longest_min
from optimizer.errors import NoPlanError
from optimizer.programme.plan import Plan
from optimizer.report.numbers import whole

ROOT = Path(__file__).resolve().parent.parent
ROW = re.compile(r"^\| ([\w-]+), ([\w-]+) \|(.*)\|$", re.M)
QUICK = ("clubhouse", "everyday")


def rows(name: str) -> dict[tuple[str, str], list[str]]:
    """Cells of a table by machine and goal."""
    found = ROW.findall((ROOT / name).read_text(encoding="utf-8"))
    cells = {(machine, goal): [cell.strip() for cell in rest.split("|")] for machine, goal, rest in found}
    cells.pop(("machine", "goal"), None)
    return cells


README, BENCHMARKS = rows("README.md"), rows("benchmarks/README.md")


def rounds_of(plan: Plan) -> str:
    """Prerinses + washes + rinses, in brackets how many of the rounds are heated."""
    kinds = [row.kind for row in plan.constants.rounds]
    count = "+".join(str(kinds.count(kind)) for kind in ("prerinse", "wash", "rinse"))
    heated = sum(row.heat_s > 0 or row.spray_element_s > 0 for row in plan.constants.rounds)
    return f"{count}{' +steam' * ('steam' in kinds)} ({heated})"


def close(cell: str, value: float, step: float) -> bool:
    """Whether a cell is a number rounded to a step, give or take one step."""
    return abs(float(cell.split()[0]) - value) <= 1.5 * step


@pytest.mark.parametrize(
    "pair",
    [pytest.param(pair, marks=[pytest.mark.slow] * (pair != QUICK)) for pair in {**README, **BENCHMARKS}],
    ids=" ".join,
)
def test_the_row_of_a_shipped_pair_is_what_its_plan_says(pair: tuple[str, str]) -> None:
    found, now = answer(*pair), README.get(pair, [""] * 4)[4:]
    if isinstance(found, NoPlanError):
        assert (now[0], pair in BENCHMARKS) == ("none", False)
        return
    plan = found.plan
    rounds, minutes, longest, kwh, litres, money = BENCHMARKS[pair]
    assert rounds == rounds_of(plan)
    assert close(minutes, plan.costs.duration_min, 1.0)
    longest_found_min = longest_min(found.certificate.rows)
    assert longest_found_min is not None
    # As the plan says it, rounded up.
    assert longest == whole(longest_found_min)
    assert close(kwh, plan.costs.electricity_kwh, 0.01)
    assert close(litres, plan.costs.water_l, 0.1)
    assert close(money, plan.costs.money, 0.01)
    assert money.endswith(plan.inputs.tariff.currency)
    assert not now or now == [rounds, minutes, kwh, money]
