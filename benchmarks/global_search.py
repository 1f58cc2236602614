"""Hold the planner against a global search over the same simulation.

For every structure of up to five rounds, heated in any way or in two at once, washes with a soak or without,
differential evolution (scipy) looks for the cheapest numbers, levels included: once free of whole seconds,
once in the whole seconds and tenths of a degree that a controller holds. Each of the two searches has the
whole time. It goes in equal parts to stages: all structures, then the better third of them, and so on down to
two, each going on with its own population. Nothing is taken from the planner. The planner's cost over each
search's best is printed for every pair of machine and goal that has a plan.

    python benchmarks/global_search.py [--seconds 300] [--processes 2] [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import itertools
import json
import math
import sys
import time
from concurrent.futures import ProcessPoolExecutor
from importlib.metadata import version

import numpy as np
from scipy.optimize import OptimizeResult, differential_evolution

from optimizer.errors import NoPlanError
from optimizer.planner.margins import Assessor
from optimizer.planner.search import choose
from optimizer.planner.structure import Mode, Structure
from optimizer.planner.trim_space import FEASIBLE, Space
from optimizer.programme.constants import KINDS
from optimizer.programme.inputs import load_inputs

MACHINES = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
GOALS = ("glasses", "everyday", "roasting-tins", "eco-everyday", "nursery", "steamed-glasses")
MOST_ROUNDS = 5
KEPT_SHARE, FINALISTS = 1 / 3, 2
PENALTY = 20.0
POWER = 3
"""Variables but soaks are searched by this root: most phases are far shorter than the longest they may be."""
COLUMNS = {
    "machine": "machine",
    "goal": "goal",
    "planner": "planner",
    "rounds": "its rounds",
    "free": "search, free",
    "free_rounds": "its rounds",
    "free_ratio": "planner / free",
    "whole": "search, whole seconds",
    "whole_rounds": "its rounds",
    "whole_ratio": "planner / whole",
    "structures": "structures",
    "planner_s": "planner s",
}


def structures(assessor: Assessor) -> list[Structure]:
    """Every structure of up to five rounds that the goal's least numbers allow and that can rinse."""
    least = assessor.rounds_least
    found = []
    for counts in itertools.product(range(3), range(1, 4), range(5), [least["steam"]]):
        enough = all(count >= least[name] for name, count in zip(KINDS, counts, strict=True))
        if not enough or sum(counts) > MOST_ROUNDS:
            continue
        kinds = tuple(kind for kind, count in enumerate(counts) for _ in range(count))
        for modes in itertools.product(*(heat_modes(assessor, kinds, i) for i in range(len(kinds)))):
            if Space(assessor, Structure(kinds, modes)).short_when_full():
                continue
            found += [Structure(kinds, modes, soaked) for soaked in soaks(assessor, kinds)]
    return found


def soaks(assessor: Assessor, kinds: tuple[int, ...]) -> list[tuple[int, ...]]:
    """Every choice of the rounds that soak."""
    may = [index for index, kind in enumerate(kinds) if assessor.soaking.may(kind)]
    return [chosen for count in range(len(may) + 1) for chosen in itertools.combinations(may, count)]


def heat_modes(assessor: Assessor, kinds: tuple[int, ...], index: int) -> list[Mode]:
    """Ways to heat a round: none where the heat does nothing for any requirement."""
    goal, kind = assessor.inputs.goal, kinds[index]
    if KINDS[kind] == "steam":
        return [Mode.STEAM] if assessor.heats(Mode.STEAM) else []
    dries = goal.drying.method == "hot_rinse" and index == len(kinds) - 1
    if not (assessor.simulator.targets.counts(kind) or dries):
        return [Mode.UNHEATED]
    return [mode for mode in Mode if mode is not Mode.STEAM and assessor.heats(mode)]


class Search:
    """Differential evolution on one structure, cut off by the processor time it has used.

    It goes on where it was cut off, and starts afresh where its population has shrunk to a point.
    """

    def __init__(self, space: Space, seed: int, *, whole: bool) -> None:
        self.space, self.seed, self.whole = space, seed, whole
        self.low, self.high = space.low, space.high
        self.power = np.array([1 if name == "soak_s" else POWER for name, _ in space.slots])
        if whole:
            self.low, self.high = np.ceil(space.low / space.unit), np.floor(space.high / space.unit)
        self.best = self.least = np.inf
        self.starts = 0
        self.population: np.ndarray | None = None

    @property
    def rank(self) -> tuple[float, float]:
        """Cheapest programme that holds; until there is one, the least cost with penalty."""
        return self.best, self.least

    def values(self, x: np.ndarray) -> np.ndarray:
        """Candidates × variables in their units, from variables × candidates in 0 to 1."""
        values = self.low + (self.high - self.low) * x.T**self.power
        return np.rint(values) * self.space.unit if self.whole else values

    def cost(self, x: np.ndarray) -> np.ndarray:
        """Objective with a penalty for what does not hold; ``x`` is variables × candidates."""
        margins, objective = self.space.run(self.values(x))
        good = objective[margins.min(axis=1) >= FEASIBLE]
        if good.size:
            self.best = min(self.best, float(good.min()))
        return objective - PENALTY * np.minimum(margins, 0.0).sum(axis=1)

    def run(self, seconds: float) -> None:
        """Search for a time."""
        until = time.process_time() + seconds

        def cut_off(intermediate_result: OptimizeResult) -> bool:
            return time.process_time() > until

        while time.process_time() < until:
            result = differential_evolution(
                self.cost,
                [(0.0, 1.0)] * len(self.low),
                popsize=6,
                maxiter=100_000,
                tol=1e-7,
                rng=np.random.default_rng([self.seed, self.starts]),
                polish=False,
                init="sobol" if self.population is None else self.population,
                updating="deferred",
                vectorized=True,
                callback=cut_off,
            )
            self.starts += 1
            self.least = min(self.least, float(result.fun))
            self.population = result.population if time.process_time() > until else None


def search(assessor: Assessor, every: list[Structure], seconds: float, *, whole: bool) -> Search:
    """Search all structures, in stages; the one with the cheapest programme."""
    left = [Search(Space(assessor, structure), seed, whole=whole) for seed, structure in enumerate(every)]
    sizes = [len(left)]
    while sizes[-1] > FINALISTS:
        sizes.append(max(math.ceil(sizes[-1] * KEPT_SHARE), FINALISTS))
    for size in sizes:
        left = sorted(left, key=lambda one: one.rank)[:size]
        for one in left:
            one.run(seconds / len(sizes) / size)
    return min(left, key=lambda one: one.rank)


def compare(job: tuple[str, str, float]) -> dict[str, object]:
    """One pair: the planner's cost and that of both searches."""
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
    cost = choice.trimmed.objective
    every = structures(assessor)
    row |= {
        "planner": round(cost, 4),
        "rounds": choice.trimmed.programme.structure.label,
        "structures": len(every),
    }
    for name, whole in (("free", False), ("whole", True)):
        found = search(assessor, every, seconds, whole=whole)
        row |= {name: round(found.best, 4), f"{name}_rounds": found.space.structure.label}
        row |= {f"{name}_ratio": round(cost / found.best, 4)}
    return row


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
    print(f"\n{versions}; {asked.seconds:g} s of processor time a search")


if __name__ == "__main__":
    main()
