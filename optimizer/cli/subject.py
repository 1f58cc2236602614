"""What a file on the command line gives to check: a plan, or constants and the profiles named beside them."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from pathlib import Path

from optimizer.check.certify import SUBJECT as CONSTANTS
from optimizer.emit.bench_run import bench_sha256
from optimizer.emit.forms import form_of
from optimizer.emit.read import read_constants, written_as
from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.library.job import plan_in
from optimizer.programme.constants import Constants
from optimizer.programme.inputs import exchange, load_inputs
from optimizer.programme.plan import Inputs
from optimizer.programme.planfile import inputs_sha256

NEEDED = ("machine", "goal")


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
    """

    constants: Constants
    inputs: Inputs
    warnings: tuple[str, ...] = ()
    replaced: dict[str, tuple[str, str]] = field(default_factory=dict)
    file: str = ""
    form: str | None = None

    @contextmanager
    def named_in_issues(self) -> Iterator[None]:
        """Name the file in whatever is found to be wrong with the constants."""
        try:
            yield
        except InputError as error:
            found = [
                written_as(one, self.form, self.file) if one.subject == CONSTANTS else one
                for one in error.issues
            ]
            raise InputError(found) from error

    @property
    def notes(self) -> tuple[str, ...]:
        """What the check is for, where that is not what the plan holds."""
        return tuple(
            f"Checked against the {kind} {used}, in place of {held}, which the plan was made for."
            for kind, (held, used) in self.replaced.items()
        )


def load_subject(path: Path, asked: dict[str, str | None]) -> Subject:
    """Load a plan file, or a file of constants with its profiles.

    Parameters
    ----------
    path : Path
        The file; what is in it says which of them it is.
    asked : dict
        Profiles named on the command line by kind, None where left out. A plan is held against these in
        place of its own; constants, which hold none, need at least machine and goal.

    Returns
    -------
    Subject
        What is to be checked.

    Raises
    ------
    InputError
        The file cannot be read or is neither, a profile that is needed is not named, or a named one cannot
        be used.
    """
    subject, text = str(path), read_text(path, "plan or file of constants")
    form = form_of(text)
    if form is None:
        fix = "give a file that scullion plan or scullion constants wrote"
        raise InputError([InputIssue(subject, "", "is neither a plan nor constants in any form", "", fix)])
    if form == "json" and '"profiles"' in text:
        plan = plan_in(text, subject)
        held = dict(zip(asked, plan.inputs.names, strict=True))
        replaced = {kind: (held[kind], name) for kind, name in asked.items() if name is not None}
        return Subject(plan.constants, exchange(plan.inputs, **asked), replaced=replaced, file=subject)
    constants = read_constants(text, subject)
    machine, goal = (asked[kind] for kind in NEEDED)
    if machine is None or goal is None:
        raise InputError([_needed(kind) for kind in NEEDED if asked[kind] is None])
    inputs = load_inputs(machine, goal, asked["circuit"], asked["tariff"])
    return Subject(constants, inputs, _warnings(constants, inputs), file=subject, form=form)


def _needed(kind: str) -> InputIssue:
    rule = f"is needed: a file of constants does not hold its {kind} profile"
    return InputIssue(
        f"--{kind}", "", rule, "", f"--{kind} with the name or the path that the plan was made with"
    )


def _warnings(constants: Constants, inputs: Inputs) -> tuple[str, ...]:
    expected = inputs_sha256(inputs)
    if constants.bench_run:
        expected = bench_sha256(expected, [row.kind for row in constants.rounds])
    if constants.input_sha256 == expected:
        return ()
    hashes = f"hash {constants.input_sha256[:12]}…, here {expected[:12]}…"
    these = ", ".join(inputs.names)
    return (f"The constants were made from other profiles or prices ({hashes}). The check is for {these}.",)
