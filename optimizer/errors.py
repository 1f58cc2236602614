"""Errors a user can meet. Each has its exit code; issues name subject, rule, value found and a fix."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Literal, TypeVar

T = TypeVar("T")

EXIT_USAGE = 2
EXIT_INPUT = 3
EXIT_NO_PLAN = 4
EXIT_CHECK = 5


CONTROL = re.compile("[\x00-\x08\x0b-\x1f\x7f-\x9f\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
"""Characters that a terminal acts on instead of showing them, or that reverse the order of a line; line ends
and tabs are not among them."""


def escaped(text: str) -> str:
    r"""Write every character that a terminal would act on as an escape, as JSON does.

    Parameters
    ----------
    text : str
        Any text.

    Returns
    -------
    str
        The text; everything else in it, line ends too, is unchanged.

    Examples
    --------
    >>> print(escaped("./\x1b[31m.toml"))
    ./\u001b[31m.toml
    """
    return CONTROL.sub(lambda sign: f"\\u{ord(sign[0]):04x}", text)


@dataclass(frozen=True, order=True)
class InputIssue:
    """One thing that is wrong with an input.

    Attributes
    ----------
    subject : str
        What it was found in: a file, a folder, an option.
    key : str
        Key path inside the subject (``tank.capacity_l``), empty where there is none.
    rule : str
        The rule that is broken, as a sentence without a full stop.
    found : str
        The value found, as written; empty where nothing was found.
    fix : str
        What to write instead; a typical value where one exists.
    """

    subject: str
    key: str
    rule: str
    found: str = ""
    fix: str = ""

    def __post_init__(self) -> None:
        # A path, a key or a value found may hold anything, and a message goes to a terminal.
        for name in ("subject", "key", "rule", "found", "fix"):
            object.__setattr__(self, name, escaped(getattr(self, name)))

    def __str__(self) -> str:
        where = f"{self.subject}: {self.key}" if self.key else self.subject
        found = f", found {self.found}" if self.found else ""
        fix = f"\n    fix: {self.fix}" if self.fix else ""
        return f"{where}: {self.rule}{found}{fix}"


def quoted(text: str) -> str:
    """Write a text that a user gave so that a message can show it.

    Parameters
    ----------
    text : str
        The text.

    Returns
    -------
    str
        It in double quotes; what a terminal would act on is written as an escape.

    Examples
    --------
    >>> print(quoted("60 °C"), quoted("\\x1b[31m"))
    "60 °C" "\\u001b[31m"
    """
    return json.dumps(text, ensure_ascii=not text.isprintable())


class ScullionError(Exception):
    """Base of every error that ends a command with a message instead of an answer."""

    exit_code = EXIT_INPUT


class InputError(ScullionError):
    """Bad input; carries every issue that was found, not only the first.

    Parameters
    ----------
    issues : sequence of InputIssue
        What is wrong, at least one. Where nothing is wrong but options, it counts as wrong usage.
    """

    exit_code = EXIT_INPUT

    def __init__(self, issues: Sequence[InputIssue]) -> None:
        self.issues = tuple(issues)
        if self.issues and all(issue.subject.startswith("--") for issue in self.issues):
            self.exit_code = EXIT_USAGE
        super().__init__("\n".join(str(issue) for issue in self.issues))


def attempt(issues: list[InputIssue], step: Callable[[], T]) -> T | None:
    """Take a step; where its input is bad, note the issues and go on without.

    Parameters
    ----------
    issues : list of InputIssue
        Where to note them.
    step : callable
        What to do.

    Returns
    -------
    object or None
        What the step gives; None where its input is bad.
    """
    try:
        return step()
    except InputError as error:
        issues += error.issues
        return None


@dataclass(frozen=True)
class Reason:
    """Why no plan exists: a requirement that cannot be met and the nearest value at which it could.

    Attributes
    ----------
    requirement : str
        The requirement in the trade's words (``dose grease``, ``longest duration``).
    asked : str
        What the goal, machine or circuit asks, with its unit.
    nearest : str
        The nearest value found at which a plan exists, as it was planned and proven; or the most that physics
        allows. Empty where none was looked for.
    advice : str
        What would help.
    key : str
        Key of the requirement, as certificates name it where they have it; empty for what is none.
    """

    requirement: str
    asked: str
    nearest: str
    advice: str = ""
    key: str = ""

    @property
    def sentence(self) -> str:
        """The reason in one line, without the advice."""
        nearest = f", nearest {self.nearest}" if self.nearest else ""
        return f"{self.requirement}: asked {self.asked}{nearest}"


Easing = Literal["", "any", "all"]
"""Which of several reasons must be eased: any one of them, or all together; empty where it is not known."""


class NoPlanError(ScullionError):
    """No programme meets the goal on this machine and circuit.

    Parameters
    ----------
    headline : str
        One sentence that names machine and goal.
    reasons : sequence of Reason
        The requirements that stand in the way, each with its nearest possible value.
    easing : str
        Which of them must be eased: ``any`` or ``all``.
    iis : sequence of Reason
        An irreducible infeasible subset: requirements that were not found to hold together, even with all
        others left out, and that were as soon as any one of them is left out; two or more, or none where none
        was found.
    upgrades : str
        Arguments with which ``scullion upgrades`` looks for a change that helps; empty where it does not.
    proven : bool or None
        Whether it is proven that there is none; False where none was found, and none is excluded. None where
        the question is not one of programmes.
    """

    exit_code = EXIT_NO_PLAN

    def __init__(
        self,
        headline: str,
        reasons: Sequence[Reason],
        easing: Easing = "",
        iis: Sequence[Reason] = (),
        upgrades: str = "",
        *,
        proven: bool | None = None,
    ) -> None:
        self.headline = headline
        self.reasons = tuple(reasons)
        self.easing = easing
        self.iis = tuple(iis)
        self.upgrades = upgrades
        self.proven = proven
        super().__init__(headline)


class CheckFailedError(ScullionError):
    """A check failed: nothing may be written.

    Parameters
    ----------
    headline : str
        One sentence that says what failed.
    failures : sequence of str
        One line for each failed requirement.
    """

    exit_code = EXIT_CHECK

    def __init__(self, headline: str, failures: Sequence[str]) -> None:
        self.headline = headline
        self.failures = tuple(failures)
        super().__init__("\n".join((headline, *self.failures)))


class SolverError(ScullionError):
    """The solver gave no answer: it came to the end of its search budget, or it does not work."""

    exit_code = EXIT_CHECK
