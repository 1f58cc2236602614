"""Answers as one HTML file each."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from html import escape
from pathlib import Path
from typing import TYPE_CHECKING, Any

from optimizer.errors import InputError, InputIssue
from optimizer.files import write_text_atomic

if TYPE_CHECKING:
    from optimizer.check.certificate import Certificate
    from optimizer.check.faults.outcome import FaultReport
    from optimizer.page.drawing import Chart
    from optimizer.programme.plan import Plan
    from optimizer.review.reviewed import Reviewed
    from optimizer.review.trends import Trend
    from optimizer.trial.soil_fit import SoilFit

NEEDS = {"jinja2": "Jinja2", "matplotlib": "matplotlib"}
"""Libraries that a page is made with: name of the import, name of the package."""

FRAME = (
    '<iframe title="{title}" srcdoc="{page}" sandbox="" style="width: 100%; height: 48rem; border: 0">'
    "</iframe>"
)


def page_text(plan: Plan, certificate: Certificate, faults: FaultReport | None = None) -> str:
    """Write the page of a plan; `InputError` where a library for it is missing."""
    require_page_libraries()
    from optimizer.page.plan_page import plan_page

    return plan_page(plan, certificate, faults)


def answer_text(title: str, answer: Any) -> str:
    """Write the page of an answer of a study; a frontier has the rounds of each plan at hand."""
    require_page_libraries()
    from optimizer.measure.measurement import Measurement
    from optimizer.page.answer_charts import frontier_chart
    from optimizer.page.answer_page import Rounds, answer_page
    from optimizer.page.log_charts import fit_charts
    from optimizer.report.rounds import rounds_cells
    from optimizer.whatif.frontier import Frontier

    found = getattr(answer, "found", None)
    rounds: list[Rounds] = []
    charts: list[Chart] = []
    if isinstance(found, Frontier):
        charts.append(frontier_chart(found))
        proven = [point.proven for point in found.points]
        rounds += [
            Rounds(f"plan {number}", rounds_cells(one.plan, one.certificate.trace))
            for number, one in enumerate(proven, start=1)
        ]
    elif isinstance(found, Measurement):
        charts += fit_charts(found.fit)
    return answer_page(title, lambda: str(answer), charts, rounds)


def write_answer(path: Path | None, title: str, answer: Any, *, force: bool) -> None:
    """Write the page of an answer to a file, if one is asked for."""
    if path is not None:
        write_text_atomic(path, answer_text(title, answer), force=force)


def write_page(
    path: Path | None,
    title: str,
    said: Callable[[], str],
    drawn: Callable[[], Sequence[Chart]],
    *,
    force: bool,
) -> None:
    """Write the page of an answer to a file, if one is asked for; ``said`` lays its words out."""
    if path is None:
        return
    require_page_libraries()
    from optimizer.page.answer_page import answer_page

    write_text_atomic(path, answer_page(title, said, drawn()), force=force)


def run_drawn(plan: Plan, found: Reviewed) -> Sequence[Chart]:
    """Draw the log of a run."""
    from optimizer.page.log_charts import run_charts

    return run_charts(plan, found)


def runs_drawn(followed: Sequence[Trend]) -> Sequence[Chart]:
    """Draw each quantity over many runs."""
    from optimizer.page.trend_charts import trend_charts

    return trend_charts(followed)


def trials_drawn(fits: Sequence[SoilFit]) -> Sequence[Chart]:
    """Draw each soil of a trial book."""
    from optimizer.page.answer_charts import trial_charts

    return trial_charts(fits)


def require_page_libraries() -> None:
    """Refuse, where a library that pages are made with is missing."""
    from importlib.util import find_spec

    missing = [package for name, package in NEEDS.items() if find_spec(name) is None]
    if missing:
        rule = f"needs {' and '.join(missing)}, which {'is' if len(missing) == 1 else 'are'} not installed"
        fix = f"pip install {' '.join(missing)}"
        raise InputError([InputIssue("page", "", rule, "", fix)])


def framed(title: str, text: str) -> str:
    """Put a page in a frame, so that a notebook's own style and the page's do not meet."""
    return FRAME.format(title=escape(title), page=escape(text))
