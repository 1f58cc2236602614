"""A trial book with everything that it names: the soils of its goal, its plans and its logs."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from optimizer.errors import InputError, InputIssue, attempt
from optimizer.files import read_text
from optimizer.profile.did_you_mean import choice_meant
from optimizer.profile.goal import Dose, Goal
from optimizer.profile.load import parse_profile
from optimizer.profile.messages import written
from optimizer.profile.shipped import is_path, profile_path
from optimizer.programme.plan import Plan
from optimizer.programme.planfile import PLAN_AGAIN, plan_from_json
from optimizer.trial.dose_of_wash import WashDose, beside_plan, dose_by_hand, dose_of_log
from optimizer.trial.soil_fit import Wash
from optimizer.trial.trial_book import Book, Trial, read_book
from optimizer.trial.wash_log import WashLog, read_log

if TYPE_CHECKING:
    from optimizer.trial.dose_of_plan import PlanRun

NAMES_A_GOAL = '--goal everyday, or goal = "everyday" in a book in TOML'


@dataclass(frozen=True)
class GoalSource:
    """A goal with the text of its file.

    Attributes
    ----------
    name : str
        What it was asked for by.
    goal : Goal
        The goal.
    text : str
        Its file.
    path : str
        What it is found by from here: its name, or the path of its file.
    """

    name: str
    goal: Goal
    text: str
    path: str


@dataclass(frozen=True)
class Trials:
    """A trial book, read with all that it names.

    Attributes
    ----------
    book : Book
        The book.
    source : GoalSource or None
        The goal; None where only the plans say what the soils are.
    doses : dict of str to Dose
        The soils, by name.
    washes : dict of str to tuple of Wash
        The washes of each soil in the book.
    """

    book: Book
    source: GoalSource | None
    doses: Mapping[str, Dose]
    washes: Mapping[str, tuple[Wash, ...]]


def read_trials(path: Path, goal: str | None = None) -> Trials:
    """Read a trial book, its goal (the one asked for, else the book's), plans and logs.

    Raises
    ------
    InputError
        With every issue: of the book; or of the files that it names; or of what the soils were given.
    """
    book = read_book(path)
    issues: list[InputIssue] = []
    source = attempt(issues, partial(_goal, book, goal))
    files = _Files(book.path.parent)
    for at, trial in enumerate(book.trials):
        _named(issues, book, at, "plan", trial.plan, files.plan)
        _named(issues, book, at, "log", trial.log, files.log)
    if issues:
        raise InputError(issues)
    doses = _doses(issues, book, source, files)
    _unknown_soils(issues, book, doses, source)
    if issues:
        raise InputError(issues)
    used = tuple(doses[soil] for soil in book.soils)
    washes: dict[str, list[Wash]] = {soil: [] for soil in book.soils}
    runs = _runs(files, used)
    issues += _never_proven(book, runs)
    for at, trial in enumerate(book.trials):
        given = _given(trial, doses[trial.soil], files, runs)
        issues += _not_believed(book, at, given)
        washes[trial.soil].append(Wash(trial, given))
    if issues:
        raise InputError(issues)
    return Trials(book, source, doses, {soil: tuple(found) for soil, found in washes.items()})


def _runs(files: _Files, used: tuple[Dose, ...]) -> dict[str, PlanRun]:
    """Run every plan of a book; one by hand needs nothing of what that takes."""
    if not files.plans:
        return {}
    from optimizer.trial.dose_of_plan import run_plan

    return {name: run_plan(plan, used) for name, plan in files.plans.items()}


def _goal(book: Book, asked: str | None) -> GoalSource | None:
    name = asked if asked is not None else book.goal
    if name is None:
        return None
    path = profile_path("goal", name, Path() if asked is not None else book.path.parent)
    text = read_text(path, "goal profile")
    goal = parse_profile("goal", text, str(path))
    assert isinstance(goal, Goal)
    return GoalSource(name, goal, text, str(path) if is_path(name) else name)


@dataclass
class _Files:
    """Plans and logs that were read, by the names that the book has for them."""

    folder: Path
    plans: dict[str, Plan] = field(default_factory=dict)
    logs: dict[str, WashLog] = field(default_factory=dict)

    def plan(self, name: str) -> None:
        if name not in self.plans:
            self.plans[name] = _proven_once(self.folder / name)

    def log(self, name: str) -> None:
        if name not in self.logs:
            self.logs[name] = read_log(self.folder / name)


def _proven_once(path: Path) -> Plan:
    """Read a plan that `scullion plan` could have written: only proven ones get that far."""
    from optimizer.check.certify import misfits
    from optimizer.planner.figures import wrong_figures

    subject = str(path)
    found = plan_from_json(read_text(path, "plan"), subject)
    issues = wrong_figures(found, subject) or misfits(found.constants, found.inputs.machine)
    if issues:
        raise InputError(issues)
    return found


def _named(
    issues: list[InputIssue], book: Book, at: int, key: str, name: str | None, read: Callable[[str], None]
) -> None:
    """Read a file that a line names; every file once, also if it is bad."""
    first = next((one for one in range(at) if getattr(book.trials[one], key) == name), at)
    if name is not None and first == at:
        attempt(issues, partial(read, name))


def _doses(issues: list[InputIssue], book: Book, source: GoalSource | None, files: _Files) -> dict[str, Dose]:
    """Find the soils: in the goal or, without one, in the plans."""
    if source is not None:
        return {dose.name: dose for dose in source.goal.dose}
    found: dict[str, Dose] = {}
    for name, plan in files.plans.items():
        for dose in plan.inputs.goal.dose:
            known = found.setdefault(dose.name, dose)
            if known.model_copy(update={"minutes": dose.minutes}) != dose and dose.name in book.soils:
                rule = f"has another {dose.name} than the plans before it: another temperature, z_k or share"
                issues.append(
                    InputIssue(str(files.folder / name), "goal", rule, "", f"say which: {NAMES_A_GOAL}")
                )
    if not found and not issues:
        rule = "no goal says at which temperature the minutes of a soil are stated"
        issues.append(InputIssue(str(book.path), "goal", rule, "", NAMES_A_GOAL))
    return found


def _unknown_soils(
    issues: list[InputIssue], book: Book, doses: Mapping[str, Dose], source: GoalSource | None
) -> None:
    where = f"the goal {source.name}" if source else "the plans' goals"
    soils = [trial.soil for trial in book.trials]
    for soil in book.soils if doses else ():
        if soil not in doses:
            lines = f" ({soils.count(soil)} lines)" if soils.count(soil) > 1 else ""
            rule = f"is no dose of {where}{lines}"
            issues.append(book.issue(soils.index(soil), "soil", rule, written(soil), meant_soil(soil, doses)))


def meant_soil(soil: str, doses: Iterable[str]) -> str:
    """Say which dose was meant, or which there are."""
    names = list(doses)
    meant = choice_meant(soil, names)
    return f"did you mean {meant}?" if meant else f"one of {', '.join(names)}"


def _given(trial: Trial, dose: Dose, files: _Files, runs: Mapping[str, PlanRun]) -> WashDose:
    if trial.log is not None:
        plan = files.plans[trial.plan] if trial.plan else None
        given = dose_of_log(files.logs[trial.log], trial.log, dose, plan)
        return beside_plan(given, trial.log, runs[trial.plan].doses[dose.name]) if trial.plan else given
    if trial.plan is not None:
        return runs[trial.plan].doses[dose.name]
    assert trial.minutes is not None
    assert trial.ware_c is not None
    return dose_by_hand(trial.minutes, trial.ware_c, dose)


def _never_proven(book: Book, runs: Mapping[str, PlanRun]) -> Iterator[InputIssue]:
    """Plans that break a requirement of their own, each at the first line that names it."""
    plans = [trial.plan for trial in book.trials]
    for name, run in runs.items():
        if run.broken:
            broken = ", ".join(run.broken[:3])
            lines = f" ({plans.count(name)} lines)" if plans.count(name) > 1 else ""
            rule = f"was never proven{lines}: it breaks {broken} where one measured quantity is at its end"
            yield book.issue(plans.index(name), "plan", rule, written(name), PLAN_AGAIN)


def _not_believed(book: Book, at: int, given: WashDose) -> Iterator[InputIssue]:
    trial = book.trials[at]
    key = "minutes" if given.source == "by hand" else given.source
    found = written(trial.log or trial.plan or trial.minutes)
    if not given.dose_min > 0.0:
        rule = f"gives no dose of {trial.soil}: the ware stays under its floor, or no round counts for it"
        fix = f"leave {trial.soil} out of this wash, or look at floor_c, bare_floor_c and kinds of the goal"
        yield book.issue(at, key, rule, found, fix)
    elif given.may_be_none:
        cold = "where one measured quantity is at its end, the ware is too cold"
        rule = f"may give no dose of {trial.soil}: {cold}"
        fix = "a log of this wash, or a warmer one"
        yield book.issue(at, key, rule, found, fix)
    elif not LEAST_DOSE_MIN <= given.dose_min <= MOST_DOSE_MIN:
        rule = f"comes to a dose of {trial.soil} that no wash has: {given.dose_min:.3g} min at its reference"
        fix = f"a dose from {LEAST_DOSE_MIN:g} to {MOST_DOSE_MIN:g} min"
        yield book.issue(at, key, rule, found, fix)


LEAST_DOSE_MIN, MOST_DOSE_MIN = 0.005, 6000.0
"""Doses of a wash that are believed [min]: ten times beyond what a goal may ask for."""
