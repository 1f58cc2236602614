"""Make a plan: profiles in, a plan out, or the reasons why there is none."""

from __future__ import annotations

import shlex
from collections.abc import Callable
from dataclasses import dataclass, replace

from optimizer.errors import NoPlanError
from optimizer.planner.convert_constants import constants_of, programme_of
from optimizer.planner.corners import NOTHING_KEPT, KeptBack
from optimizer.planner.figures import costs_of
from optimizer.planner.iis import diagnose
from optimizer.planner.line_steps import cheaper_seconds
from optimizer.planner.margins import Assessor
from optimizer.planner.obstacle_values import unverified
from optimizer.planner.obstacles import obstacles, steam_refused
from optimizer.planner.ruled_out import ruled_out
from optimizer.planner.search import USUAL_SEARCH, Choice, Models, Search, choose, choose_again
from optimizer.planner.second_looks import any_rinse_heated, second_looks
from optimizer.planner.solver import Outcome, SolverName, Status
from optimizer.planner.steps import Stepping, Tried
from optimizer.planner.structure import Programme, Structure
from optimizer.planner.trim_space import Space
from optimizer.planner.value_proofs import BY_CORNERS, Proof
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs, Plan, Solve


@dataclass(frozen=True)
class Taught:
    """What checks of earlier plans taught: what to keep back, the last plan, whose rounds stay, and what each
    structure tried for it came to, and which structures of the models could not be trimmed (`Models`)."""

    kept: KeptBack = NOTHING_KEPT
    last: Plan | None = None
    tried: Tried | None = None
    struck: list[Structure] | None = None


NOTHING_TAUGHT = Taught()
"""What a first plan starts with."""


def plan(
    inputs: Inputs,
    solver: SolverName = "auto",
    *,
    taught: Taught = NOTHING_TAUGHT,
    proof: Proof = BY_CORNERS,
    report: Callable[[str], None] = lambda _: None,
    search: Search = USUAL_SEARCH,
    foresee: Callable[[Constants], None] = lambda _: None,
) -> Plan:
    """Plan a programme: the cheapest found, or the best under the search's epsilon constraint.

    ``proof`` searches the worst points of the tolerances, and says whether a whole plan for other inputs
    passes its check: a nearest value is named only if it does. ``report`` hears of each step, ``foresee`` of
    what will probably be the plan.

    Raises
    ------
    NoPlanError
        No programme meets the goal; carries the reasons, if they were asked for.
    """
    refused = steam_refused(inputs.machine, inputs.goal)
    if refused is not None:
        headline = f"Drying by steam, which {inputs.names[1]} asks for, is not for {inputs.names[0]}"
        raise NoPlanError(headline, [refused], upgrades=_upgrades(inputs), proven=True)
    assessor = _assessor(inputs, taught.kept, search)
    if not assessor.simulator.is_ready:
        report("compiling the simulation, once after an installation")
        assessor.simulator.get_ready()
    choice, find = None, proof.find

    def foreseen(programme: Programme) -> None:
        foresee(_constants(assessor, programme))

    tried: Tried = {} if taught.tried is None else taught.tried
    stepping = Stepping(search.neighbours, tried, foreseen)
    models = Models(search.wider, search.asked, search.gap, taught.struck)
    if taught.last is not None:
        report("trimming the durations again")
        earlier = programme_of(taught.last.constants, inputs.machine)
        outcome = _outcome(taught.last)
        choice = choose_again(assessor, earlier, outcome, find, stepping=stepping)
        if choice is None and taught.struck is not None:
            taught.struck.append(earlier.structure)
    if choice is None and (taught.last is None or search.anew):
        known = [programme_of(constants, inputs.machine) for constants in search.known]
        choice = choose(assessor, solver, report, known, find, stepping=stepping, models=models)
        for look in second_looks(assessor, thorough=search.wider):
            if choice is not None and not look.may_be_cheaper:
                continue
            report(f"looking for {look.what_for}")
            anew = replace(stepping, tried={})
            laxer = replace(models, struck=None)
            found = choose(look.assessor, solver, report, known, find, stepping=anew, models=laxer)
            choice = _cheaper(choice, found)
    if choice is None:
        widest = any_rinse_heated(assessor, thorough=False) or assessor
        raise _no_plan(widest, solver, replace(proof, tell=report), why=search.why)
    return plan_of(assessor, choice.trimmed.programme, choice.outcome)


def _assessor(inputs: Inputs, kept: KeptBack, search: Search) -> Assessor:
    """Who judges programmes by the rules of a search."""
    constraint, most = search.epsilon_constraint, search.rounds_most
    return Assessor(inputs, kept, epsilon_constraint=constraint, rounds_most=most, terms=search.terms)


def _cheaper(one: Choice | None, other: Choice | None) -> Choice | None:
    """The cheaper of two choices, the first of equals; None where there is neither."""
    if one is None or other is None:
        return one or other
    return other if other.trimmed.objective < one.trimmed.objective else one


def polished(inputs: Inputs, proven: Plan, kept: KeptBack, search: Search) -> Plan | None:
    """The same rounds with cheaper whole seconds, to be proven anew; None where little is to be saved."""
    assessor = _assessor(inputs, kept, search)
    structure, settings = programme_of(proven.constants, inputs.machine)
    found = cheaper_seconds(Space(assessor, structure), settings)
    if found is None:
        return None
    return plan_of(assessor, found, _outcome(proven))


def _no_plan(
    assessor: Assessor,
    solver: SolverName,
    proof: Proof,
    *,
    why: bool,
) -> NoPlanError:
    """Say that there is no plan, and whether that is proven."""
    machine, goal, circuit, _ = assessor.inputs.names
    found = obstacles(assessor)
    proven = ruled_out(assessor)
    headline = (
        f"No programme on {machine} meets {goal} on the circuit {circuit}"
        if proven
        else f"No programme was found on {machine} that meets {goal} on the circuit {circuit}"
    )
    if not why:
        return NoPlanError(headline, [unverified(one) for one in found], proven=proven)
    proof.tell("looking for what stands in the way")
    why_not = diagnose(assessor, solver, proof=proof)
    upgrades = _upgrades(assessor.inputs)
    return NoPlanError(headline, why_not.reasons, why_not.easing, why_not.iis, upgrades, proven=proven)


def _upgrades(inputs: Inputs) -> str:
    """Arguments of the command that tries changes of these inputs."""
    machine, goal, circuit, _ = inputs.names
    usual = circuit == inputs.machine.usual_circuit
    return shlex.join([machine, goal, *([] if usual else ["--circuit", circuit])])


def _outcome(plan: Plan) -> Outcome:
    """How the solve that a plan came from ended."""
    solve = plan.solve
    status: Status = "optimal" if solve.status == "optimal" else "search budget"
    return Outcome(status, solve.solver, solve.objective, solve.bound, work=0)


def plan_of(assessor: Assessor, programme: Programme, outcome: Outcome) -> Plan:
    """Write a programme of one candidate as a plan."""
    constants = _constants(assessor, programme)
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


def _constants(assessor: Assessor, programme: Programme) -> Constants:
    """Constants of a programme of one candidate."""
    runs = assessor.simulator.run(programme)
    return constants_of(assessor.inputs, assessor.simulator, programme, runs)
