"""Attack the certificates by differential evolution over the whole box of tolerances.

For each requirement that tolerances touch and that holds by less than 10 % (three at least a plan), and for
those that a second run on the warm machine may break: twice a differential evolution (scipy) in the check's
own simulation, once from everywhere in the box and once around the worst point of the check. What a
generation finds counts for all requirements. Shares of a tolerance may leave 0 to 1 and are cut there, so
that ends are met often. The worst points are run again with fine steps, and by the second simulator of the
tests. Plans: all shipped machines and goals that have one, or as many of shipped machines changed at random
as are asked for.

    python benchmarks/evolution.py [--points 120000 | --seconds 60] [--rows FILE]
        [MACHINE/GOAL ... | --random 20]
"""

from __future__ import annotations

import argparse
import json
import sys
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace
from functools import partial
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import Bounds, differential_evolution

sys.path.insert(0, str(Path(__file__).resolve().parent.parent / "tests"))

from second_opinion import judged as second_judged
from second_opinion import simulate
from tolerance_box import SENSOR
from tolerance_box import box as profile_box
from whole_box import GOALS, MACHINES, plan_of

from optimizer.check.box import box_of
from optimizer.check.certificate import Certificate, Row
from optimizer.check.certify import SEARCH_RTOL, Runs, check
from optimizer.check.equations import RTOL
from optimizer.check.requirements import Judged
from optimizer.check.second_run import AGAIN, LastState, hottest_again, judged_twice
from optimizer.errors import CheckFailedError, InputError, NoPlanError
from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.machine import Machine
from optimizer.programme.inputs import load_inputs
from optimizer.programme.plan import Inputs, Plan

Numbers = NDArray[np.float64]

BINDING = 0.1
"""Margin under which a requirement is attacked by itself, a share of its limit [1]."""
LEAST_AIMS = 3
POPULATION = 256
OVER = 0.3
"""How far a share of a tolerance may leave 0 to 1 before it is cut [1]."""
MOVED = 0.15
"""Share of the quantities that are drawn anew in the points around the check's worst one [1]."""
PLACES = {
    "voltage_v": "supply.voltage_v", "rated_w": "element.rated_w", "wash_pump_w": "wash_pump.power_w",
    "inlet_c": "inlet.water_c", "room_c": "room.air_c", "flow_l_per_min": "inlet.flow_l_per_min",
    "drain_l_per_min": "drain_pump.flow_l_per_min", "level_l": "inlet.level_l",
    "residual_l": "tank.residual_l", "film_l": "ware.film_l", "holdup_l": "wash_pump.holdup_l",
    "tank_kj_per_k": "tank.heat_capacity_kj_per_k", "loss_still_w_per_k": "tank.loss_still_w_per_k",
    "loss_spraying_w_per_k": "tank.loss_spraying_w_per_k",
    "response_spraying_s": "ware.response_spraying_s", "response_still_s": "ware.response_still_s",
    "sensor_error_k": SENSOR, "sensor_over_mean_k": "element.sensor_over_mean_k",
    "mechanics_factor": "wash_pump.mechanics_factor",
    "top_over_mean_k": "element.top_over_mean_k", "humidity_pct": "room.humidity_pct",
    "steam_share": "ware.steam_share", "pipe_l": "inlet.pipe_l",
}  # fmt: skip
"""Profile keys of the check's quantities, but for the ware's heat capacity and the dry start."""


