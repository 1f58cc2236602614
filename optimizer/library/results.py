"""Answers about one plan: they print as their commands do and hold their numbers in frames."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import asdict, dataclass, replace
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any, Protocol

from optimizer.check.certificate import Certificate, failure_lines
from optimizer.check.faults.outcome import FaultReport
from optimizer.errors import CheckFailedError, InputError
from optimizer.files import write_text_atomic
from optimizer.programme.constants import Constants
from optimizer.programme.plan import Inputs, LowerBound, Plan
from optimizer.programme.planfile import plan_to_json

if TYPE_CHECKING:
    from pandas import DataFrame, Series


class OnMachine(Protocol):
    """Constants with the profiles that they are held against: a plan, or a file of constants with its own."""

    @property
    def constants(self) -> Constants:
        """The table of the controller."""

    @property
    def inputs(self) -> Inputs:
        """Machine, goal, circuit and tariff."""


class Result(ABC):
    """An answer: ``str()`` gives the command's report, ``frame`` its numbers, a notebook shows both."""

    @abstractmethod
    def __str__(self) -> str:
        """The report that the command prints."""

    @property
    @abstractmethod
    def frame(self) -> DataFrame:
        """The numbers, one row a thing; the unit stands at the end of each column's name."""

    @abstractmethod
    def to_dict(self) -> dict[str, Any]:
        """The answer as plain data, as the command's ``--json`` prints it."""

    def _repr_html_(self) -> str:
        verdict = " ".join(str(self).split("\n\n")[0].split())
        table: str = self.frame.to_html(index=False, border=0, na_rep="", escape=True)
        return f"<p>{escape(verdict)}</p>\n{table}"


@dataclass(frozen=True)
class PlanResult(Result):
    """A plan and the certificate that it passed, or failed.

    Attributes
    ----------
    plan : Plan
        The programme, what it was planned for and what one run takes.
    certificate : Certificate
        What the check found.
    source : str or None
        The plan file it was read from, if it was.
    bound : LowerBound or None
        What no programme costs less than, if that was asked for.
    """

    plan: Plan
    certificate: Certificate
    source: str | None = None
    bound: LowerBound | None = None

    def _repr_html_(self) -> str:
        """Show the page of the plan in a frame, the verdict before it: a notebook may show no frame."""
        from optimizer.library.pages import framed, page_text
        from optimizer.report.plan import plan_verdict

        verdict = plan_verdict(self.plan, self.certificate)
        return f"<p>{escape(verdict)}</p>\n{framed(verdict, page_text(self.plan, self.certificate))}"

    def __str__(self) -> str:
        from optimizer.report.plan import plan_report

        return plan_report(self.plan, self.certificate, self.source, self.bound)

    @property
    def constants(self) -> Constants:
        """The table of the controller."""
        return self.plan.constants

    @property
    def inputs(self) -> Inputs:
        """Machine, goal, circuit and tariff that it was planned for."""
        return self.plan.inputs

    @property
    def passed(self) -> bool:
        """Whether the check found every requirement to hold."""
        return self.certificate.passed

    @property
    def frame(self) -> DataFrame:
        """One row a round: kind, litres, seconds of each phase, hottest bath (nominal)."""
        import pandas as pd

        from optimizer.report.rounds import rounds_to_list

        return pd.DataFrame(rounds_to_list(self.plan, self.certificate.trace))

    @property
    def costs(self) -> Series[float]:
        """What one run takes; the unit stands at the end of each name, money is in the tariff's currency."""
        import pandas as pd

        return pd.Series(asdict(self.plan.costs), dtype=float)

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.plan import plan_to_dict

        return plan_to_dict(self.plan, self.certificate, self.bound)

    def save(self, path: str | Path, *, force: bool = False) -> PlanResult:
        """Write the plan file that every command reads.

        Parameters
        ----------
        path : str or Path
            Where to.
        force : bool
            Replace a file that is there.

        Returns
        -------
        PlanResult
            The same, with the file as its ``source``.

        Raises
        ------
        InputError
            The file is there already, or cannot be written.
        """
        try:
            write_text_atomic(Path(path), plan_to_json(self.plan), force=force)
        except InputError as error:
            # The message is the command's: here the option is an argument.
            raise InputError(
                [replace(one, fix=one.fix.replace("--force", "force=True")) for one in error.issues]
            ) from error
        return replace(self, source=str(path))

    def require_passed(self, or_else: str) -> None:
        """Go on only if the check passed.

        Parameters
        ----------
        or_else : str
            What comes of it otherwise, for the message: ``so no constants are written``.

        Raises
        ------
        CheckFailedError
            The check failed.
        """
        if not self.passed:
            where = f"{self.source}: " if self.source else ""
            raise CheckFailedError(
                f"{where}the check failed, {or_else}", failure_lines(self.certificate.rows)
            )


@dataclass(frozen=True)
class CheckResult(Result):
    """A certificate: one row a requirement, worst case against limit.

    Attributes
    ----------
    certificate : Certificate
        What the check found.
    inputs : Inputs
        The profiles that it was held against.
    """

    certificate: Certificate
    inputs: Inputs

    def __str__(self) -> str:
        from optimizer.report.certificate import certificate_report

        return certificate_report(self.certificate, self.inputs)

    @property
    def passed(self) -> bool:
        """Whether every requirement holds."""
        return self.certificate.passed

    @property
    def frame(self) -> DataFrame:
        """One row a requirement: limit, worst value, margin, and the point that caused it."""
        import pandas as pd

        from optimizer.report.certificate import rows_to_list

        return pd.DataFrame(rows_to_list(self.certificate.rows))

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.certificate import certificate_cautions, certificate_to_dict

        cautions = certificate_cautions(self.certificate, self.inputs)
        return {**certificate_to_dict(self.certificate), "cautions": cautions}


@dataclass(frozen=True)
class FaultsResult(Result):
    """What each single broken part does, and the guards that stand against it.

    Attributes
    ----------
    report : FaultReport
        One row a fault.
    """

    report: FaultReport

    def __str__(self) -> str:
        from optimizer.report.faults import fault_table

        return fault_table(self.report)

    @property
    def frame(self) -> DataFrame:
        """One row a fault: what happens, how bad, after how many seconds, which guard it asks for."""
        import pandas as pd

        rows = [asdict(row) | {"guards": "; ".join(row.guards)} for row in self.report.rows]
        return pd.DataFrame(rows)

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.faults import faults_to_dict

        return faults_to_dict(self.report)
