"""Make a plan: profiles in, a plan out, or the reasons why there is none."""

from __future__ import annotations

import shlex
from collections.abc import Callable, Mapping

from optimizer.errors import NoPlanError
from optimizer.planner.convert_constants import constants_of, programme_of
from optimizer.planner.figures import costs_of
from optimizer.planner.iis import diagnose
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacles import obstacles, steam_refused
from optimizer.planner.search import USUAL_SEARCH, Choice, Search, choose
from optimizer.planner.solver import SolverName
from optimizer.programme.plan import Inputs, Plan, Solve


def plan(
    inputs: Inputs,
    solver: SolverName = "auto",
    *,
    extra_backoff: Mapping[str, float] | None = None,
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
) -> Plan:
    """Plan a programme: the cheapest found, or the best under the search's epsilon constraint.

    ``extra_backoff`` adds to the backoff of requirements, by key as shares of their limits; ``report`` hears
    of each step, for a progress line.

    Raises
    ------
    NoPlanError
        No programme meets the goal; carries the reasons, if they were asked for.
    """
    refused = steam_refused(inputs.machine, inputs.goal)
    if refused is not None:
        headline = f"Drying by steam, which {inputs.names[1]} asks for, is not for {inputs.names[0]}"
        raise NoPlanError(headline, [refused], upgrades=_upgrades(inputs))
    assessor = Assessor(
        inputs, extra_backoff, epsilon_constraint=search.epsilon_constraint, rounds_most=search.rounds_most
    )
    choice = choose(assessor, solver, report, [programme_of(constants) for constants in search.known])
    if choice is None:
        machine, goal = inputs.names[0], inputs.names[1]
        headline = f"No programme on {machine} meets {goal} on the circuit {inputs.names[2]}"
        if not search.why:
            raise NoPlanError(headline, obstacles(assessor))
        report("looking for what stands in the way")
        found = diagnose(assessor, solver)
        raise NoPlanError(headline, found.reasons, found.easing, found.iis, _upgrades(inputs))
    return _plan(assessor, choice)


def _upgrades(inputs: Inputs) -> str:
    """Arguments of the command that tries changes of these inputs."""
    machine, goal, circuit, _ = inputs.names
    usual = circuit == inputs.machine.usual_circuit
    return shlex.join([machine, goal, *([] if usual else ["--circuit", circuit])])


def _plan(assessor: Assessor, choice: Choice) -> Plan:
    programme, outcome = choice.trimmed.programme, choice.outcome
    runs = assessor.simulator.run(programme)
    constants = constants_of(assessor.inputs, assessor.simulator, programme, runs)
    return Plan(
        inputs=assessor.inputs,
        constants=constants,
        costs=costs_of(assessor.inputs, constants),
        solve=Solve(
            solver=outcome.solver,
            status=outcome.status,
            objective=outcome.objective,
            bound=outcome.bound,
            gap=outcome.gap,
        ),
    )