class Evolution:
    """The worst point met so far for each requirement of a plan, in the check's simulation."""

    def __init__(self, plan: Plan, certificate: Certificate, only: list[str]) -> None:
        inputs = plan.inputs
        self.plan, self.certificate = plan, certificate
        self.runs = Runs(plan.constants, inputs.machine, inputs.goal, inputs.circuit, box_of(inputs.machine))
        self.box = self.runs.box
        self.rows = {row.key: row for row in certificate.rows if row.key in certificate.worst_points}
        values = self.judged(np.array([self.box.nominal, *self.box.draws(20, 1)]), SEARCH_RTOL, twice=False)
        self.keys = [key for key, some in values.items() if not np.all(some == some[0])]
        order = sorted(self.keys, key=lambda key: self.rows[key].margin_share)
        near = [key for key in order if self.rows[key].margin_share < BINDING]
        near = near if len(near) >= LEAST_AIMS else order[:LEAST_AIMS]
        self.aims = [key for key in order if (key in only if only else key in near or key in AGAIN)]
        self.best: dict[str, tuple[float, Numbers]] = {}
        self.count = 0

    def points_in(self, seconds: float) -> int:
        """How many points so much processor time is enough for, by the pace of two generations."""
        points, taken_s = self.box.draws(POPULATION, 1), []
        warm = sum(key in AGAIN for key in self.aims) / max(len(self.aims), 1)
        for twice in (False, False, True):
            begin_s = time.process_time()
            self.judged(points, SEARCH_RTOL, twice=twice)
            taken_s.append(time.process_time() - begin_s)
        return int(seconds * POPULATION / ((1.0 - warm) * taken_s[1] + warm * taken_s[2]))

    def judged(self, points: Numbers, rtol: float, *, twice: bool) -> dict[str, Numbers]:
        """Values of all requirements that tolerances may touch; ``twice`` adds the run on a warm machine."""
        last = LastState()
        findings = self.runs.run(points, rtol, (last,))
        found = findings.judged()
        if twice:
            machine = self.plan.inputs.machine
            found = judged_twice(
                found, hottest_again(self.plan.constants, machine, findings.cases, last.state)
            )
        return {one.key: np.broadcast_to(one.values, len(points)) for one in found if isinstance(one, Judged)}

    def bad(self, points: Numbers, *, twice: bool) -> dict[str, Numbers]:
        """How bad points are, the higher the worse; the worst of them are kept."""
        values = self.judged(points, SEARCH_RTOL, twice=twice)
        self.count += len(points)
        found = {}
        for key in self.keys:
            bad = np.nan_to_num(values[key] * (-1.0 if least(self.rows[key]) else 1.0), nan=np.inf)
            found[key], place = bad, int(bad.argmax())
            if key not in self.best or bad[place] > self.best[key][0]:
                self.best[key] = (float(bad[place]), points[place].copy())
        return found

    def attack(self, key: str, *, around: bool, budget: int, seed: int) -> None:
        """One differential evolution for a requirement."""
        random, size = np.random.default_rng(seed), self.box.size
        start = random.uniform(-OVER, 1.0 + OVER, (POPULATION, size))
        if around:
            at = self.certificate.worst_points[key]
            point = np.array([at[name] for name in self.box.names])
            share = (point - self.box.low) / (self.box.high - self.box.low)
            start = np.where(random.uniform(size=start.shape) < MOVED, start, share)

        def good(shares: Numbers) -> Numbers:
            cut = np.clip(shares.T, 0.0, 1.0)
            inside = np.where(cut == 1.0, self.box.high, self.box.low + cut * (self.box.high - self.box.low))
            return -self.bad(inside, twice=key in AGAIN)[key]

        differential_evolution(
            good, Bounds(np.full(size, -OVER), np.full(size, 1.0 + OVER)), init=start, polish=False,
            maxiter=max(budget // POPULATION - 1, 1), recombination=0.9, rng=seed, vectorized=True,
            updating="deferred", tol=0.0, atol=-1.0,
        )  # fmt: skip

    def lines(self) -> Iterator[dict[str, Any]]:
        """For each requirement: what is certified, and what was met here with fine steps."""
        points = np.array([self.best[key][1] for key in self.keys])
        fine = self.judged(points, RTOL, twice=True)
        other = second_opinion(self.plan, [self.box.table(point) for point in points])
        for place, key in enumerate(self.keys):
            row, value = self.rows[key], float(fine[key][place])
            second = float(other[key][place]) if key in other else None
            yield {
                "key": key, "aim": key in self.aims, "limit": row.limit, "guaranteed": row.guaranteed,
                "worst_found": row.worst, "evolution": value, "past_worst": past(row, row.worst, value),
                "past_guaranteed": past(row, row.guaranteed, value),
                "second": second, "second_past": past(row, row.guaranteed, second),
                "point": self.box.table(points[place]),
            }  # fmt: skip


def past(row: Row, certified: float | None, value: float | None) -> float | None:
    """How far a value is past a certified one, a share of that [1]; below 0 where it is not."""
    if certified is None or value is None:
        return None
    return (certified - value if least(row) else value - certified) / (abs(certified) or 1.0)


def least(row: Row) -> bool:
    """Whether the least value of a requirement is its worst."""
    return row.sense == "at least"


def second_opinion(plan: Plan, tables: list[dict[str, float]]) -> dict[str, Numbers]:
    """Values of the second simulator; it knows a dry start and a wet one, so that a share is rounded."""
    machine = plan.inputs.machine
    ware = machine.ware.heat_capacity_kj_per_k
    places = {place: name for name, place in PLACES.items()}
    points: dict[str, Numbers] = {}
    for place, (low, nominal, high) in profile_box(machine).items():
        if place in places:
            points[place] = np.array([table[places[place]] for table in tables])
        elif place.startswith("ware."):
            width = ware.high - ware.low
            share = [(table["ware_kj_per_k"] - ware.low) / width if width else 0.0 for table in tables]
            points[place] = low + np.array(share) * (high - low)
        else:
            points[place] = np.full(len(tables), nominal)
    dry = np.array([table["start_share"] < 0.5 for table in tables])
    chilled = np.array([table["start_chill_share"] for table in tables])
    meters = simulate(plan.constants, machine, plan.inputs.goal, points, dry, chilled)
    return {key: values for key, (values, _) in second_judged(meters, plan.inputs.goal).items()}


def random_inputs(seed: int) -> tuple[str, Inputs] | None:
    """A shipped machine with other values and other tolerances, and a shipped goal with other doses."""
    random = np.random.default_rng(seed)
    name, goal_name = str(random.choice(MACHINES)), str(random.choice(GOALS[:5]))
    made = changed_at_random(load_inputs(name, goal_name), random)
    return None if made is None else (f"{name}/{goal_name} {seed}", made)


def changed_at_random(inputs: Inputs, random: np.random.Generator) -> Inputs | None:
    """The machine with other values and other tolerances, the goal with other doses; None where no profile
    may be so."""
    data, goal = inputs.machine.model_dump(mode="json"), inputs.goal.model_dump(mode="json")
    wider = random.uniform(0.3, 2.0)
    for table in (part for part in data.values() if isinstance(part, dict)):
        for key, value in table.items():
            if isinstance(value, dict) and {"nominal", "low", "high"} <= value.keys() and key != "voltage_v":
                low, nominal, high = value["low"], value["nominal"], value["high"]
                scale = random.uniform(0.85, 1.2)
                below, above = random.uniform(0.0, wider, 2)
                more = random.uniform(0.0, 0.06 * nominal, 2) if key not in ("water_c", "air_c") else (0, 0)
                value["nominal"] = nominal * scale
                value["low"] = scale * max(nominal - (nominal - low) * below - more[0], 0.3 * nominal)
                value["high"] = scale * (nominal + (high - nominal) * above + more[1])
    for dose in goal["dose"]:
        share = random.uniform(0.6, 1.4)
        dose["minutes"] = {end: share * value for end, value in dose["minutes"].items()}
    try:
        machine = Machine.model_validate(data)
        aim = type(inputs.goal).model_validate(goal)
    except (InputError, ValueError):
        return None
    return replace(inputs, machine=machine, goal=aim)


@dataclass(frozen=True)
class Case:
    """A plan to attack, its certificate, and the processor time that each took [s]."""

    name: str
    plan: Plan
    certificate: Certificate
    plan_s: float
    check_s: float


def case_of(name: str, made: Callable[[], Plan | None]) -> Case | None:
    """Make a plan and its certificate; None where there is no plan."""
    begin_s = time.process_time()
    plan = made()
    if plan is None:
        return None
    planned_s, inputs = time.process_time(), plan.inputs
    certificate = check(plan.constants, inputs.machine, inputs.goal, inputs.circuit)
    return Case(name, plan, certificate, planned_s - begin_s, time.process_time() - planned_s)


def cases(asked: argparse.Namespace) -> Iterator[Case]:
    """Plans of shipped pairs, or of as many random machines as asked for."""
    shipped = [] if asked.random else [f"{machine}/{goal}" for machine in MACHINES for goal in GOALS]
    for pair in asked.pairs or shipped:
        case = case_of(pair, partial(plan_of, *pair.split("/"), asked.plans))
        if case is not None:
            yield case
    done, seed = 0, asked.seed
    while done < asked.random:
        made = random_inputs(seed)
        seed += 1
        if made is None:
            continue
        name, inputs = made
        try:
            case = case_of(name, lambda inputs=inputs: plan_and_prove(inputs).plan)
        except (NoPlanError, CheckFailedError) as none:
            print(f"{name}: {type(none).__name__}: {none}", file=sys.stderr, flush=True)
            continue
        yield case
        done += 1


def summary(case: Case, search: Evolution, lines: list[dict[str, Any]], taken_s: float) -> str:
    """One line of the table a plan: how far anything was past what is certified, at the most."""
    past = max(lines, key=lambda line: line["past_worst"])
    bounded = [line for line in lines if line["past_guaranteed"] is not None]
    near = max(bounded, key=lambda line: line["past_guaranteed"])
    other = max(
        (line for line in bounded if line["second_past"] is not None), key=lambda line: line["second_past"]
    )
    cells = [case.name, f"{len(search.aims)} of {len(search.keys)}", str(search.count), f"{taken_s:.0f}"]
    cells += [f"{100 * past['past_worst']:+.4f} % {past['key']}"]
    cells += [f"{100 * near['past_guaranteed']:+.4f} % {near['key']}"]
    cells += [f"{100 * other['second_past']:+.4f} % {other['key']}"]
    cells += [f"{case.plan_s:.1f}", f"{case.check_s:.2f}"]
    return "| " + " | ".join(cells) + " |"


def main() -> None:
    parser = argparse.ArgumentParser(description="Attack the certificates by differential evolution.")
    parser.add_argument("pairs", nargs="*", metavar="MACHINE/GOAL", help="shipped pairs; all where left out")
    parser.add_argument("--points", type=int, default=120_000, help="a plan; its requirements share them")
    parser.add_argument("--seconds", type=float, help="as many points as take so much processor time a plan")
    parser.add_argument("--random", type=int, default=0, help="so many random machines instead")
    parser.add_argument("--seed", type=int, default=1, help="first seed of the random machines")
    parser.add_argument("--plans", type=Path, help="folder of kept plans, MACHINE+GOAL.json")
    parser.add_argument("--only", action="append", default=[], metavar="KEY", help="requirements to attack")
    parser.add_argument("--rows", type=Path, help="file to which a JSON line a requirement is added")
    asked = parser.parse_args()
    print("| plan | attacked | points | s | past worst found | past guaranteed | second | plan s | check s |")
    print("| --- | --- | --- | --- | --- | --- | --- | --- | --- |", flush=True)
    for case in cases(asked):
        search = Evolution(case.plan, case.certificate, asked.only)
        points = asked.points if asked.seconds is None else search.points_in(asked.seconds)
        begin_s = time.process_time()
        each = points // (2 * max(len(search.aims), 1))
        for number, key in enumerate(search.aims):
            for around in (False, True):
                search.attack(key, around=around, budget=each, seed=2 * number + around)
        lines = list(search.lines())
        if asked.rows is not None:
            costs = {"money": case.plan.costs.money, "waiting": case.plan.costs.waiting}
            with asked.rows.open("a") as file:
                file.writelines(json.dumps({"plan": case.name, **line, **costs}) + "\n" for line in lines)
        print(summary(case, search, lines, time.process_time() - begin_s), flush=True)


if __name__ == "__main__":
    main()
