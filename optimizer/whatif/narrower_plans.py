"""The numbers of a profile that have two ends, and the plans with some of them half as far apart.

What holds with one interval halved holds with several, so that none of several saves more than all of them
together. Intervals that hardly move the present rounds and those of the plan with all halved are therefore
planned for as one: where they save nothing together, none of them does alone.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace

from optimizer.batch.answer import CaseResult
from optimizer.batch.cache_key import engine
from optimizer.batch.cases import Case
from optimizer.batch.run_cases import WorkerSettings, run_cases
from optimizer.measure.bench_tests import BenchTest, settled_by
from optimizer.plan_and_prove import Proven
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.margins import Assessor
from optimizer.planner.search import Search
from optimizer.planner.solver import SolverName
from optimizer.planner.trim import trim
from optimizer.planner.trim_space import Space
from optimizer.profile.circuit import Circuit
from optimizer.profile.machine import Machine
from optimizer.profile.measured import Measured
from optimizer.profile.messages import unit_of
from optimizer.programme.plan import Inputs, Plan
from optimizer.whatif.possible_changes import halved, measured_of, with_values
from optimizer.whatif.upgrades import NOISE

SENSOR = "element.sensor_error_k"
"""Written as one number, and an interval from minus to plus that number."""

SHORT = 0.003
"""Where the planner's own simulation misses a limit by this share, no check is needed to know that it is
missed [1]: the two differ by less."""


@dataclass(frozen=True)
class Interval:
    """A number of a profile that is known within two ends.

    Attributes
    ----------
    key : str
        Its dotted key; with ``circuit.`` before it in the circuit's profile.
    unit : str
        Its unit; empty for a pure number.
    now : Measured
        The number with its ends.
    """

    key: str
    unit: str
    now: Measured

    @property
    def narrower(self) -> Measured:
        """The same with both ends half as far from the nominal value."""
        return halved(self.now)

    @property
    def test(self) -> BenchTest | None:
        """The test of the bench that settles it."""
        return settled_by(self.key)

    def value(self) -> tuple[str, object]:
        """Path and value of the narrower interval, as `with_values` takes them."""
        kind = "" if self.key.startswith("circuit.") else "machine."
        path = f"{kind}{self.key}"
        return path, self.narrower.high if self.key == SENSOR else self.narrower.model_dump()


def intervals(inputs: Inputs) -> Iterator[Interval]:
    """List what is known within two ends that differ."""
    for key, measured in measured_of(inputs.machine):
        if measured.low < measured.high:
            yield Interval(key, unit_of(Machine, tuple(key.split("."))), measured)
    element = inputs.machine.thermostat
    if element is not None and element.sensor_error_k > 0.0:
        error = element.sensor_error_k
        yield Interval(SENSOR, "K", Measured(nominal=0.0, low=-error, high=error))
    for key, measured in measured_of(inputs.circuit):
        if measured.low < measured.high:
            yield Interval(f"circuit.{key}", unit_of(Circuit, (key,)), measured)


def narrowed(inputs: Inputs, some: list[Interval]) -> Inputs:
    """Make the profiles with some intervals half as wide."""
    return with_values(inputs, dict(one.value() for one in some))


class NarrowerPlans:
    """Plans with some of the intervals half as wide, and what they came to, by those intervals."""

    def __init__(
        self,
        inputs: Inputs,
        now: Proven | None,
        settings: WorkerSettings,
        solver: SolverName,
        report: Callable[[str], None],
        search: Search,
    ) -> None:
        self.inputs, self.now, self.settings, self.solver = inputs, now, settings, solver
        self.report, self.search = report, search
        self.results: dict[tuple[Interval, ...], CaseResult] = {}
        self.within: dict[Interval, tuple[Interval, ...]] = {}
        self.interrupted = False

    def plan(self, sets: Sequence[Sequence[Interval]], *, near: bool) -> None:
        """Plan and prove with each of some sets halved, beginning with the plans that are there."""
        if self.interrupted:
            return
        there = [] if self.now is None else [self.now.plan]
        known = tuple(plan.constants for plan in [*there, *self.plans])
        search = replace(self.search, known=known, neighbours=near)
        cases = [
            Case(narrowed(self.inputs, list(some)), engine(self.solver), self.solver, search) for some in sets
        ]
        study = run_cases(
            cases,
            self.settings,
            lambda at: self.report(f"{at.finished} of {at.cases} narrower intervals planned"),
        )
        self.interrupted = study.interrupted
        for some, result in zip(sets, study.results, strict=True):
            if result is not None:
                self.results[tuple(some)] = result

    @property
    def plans(self) -> list[Plan]:
        """Plans with narrower intervals that were found."""
        return [result.plan for result in self.results.values() if result.plan is not None]

    def can_save(self, some: Sequence[Interval]) -> bool:
        """Whether some intervals save money when all are halved, or give a plan; else all are idle."""
        result = self.results.get(tuple(some))
        if result is None or result.status == "failed":
            return True
        if self.now is None:
            # Where no programme holds with all of them halved, none does with one of them.
            idle = result.plan is None
        else:
            now = self.now.plan.costs.with_waiting
            idle = result.plan is None or now - result.plan.costs.with_waiting <= NOISE * abs(now)
        if idle:
            self.within |= dict.fromkeys(some, tuple(some))
        return not idle

    def plan_each(self, asked: Sequence[Interval], *, near: bool) -> None:
        """Plan for each by itself, and for those that promise nothing as one where that is enough."""
        promising, idle = list(asked), list[Interval]()
        if self.now is not None and self.plans:
            promising = [one for one in asked if self._promises(one, self.now)]
            idle = [one for one in asked if one not in promising]
        if len(idle) > 1:
            self.plan([idle], near=near)
            if self.can_save(idle):
                promising = list(asked)
        else:
            promising = list(asked)
        self.plan([[one] for one in promising], near=False)

    def _promises(self, one: Interval, now: Proven) -> bool:
        """Whether rounds that are known come out cheaper with an interval halved."""
        self.report(f"looking what {one.key} moves")
        known = [now.plan, *self.plans]
        assessor = Assessor(narrowed(self.inputs, [one]), replace(now.kept, points=()))
        least = now.plan.costs.with_waiting
        for plan in known:
            programme = programme_of(plan.constants, self.inputs.machine)
            found = trim(Space(assessor, programme.structure), programme.settings)
            if found is not None and least - found.objective > NOISE * abs(least):
                return True
        return False

    def result_of(self, one: Interval) -> CaseResult | None:
        """What came of an interval: its own plan, or, where it is idle, that of all it was planned with."""
        result = self.results.get((one,))
        if result is None and one in self.within:
            result = self.results[self.within[one]]
            if self.now is not None:
                # What they save together, within the noise of two searches, is none of any one.
                result = replace(result, plan=self.now.plan, status="planned")
        return result


def short(assessor: Assessor, plan: Plan) -> bool:
    """Whether the planner's own simulation finds a programme short by more than the check may differ."""
    margins, _ = assessor.run(programme_of(plan.constants, assessor.inputs.machine))
    return any(float(margin.min()) + assessor.backoff(key) < -SHORT for key, margin in margins.items())
