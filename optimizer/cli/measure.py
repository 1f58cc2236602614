"""`scullion measure`: from a bench book to a machine profile."""

from __future__ import annotations

import sys
import warnings
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Annotated

import typer

from optimizer.cli.options import ForceOption, JsonOption, LikeOption, PageOption
from optimizer.cli.terminal import print_answer, progress
from optimizer.errors import InputError, InputIssue
from optimizer.files import (
    make_folder,
    read_text,
    refuse_all_occupied,
    refuse_folder,
    refuse_occupied,
    write_bytes_atomic,
)

if TYPE_CHECKING:
    from optimizer.measure.thermal_test import ThermalFit
    from optimizer.profile.machine import Machine

measure_app = typer.Typer()


@measure_app.command()
def measure(
    book: Annotated[
        str, typer.Argument(metavar="BOOK", help="Folder of a bench book, or the name of a shipped one.")
    ],
    out: Annotated[Path | None, typer.Option(help="Write the machine profile to this file.")] = None,
    like: LikeOption = None,
    plot: Annotated[
        Path | None,
        typer.Option(metavar="FOLDER", help="Draw each log with its fit into this folder."),
    ] = None,
    page: PageOption = None,
    force: ForceOption = False,
    as_json: JsonOption = False,
) -> None:
    """Make a machine profile of bucket, scales, stopwatch, meter and thermometer.

    Prints each number with its low and high end, from how many readings and how it came about, what stands
    against it, and what no test settles. All thermal logs are fitted together. Where --out is there already,
    --force replaces it, and old and new stand beside each other. scullion profiles new bench FOLDER writes a
    book to begin with.
    """
    from dataclasses import replace

    from optimizer.library import studies
    from optimizer.library.pages import write_answer
    from optimizer.report.measure import measured_note, plotted_note

    refuse_all_occupied((page,), force=force)
    before = None
    if out is not None:
        refuse_occupied(out, force=force)
        before = _before(out)
    if plot is not None:
        _require_plots(plot)
    with progress("reading") as report:
        found = replace(studies.measure_book(book, like, tell=report), before=before)
        found = replace(found, written=None if out is None else str(out))
        files = {} if out is None else {out: found.found.text().encode("utf-8")}
        if plot is not None:
            report("drawing")
            files |= _pictures(found.found.fit, plot)
    # A folder that is not there yet holds nothing in the way.
    refuse_all_occupied([path for path in files if path == out or path.parent.is_dir()], force=force)
    if plot is not None:
        make_folder(plot, "--plot")
    for path, content in files.items():
        write_bytes_atomic(path, content, force=force)
    write_answer(page, f"What {book} says", found, force=force)
    print_answer(found, as_json=as_json)
    if out is not None:
        print(measured_note(found.found, str(out)), file=sys.stderr)
    if plot is not None:
        print(plotted_note(len(files) - (out is not None), str(plot)), file=sys.stderr)


def _before(out: Path) -> Machine | None:
    """The profile that is there; a file that is none is never replaced."""
    from optimizer.profile.load import parse_profile
    from optimizer.profile.machine import Machine

    if not out.is_file():
        return None
    try:
        found = parse_profile("machine", read_text(out, "machine profile", own=True), str(out))
    except InputError as error:
        rule = "is there and is no machine profile, which this command would not replace"
        raise InputError([InputIssue(str(out), "", rule, "", "give another name"), *error.issues]) from error
    assert isinstance(found, Machine)
    return found


def _require_plots(folder: Path) -> None:
    """Refuse to draw before the work is done, where that cannot be."""
    from optimizer.report.drawn import require_matplotlib

    require_matplotlib()
    refuse_folder(folder, "--plot")


def _pictures(fit: ThermalFit, folder: Path) -> dict[Path, bytes]:
    """Draw the logs; what is there is replaced only where the command says so, so nothing is written yet."""
    from optimizer.measure.thermal_plot import plot_logs

    with TemporaryDirectory() as place, warnings.catch_warnings():
        # A name may have letters that the font does not have.
        warnings.simplefilter("ignore", UserWarning)
        return {folder / path.name: path.read_bytes() for path in plot_logs(fit, Path(place))}
