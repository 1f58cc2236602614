"""A lower bound on what any programme costs, of up to the rounds that the planner tries.

Every number of every round lies in a patch; a linear model over the patches has an optimum that no programme
goes below. Patches that the optimum uses are split until it is near the cost of the plan, or a counted
budget is spent.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.physics import Array
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.corners import KeptBack
from optimizer.planner.first_patches import HOURS_S, FirstPatches, asked_of, coldest, ladder_of
from optimizer.planner.margins import Assessor
from optimizer.planner.patch_rounds import Figures, PatchRounds
from optimizer.planner.patches import NAMES, Patch
from optimizer.planner.priced_patches import Family, Prices
from optimizer.planner.solver_output import stdout_closed
from optimizer.planner.structure import ALONE, Mode, Programme
from optimizer.planner.walks import Place, Walk, walk
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import LowerBound, Plan
from optimizer.units import J_PER_KWH, S_PER_MIN

STEP = 0.4
"""How far the next prices go from the best ones towards the master's, a share of the way [1]."""

NEAR, ROUGH = 1e-3, 0.05
"""How far a patch may promise too much, a share of the cost [1]: at settled prices, and at the first ones."""


@dataclass(frozen=True)
class Budget:
    """Work after which a bound stands as it is.

    Attributes
    ----------
    looks : int
        Sets of prices that are tried for each number of washes [1].
    waves, splits : int
        Rounds of splitting at each set of prices, and patches that are split in one of them [1].
    enough : float
        Share of the plan's cost at which a bound is near enough [1].
    """

    looks: int = 30
    waves: int = 24
    splits: int = 100
    enough: float = 0.01


USUAL_BUDGET = Budget()
"""What `plan --bound` spends."""


def lower_bound_of(plan: Plan, kept: KeptBack, report: Callable[[str], None] = lambda _: None) -> LowerBound:
    """Bound the cost of every programme for a plan's inputs from below; ``kept`` has its worst points."""
    assessor = Assessor(plan.inputs, kept)
    programme = programme_of(plan.constants, plan.inputs.machine)
    return lower_bound(assessor, programme, plan.costs.money + plan.costs.waiting, trace=report)


def lower_bound(
    assessor: Assessor,
    programme: Programme,
    cost: float,
    *,
    budget: Budget = USUAL_BUDGET,
    trace: Callable[[str], None] = lambda _: None,
) -> LowerBound:
    """Bound the cost of every programme from below; ``programme`` costs ``cost``, and tells where to look."""
    found = [
        _Search(assessor, programme, cost, cold, trace).run(budget) for cold in coldest(assessor, programme)
    ]
    # Programmes of a class hold in every corner: its best bound counts, and the least of the classes.
    least = min(max(bounds) for bounds in zip(*(bounds for bounds, _ in found), strict=True))
    most, looks = assessor.rounds_most, sum(count for _, count in found)
    # A little below, for the rounding of the sums.
    least = min(least, cost) - 1e-6 * abs(cost)
    return LowerBound((most["prerinse"], most["wash"], most["rinse"]), least, cost, looks)


