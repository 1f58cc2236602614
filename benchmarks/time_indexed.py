"""Hold the choose step against the plain time-indexed model of the same problem.

The plain model has one binary per minute and output, a temperature per minute, and one lump in the cold
corner. To keep it small it is given what the planner has to find: the levels. Same solver, same machine,
one thread, both objectives side by side.

    python benchmarks/time_indexed.py [--machine clubhouse] [--goal everyday] [--minutes 80] [--limit 600]
"""

from __future__ import annotations

import argparse
import math
import time
from importlib.metadata import version

import numpy as np
import pulp

from optimizer.planner.integer_model import Model
from optimizer.planner.lumped_round import LumpedRound
from optimizer.planner.margins import Assessor
from optimizer.planner.search import choose
from optimizer.planner.solver import run_solver
from optimizer.planner.structure import Mode
from optimizer.planner.tabulate import Tabulator
from optimizer.programme.constants import KINDS
from optimizer.programme.inputs import load_inputs
from optimizer.units import G_PER_KG, J_PER_KWH

BIN_K = 5.0
MINUTE_S = 60.0
SPRAY_BEFORE_DRAIN = 2


class TimeIndexed:
    """The plain model: what is on in every minute, and how warm the one lump is.

    Parameters
    ----------
    assessor : Assessor
        Machine, goal, circuit and tariff.
    fill_s : float
        Inlet time of every round [s].
    minutes : int
        Length of the grid [min].
    """

    def __init__(self, assessor: Assessor, fill_s: float, minutes: int) -> None:
        self.assessor, self.minutes = assessor, minutes
        corners = assessor.simulator.corners
        cold = int(np.flatnonzero(corners.cold)[-1])
        self.lumped = LumpedRound.of(corners, cold, fill_s)
        self.fill_min = math.ceil(fill_s / MINUTE_S)
        drain_s = self.lumped.filled_l / float(corners.drain_l_per_s.min())
        self.drain_min = math.ceil(drain_s / MINUTE_S)
        self.problem = pulp.LpProblem("minutes", pulp.LpMinimize)
        grid = range(minutes)
        binary = {"cat": "Binary"}
        self.fill = [pulp.LpVariable(f"fill{t}", **binary) for t in grid]
        self.drain = [pulp.LpVariable(f"drain{t}", **binary) for t in grid]
        self.inlet = [pulp.LpVariable(f"inlet{t}", **binary) for t in grid]
        self.element = [pulp.LpVariable(f"element{t}", **binary) for t in grid]
        self.pump = [pulp.LpVariable(f"pump{t}", **binary) for t in grid]
        self.pumping = [pulp.LpVariable(f"drainpump{t}", **binary) for t in grid]
        self.full = [pulp.LpVariable(f"full{t}", **binary) for t in grid]
        self.running = [pulp.LpVariable(f"run{t}", **binary) for t in grid]
        self.kind = [[pulp.LpVariable(f"kind{k}_{t}", **binary) for t in grid] for k in range(3)]
        self.warm = [pulp.LpVariable(f"warm{t}", 0.0, 100.0) for t in range(minutes + 1)]
        self._outputs()
        self._temperature()
        self._doses()
        self._rinse()
        self.problem.setObjective(self._cost())

    def _outputs(self) -> None:
        add, both = self.problem.addConstraint, self.assessor.heats(Mode.WHILE_SPRAYING)
        for t in range(self.minutes):
            add(self.inlet[t] == pulp.lpSum(self.fill[max(0, t - self.fill_min + 1) : t + 1]))
            add(self.pumping[t] == pulp.lpSum(self.drain[max(0, t - self.drain_min + 1) : t + 1]))
            add(self.inlet[t] + self.pumping[t] + self.element[t] <= 1)
            add(self.inlet[t] + self.pumping[t] + self.pump[t] <= 1)
            if not both:
                add(self.element[t] + self.pump[t] <= 1)
            add(self.element[t] <= self.full[t])
            add(self.pump[t] <= self.full[t])
            filled = self.fill[t - self.fill_min] if t >= self.fill_min else 0
            before = self.full[t - 1] if t else 0
            add(self.full[t] == before + filled - self.drain[t])
            add(self.running[t] >= self.inlet[t])
            for output in (self.pumping, self.full):
                add(self.running[t] >= output[t])
            if t:
                add(self.running[t] <= self.running[t - 1])
                for back in range(1, min(SPRAY_BEFORE_DRAIN, t) + 1):
                    add(self.drain[t] <= self.pump[t - back])
            add(pulp.lpSum(kind[t] for kind in self.kind) == 1)
            if t + 1 < self.minutes:
                add(self.kind[0][t + 1] <= self.kind[0][t])
                add(self.kind[2][t + 1] >= self.kind[2][t])
        add(self.full[self.minutes - 1] == 0)
        add(pulp.lpSum(self._fills(0)) >= self.assessor.rounds_least["prerinse"])
        add(pulp.lpSum(self._fills(1)) == 1)

    def _both(self, name: str, first: pulp.LpVariable, second: pulp.LpVariable) -> pulp.LpVariable:
        """1 only where both are 1."""
        both = pulp.LpVariable(name, 0.0, 1.0)
        self.problem += both <= first
        self.problem += both <= second
        self.problem += both >= first + second - 1
        return both

    def _fills(self, kind: int) -> list[pulp.LpVariable]:
        name = f"fills{kind}"
        if not hasattr(self, name):
            pairs = zip(self.fill, self.kind[kind], strict=True)
            setattr(self, name, [self._both(f"{name}_{t}", fill, k) for t, (fill, k) in enumerate(pairs)])
        return getattr(self, name)  # type: ignore[no-any-return]

    def _temperature(self) -> None:
        lumped, most = self.lumped, 100.0
        keep = lumped.kept_j_per_k + lumped.ware_j_per_k
        mixed = keep / (keep + lumped.water_j_per_k)
        leak = lumped.loss_spraying_w_per_k * MINUTE_S / lumped.all_j_per_k
        self.problem += self.warm[0] == lumped.room_c
        for t in range(self.minutes):
            on = lumped.element_w * self.element[t] + lumped.pump_heat_w * self.pump[t]
            drift = (1.0 - leak) * self.warm[t] + leak * lumped.room_c + on * MINUTE_S / lumped.all_j_per_k
            cold = mixed * self.warm[t] + (1.0 - mixed) * lumped.inlet_c
            self.problem += self.warm[t + 1] <= drift + most * self.fill[t]
            self.problem += self.warm[t + 1] <= cold + most * (1 - self.fill[t])
        for t in range(self.minutes):
            self.problem += self.warm[t] <= self.assessor.inputs.machine.tank.limit_c

    def _doses(self) -> None:
        """Temperature bins, each with the dose rate of its lower edge."""
        targets = self.assessor.simulator.targets
        edges_c = np.arange(5.0, self.assessor.inputs.machine.tank.limit_c, BIN_K)
        counted: list[list[pulp.LpAffineExpression]] = [[] for _ in targets.keys]
        for t in range(self.minutes):
            bins = [pulp.LpVariable(f"bin{t}_{b}", cat="Binary") for b in range(len(edges_c))]
            self.problem += pulp.lpSum(bins) == self.pump[t]
            lower_c = pulp.lpSum(float(edge) * part for edge, part in zip(edges_c, bins, strict=True))
            self.problem += self.warm[t] >= lower_c
            for k in range(2):
                if not targets.counts(k):
                    continue
                rates = targets.rate(edges_c, k)
                for target in range(len(targets.keys)):
                    gained = pulp.LpVariable(f"dose{t}_{k}_{target}", 0.0)
                    self.problem += gained <= float(rates[:, target].max()) * self.kind[k][t]
                    each = (float(rate) * part for rate, part in zip(rates[:, target], bins, strict=True))
                    self.problem += gained <= pulp.lpSum(each)
                    counted[target].append(gained)
        for target, key in enumerate(targets.keys):
            target_min = targets.target_s[target] * (1.0 + self.assessor.backoff(key)) / MINUTE_S
            self.problem += pulp.lpSum(counted[target]) >= target_min

    def _rinse(self) -> None:
        carry_over_l = self.assessor.water.carry_over_high_l
        filled_l = self.lumped.filled_l * self._flow_low() / self._flow_high()
        decades = math.log10(carry_over_l / (carry_over_l + filled_l))
        rinses = pulp.lpSum(self._fills(2))
        self.problem += decades * (rinses + 1) <= math.log10(self.assessor.inputs.goal.rinse.residue_max)

    def _flow_low(self) -> float:
        return self.assessor.inputs.machine.inlet.flow_l_per_min.low

    def _flow_high(self) -> float:
        return self.assessor.inputs.machine.inlet.flow_l_per_min.high

    def _cost(self) -> pulp.LpAffineExpression:
        machine, goal = self.assessor.inputs.machine, self.assessor.inputs.goal
        prices, corners = self.assessor.unit_prices(), self.assessor.simulator.corners
        minute_kwh = MINUTE_S / J_PER_KWH
        element_w = float(corners.element_w[corners.nominal])
        nominal_l = self.lumped.filled_l * machine.inlet.flow_l_per_min.nominal / self._flow_high()
        energy = minute_kwh * (
            element_w * pulp.lpSum(self.element)
            + machine.wash_pump.power_w.nominal * pulp.lpSum(self.pump)
            + machine.drain_pump.power_w.nominal * pulp.lpSum(self.pumping)
            + machine.supply.controller_w * pulp.lpSum(self.running)
        )
        detergent = goal.detergent
        dosing = detergent.least_g_per_l * detergent.price_per_kg / G_PER_KG if detergent else 0.0
        water = prices.per_l * nominal_l * pulp.lpSum(self.fill)
        carry_over_l = float(
            self.assessor.simulator.corners.carry_over_l[self.assessor.simulator.corners.nominal]
        )
        soap = dosing * (nominal_l + carry_over_l) * pulp.lpSum(self._fills(1))
        waiting = (prices.waiting_per_min + prices.tie_per_min) * pulp.lpSum(self.running)
        return prices.per_kwh * energy + water + soap + waiting


