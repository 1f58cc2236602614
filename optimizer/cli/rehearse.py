"""`scullion rehearse`: the log of a simulated run."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from optimizer.cli.options import ForceOption, JsonOption
from optimizer.cli.terminal import print_json, progress

rehearse_app = typer.Typer()

MOST_EVERY_S = 60


@rehearse_app.command()
def rehearse(
    plan: Annotated[Path, typer.Argument(metavar="PLAN", help="Plan file.")],
    seed: Annotated[int, typer.Option(min=0, help="Seed of the drawn machine and of the noise.")] = 1,
    drift: Annotated[
        list[str] | None,
        typer.Option(metavar="QUANTITY=±BY", help="What has drifted: element=-10%, inlet=+4; repeatable."),
    ] = None,
    every: Annotated[
        int, typer.Option(min=1, max=MOST_EVERY_S, help="Seconds between two lines of the log.")
    ] = 1,
    out: Annotated[Path | None, typer.Option(help="Where to write the log; printed if left out.")] = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Write the log of a simulated run.

    A machine is drawn from the profile's tolerances and runs the plan, with the noise of a cheap thermometer
    and of a plug-in meter: for trying a logger. The log says that it is simulated.
    """
    from optimizer.check.certify import misfits
    from optimizer.errors import InputError
    from optimizer.files import read_text, refuse_all_occupied, write_text_atomic
    from optimizer.library.job import plan_in
    from optimizer.review.drifts import read_drifts
    from optimizer.review.simulated_run import COLUMNS, simulate_run

    drifts = read_drifts(drift or [])
    refuse_all_occupied([out], force=force)
    planned = plan_in(read_text(plan, "plan"), str(plan))
    if issues := misfits(planned.constants, planned.inputs.machine):
        raise InputError(issues)
    with progress("simulating"):
        found = simulate_run(planned, seed, drifts, every)
    if out is not None:
        write_text_atomic(out, found.csv(), force=force)
    if as_json:
        content = {"note": found.note, "warning": found.warning or None, "machine": found.table}
        print_json({**content, "columns": COLUMNS, "rows": found.rows.tolist()})
    elif out is not None:
        print(f"{out}: {len(found.rows)} lines, {found.note}.")
        if found.warning:
            print(f"{found.warning[0].upper()}{found.warning[1:]}.")
    else:
        print(found.csv(), end="")
