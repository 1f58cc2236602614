"""A certificate as a table, as lines of failures and as plain data."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import Any

from optimizer.check.certificate import Certificate, Row
from optimizer.report.layout import columns, wrapped
from optimizer.report.numbers import count, plain, short, with_unit

HOLDS = {True: "holds", False: "FAILS"}
INDENT = " " * 7


def certificate_report(certificate: Certificate) -> str:
    """Lay a certificate out: what fails first, then in the order of the check.

    Parameters
    ----------
    certificate : Certificate
        The result of a check.

    Returns
    -------
    str
        One sentence, then for each requirement a line of words and one of numbers.
    """
    return f"{wrapped(_verdict(certificate))}\n\n{_table(certificate.rows)}"


def bench_report(rows: Sequence[Row], total_s: int) -> str:
    """Lay out the check of a bench run.

    Parameters
    ----------
    rows : sequence of Row
        What was checked.
    total_s : int
        How long the bench run takes [s].

    Returns
    -------
    str
        One sentence, then the rows as in a certificate.
    """
    asked, failed = count(len(rows), "requirement"), sum(not row.passed for row in rows)
    verdict = f"Bench run of {total_s} s, proven harmless: {asked} met. It washes nothing."
    if failed:
        verdict = f"BENCH RUN NOT PROVEN: {failed} of {asked} not met. Do not run it."
    return f"{wrapped(verdict)}\n\n{_table(rows)}"


def _table(rows: Sequence[Row]) -> str:
    """Two lines a row, those that fail first."""
    rows = sorted(rows, key=lambda row: row.passed)
    head, *numbers = columns([("limit", "worst", "margin"), *(_cells(row) for row in rows)]).splitlines()
    out = [f"{INDENT}{head}  corner"]
    for row, line in zip(rows, numbers, strict=True):
        out.append(wrapped(row.requirement, f"{HOLDS[row.passed]:<{len(INDENT)}}"))
        out.append(wrapped(row.corner, f"{INDENT}{line}  "))
    return "\n".join(out)


def runs(certificate: Certificate) -> str:
    """Say how much was tried.

    Parameters
    ----------
    certificate : Certificate
        The result of a check.

    Returns
    -------
    str
        For example ``128 corners and 64 draws``.
    """
    return f"{count(certificate.corners, 'corner')} and {count(certificate.draws, 'draw')}"


def _verdict(certificate: Certificate) -> str:
    asked = count(len(certificate.rows), "requirement")
    tried = f"{runs(certificate)} (seed {certificate.seed})"
    failed = sum(not row.passed for row in certificate.rows)
    if not failed:
        return f"Proven: {asked} met in {tried}."
    return f"NOT PROVEN: {failed} of {asked} not met in {tried}. Do not run this programme."


def _cells(row: Row) -> tuple[str, ...]:
    limit = with_unit(f"{row.sense} {short(row.limit)}", row.unit)
    return limit, short(row.worst), short(row.margin, 2)


def margin_line(row: Row) -> str:
    """Say in words how far the worst case stays from its limit, and which corner it is.

    Parameters
    ----------
    row : Row
        A requirement.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    return f"{margin_words(row)} ({row.corner})"


def margin_words(row: Row) -> str:
    """Say in words how far the worst case stays from its limit.

    Parameters
    ----------
    row : Row
        A requirement.

    Returns
    -------
    str
        One sentence without a full stop.
    """
    unit = "K" if row.unit == "°C" else row.unit
    gap = with_unit(short(abs(row.margin), 2), unit)
    to_spare = f"{gap} to spare" if row.passed else f"{gap} SHORT"
    worst, limit = with_unit(short(row.worst), row.unit), with_unit(short(row.limit), row.unit)
    return f"{row.requirement}: {worst}, {row.sense} {limit} asked, {to_spare}"


def failure_lines(rows: Iterable[Row]) -> list[str]:
    """Give a line for each requirement that does not hold.

    Parameters
    ----------
    rows : iterable of Row
        The rows of a check.

    Returns
    -------
    list of str
        Empty where all hold.
    """
    return [margin_line(row) for row in rows if not row.passed]


def certificate_to_dict(certificate: Certificate) -> dict[str, Any]:
    """Give a certificate as plain data.

    Parameters
    ----------
    certificate : Certificate
        The result of a check.

    Returns
    -------
    dict
        Counts and rows; a number that is none (nan, infinite) is None.
    """
    return {
        "proven": certificate.passed,
        "corners": certificate.corners,
        "draws": certificate.draws,
        "seed": certificate.seed,
        "requirements": rows_to_list(certificate.rows),
    }


def bench_to_dict(rows: Sequence[Row], total_s: int) -> dict[str, Any]:
    """Give the check of a bench run as plain data.

    Parameters
    ----------
    rows : sequence of Row
        What was checked.
    total_s : int
        How long the bench run takes [s].

    Returns
    -------
    dict
        Verdict, length and rows.
    """
    proven = all(row.passed for row in rows)
    return {"bench_run": True, "proven": proven, "total_s": total_s, "requirements": rows_to_list(rows)}


def rows_to_list(rows: Iterable[Row]) -> list[dict[str, Any]]:
    """Give rows as plain data.

    Parameters
    ----------
    rows : iterable of Row
        The rows.

    Returns
    -------
    list of dict
        One a row; a number that is none (nan, infinite) is None.
    """
    return [
        {
            "key": row.key,
            "requirement": row.requirement,
            "unit": row.unit,
            "sense": row.sense,
            "limit": plain(row.limit),
            "worst": plain(row.worst),
            "margin": plain(row.margin),
            "holds": row.passed,
            "corner": row.corner,
        }
        for row in rows
    ]