def main() -> None:
    """Solve both and print one line each."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--machine", default="clubhouse")
    parser.add_argument("--goal", default="everyday")
    parser.add_argument("--minutes", type=int, default=80)
    parser.add_argument("--limit", type=float, default=600.0)
    asked = parser.parse_args()
    assessor = Assessor(load_inputs(asked.machine, asked.goal))
    started = time.perf_counter()
    model = Model(assessor, Tabulator(assessor).table())
    outcome = run_solver(model.rows.problem)
    seconds = time.perf_counter() - started
    choice = choose(assessor)
    assert choice is not None
    wash = next(i for i, kind in enumerate(choice.trimmed.programme.structure.kinds) if KINDS[kind] == "wash")
    fill_s = float(choice.trimmed.programme.settings.fill_s[0, wash])
    print("| model | variables | status | objective | bound | seconds |")
    print("| --- | --- | --- | --- | --- | --- |")
    size = model.rows.problem.numVariables()
    print(f"| rounds (the planner's) | {size} | {outcome.status} | {outcome.objective / 100:.4f} "
          f"| {outcome.bound / 100:.4f} | {seconds:.2f} |", flush=True)  # fmt: skip
    plain = TimeIndexed(assessor, fill_s, asked.minutes)
    started = time.perf_counter()
    plain.problem.solve(pulp.HiGHS(msg=False, threads=1, timeLimit=asked.limit))
    spent = time.perf_counter() - started
    found = plain.problem.sol_status in (pulp.LpSolutionOptimal, pulp.LpSolutionIntegerFeasible)
    status = "optimal" if plain.problem.sol_status == pulp.LpSolutionOptimal else "time limit"
    objective = f"{pulp.value(plain.problem.objective):.4f}" if found else "none found"
    bound = plain.problem.solverModel.getInfo().mip_dual_bound
    size = plain.problem.numVariables()
    print(f"| minutes (plain) | {size} | {status} | {objective} | {bound:.4f} | {spent:.1f} |")
    start_min = assessor.simulator.start_drain_s / MINUTE_S
    prices = assessor.unit_prices()
    start = start_min * (prices.waiting_per_min + prices.tie_per_min)
    print(f"\nThe first drain ({start_min:.1f} min, {start:.4f} of waiting) is outside both models.")
    print(f"Ratio of the times: {spent / seconds:.0f}. HiGHS {version('highspy')}, PuLP {version('pulp')}.")


if __name__ == "__main__":
    main()
