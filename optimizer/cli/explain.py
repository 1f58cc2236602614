"""`scullion explain`: why a plan is what it is, and what each requirement costs."""

from __future__ import annotations

import typer

from optimizer.cli.check import passed_plan
from optimizer.cli.options import (
    ForceOption,
    JobsOption,
    JsonOption,
    PageOption,
    PlanArgument,
    SolverChoice,
    SolverOption,
)
from optimizer.cli.terminal import print_answer, progress
from optimizer.files import refuse_all_occupied

explain_app = typer.Typer()


@explain_app.command()
def explain(
    plan: PlanArgument,
    jobs: JobsOption = None,
    solver: SolverOption = SolverChoice.AUTO,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Say why a plan is what it is.

    What binds it and what a step less of that would save; what one round fewer or more, another level or
    other heat would cost or fall short of; and the next-best rounds. Ends with exit code 5 where the plan
    does not pass the check.
    """
    from optimizer.batch.workers import processors
    from optimizer.library import job, studies
    from optimizer.library.pages import write_answer

    refuse_all_occupied((page,), force=force)
    jobs = jobs or processors()
    with job.two_processes(jobs=jobs):
        planned = passed_plan(plan, "so there is nothing to explain")
        with progress("planning") as report:
            found = studies.explain(planned, jobs=jobs, solver=solver.value, tell=report)
    write_answer(page, f"Why {plan.name} is what it is", found, force=force)
    print_answer(found, as_json=as_json)
