"""What the library gives back: answers that print as their commands do, with their numbers in frames."""

from __future__ import annotations

from abc import ABC, abstractmethod
from dataclasses import asdict, dataclass
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer.check.certificate import Certificate
from optimizer.check.faults.outcome import FaultReport
from optimizer.errors import CheckFailedError
from optimizer.programme.plan import Inputs, Plan

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from optimizer.batch.compare import Comparison
    from optimizer.starts.when import StartsAnswer
    from optimizer.whatif.explain import Explanation
    from optimizer.whatif.frontier import Frontier
    from optimizer.whatif.upgrades import Upgrades


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
    """

    plan: Plan
    certificate: Certificate

    def __str__(self) -> str:
        return self.report()

    def report(self, plan_file: str | None = None) -> str:
        """Lay the plan out as ``scullion plan`` does.

        Parameters
        ----------
        plan_file : str, optional
            Where the plan has been written: the next steps then name it.

        Returns
        -------
        str
            The report.
        """
        from optimizer.report.plan import plan_report

        return plan_report(self.plan, self.certificate, plan_file)

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

        return plan_to_dict(self.plan, self.certificate)

    def save(self, path: str | Path, *, force: bool = False) -> None:
        """Write the plan file that every command reads.

        Parameters
        ----------
        path : str or Path
            Where to.
        force : bool
            Replace a file that is there.

        Raises
        ------
        InputError
            The file is there already, or cannot be written.
        """
        from optimizer.files import write_text_atomic
        from optimizer.programme.planfile import plan_to_json

        write_text_atomic(Path(path), plan_to_json(self.plan), force=force)

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
        from optimizer.check.certificate import failure_lines

        if not self.passed:
            raise CheckFailedError(f"the check failed, {or_else}", failure_lines(self.certificate.rows))


@dataclass(frozen=True)
class CheckResult(Result):
    """A certificate: one row a requirement, worst case against limit.

    Attributes
    ----------
    certificate : Certificate
        What the check found.
    """

    certificate: Certificate

    def __str__(self) -> str:
        from optimizer.report.certificate import certificate_report

        return certificate_report(self.certificate)

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
        from optimizer.report.certificate import certificate_to_dict

        return certificate_to_dict(self.certificate)


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


@dataclass(frozen=True)
class ComparisonResult(Result):
    """Every combination of the profiles asked for, one row each.

    Attributes
    ----------
    comparison : Comparison
        The table and how the work ended.
    """

    comparison: Comparison

    def __str__(self) -> str:
        from optimizer.report.compare import comparison_report

        return comparison_report(self.comparison.table, self.comparison.runs_per_year)

    @property
    def frame(self) -> DataFrame:
        """One row a combination; the columns are those of the command's CSV."""
        return self.comparison.table

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.compare import comparison_to_dict

        found = self.comparison
        return comparison_to_dict(found.table, found.runs_per_year, interrupted=found.study.interrupted)


@dataclass(frozen=True)
class StartsResult(Result):
    """What a run costs at every possible start.

    Attributes
    ----------
    answer : StartsAnswer
        The starts with their costs; with them, where it was asked for, the programmes that were tried.
    """

    answer: StartsAnswer

    def __str__(self) -> str:
        from optimizer.report.starts import starts_report

        return starts_report(self.answer)

    @property
    def frame(self) -> DataFrame:
        """One row a start: its time, in UTC and on the tariff's clock, and the cost of a run."""
        import pandas as pd

        scan = self.answer.scan
        start = pd.to_datetime(pd.Series(scan.starts_s), unit="s", utc=True)
        columns = {"start_utc": start, "start_local": start.dt.tz_convert(str(scan.hours.zone))}
        return pd.DataFrame(columns | {"electricity": scan.costs - scan.run.fixed, "cost": scan.costs})

    @property
    def cheapest(self) -> Series[Any]:
        """The row of `frame` that costs least, the earliest of equals."""
        frame = self.frame
        return frame.iloc[int(frame["cost"].to_numpy().argmin())]

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.starts import starts_to_dict

        return starts_to_dict(self.answer)


@dataclass(frozen=True)
class FrontierResult(Result):
    """Plans of which none is better than another in both of two quantities.

    Attributes
    ----------
    found : Frontier
        The points with their plans.
    """

    found: Frontier

    def __str__(self) -> str:
        from optimizer.report.frontier import frontier_report

        return frontier_report(self.found)

    @property
    def frame(self) -> DataFrame:
        """One row a point, from the least of the first quantity to the least of the second."""
        import pandas as pd

        return pd.DataFrame([asdict(point.proven.plan.costs) for point in self.found.points])

    @property
    def plans(self) -> list[PlanResult]:
        """The plan of each point, in the order of `frame`."""
        return [PlanResult(point.proven.plan, point.proven.certificate) for point in self.found.points]

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.frontier import frontier_to_dict

        return frontier_to_dict(self.found)


@dataclass(frozen=True)
class UpgradesResult(Result):
    """What one change to machine, circuit or goal would buy.

    Attributes
    ----------
    found : Upgrades
        The changes, each planned and proven anew.
    runs_per_year : int
        Runs that a year's saving is for [1].
    """

    found: Upgrades
    runs_per_year: int

    def __str__(self) -> str:
        from optimizer.report.upgrades import upgrades_report

        return upgrades_report(self.found, self.runs_per_year)

    @property
    def frame(self) -> DataFrame:
        """One row a change: what it is, how its planning ended, what it saves a run and a year."""
        import pandas as pd

        rows = [
            {
                "key": row.change.key,
                "change": row.change.words,
                "status": row.status,
                "saving_a_run": row.saving,
                "saving_a_year": None if row.saving is None else row.saving * self.runs_per_year,
            }
            for row in self.found.rows
        ]
        return pd.DataFrame(rows).astype({"saving_a_run": float, "saving_a_year": float})

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.upgrades import upgrades_to_dict

        return upgrades_to_dict(self.found, self.runs_per_year)


@dataclass(frozen=True)
class ExplainResult(Result):
    """Why a plan is what it is.

    Attributes
    ----------
    found : Explanation
        What binds, and what else the programme might have been.
    """

    found: Explanation

    def __str__(self) -> str:
        from optimizer.report.explain import explain_report

        return explain_report(self.found)

    @property
    def frame(self) -> DataFrame:
        """One row a binding requirement, with what a run saves when it is eased by a step."""
        import pandas as pd

        return pd.json_normalize(self.to_dict()["binding"])

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.explain import explain_to_dict

        return explain_to_dict(self.found)
