"""Plan, then prove: where the check finds a requirement short, count with its worst point and plan again."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import suppress
from dataclasses import dataclass, field, replace

from optimizer.check.box import box_of
from optimizer.check.certificate import Certificate, Row, failure_lines
from optimizer.check.certify import LeftOut, check
from optimizer.check.check_ahead import CheckAsked, ChecksAhead
from optimizer.check.drain_wait import SPIKE_K
from optimizer.check.worst_points import WorstPoints
from optimizer.errors import CheckFailedError, NoPlanError, SolverError
from optimizer.lessons import BACKOFF_KEYS, BACKOFF_STEP, Reserve, kept_after, points_of
from optimizer.option_defaults import SEED
from optimizer.planner.convert_constants import constants_of
from optimizer.planner.corners import NOTHING_KEPT, KeptBack, WorstPoint
from optimizer.planner.figures import costs_of
from optimizer.planner.known_programmes import known_here
from optimizer.planner.make_plan import NOTHING_TAUGHT, Taught, plan, polished
from optimizer.planner.margins import Assessor
from optimizer.planner.search import USUAL_SEARCH, Search
from optimizer.planner.solver import SolverName
from optimizer.planner.steps import Tried
from optimizer.planner.structure import Programme
from optimizer.planner.value_proofs import Proof
from optimizer.planner.worst_corners import Badness, Finder
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs, Plan

TRIES = 5
"""Plans that are made until one passes; after that the failed check is the answer [1]."""

PLAIN_TRIES = 5
"""The same for a plan without steps to its neighbours, such as one that shows a nearest value [1]: with three
a goal missed the plan that a harder one had."""

KNOWN_CHECKED, KNOWN_TRIES = 2, 2
"""Known programmes that are checked as they are at the most, and how often each: a second time where a
longest heating was cut, or its rounds trimmed [1]."""

SAME = 1e-6
"""Costs that differ by a smaller share are the same [1]."""

FIRST_LESSON = 0.85
"""Part of what a bound alone is short by in the first check that the second plan keeps back [1]: farther from
its limit a bound comes nearer to what is found."""

WATCHDOG, TENTHS = "watchdog.reading_c", 10.0
"""Key of the hottest reading of a sound run, which the watchdog of the bath lets pass by `SPIKE_K`."""

LONGEST_HEAT = "heat.cold_sensor_s"
"""The longest heating of a round, which the slowest of the points that the check runs must nearly need."""

MENDED_KEYS = (*BACKOFF_KEYS, LONGEST_HEAT)
"""Requirements on whose failure another plan follows."""


@dataclass(frozen=True)
class Proven:
    """A plan with the certificate that it passed, and what was kept back for it beyond the usual."""

    plan: Plan
    certificate: Certificate
    backoff: Mapping[str, float] = field(default_factory=dict)

    @property
    def kept(self) -> KeptBack:
        """What another programme must be held to, to be judged by the rules of this one."""
        return KeptBack(self.backoff, points_of(self.certificate))


def plan_and_prove(
    inputs: Inputs,
    *,
    solver: SolverName = "auto",
    report: Callable[[str], None] | None = None,
    search: Search = USUAL_SEARCH,
    taught: Taught = NOTHING_TAUGHT,
    first: Plan | None = None,
    tries: int = TRIES,
    spare: float = 0.0,
) -> Proven:
    """Plan a programme and check it at the worst points of the tolerances; ``report`` is told each step.

    Where the check finds a requirement short, its worst points join the corners of the planner, and what is
    still missing there is kept back. The rounds stay, if they can, and are trimmed again. ``taught`` may
    say from the start what to keep back. ``first`` is a plan that was made already: it is checked as it is
    before any other is made. No more than so many ``tries`` are made until the failed check is the
    answer. With a ``spare`` [1] so much more is kept back than was short, where the same rounds hold with it.
    Where a programme that the search knows passes the check as it is and costs less, that is the plan.

    Raises
    ------
    NoPlanError
        No programme meets the goal.
    CheckFailedError
        The check still finds a requirement short after several plans.
    """
    asked = _Asked(inputs, solver, report or (lambda _: None), search, taught, first, tries, spare)
    if not search.known or search.epsilon_constraint is not None:
        return _by_search(asked)
    try:
        proven = _by_search(asked)
    except (NoPlanError, CheckFailedError, SolverError):
        known = _known_proven(asked, math.inf)
        if known is None:
            raise
        return known
    return _known_proven(asked, proven.plan.costs.with_waiting) or proven


@dataclass(frozen=True)
class _Asked:
    """What `plan_and_prove` is asked for; ``whether`` there is a plan may be all that is asked."""

    inputs: Inputs
    solver: SolverName
    tell: Callable[[str], None]
    search: Search
    taught: Taught = NOTHING_TAUGHT
    first: Plan | None = None
    tries: int = TRIES
    spare: float = 0.0
    whether: bool = False

    def check_of(self, constants: Constants, *, first: bool = False) -> CheckAsked:
        """The check of a plan; with some to spare the lesson of the first one may be rough."""
        rough = self.spare and first and self.tries > 1
        leave_out: LeftOut = "bounds" if rough else "nearness" if self.whether else "closeness"
        inputs = self.inputs
        return CheckAsked(constants, inputs.machine, inputs.goal, inputs.circuit, leave_out)


@dataclass(frozen=True)
class _PlainlyProves:
    """Whether the plainest search, on which the whole one falls back, has a proven plan for some inputs."""

    solver: SolverName
    search: Search

    def __call__(self, inputs: Inputs) -> bool:
        plain = _Asked(inputs, self.solver, lambda _: None, self.search, tries=PLAIN_TRIES, whether=True)
        with suppress(NoPlanError, CheckFailedError, SolverError):
            _by_search(plain)
            return True
        return False


def _known_proven(asked: _Asked, less_than: float) -> Proven | None:
    """The cheapest known programme that passes the check as it is and costs less; None where none does.

    A longest heating may be cut, as for any plan.
    """
    search = asked.search
    assessor = Assessor(asked.inputs, asked.taught.kept, rounds_most=search.rounds_most)
    plainly = replace(search.plainest, anew=False)
    for plan_here in known_here(assessor, search.known, asked.solver)[:KNOWN_CHECKED]:
        if plan_here.costs.with_waiting >= less_than - SAME * abs(less_than):
            break
        with suppress(NoPlanError, CheckFailedError, SolverError):
            again = replace(asked, search=plainly, first=plan_here, tries=KNOWN_TRIES, spare=0.0)
            proven = _by_search(again)
            if proven.plan.costs.with_waiting < less_than:
                return proven
    return None


def _by_search(asked: _Asked) -> Proven:
    """What `plan_and_prove` says, but that the plan may be dearer than a known programme."""
    inputs, solver, tell, search, taught = asked.inputs, asked.solver, asked.tell, asked.search, asked.taught
    plainly = search.plainest

    proof = Proof(_finder(inputs.machine), _refused, _PlainlyProves(solver, plainly))
    tried: Tried = {}
    cold = taught == NOTHING_TAUGHT and asked.first is None
    taught = replace(taught, tried=tried)

    checks = ChecksAhead()

    def foresee(constants: Constants) -> None:
        checks.begin(asked.check_of(constants))

    def made(lesson: Taught, search: Search = search) -> Plan:
        return plan(inputs, solver, taught=lesson, proof=proof, report=tell, search=search, foresee=foresee)

    planned: Plan | None = asked.first
    none_left: NoPlanError | None = None
    for number in range(asked.tries):
        try:
            planned = planned or made(taught, replace(search, why=False) if number else search)
        except NoPlanError as error:
            if number == 0:
                raise
            none_left = error
            break
        better = _polished(asked, planned, taught.kept) if number else None
        if better is not None:
            return _watched(better)
        tell("looking for the worst points of the tolerances")
        certificate = checks.certificate(asked.check_of(planned.constants, first=number == 0))
        failed = [row for row in certificate.rows if not row.passed]
        if not failed:
            proven = Proven(planned, certificate, taught.kept.backoff)
            better = None if number else _polished(asked, planned, proven.kept)
            return _watched(better or proven)
        if not all(row.key.startswith(MENDED_KEYS) and math.isfinite(row.margin) for row in failed):
            cold = False
            break
        last, planned = _heated_shorter(planned, failed), None
        if all(row.key == LONGEST_HEAT for row in failed):
            planned = last
            continue
        if asked.spare:
            spare = Reserve(asked.spare, asked.spare)
            kept = kept_after(inputs, last.constants, certificate, taught.kept, spare)
            with suppress(NoPlanError):
                lesson = replace(taught, kept=kept, last=last)
                planned, taught = made(lesson, replace(search, anew=False)), lesson
        if planned is None:
            # A heating that is cut as well leaves less for the doses than was checked.
            cut = any(row.key == LONGEST_HEAT for row in failed)
            by_bound = 1.0 if number or cut else FIRST_LESSON
            # What holds gets no reserve on top: cheap programmes are near their limits on purpose.
            reserve = Reserve(BACKOFF_STEP * 2.0 ** max(number - 1, 0), by_bound=by_bound)
            kept = kept_after(inputs, last.constants, certificate, taught.kept, reserve)
            taught = replace(taught, kept=kept, last=last)
    if cold and search.neighbours:
        # A cheaper programme was found that cannot be proven; the model's own may be.
        tell("planning without steps")
        with suppress(NoPlanError, CheckFailedError, SolverError):
            return plan_and_prove(inputs, solver=solver, report=tell, search=plainly, tries=PLAIN_TRIES)
    if none_left is not None:
        if search.why:
            made(taught)  # The same, with the reasons.
        raise none_left
    raise CheckFailedError("the check does not pass, nothing was written", failure_lines(failed))


def _polished(asked: _Asked, planned: Plan, kept: KeptBack) -> Proven | None:
    """The same rounds with other whole seconds that cost less, if they pass the check.

    A trim steps numbers down one by one, or one up and one down; several that only together save are left. A
    first plan is checked before, as it may be far from what passes. A plan that is one of many, or has some
    to spare, is left as it is.
    """
    inputs, search = asked.inputs, asked.search
    as_it_is = asked.spare or not search.neighbours
    cheaper = None if as_it_is else polished(inputs, planned, kept, search)
    if cheaper is None:
        return None
    asked.tell("looking for the worst points of the tolerances")
    certificate = asked.check_of(cheaper.constants).answer()
    return Proven(cheaper, certificate, kept.backoff) if certificate.passed else None


def _heated_shorter(planned: Plan, failed: Iterable[Row]) -> Plan:
    """Cut a longest heating down to what the check lets pass; it then stops the slowest points sooner."""
    rounds = list(planned.constants.rounds)
    for row in failed:
        if row.key == LONGEST_HEAT:
            # The row is that of the round which is furthest over.
            index = [one.heat_s for one in rounds].index(round(row.held))
            rounds[index] = replace(rounds[index], heat_s=math.floor(row.limit))
    constants = replace(planned.constants, rounds=tuple(rounds))
    return replace(planned, constants=constants, costs=costs_of(planned.inputs, constants))


def _refused(assessor: Assessor, programme: Programme) -> KeptBack:
    """What a programme of the planner has to keep back to pass its check, nothing where it passes."""
    inputs = assessor.inputs
    runs = assessor.simulator.run(programme)
    constants = constants_of(inputs, assessor.simulator, programme, runs)
    certificate = check(constants, inputs.machine, inputs.goal, inputs.circuit, leave_out="sharpness")
    failed = [row for row in certificate.rows if not row.passed and row.key.startswith(BACKOFF_KEYS)]
    return kept_after(inputs, constants, certificate, assessor.kept) if failed else NOTHING_KEPT


def _watched(proven: Proven) -> Proven:
    """Lower the watchdog of the bath from the tank's limit to the hottest reading, sensor error included.

    A sound run knows nothing of the watchdog, so of the certificate no more than that limit changes.
    """
    planned, certificate = proven.plan, proven.certificate
    readings_c = [row.held for row in certificate.rows if row.key == WATCHDOG]
    if not readings_c:
        return proven
    # A bath that time stops before its setpoint comes to read it nowhere.
    setpoints_dc = [row.setpoint_dc for row in planned.constants.rounds]
    most_dc = max(math.ceil((max(readings_c) + SPIKE_K) * TENTHS), *setpoints_dc)
    if most_dc >= planned.constants.bath_max_dc:
        return proven
    planned = replace(planned, constants=replace(planned.constants, bath_max_dc=most_dc))
    rows = tuple(
        replace(row, limit=most_dc / TENTHS) if row.key == WATCHDOG else row for row in certificate.rows
    )
    return replace(proven, plan=planned, certificate=replace(certificate, rows=rows))


def _finder(machine: Machine) -> Finder:
    """Search for worst points in the planner's simulation as the check does in its own."""
    box = box_of(machine)

    def find(keys: Sequence[str], badness: Badness) -> list[WorstPoint]:
        search = WorstPoints(box, lambda points: badness(box.tables(points)))
        search.find(0, SEED)
        return [WorstPoint(keys[which], box.table(search.worst(which)[0])) for which in search.touched()]

    return find
