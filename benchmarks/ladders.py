"""Whether an easier case ever loses a plan or costs more: ladders from hard to easy over random machines.

Each ladder takes a machine and a goal changed at random, and eases one number in four steps: longest time,
minutes of a dose, limit of the tank, residue or water of a run. At each step the plan of the step before is
costed by the easier profiles; a plan that is dearer than that by more than whole seconds turn a cost, or that
is missing, breaks the ladder. Ladders whose easiest case costs no less than its hardest count for nothing.

    python benchmarks/ladders.py [--ladders 200] [--seed 1] [--shipped]

The small machine of the tests is planned with few rounds; ``--shipped`` changes shipped machines instead.
"""

from __future__ import annotations

import argparse
import sys
import time
from contextlib import suppress
from dataclasses import replace
from pathlib import Path
from typing import Any

import numpy as np
from evolution import changed_at_random, random_inputs

from optimizer.errors import CheckFailedError, InputError, NoPlanError, SolverError
from optimizer.plan_and_prove import Proven, plan_and_prove
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.margins import Assessor
from optimizer.planner.search import Search
from optimizer.programme.plan import Inputs

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from nested import changed
from planner_cases import FEW_ROUNDS, MODELS, tiny

NOISE = 0.002
"""What whole seconds may turn a cost by [1]."""

STEPS = 4
"""Cases of a ladder."""

WATER_L = {"tiny": 12.0}
"""Water of a run that is eased where a goal names none, by the machine [l]; else `USUAL_WATER_L`."""
USUAL_WATER_L = 50.0

EASED = {
    "goal.limits.duration_min": (0.25, 1.0),
    "goal.dose.0.minutes": (1.6, 0.4),
    "machine.tank.limit_c": (0.75, 1.1),
    "goal.rinse.residue_max": (0.2, 2.0),
    "goal.limits.water_l": (0.6, 1.6),
}
"""What is eased, between which shares of what it is, from hard to easy [1]."""


def ladder(seed: int, *, shipped: bool) -> tuple[str, list[Inputs]] | None:
    """Cases from hard to easy, and their name; None where no profile may be so."""
    random = np.random.default_rng(seed)
    named = random_inputs(seed) if shipped else ("tiny", changed_at_random(tiny(), random))
    if named is None or named[1] is None:
        return None
    name, inputs = named
    key = str(random.choice(list(EASED)))
    shares = np.sort(random.uniform(0.0, 1.0, STEPS))
    hard, easy = EASED[key]
    parts = {kind: getattr(inputs, kind).model_dump(mode="python", exclude_none=True) for kind in MODELS}
    usual = WATER_L.get(inputs.names[0], USUAL_WATER_L) if key.endswith("water_l") else value_at(parts, key)
    try:
        steps = [with_value(inputs, parts, key, usual, hard + (easy - hard) * share) for share in shares]
    except (InputError, ValueError):
        return None
    return f"{name} {seed} {key}", steps


def value_at(parts: Any, key: str) -> Any:
    """What stands at a dotted path."""
    for folder in key.split("."):
        parts = parts[int(folder) if isinstance(parts, list) else folder]
    return parts


def with_value(inputs: Inputs, parts: dict[str, Any], key: str, usual: Any, share: float) -> Inputs:
    """The same profiles with so much of one number, its ends with it."""
    ends = {end: share * value for end, value in usual.items()} if isinstance(usual, dict) else share * usual
    new = changed(parts, {key: ends})
    return replace(inputs, **{kind: model.model_validate(new[kind]) for kind, model in MODELS.items()})


def cost_of(proven: Proven, inputs: Inputs) -> float:
    """What a programme costs on other profiles: a larger tank also loses more heat [currency]."""
    programme = programme_of(proven.plan.constants, inputs.machine)
    return float(Assessor(inputs).run(programme)[1].with_waiting[0])


def climbed(steps: list[Inputs], search: Search) -> list[float]:
    """By what share each step is dearer than the last harder plan, inf for a lost one.

    Empty where fewer than two steps have a plan, or easing brings nothing.
    """
    harder: Proven | None = None
    dearer: list[float] = []
    costs: list[float] = []
    for inputs in steps:
        proven = None
        with suppress(NoPlanError, CheckFailedError, SolverError):
            proven = plan_and_prove(inputs, search=search)
        costs.append(np.inf if proven is None else proven.plan.costs.with_waiting)
        if harder is not None:
            before = cost_of(harder, inputs)
            dearer.append(np.inf if proven is None else cost_of(proven, inputs) / before - 1.0)
        harder = proven or harder
    return dearer if costs[0] * (1.0 - NOISE) > min(costs) or np.inf in dearer else []


def main() -> None:
    """Print a row a ladder that breaks, and how many do."""
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawTextHelpFormatter)
    parser.add_argument("--ladders", type=int, default=200, help="so many that ask for something")
    parser.add_argument("--seed", type=int, default=1, help="first seed")
    parser.add_argument("--shipped", action="store_true", help="change shipped machines, all rounds")
    asked = parser.parse_args()
    search = Search(why=False) if asked.shipped else Search(why=False, rounds_most=FEW_ROUNDS)
    seed, told, lost, dear, worst = asked.seed, 0, 0, 0, 0.0
    while told < asked.ladders:
        made, seed = ladder(seed, shipped=asked.shipped), seed + 1
        if made is None:
            continue
        name, steps = made
        before = time.process_time()
        dearer = climbed(steps, search)
        if not dearer:
            continue
        told, most = told + 1, max(dearer)
        lost, dear = lost + (most == np.inf), dear + any(NOISE < one < np.inf for one in dearer)
        worst = max([worst, *(one for one in dearer if one < np.inf)])
        if most > NOISE:
            shares = " ".join("lost" if one == np.inf else f"{one:+.2%}" for one in dearer)
            print(f"{name}: {shares} ({time.process_time() - before:.0f} s)", flush=True)
        if told % 20 == 0:
            print(f"{told} ladders, {lost} lose a plan, {dear} dearer, worst {worst:.2%}", flush=True)
    print(
        f"{told} ladders, {lost} lose a plan, {dear} are dearer by over {NOISE:.1%}, the worst by {worst:.2%}"
    )


if __name__ == "__main__":
    main()
