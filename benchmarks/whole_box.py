"""Attack the certificates over the whole box of tolerances with the second simulator of the tests.

For each requirement of a pair: every quantity on its own to each end and to nominal, a dry start as a switch
of its own; the moves that help are taken, and again until none helps. Then seeded draws of ends, and the best
few refined in the same way. At each point found the check itself is asked too, with every tolerance shrunk to
that point. The simulator (`tests/second_opinion.py`) shares no code with planner or check.

    python benchmarks/whole_box.py [--draws 200] [--seed 1] [MACHINE/GOAL ...]
"""

from __future__ import annotations

import argparse
import sys
import time
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from second_opinion import judged, simulate
from tolerance_box import at_point, box

import optimizer
from optimizer.errors import NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_from_json

Numbers = NDArray[np.float64]
Certified = dict[str, tuple[float, float, str]]
"""By its key: limit, certified worst, ``at least`` or ``at most``."""

MACHINES = ("clubhouse", "narrowboat", "garage-120v", "cold-shed")
GOALS = ("everyday", "eco-everyday", "glasses", "roasting-tins", "nursery", "steamed-glasses")
DRY, CHILLED = "dry start", "tank chilled at the start"
PASSES = 6
REFINED = 3
MATTERS = 0.02
"""Share of the way from nominal to the worst point that a quantity must make up to be named [1]."""
WORSE = 0.001
"""Share by which the found worst must be past the certified one to be marked with + [1]."""


class Attack:
    """All points run so far for one plan, as shares of the box, and what they gave."""

    def __init__(self, plan: Plan, keys: list[str]) -> None:
        ends = box(plan.inputs.machine)
        self.plan, self.keys = plan, keys
        self.fixed = {name: three[1] for name, three in ends.items() if three[0] == three[2]}
        self.moved = {name: three for name, three in ends.items() if three[0] < three[2]}
        self.names = [*self.moved, CHILLED, DRY]
        self.values = {name: np.array(three) for name, three in self.moved.items()} | {
            name: np.array([0.0, 0.0, 1.0]) for name in (CHILLED, DRY)
        }
        self.runs = 0
        self.seen: dict[bytes, Numbers] = {}

    def run(self, points: Numbers) -> Numbers:
        """How bad each point is for each requirement: the higher, the worse."""
        points = np.unique(points, axis=0)
        points = np.array([point for point in points if point.tobytes() not in self.seen])
        if not len(points):
            return points
        inputs, n = self.plan.inputs, len(points)
        q = {name: np.full(n, value) for name, value in self.fixed.items()}
        q |= {name: points[:, i] for i, name in enumerate(self.names) if name in self.moved}
        dry, chilled = points[:, -1] > 0.5, points[:, -2]
        meters = simulate(self.plan.constants, inputs.machine, inputs.goal, q, dry, chilled)
        found = judged(meters, inputs.goal)
        bad = np.stack([-found[key][0] if found[key][1] else found[key][0] for key in self.keys], axis=1)
        self.runs += n
        self.seen |= {point.tobytes(): row for point, row in zip(points, bad, strict=True)}
        return points

    def bad(self, point: Numbers) -> Numbers:
        return self.seen[point.tobytes()]

    def nominal(self) -> Numbers:
        return np.array([self.values[name][1] for name in self.names])

    def singles(self, point: Numbers) -> list[Numbers]:
        """Every quantity on its own to each end and to nominal."""
        found = []
        for i, name in enumerate(self.names):
            for value in self.values[name]:
                one = point.copy()
                one[i] = value
                found.append(one)
        return found

    def climb(self, starts: list[tuple[int, Numbers]]) -> None:
        """Take what helps, for each requirement from its start, until nothing does."""
        for _ in range(PASSES):
            self.run(np.array([point for _, start in starts for point in (start, *self.singles(start))]))
            joint = [(which, start, self.together(which, start)) for which, start in starts]
            self.run(np.array([point for _, _, point in joint]))
            onward = []
            for which, start, point in joint:
                best = max([start, point, *self.singles(start)], key=lambda at: self.bad(at)[which])
                if self.bad(best)[which] > self.bad(start)[which] + 1e-9:
                    onward.append((which, best))
            if not onward:
                return
            starts = onward

    def together(self, which: int, start: Numbers) -> Numbers:
        """All moves that help, each quantity to the value that helps most."""
        point = start.copy()
        for i, name in enumerate(self.names):
            tried = []
            for value in self.values[name]:
                one = start.copy()
                one[i] = value
                tried.append((self.bad(one)[which], value))
            worst, value = max(tried)
            if worst > self.bad(start)[which] + 1e-12:
                point[i] = value
        return point

    def worst(self, which: int, number: int = 1) -> list[Numbers]:
        order = sorted(self.seen, key=lambda key: -self.seen[key][which])
        return [np.frombuffer(key) for key in order[:number]]

    def draw(self, number: int, seed: int) -> list[tuple[int, Numbers]]:
        """Seeded draws of ends; the best few for each requirement."""
        random = np.random.default_rng(seed)
        ends = np.array([self.values[name] for name in self.names])
        draws = self.run(ends[np.arange(len(ends)), random.choice([0, 2], (number, len(ends)))])
        bad = np.array([self.bad(point) for point in draws])
        order = np.argsort(-bad, axis=0)[:REFINED]
        return [(which, draws[i]) for which in range(len(self.keys)) for i in order[:, which]]

    def checked(self, key: str, point: Numbers) -> float:
        """What the product's own check has for the row where every tolerance is shrunk to the point."""
        here = self.fixed | {n: float(v) for n, v in zip(self.names, point, strict=True) if n in self.moved}
        return certified_rows(at_point(self.plan, here))[key][1]

    def described(self, which: int, point: Numbers) -> str:
        """The quantities that make up most of the way from nominal."""
        base = self.nominal()
        others = [np.where(np.arange(len(point)) == i, base, point) for i in range(len(point))]
        self.run(np.array([base, *others]))
        way = self.bad(point)[which] - self.bad(base)[which]
        said = []
        for name, value, nominal, other in zip(self.names, point, base, others, strict=True):
            if value != nominal and self.bad(point)[which] - self.bad(other)[which] > MATTERS * way:
                said.append(name if name in (CHILLED, DRY) else f"{name} {value:.4g}")
        return ", ".join(said) or ("nominal" if way <= 0.0 else "several at once, no one of them alone")


