"""Answers of studies: they print as their commands do and hold their numbers in frames."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

if TYPE_CHECKING:
    from pandas import DataFrame, Series

    from optimizer.batch.compare import Comparison
    from optimizer.measure.measurement import Measurement
    from optimizer.profile.machine import Machine
    from optimizer.programme.plan import Inputs
    from optimizer.starts.when import StartsAnswer
    from optimizer.whatif.explain import Explanation
    from optimizer.whatif.frontier import Frontier
    from optimizer.whatif.upgrades import Upgrades
    from optimizer.whatif.worth import Worth


from optimizer.files import write_text_atomic
from optimizer.library.results import PlanResult, Result


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

        found = self.comparison
        return comparison_report(found.table, found.runs_per_year, inputs=found.inputs)

    @property
    def frame(self) -> DataFrame:
        """One row a combination; the columns are those of the command's CSV."""
        return self.comparison.table

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.compare import comparison_to_dict

        found = self.comparison
        return comparison_to_dict(
            found.table, found.runs_per_year, interrupted=found.study.interrupted, inputs=found.inputs
        )


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
    def planned(self) -> PlanResult | None:
        """The programme that was chosen together with its start; None where one was given."""
        if self.answer.joint is None:
            return None
        proven = self.answer.joint.best.proven
        return PlanResult(proven.plan, proven.certificate)

    def to_csv(self) -> str:
        """Every start as CSV: UTC, local time with its offset, electricity, cost, currency."""
        from optimizer.report.starts import starts_to_csv

        return starts_to_csv(self.answer)

    @property
    def cheapest(self) -> Series[Any]:
        """The row of `frame` that costs least, the earliest of equals."""
        return self.frame.iloc[self.answer.scan.cheapest]

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

    def to_csv(self) -> str:
        """The points as CSV."""
        from optimizer.report.frontier import frontier_to_csv

        return frontier_to_csv(self.found)

    @property
    def plans(self) -> list[PlanResult]:
        """The plan of each point, in the order of `frame`."""
        return [PlanResult(point.proven.plan, point.proven.certificate) for point in self.found.points]

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.frontier import frontier_to_dict

        return frontier_to_dict(self.found)


@dataclass(frozen=True)
class MeasureResult(Result):
    """What a bench book says.

    Attributes
    ----------
    found : Measurement
        The estimates, what they leave open and the profile.
    before : Machine or None
        The profile that was there before, to be shown beside the new one.
    written : str or None
        The file that the profile is written to, for what to do next.
    """

    found: Measurement
    before: Machine | None = None
    written: str | None = None

    def __str__(self) -> str:
        from optimizer.report.measure import measure_report

        return measure_report(self.found, self.before, self.written)

    @property
    def frame(self) -> DataFrame:
        """One row a number: its ends in the unit of its key, readings, method."""
        import pandas as pd

        names = ("key", "nominal", "low", "high", "readings", "method", "test")
        return pd.DataFrame([{name: getattr(one, name) for name in names} for one in self.found.estimates])

    @property
    def machine(self) -> Machine | None:
        """The machine profile; None where numbers are missing."""
        return self.found.machine

    def inputs(self, goal: str, circuit: str | None = None, tariff: str | None = None) -> Inputs:
        """Put the machine together with a goal, as `load` does with a machine profile.

        Parameters
        ----------
        goal : str
            Name of a shipped profile, or a path.
        circuit, tariff : str, optional
            The same; the machine's usual ones where left out, paths counted from the book's folder.

        Returns
        -------
        Inputs
            The profiles, to be given to `plan` and the studies.

        Raises
        ------
        InputError
            Numbers are missing for a profile, or with the issues of the others.
        """
        from optimizer.programme.inputs import load_inputs

        self.found.text()  # names what is missing
        return load_inputs(self.found.book.subject, goal, circuit, tariff, made=self.found.machine)

    def save(self, path: str | Path, *, force: bool = False) -> None:
        """Write the profile as ``scullion measure --out`` does.

        Parameters
        ----------
        path : str or Path
            Where to.
        force : bool
            Replace a file that is there.

        Raises
        ------
        InputError
            Numbers are missing, the file is there and `force` is not given, or it cannot be written.
        """
        write_text_atomic(Path(path), self.found.text(), force=force)

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.measure import measure_to_dict

        return measure_to_dict(self.found, self.before)


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
    def any_plan(self) -> bool:
        """Whether there is a plan, now or with any of the changes."""
        return self.found.now is not None or any(row.proven is not None for row in self.found.rows)

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
class WorthResult(Result):
    """Which measurement to repeat.

    Attributes
    ----------
    found : Worth
        The intervals, each half as wide, planned and proven anew.
    runs_per_year : int
        Runs that a year's saving is for [1].
    """

    found: Worth
    runs_per_year: int

    def __str__(self) -> str:
        from optimizer.report.worth import worth_report

        return worth_report(self.found, self.runs_per_year)

    @property
    def any_plan(self) -> bool:
        """Whether there is a plan, now or with narrower intervals."""
        return self.found.any_plan

    @property
    def frame(self) -> DataFrame:
        """One row an interval: its ends, its test, how its planning ended, what it saves."""
        import pandas as pd

        columns = ("key", "unit", "nominal", "low", "high", "test", "minutes", "status")
        money = ("saving_per_run", "saving_per_year", "saving_per_year_and_minute")
        frame = pd.DataFrame(self.to_dict()["intervals"], columns=[*columns, *money])
        return frame.astype(dict.fromkeys(("minutes", *money), float))

    def to_dict(self) -> dict[str, Any]:
        from optimizer.report.worth import worth_to_dict

        return worth_to_dict(self.found, self.runs_per_year)


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
