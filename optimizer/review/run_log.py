"""The log of a run: its times, temperatures, watts and outputs."""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from optimizer.check.phases import Outputs
from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.logs.log_columns import SWITCHES, LogForm, first_and_how_many_more, read_columns
from optimizer.logs.log_faults import clock_issues, gap_remarks, reading_issues

Array = NDArray[np.float64]

MOST_LOG_BYTES = 16_000_000
"""Room for a day of seconds [B]."""

FORM = LogForm(
    holds=("time", "bath", "ware", "power", "current", "water", *SWITCHES),
    needs=(("time",), ("bath", "ware"), *((name,) for name in SWITCHES)),
    first_line=f"time_s,bath_c,power_w,{','.join(SWITCHES)}",
)
IN_PARTS = "review each part by itself"


@dataclass(frozen=True)
class Segment:
    """A stretch of a log in which no output changes.

    Attributes
    ----------
    start_s, end_s : float
        When it begins and ends, by the log's clock [s].
    outputs : Outputs
        What is on.
    """

    start_s: float
    end_s: float
    outputs: Outputs

    @property
    def lasts_s(self) -> float:
        """How long it lasts [s]."""
        return self.end_s - self.start_s


@dataclass(frozen=True)
class RunLog:
    """A log of one run.

    Attributes
    ----------
    subject : str
        The file, for messages.
    time_s : ndarray, shape (rows,)
        Rising times [s].
    bath_c, ware_c, power_w : ndarray or None
        What was read [°C, W].
    segments : tuple of Segment
        What was on, in order.
    remarks : tuple of str
        What was noticed in the file.
    simulated : bool
        Whether it says of itself that no machine has run.
    """

    subject: str
    time_s: Array
    bath_c: Array | None
    ware_c: Array | None
    power_w: Array | None
    segments: tuple[Segment, ...]
    remarks: tuple[str, ...]
    simulated: bool


def read_run(path: Path, supply_v: float) -> RunLog:
    """Read the log of a run; amperes become watts at the supply's voltage.

    Raises
    ------
    InputError
        With the line of every issue, up to some of a kind.
    """
    subject = str(path)
    text = read_text(path, "log of a run", most_bytes=MOST_LOG_BYTES)
    columns = read_columns(text, subject, FORM)
    time_s = columns.numbers["time"]
    probes = [what for what in ("bath", "ware") if what in columns.numbers]
    issues = [
        *clock_issues(columns, time_s, IN_PARTS),
        *(issue for what in probes for issue in reading_issues(columns, what)),
    ]
    if "power" in columns.numbers and "current" in columns.numbers:
        rule, fix = "has watts and amperes", "one of the two: leave the other column out"
        issues.append(InputIssue(subject, columns.names["current"], rule, "", fix))
    if issues:
        raise InputError(first_and_how_many_more(subject, issues))
    power_w = columns.numbers.get("power")
    if "current" in columns.numbers:
        power_w = columns.numbers["current"] * supply_v
    return RunLog(
        subject=subject,
        time_s=time_s,
        bath_c=columns.numbers.get("bath"),
        ware_c=columns.numbers.get("ware"),
        power_w=power_w,
        segments=_segments(time_s, np.stack([columns.numbers[name] > 0.5 for name in SWITCHES])),
        remarks=(*columns.remarks, *gap_remarks(time_s)),
        simulated=text.lstrip("\ufeff").startswith("# simulated"),
    )


def _segments(time_s: Array, on: NDArray[np.bool_]) -> tuple[Segment, ...]:
    """Part a log where an output changes: at the row that has it so first."""
    inlet, element, wash_pump, drain_pump = range(4)
    changes = np.flatnonzero((on[:, 1:] != on[:, :-1]).any(axis=0)) + 1
    starts = np.concatenate([[0], changes])
    ends_s = np.append(time_s[changes], time_s[-1])
    return tuple(
        Segment(
            float(time_s[start]),
            float(end_s),
            Outputs(
                bool(on[inlet, start]),
                bool(on[element, start]),
                bool(on[wash_pump, start]),
                bool(on[drain_pump, start]),
            ),
        )
        for start, end_s in zip(starts, ends_s, strict=True)
    )