def certified_rows(plan: Plan) -> Certified:
    """Limit, worst and sense of each row of the certificate."""
    frame = optimizer.check_plan(plan).frame
    return {row.key: (row.limit, row.worst, row.sense) for row in frame.itertuples()}


def attack(plan: Plan, certified: Certified, draws: int, seed: int) -> list[tuple[str, ...]]:
    """One line a requirement: limit, certified, found, how far past, the point."""
    goal = plan.inputs.goal
    probe = simulate(plan.constants, plan.inputs.machine, goal,
                     {name: np.array([three[1]]) for name, three in box(plan.inputs.machine).items()},
                     np.array([False]))  # fmt: skip
    keys = [key for key in judged(probe, goal) if key in certified]
    search = Attack(plan, keys)
    search.climb([(which, search.nominal()) for which in range(len(keys))])
    search.climb(search.draw(draws, seed) + [(which, search.worst(which)[0]) for which in range(len(keys))])
    lines = []
    for which, key in enumerate(keys):
        limit, worst, sense = certified[key]
        point = search.worst(which)[0]
        sign = -1.0 if sense == "at least" else 1.0
        found = sign * float(search.bad(point)[which])
        past, broken = sign * (found - worst) / abs(worst), sign * (found - limit) > 0.0
        mark = "BROKEN" if broken else "+" if past > WORSE else ""
        lines.append((key, f"{limit:.5g}", f"{worst:.5g}", f"{found:.5g}", f"{100 * past:+.2f} %", mark,
                      f"{search.checked(key, point):.5g}", search.described(which, point)))  # fmt: skip
    lines.append(("points run", "", "", str(search.runs), "", "", "", ""))
    return lines


def plan_of(machine: str, goal: str, kept: Path | None) -> Plan | None:
    """The plan of a pair, made or read; None where there is none."""
    if kept is not None:
        path = kept / f"{machine}+{goal}.json"
        return plan_from_json(path.read_text(), str(path)) if path.exists() else None
    try:
        return plan_and_prove(load_inputs(machine, goal)).plan
    except NoPlanError:
        return None


def main() -> None:
    parser = argparse.ArgumentParser(description="Attack the certificates over the whole box of tolerances.")
    parser.add_argument("pairs", nargs="*", metavar="MACHINE/GOAL", help="shipped pairs; all where left out")
    parser.add_argument("--draws", type=int, default=200, help="1 or more")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--plans", type=Path, help="folder of kept plans, MACHINE+GOAL.json")
    asked = parser.parse_args()
    print("| pair | requirement | limit | certified | found | worse by | | check there | point |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |")
    for pair in asked.pairs or [f"{machine}/{goal}" for machine in MACHINES for goal in GOALS]:
        plan = plan_of(*pair.split("/"), asked.plans)
        if plan is None:
            continue
        begin_s = time.process_time()
        for line in attack(plan, certified_rows(plan), asked.draws, asked.seed):
            print("| " + " | ".join((pair, *line)) + " |", flush=True)
        print(f"{pair}: {time.process_time() - begin_s:.0f} s", file=sys.stderr)


if __name__ == "__main__":
    main()
