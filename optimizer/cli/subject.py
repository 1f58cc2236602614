"""What a file on the command line gives to check: a plan, or constants and the profiles named beside them."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from optimizer.check.certify import SUBJECT as CONSTANTS
from optimizer.emit.bench_run import bench_sha256
from optimizer.emit.fact_issues import fact_issues
from optimizer.emit.forms import form_of
from optimizer.emit.read import written_as
from optimizer.emit.read_several import facts_in, named_in, read_programmes
from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.library.job import plan_in
from optimizer.programme.constants import Constants
from optimizer.programme.inputs import exchange, load_inputs
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import inputs_sha256

PARTS = {"control": "the element", "fill_control": "the inlet"}
BY = {"timed": "time", "thermostat": "a thermostat", "level": "a level switch"}
KINDS_OF_PLAN = ("machine", "goal", "circuit", "tariff")


@dataclass(frozen=True)
class Subject:
    """What is to be checked.

    Attributes
    ----------
    constants : Constants
        The programme, or a bench run.
    inputs : Inputs
        What it is held against.
    warnings : tuple of str
        What a reader of the result has to know.
    replaced : dict
        By kind, the names of the profile that the plan holds and of the one that it is checked against.
    file : str
        The file that it was read from.
    form : str or None
        The form of the constants; None for a plan.
    name : str
        The name of the programme where the file holds several; else empty.
    number : int
        Its number in the file, from 1; else 0.
    """

    constants: Constants
    inputs: Inputs
    warnings: tuple[str, ...] = ()
    replaced: dict[str, tuple[str, str]] = field(default_factory=dict)
    file: str = ""
    form: str | None = None
    name: str = ""
    number: int = 0

    @contextmanager
    def named_in_issues(self) -> Iterator[None]:
        """Name the file in whatever is found to be wrong with the constants.

        Where they were made for another machine, switched by other means, that is what is wrong.
        """
        try:
            yield
        except InputError as error:
            if other := self._other_machine(error.issues):
                raise InputError(other) from error
            found = [
                written_as(one, self.form, self.file, self._named) if one.subject == CONSTANTS else one
                for one in error.issues
            ]
            raise InputError(found) from error

    def _other_machine(self, issues: Sequence[InputIssue]) -> list[InputIssue]:
        """Say that the machine is not the one planned for; empty where the constants are of its profiles."""
        if self.constants.input_sha256 == _expected_sha256(self.constants, self.inputs):
            return []
        wrong = {one.key for one in issues if one.subject == CONSTANTS}
        machine, element = self.inputs.machine, self.inputs.machine.element
        has = {
            "control": (self.constants.control, "timed" if element is None else element.control),
            "fill_control": (self.constants.fill_control, machine.inlet.control),
        }
        fix = "--machine with the profile that the plan was made with, or plan for this one"
        return [
            InputIssue(
                "--machine",
                "",
                f"is not the machine that {self.file} was planned for: {PARTS[key]} is switched by "
                f"{BY[planned]} there, by {BY[here]} here",
                self.inputs.names[0],
                fix,
            )
            for key, (planned, here) in has.items()
            if key in wrong and planned != here
        ]

    def _named(self, name: str) -> str:
        return named_in(self.number, name) if self.number else name

    @property
    def notes(self) -> tuple[str, ...]:
        """What the check is for, where that is not what the plan holds."""
        return tuple(
            f"Checked against the {kind} {used}, in place of {held}, which the plan was made for."
            for kind, (held, used) in self.replaced.items()
        )


def load_subjects(path: Path, asked: Asked, goals: Sequence[str], programme: str | None) -> list[Subject]:
    """Load a plan file, or a file of constants with its profiles.

    Parameters
    ----------
    path : Path
        The file; what is in it says which of them it is.
    asked : dict
        Profiles but the goal named on the command line by kind, None where left out. A plan is held against
        these in place of its own; constants, which hold none, need at least the machine and a goal.
    goals : sequence of str
        Goals named there: one, or several for a file of several programmes. Each programme is held against
        the one whose profiles have its hash; else against the one in its place, or the only one.
    programme : str or None
        The name of the programme that is asked for; None for all.

    Returns
    -------
    list of Subject
        What is to be checked, in the order of the file.

    Raises
    ------
    InputError
        The file cannot be read or is neither, a profile that is needed is not named, or a named one cannot
        be used; there is no programme of that name; there are more goals than programmes.
    """
    subject, text = str(path), read_text(path, "plan or file of constants")
    form = form_of(text)
    if form is None:
        fix = "give a file that scullion plan or scullion constants wrote"
        raise InputError([InputIssue(subject, "", "is neither a plan nor constants in any form", "", fix)])
    if form == "json" and '"profiles"' in text:
        _refuse_for_one(subject, "a plan", goals, programme)
        plan = plan_in(text, subject)
        asked = {
            kind: (goals[0] if goals else None) if kind == "goal" else asked[kind] for kind in KINDS_OF_PLAN
        }
        held = dict(zip(KINDS_OF_PLAN, plan.inputs.names, strict=True))
        replaced = {kind: (held[kind], name) for kind, name in asked.items() if name is not None}
        return [Subject(plan.constants, exchange(plan.inputs, **asked), replaced=replaced, file=subject)]
    tables = read_programmes(text, subject)
    several = "" not in tables
    if not several:
        _refuse_for_one(subject, "a file of one programme", goals, programme)
    machine = asked["machine"]
    if machine is None or not goals:
        raise InputError(
            [_needed(kind) for kind, there in (("machine", machine), ("goal", goals)) if not there]
        )
    wanted = _wanted(subject, list(tables), programme)
    if len(goals) > max(len(wanted), 1):
        rule, fix = "there are more goals than programmes", f"leave out {len(goals) - len(wanted)}"
        raise InputError([InputIssue("--goal", "", rule, str(len(goals)), fix)])
    loaded = [load_inputs(machine, goal, asked["circuit"], asked["tariff"]) for goal in goals]
    if issues := fact_issues(facts_in(text, subject), list(tables.values()), loaded[0], subject, form):
        raise InputError(issues)
    found = []
    for place, name in enumerate(wanted):
        constants, number = tables[name], list(tables).index(name) + 1
        inputs = _inputs_of(constants, loaded, place)
        said = tuple(f"{name}: {one}" if several else one for one in _warnings(constants, inputs))
        found.append(
            Subject(constants, inputs, said, file=subject, form=form, name=name, number=several * number)
        )
    return found


Asked = dict[str, str | None]


def _refuse_for_one(subject: str, what: str, goals: Sequence[str], programme: str | None) -> None:
    if programme is not None:
        rule, fix = f"goes with a file of several programmes, and {subject} is {what}", "leave it out"
        raise InputError([InputIssue("--programme", "", rule, programme, fix)])
    if len(goals) > 1:
        rule, fix = f"may be given once: {subject} is {what}", f"leave out {len(goals) - 1}"
        raise InputError([InputIssue("--goal", "", rule, str(len(goals)), fix)])


def _wanted(subject: str, names: list[str], programme: str | None) -> list[str]:
    """Names of the programmes to check: all, or the one that is asked for."""
    if programme is None:
        return names
    found = [name for name in names if name.casefold() == programme.casefold()]
    if not found:
        rule = f"is not the name of a programme in {subject}"
        raise InputError([InputIssue("--programme", "", rule, programme, f"one of {', '.join(names)}")])
    return found


def _inputs_of(constants: Constants, loaded: Sequence[Inputs], place: int) -> Inputs:
    """Pick the profiles that a programme was made from; else those in its place, or the last ones."""
    same = [inputs for inputs in loaded if constants.input_sha256 == _expected_sha256(constants, inputs)]
    return same[0] if same else loaded[min(place, len(loaded) - 1)]


def _needed(kind: str) -> InputIssue:
    rule = f"is needed: a file of constants does not hold its {kind} profile"
    return InputIssue(
        f"--{kind}", "", rule, "", f"--{kind} with the name or the path that the plan was made with"
    )


def _warnings(constants: Constants, inputs: Inputs) -> tuple[str, ...]:
    expected = _expected_sha256(constants, inputs)
    if constants.input_sha256 == expected:
        return ()
    hashes = f"hash {constants.input_sha256[:12]}…, here {expected[:12]}…"
    these = ", ".join(inputs.names)
    return (f"The constants were made from other profiles or prices ({hashes}). The check is for {these}.",)


def _expected_sha256(constants: Constants, inputs: Inputs) -> str:
    """Hash that constants made from these profiles have."""
    expected = inputs_sha256(inputs)
    if constants.bench_run:
        expected = bench_sha256(expected, [row.kind for row in constants.rounds])
    return expected
