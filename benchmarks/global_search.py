"""Hold the planner against a global search over the same simulation.

For every structure of up to five rounds, differential evolution (scipy) looks for the cheapest numbers, free
of whole seconds. Half of the time is shared out evenly, the other half goes to the five best structures. The
planner's cost over the search's best is printed for each pair of machine and goal.

    python benchmarks/global_search.py [--seconds 300] [--processes 2] [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import itertools
import json
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version

import numpy as np
from scipy.optimize import differential_evolution

from optimizer.errors import NoPlanError
from optimizer.planner.choose import choose
from optimizer.planner.requirements import Assessor
from optimizer.planner.simulate import Mode, Structure
from optimizer.planner.space import Space
from optimizer.programme.inputs import load_inputs

MACHINES = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
GOALS = ("glasses", "everyday", "roasting-tins", "eco-everyday", "nursery")
MOST_ROUNDS = 5
FINALISTS = 5
PENALTY = 20.0
COLUMNS = {
    "machine": "machine",
    "goal": "goal",
    "planner": "planner",
    "rounds": "its rounds",
    "search": "search",
    "search_rounds": "its rounds",
    "structures": "structures",
    "ratio": "planner / search",
    "planner_s": "planner s",
}


def structures(assessor: Assessor) -> list[Structure]:
    """Every structure of up to five rounds that the goal's least numbers allow and that can rinse."""
    least, needs = assessor.rounds_least, assessor.simulator.needs
    modes = [mode for mode in Mode if assessor.heats(mode)]
    found = []
    for pre, wash, rinse in itertools.product(range(3), range(1, 4), range(5)):
        if pre < least["prerinse"] or rinse < least["rinse"] or pre + wash + rinse > MOST_ROUNDS:
            continue
        kinds = (0,) * pre + (1,) * wash + (2,) * rinse
        choices = [modes if needs.counts(kind) else [Mode.UNHEATED] for kind in kinds]
        for picked in itertools.product(*choices):
            structure = Structure(kinds, picked)
            if not Space(assessor, structure).hopeless():
                found.append(structure)
    return found


class Search:
    """Differential evolution on one structure, cut off by the processor time it has used."""

    def __init__(self, space: Space, seed: int) -> None:
        self.space, self.seed = space, seed
        self.best = np.inf

    def cost(self, x: np.ndarray) -> np.ndarray:
        """Objective with a penalty for what does not hold; ``x`` is variables × candidates."""
        margins, objective = self.space.run(x.T)
        short = np.minimum(margins, 0.0).sum(axis=1)
        good = objective[margins.min(axis=1) >= -1e-9]
        if good.size:
            self.best = min(self.best, float(good.min()))
        return np.where(short < 0.0, objective + PENALTY * -short + 1.0, objective)

    def run(self, seconds: float) -> float:
        """Search for a time; the cheapest programme that holds."""
        until = time.process_time() + seconds
        differential_evolution(
            self.cost,
            list(zip(self.space.low, self.space.high, strict=True)),
            popsize=12,
            maxiter=100_000,
            tol=1e-8,
            rng=np.random.default_rng(self.seed),
            polish=False,
            init="sobol",
            updating="deferred",
            vectorized=True,
            callback=lambda *_, **__: time.process_time() > until,
        )
        return self.best


def compare(job: tuple[str, str, float]) -> dict[str, object]:
    """One pair: the planner's cost and the search's."""
    machine, goal, seconds = job
    assessor = Assessor(load_inputs(machine, goal))
    started = time.perf_counter()
    try:
        choice = choose(assessor)
    except NoPlanError:
        choice = None
    took = time.perf_counter() - started
    row: dict[str, object] = {"machine": machine, "goal": goal, "planner_s": round(took, 2)}
    if choice is None:
        return row | {"planner": None}
    row |= {"planner": round(choice.trimmed.objective, 4), "rounds": choice.trimmed.structure.label}
    row |= {"choose_s": round(choice.outcome.seconds, 2)}
    every = structures(assessor)
    searches = [Search(Space(assessor, structure), seed) for seed, structure in enumerate(every)]
    first = [(search.run(0.5 * seconds / len(searches)), number) for number, search in enumerate(searches)]
    finalists = [number for _, number in sorted(first)[:FINALISTS]]
    for number in finalists:
        searches[number].seed += 1000
        searches[number].run(0.5 * seconds / len(finalists))
    best = min(range(len(searches)), key=lambda number: searches[number].best)
    found = searches[best].best
    row |= {"structures": len(every), "search": round(found, 4), "search_rounds": every[best].label}
    return row | {"ratio": round(choice.trimmed.objective / found, 4)}


def main() -> None:
    """Run all pairs and print a table, one JSON line a pair on standard error as they come."""
    parser = argparse.ArgumentParser()
    parser.add_argument("pairs", nargs="*")
    parser.add_argument("--seconds", type=float, default=300.0)
    parser.add_argument("--processes", type=int, default=2)
    asked = parser.parse_args()
    pairs = [tuple(pair.split("/")) for pair in asked.pairs] or list(itertools.product(MACHINES, GOALS))
    jobs = [(machine, goal, asked.seconds) for machine, goal in pairs]
    print("| " + " | ".join(COLUMNS.values()) + " |")
    print("| " + " | ".join(["---"] * len(COLUMNS)) + " |")
    with ProcessPoolExecutor(asked.processes) as pool:
        for row in pool.map(compare, jobs):
            print(json.dumps(row), file=sys.stderr, flush=True)
            if row["planner"] is not None:
                print("| " + " | ".join(str(row[key]) for key in COLUMNS) + " |", flush=True)
    versions = ", ".join(f"{name} {version(name)}" for name in ("scipy", "numpy", "highspy"))
    print(f"\n{versions}; {asked.seconds:g} s of processor time a pair")


if __name__ == "__main__":
    main()
