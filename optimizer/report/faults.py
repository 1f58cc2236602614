"""The single faults as a table and as plain data."""

from __future__ import annotations

from dataclasses import asdict
from typing import Any

from optimizer.check.faults.guard_words import DISPENSER
from optimizer.check.faults.outcome import FaultReport, FaultRow, Severity, guards_needed
from optimizer.report.layout import NOTHING, column_lines, wrapped
from optimizer.report.numbers import count, mmss, plain

MARKS: dict[Severity, str] = {
    "harmless": "holds",
    "spoils the wash": "spoils",
    "latent": "latent",
    "damage": "DAMAGE",
    "danger": "DANGER",
}
INDENT = " " * 8
HEADS = (("after", "round", "bath", "level", "bare"), ("m:ss", "", "°C", "l", "m:ss"))
"""The last column is about the element, and is left out where there is none."""
OVER = "+"
WHY_GUARDS = (
    "A controller can hang and its relays can weld; {} work without the two. Their own contacts can weld "
    "too: try them as the tests below say."
)

LEGEND = (
    "after: from the first second in which the machine does not do as it is told to the worst harm, at the "
    "earliest in the cases run. round: the one in which that begins (0: before the first). bath, level: the "
    f"most met ({OVER}: it runs over). DANGER: it may hurt somebody, or set on fire. DAMAGE: of machine, "
    "drain or ware, or ware that nobody may use. spoils: not clean. latent: a guard is dead, and nothing "
    "shows it until it is needed. "
    "Where no case passes a limit within its reach, points that a search aims at it are run too. All numbers "
    "are of what was run: no bound."
)
ELEMENT_LEGEND = (
    f" bare: the element is on and not covered ({OVER}: for so long or longer); how hot it gets then is not "
    "modelled: it burns. A tank that was hotter than it stands: look for what has warped, and see that it "
    "holds cold water, before it is started again."
)


def fault_table(report: FaultReport) -> str:
    """Lay out the faults, each with its numbers, what happens and its guards; then all guards together."""
    rows = [report.sound, *report.rows]
    shown = len(HEADS[0]) if report.has_element else len(HEADS[0]) - 1
    cells = [line[:shown] for line in (*HEADS, *map(fault_cells, rows))]
    numbers = column_lines(cells, indent=INDENT)
    head = f"SINGLE FAULTS, each alone with the constants, worst of {cases_words(report)}"
    out = [wrapped(head), *numbers[:2]]
    for row, line in zip(rows, numbers[2:], strict=True):
        out += _lines(row, line)
    return "\n".join([*out, "", wrapped(fault_legend(report)), "", *_guards(report)])


def cases_words(report: FaultReport) -> str:
    """Say in how many cases faults were run: ``49 cases (power cuts: 25)``."""
    cuts = f" (power cuts: {report.cut_cases})" if report.cut_cases else ""
    return f"{count(len(report.corners), 'case')}{cuts}"


def fault_legend(report: FaultReport) -> str:
    """Say what the columns mean."""
    return LEGEND + (ELEMENT_LEGEND if report.has_element else "")


def _lines(row: FaultRow, numbers: str) -> list[str]:
    lines = [wrapped(row.fault, f"{MARKS[row.severity]:<{len(INDENT)}}"), numbers]
    lines += [wrapped(row.happens, INDENT)] if row.happens else []
    lines += [wrapped(row.guard, f"{INDENT}guard: ", f"{INDENT}  ")] if row.guard else []
    return lines


def fault_cells(row: FaultRow) -> tuple[str, ...]:
    """Give the numbers of a fault as they are printed, in the order of `HEADS`."""
    return (
        NOTHING if row.after_s is None else mmss(row.after_s),
        NOTHING if row.round is None else str(row.round),
        f"{row.bath_c:.0f}",
        f"{row.level_l:.1f}{OVER if row.overflows else ' '}",
        f"{mmss(row.uncovered_s)}{OVER}" if row.uncovered_s else f"{NOTHING} ",
    )


def _guards(report: FaultReport) -> list[str]:
    """Name the guards that are not optional, then the others."""
    must = "; ".join(report.not_optional)
    dispenses = any(guard.startswith(DISPENSER) for guard in report.not_optional)
    why = WHY_GUARDS.format("all but the dispenser" if dispenses else "these")
    lines = [wrapped(f"NOT OPTIONAL, whatever the constants: {must}. {why}")]
    others = guards_needed(report)[len(report.not_optional) :]
    if others:
        lines += ["These faults ask for, besides:", *(wrapped(guard, "- ") for guard in others)]
    return lines


def faults_to_dict(report: FaultReport) -> dict[str, Any]:
    """Give the faults as plain data: the run without one, each fault, the guards."""
    return {
        "cases": list(report.corners),
        "cut_cases": report.cut_cases or len(report.corners),
        "sound": _to_dict(report.sound),
        "faults": [_to_dict(row) for row in report.rows],
        "not_optional": list(report.not_optional),
        "guards": guards_needed(report),
    }


def _to_dict(row: FaultRow) -> dict[str, Any]:
    return {key: plain(value) if isinstance(value, float) else value for key, value in asdict(row).items()}
