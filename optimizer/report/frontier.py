"""A frontier as a table, as CSV, as plain data and as a picture."""

from __future__ import annotations

import csv
import io
from typing import Any

from optimizer.planner.objective import Axis
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.cautions import cautions
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Plan
from optimizer.report.cautions import cautions_section
from optimizer.report.certificate import far_doses_of_plans
from optimizer.report.drawn import PictureForm, drawn
from optimizer.report.layout import columns, wrapped
from optimizer.report.numbers import amount, count, money_decimals, plain
from optimizer.report.rounds import kind_noun, rounds_to_list
from optimizer.whatif.frontier import Frontier, Point

SIZE_IN = (6.4, 4.4)
"""Width and height of the picture [in]."""

MARKS = {True: "knee", False: ""}
CSV_HEAD = (
    *("knee", "money", "duration_min", "electricity_kwh", "water_l", "detergent_g", "peak_a"),
    *(f"{kind}_rounds" for kind in KINDS),
    *("hottest_c", "currency"),
)


def axis_unit(axis: Axis, currency: str) -> str:
    """Name the unit of a quantity."""
    return {"cost": currency, "minutes": "min", "energy": "kWh", "water": "l"}[axis]


def frontier_report(found: Frontier) -> str:
    """Lay a frontier out."""
    parts = [wrapped(_verdict(found)), _table(found), "\n".join(wrapped(note) for note in _notes(found))]
    return "\n\n".join([*parts, cautions_section(found.inputs, after=_far_doses(found))])


def _far_doses(found: Frontier) -> list[str]:
    return far_doses_of_plans([point.proven.certificate for point in found.points])


def _verdict(found: Frontier) -> str:
    machine, goal, _, _ = found.inputs.names
    first, second = found.axes
    points = count(len(found.points), "plan")
    each = "each proven" if all(point.proven.certificate.proven for point in found.points) else "each checked"
    if found.interrupted:
        return f"{goal} on {machine}, {first} against {second}: interrupted; {points} so far, {each}."
    if len(found.points) == 1:
        return f"{goal} on {machine}: the plan with the least {first} has the least {second}, too."
    return (
        f"{goal} on {machine}, {first} against {second}: {points}, {each}; none has less {first} than "
        f"another without more {second}."
    )


def _table(found: Frontier) -> str:
    currency = found.inputs.tariff.currency
    heads = [("cost", currency), ("time", "min"), ("energy", "kWh"), ("water", "l"), ("hottest", "°C")]
    names, units = ([head[part] for head in heads] for part in (0, 1))
    decimals = money_decimals((point.proven.plan.costs.money for point in found.points), fine=True)
    rows = [
        [str(number + 1), MARKS[number == found.knee], *_cells(point, decimals), _rounds(point.proven.plan)]
        for number, point in enumerate(found.points)
    ]
    return columns([["plan", "", *names, "rounds"], ["", "", *units, ""], *rows], left=2, keys=2)


def _cells(point: Point, decimals: int) -> list[str]:
    costs = point.proven.plan.costs
    hottest = point.proven.certificate.trace.bath_c.max()
    return [
        amount(costs.money, decimals),
        f"{costs.duration_min:.0f}",
        f"{costs.electricity_kwh:.3f}",
        f"{costs.water_l:.1f}",
        f"{hottest:.0f}",
    ]


def _rounds(plan: Plan) -> str:
    kinds = [row.kind for row in plan.constants.rounds]
    counts = [(kind, kinds.count(kind)) for kind in KINDS]
    return ", ".join(f"{number} {kind_noun(kind, number)}" for kind, number in counts if number)


def _notes(found: Frontier) -> list[str]:
    notes = ["cost: the bill at the mean price of electricity, without the value of waiting."]
    if found.knee is not None:
        notes.append("knee: furthest below the straight line between the two ends.")
    if found.missed:
        caps = count(found.missed, "cap")
        notes.append(f"Under {caps} on the {found.axes[1]} between the ends no plan was found.")
    return notes


def frontier_to_csv(found: Frontier) -> str:
    """Give a frontier as CSV."""
    text = io.StringIO()
    rows = csv.writer(text, lineterminator="\n")
    rows.writerow(CSV_HEAD)
    for number, point in enumerate(found.points):
        plan, costs = point.proven.plan, point.proven.plan.costs
        kinds = [row.kind for row in plan.constants.rounds]
        amounts = (costs.money, costs.duration_min, costs.electricity_kwh, costs.water_l, costs.detergent_g)
        rows.writerow(
            [
                int(number == found.knee),
                *(f"{amount:.6f}" for amount in (*amounts, costs.peak_a)),
                *(kinds.count(kind) for kind in KINDS),
                f"{point.proven.certificate.trace.bath_c.max():.2f}",
                found.inputs.tariff.currency,
            ]
        )
    return text.getvalue()


def frontier_to_dict(found: Frontier) -> dict[str, Any]:
    """Give a frontier as plain data."""
    return {
        "names": dict(zip(PROFILE_KINDS, found.inputs.names, strict=True)),
        "currency": found.inputs.tariff.currency,
        "axes": list(found.axes),
        "points": [_point(point, knee=number == found.knee) for number, point in enumerate(found.points)],
        "missed_caps": found.missed,
        "interrupted": found.interrupted,
        "cautions": [*cautions(found.inputs), *_far_doses(found)],
    }


def _point(point: Point, *, knee: bool) -> dict[str, Any]:
    plan, certificate = point.proven.plan, point.proven.certificate
    return {
        "knee": knee,
        "run": {key: plain(value) for key, value in vars(plan.costs).items()},
        "rounds": rounds_to_list(plan, certificate.trace),
        "passed": certificate.passed,
        "proven": certificate.proven,
    }


def frontier_picture(found: Frontier, form: PictureForm) -> bytes:
    """Draw a frontier."""
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    xs, ys = zip(*(point.at for point in found.points), strict=True)
    figure = Figure(figsize=SIZE_IN, layout="constrained")
    FigureCanvasAgg(figure)
    axes = figure.add_subplot()
    # Between two points nothing was planned: the line is dotted.
    axes.plot(xs, ys, marker="o", linestyle=":", color="tab:blue")
    if found.knee is not None:
        at = found.points[found.knee].at
        axes.plot(*at, marker="o", markersize=11, fillstyle="none", color="tab:red")
        axes.annotate("knee", at, xytext=(8, 8), textcoords="offset points", color="tab:red")
    currency = found.inputs.tariff.currency
    labels = [f"{axis} of a run [{axis_unit(axis, currency)}]" for axis in found.axes]
    machine, goal, _, _ = found.inputs.names
    # A name may hold a dollar sign, which is no formula here, and letters that the font does not have.
    for put, text in ((axes.set_xlabel, labels[0]), (axes.set_ylabel, labels[1])):
        put(text, parse_math=False)
    axes.set_title(f"{goal} on {machine}", parse_math=False)
    axes.grid(visible=True, alpha=0.3)
    return drawn(figure, form)