class _Search:
    """Prices are tried one after the other; at each, patches that promise too much are split."""

    def __init__(
        self,
        assessor: Assessor,
        programme: Programme,
        cost: float,
        cold: int,
        trace: Callable[[str], None],
    ) -> None:
        self.assessor, self.programme, self.cost, self.trace = assessor, programme, cost, trace
        self.rounds = PatchRounds(assessor, cold)
        self.asked, self.ladder = asked_of(self.rounds), ladder_of(self.rounds)
        self.starts = FirstPatches(self.rounds, self.asked, self.ladder, cost)
        self.plain = self.starts.plain_rinses()
        self.equal = self.plain.equal() if self.plain else (0.0, 0.0, 0)
        self.warm = self.starts.warms(plain=self.plain is not None)
        # Behind a warm first rinse the others are part of its price.
        self.fixed = self._start_cost() + self.equal[0] * (not self.warm)
        self.ends = "either"
        self.families: dict[tuple[int, bool, int, str, bool], Family] = {}
        self.places: list[Place] = []
        self.right = np.zeros(0)
        self.costs: list[float] = []
        self.rows: list[Array] = []

    def _start_cost(self) -> float:
        """Cost of the start drain."""
        machine, prices = self.assessor.inputs.machine, self.assessor.unit_prices()
        start_s = self.assessor.simulator.start_drain_s
        power_w = machine.drain_pump.power_w.nominal + machine.supply.controller_w
        energy_kwh = power_w * start_s / J_PER_KWH
        return energy_kwh * prices.per_kwh + start_s / S_PER_MIN * prices.waiting_per_min

    def _start(self, washes: int) -> None:
        """Set up the programmes with so many washes."""
        self.places = self._places(washes)
        targets = len(self.asked.target_s)
        most_min = self.asked.most_min - self.equal[1] * (not self.warm)
        residue = 0.0 if self.plain else self.asked.residue
        self.right = np.array([*np.ones(targets), -most_min, residue, self.asked.soil])
        self.costs, self.rows = [], []
        kinds = self.programme.structure.kinds
        if sum(KINDS[kind] == "wash" for kind in kinds) == washes:
            self._begin(self.programme)

    def _begin(self, programme: Programme) -> None:
        """Let the rounds of the given programme be known."""
        structure, settings = programme
        starts_c, cost, rows = self.asked.start_c, 0.0, np.zeros(len(self.right))
        for index, kind in enumerate(structure.kinds):
            mode, soaks = structure.modes[index], index in structure.soaked
            element_s, spray_s = settings.element_s[0, index], settings.spray_s[0, index]
            alone_s = element_s if mode in (*ALONE, Mode.STEAM) else 0.0
            together_s = settings.while_s[0, index] if mode is Mode.BOTH_WAYS else 0.0
            together_s = element_s if mode is Mode.WHILE_SPRAYING else together_s
            setpoint_c = settings.setpoint_c[0, index]
            if math.isfinite(setpoint_c) and mode is Mode.THEN_SPRAY:
                alone_s = HOURS_S
            after_s = 0.0 if mode is Mode.STEAM else spray_s - together_s
            soak_s, fill_s = settings.soak_s[0, index], settings.fill_s[0, index]
            values = np.array([[*starts_c, fill_s, alone_s, together_s, setpoint_c, after_s, soak_s]])
            if self.plain is not None and KINDS[kind] == "rinse":
                if not self.warm or index > structure.last_wash + 1:
                    continue
                cost, rows = self._with_the_rest(cost, rows)
            figures = self.rounds.figures(kind, mode, values, soaks=soaks)
            cost += float(figures.cost[0])
            rows += self._gives(kind, index == structure.last_wash, figures, 0)
            starts_c = (float(figures.handed_c[0]), float(figures.nominal_c[0]))
        self.costs.append(cost)
        self.rows.append(rows)

    def _with_the_rest(self, cost: float, rows: Array) -> tuple[float, Array]:
        """What is known of a programme, with plain rinses behind its first one."""
        rows = rows.copy()
        all_cost, all_min, count = self.equal
        share = (count - 1) / max(count, 1)
        rows[len(self.asked.target_s)] -= share * all_min
        return cost + share * all_cost, rows

    def _gives(self, kind: int, last_wash: bool, figures: Figures, row: int) -> Array:
        """What a round puts into the rows."""
        targets, name = len(self.asked.target_s), KINDS[kind]
        out = np.zeros(len(self.right))
        out[:targets] = np.minimum(figures.dose_s[row] / self.asked.target_s, 1.0)
        out[targets] = -figures.minutes[row]
        out[targets + 1] = figures.decades[row] * (name == "rinse" and self.plain is None)
        out[targets + 2] = figures.decades[row] * (name == "rinse" or last_wash)
        return out

    def _places(self, washes: int) -> list[Place]:
        places, least = [], self.assessor.rounds_least | {"wash": washes}
        for kind, name in enumerate(KINDS):
            count = washes if name == "wash" else self.assessor.rounds_most[name]
            left_out = self.asked.dries != "steam" if name == "steam" else self.plain is not None
            if name == "rinse" and self.warm:
                places.append(Place(kind, 0, held=True, last=False, fine=False, warm=True))
                least[name] = max(least[name] - 1, 1)
            if name in ("steam", "rinse") and left_out:
                continue
            for number in range(int(name == "rinse" and self.warm), count):
                last = number == count - 1
                fine = name in ("wash", "steam") or (name == "rinse" and last)
                places.append(Place(kind, number, number >= count - least[name], last, fine))
        return places

    def _family(self, place: Place, step: int) -> Family:
        """The patches of a place that start at a step of the ladder; made when they are first asked for."""
        key = (place.kind, place.fine, step, self.ends, place.warm)
        if key not in self.families:
            dries = KINDS[place.kind] == self.asked.dries and place.fine
            may_be = self.starts.may_dry if dries else self.starts.may_be
            end_c = -math.inf
            if place.warm:
                may_be, end_c = self.starts.may_warm, self.asked.first_c
            family = Family(self.rounds, self.ladder, self.asked.target_s, may_be, end_c)
            first = self.starts.first(place.kind, fine=place.fine, step=step, warm=place.warm)
            family.add([patch for patch in first if self._of_class(patch)])
            self.families[key] = family
        return self.families[key]

    def _of_class(self, patch: Patch) -> bool:
        """Whether the heating of a wash ends as that of the class."""
        if self.ends == "either" or KINDS[patch.kind] != "wash":
            return True
        by_time = patch.mode is not Mode.UNHEATED and math.isinf(patch.high[NAMES.index("setpoint_c")])
        return by_time == (self.ends == "time")

    def run(self, budget: Budget) -> tuple[list[float], int]:
        """Bound the programmes of each class, and say how many prices were tried.

        A class is a number of washes. Of one wash, where nothing else is heated, a thermostat makes two: its
        heating ends at its set point in the nominal machine, or by time.
        """
        found, looks, price = [], 0, None
        for washes in range(1, self.assessor.rounds_most["wash"] + 1):
            two = washes == 1 and self.assessor.thermostat and self.plain is not None
            for self.ends in ("set point", "time") if two else ("either",):
                self._start(washes)
                bound, price, took = self._bound(washes, budget, price)
                found.append(bound)
                looks += took
        return found, looks

    def _bound(self, washes: int, budget: Budget, start: Array | None) -> tuple[float, Array | None, int]:
        """The best bound that was found for the places set up, its prices, and how many were tried."""
        best, at, look, step = -math.inf, None, 0, STEP
        near = NEAR * abs(self.cost)
        for look in range(1, budget.looks + 1):
            value, fresh = self._master()
            if look == 1 and start is not None:
                fresh = start
            price = fresh if at is None else (1.0 - step) * at + step * fresh
            open_gap = value + self.fixed - best
            # First roughly, at prices that are still far off; closer as they settle.
            rough = 0.2 * open_gap if best > 0.0 else ROUGH * abs(self.cost)
            found = self._look(price, budget, max(near, rough))
            # Where the master's prices lead nowhere, the next ones stay nearer to the best.
            step = min(1.5 * step, STEP) if found > best else 0.5 * step
            if found > best:
                best, at = found, price
            least = max(best, 0.0)
            self.trace(f"bounding what any programme costs: {washes} washes, over {least:.3f} so far")
            if best >= self.cost * (1.0 - budget.enough) or (look > 1 and value + self.fixed - best < near):
                break
        return best, at, look

    def _master(self) -> tuple[float, Array]:
        """Cheapest mixture of the known programmes, and the prices that it gives."""
        from scipy.optimize import linprog

        # What is short of a row can be bought, dearly, so that there is always a mixture.
        count, far = len(self.right), abs(self.cost) + 1e-6
        if not self.costs:
            return far, np.zeros(count)
        cost = np.array([*self.costs, *np.full(count, far)])
        rows = np.array([*self.rows, *np.eye(count) * np.maximum(np.abs(self.right), 1.0)]).T
        one = np.array([*np.ones(len(self.costs)), *np.zeros(count)])
        with stdout_closed():
            found = linprog(cost, A_ub=-rows, b_ub=-self.right, A_eq=one[None], b_eq=[1.0], method="highs")
        return float(cost @ found.x), np.maximum(-np.asarray(found.ineqlin.marginals), 0.0)

    def _prices(self, place: Place, price: Array) -> Prices:
        name, targets = KINDS[place.kind], len(self.asked.target_s)
        decade = float(price[targets + 1]) * (name == "rinse" and self.asked.residue > 0.0)
        soils = name == "rinse" or (name == "wash" and place.last)
        decade += float(price[targets + 2]) * (soils and self.asked.soil > 0.0)
        if place.warm and self.plain is not None:
            # A top-up of this one is not covered: stirred in, it has to end warm as well.
            first, *others = self.plain.after_a_first(float(price[targets]))
            return replace(first, others=tuple(others))
        topping = self._topping(decade) if name == "rinse" and place.fine else 0.0
        return Prices(price[:targets], float(price[targets]), decade, topping)

    def _topping(self, decade: float) -> float:
        """The most that a top-up before the drain is worth to a hot rinse, for what it thins [currency]."""
        machine, prices = self.assessor.inputs.machine, self.assessor.unit_prices()
        pump_l = machine.wash_pump.prime_l + machine.wash_pump.holdup_l.high
        litres = np.linspace(0.0, machine.tank.capacity_l, 200)
        slow, fast = machine.inlet.flow_l_per_min.low, machine.inlet.flow_l_per_min.high
        per_l = prices.per_l + prices.waiting_per_min / fast
        return float((decade * np.log10((pump_l + litres) / pump_l) - per_l * litres * slow / fast).max())

    def _reachable(self, paid: list[Prices]) -> list[list[int]]:
        """Steps at which each place may start."""
        start = int(self.ladder.step(np.array(self.asked.start_c[0]), np.array(self.asked.start_c[1])))
        steps, out = {start}, []
        for place, one in zip(self.places, paid, strict=True):
            out.append(sorted(steps))
            after = set() if place.held else set(steps)
            for step in steps:
                after |= set(self._family(place, step).bounds(one)[1].tolist())
            steps = after
        return out

    def _walk(self, paid: list[Prices], steps: list[list[int]], *, known: bool) -> Walk:
        rungs = len(self.ladder.cold_c)
        return walk(self.places, self._family, paid, steps, rungs=rungs, known=known)

    def _look(self, price: Array, budget: Budget, near: float) -> float:
        """The bound at some prices; patches that promise too much are split, and rounds become known."""
        paid = [self._prices(place, price) for place in self.places]
        base = self.fixed + float(price @ self.right)
        true: Walk | None = None
        for wave in range(budget.waves + 1):
            steps = self._reachable(paid)
            bound = self._walk(paid, steps, known=False)
            if wave % 4 == 0 or true is None:
                true = self._walk(paid, steps, known=True)
            # Beyond the known cost nothing is worth a closer look.
            target = min(true.least, self.cost - base) - near / 2.0
            if wave == budget.waves or not self._refine(bound, paid, steps, target, budget.splits):
                break
        true = self._walk(paid, steps, known=True)
        self._learn(true, steps)
        return base + bound.least

    def _refine(
        self, bound: Walk, paid: list[Prices], steps: list[list[int]], target: float, splits: int
    ) -> bool:
        wanted: dict[tuple[int, bool, int, bool, int], tuple[float, int]] = {}
        for at, place in enumerate(self.places):
            for step in steps[at]:
                index, out, value, _ = bound.arcs[at][step]
                total = bound.before[at][step] + value + bound.after[at + 1][out]
                for i in np.argsort(total)[:splits]:
                    if total[i] >= target:
                        break
                    key = (place.kind, place.fine, step, place.warm, int(index[i]))
                    wanted[key] = min(wanted.get(key, (math.inf, 0)), (float(total[i]), at))
        chosen = sorted(wanted, key=lambda key: wanted[key])[:splits]
        done = False
        by_family: dict[tuple[int, bool, int, bool], list[int]] = {}
        for key in chosen:
            by_family.setdefault(key[:4], []).append(key[4])
        for (kind, fine, step, warm), some in by_family.items():
            at = min(wanted[kind, fine, step, warm, i][1] for i in some)
            done = self.families[kind, fine, step, self.ends, warm].split(some, paid[at]) or done
        return done

    def _learn(self, true: Walk, steps: list[list[int]]) -> None:
        """Add the cheapest programme of true vertices to what is known."""
        step, cost, rows = steps[0][0], 0.0, np.zeros(len(self.right))
        if not math.isfinite(true.least):
            return
        for at, place in enumerate(self.places):
            index, out, value, vertex = true.arcs[at][step]
            total = value + true.after[at + 1][out]
            if not len(total) or (not place.held and true.after[at + 1][step] <= total.min()):
                continue
            best = int(np.argmin(total))
            figures = self._family(place, step).true[int(index[best])]
            row = int(vertex[best])
            cost += float(figures.cost[row])
            rows += self._gives(place.kind, KINDS[place.kind] == "wash" and place.last, figures, row)
            if place.warm and self.plain is not None:
                cost, rows = self._with_the_rest(cost, rows)
            step = int(out[best])
        self.costs.append(cost)
        self.rows.append(rows)
