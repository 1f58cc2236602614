"""The log of a run: its times, temperatures, watts, litres and outputs, and how it ended."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from optimizer.check.phases import Outputs
from optimizer.errors import InputError, InputIssue
from optimizer.files import read_text
from optimizer.logs.log_columns import LogColumns, read_columns
from optimizer.logs.log_faults import (
    clock_issues,
    falling_meter_issues,
    gap_remarks,
    reading_issues,
    spike_issues,
)
from optimizer.logs.log_form import SWITCHES, TOLD, LogForm, first_and_how_many_more
from optimizer.profile.did_you_mean import choice_meant
from optimizer.profile.messages import written

Array = NDArray[np.float64]

MOST_LOG_BYTES = 16_000_000
"""Room for a day of seconds [B]."""

IN_PARTS = "review each part by itself"
EXAMPLE = "--columns time_s=t,bath_c=T1"
SAYS = ("bath", "ware", "power", "current", "water")
FORM = LogForm(
    holds=("time", *SAYS, *SWITCHES, *TOLD),
    needs=(("time",), ("bath", "ware", "power", "current", *SWITCHES)),
    first_line=f"time_s,bath_c,power_w,{','.join(SWITCHES)}",
    may_be_empty=SAYS,
    parted=IN_PARTS,
    or_said=f", or say what they are called here: {EXAMPLE}",
)
HASH = re.compile(r"^#.*\bprofiles ([0-9a-f]{64})\b", re.MULTILINE)
"""A note that says which profiles the plan was made of that ran."""


@dataclass(frozen=True)
class Segment:
    """A stretch of a log in which no output changes.

    Attributes
    ----------
    start_s, end_s : float
        When it begins and ends, by the log's clock [s].
    outputs : Outputs
        What is on.
    said : Outputs or None
        What the log says is on, where its watts show that nothing was; else None.
    element_share : float
        Power of the element over that of the rest of the run, by the watts [1].
    """

    start_s: float
    end_s: float
    outputs: Outputs
    said: Outputs | None = None
    element_share: float = 1.0

    @property
    def asked(self) -> Outputs:
        """What the controller switched on."""
        return self.outputs if self.said is None else self.said

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
    bath_c, ware_c, power_w, water_l : ndarray or None
        What was read [°C, W, l]; nan where a row leaves it out.
    segments : tuple of Segment
        What was on, in order; none where no outputs are logged.
    remarks : tuple of str
        What was noticed in the file.
    simulated : bool
        Whether it says of itself that no machine has run.
    error : int
        Why the controller says that the run ended, 0 if it says nothing [1].
    error_s : float
        When it first said so, by the log's clock [s].
    began : datetime or None
        Date and time of the first row, where the log has them.
    """

    subject: str
    time_s: Array
    bath_c: Array | None
    ware_c: Array | None
    power_w: Array | None
    segments: tuple[Segment, ...]
    remarks: tuple[str, ...]
    simulated: bool
    water_l: Array | None = None
    error: int = 0
    error_s: float = np.inf
    began: datetime | None = None


def read_run(
    path: Path, supply_v: float, called: dict[str, str] | None = None, input_sha256: str = ""
) -> RunLog:
    """Read the log of a run; amperes become watts at the supply's voltage.

    Parameters
    ----------
    path : Path
        The file.
    supply_v : float
        What makes watts of amperes [V].
    called : dict of str to str, optional
        How the file calls its columns, by the names that they have here.
    input_sha256 : str
        Hash of the profiles behind the plan; a log that names another one is refused.

    Raises
    ------
    InputError
        With the line of every issue, up to some of a kind.
    """
    subject = str(path)
    text = read_text(path, "log of a run", most_bytes=MOST_LOG_BYTES)
    columns = read_columns(text, subject, FORM, called)
    numbers = columns.numbers
    time_s = numbers["time"]
    read = {what: numbers[what] for what in SAYS if what in numbers and np.isfinite(numbers[what]).any()}
    issues = [
        *_of_another(subject, text, input_sha256),
        *clock_issues(columns, time_s, IN_PARTS),
        *(
            issue
            for what in ("bath", "ware")
            if what in read
            for issue in reading_issues(columns, what) or spike_issues(columns, what)
        ),
        *falling_meter_issues(columns),
        *_outputs_issues(columns),
    ]
    if "power" in read and "current" in read:
        rule, fix = "has watts and amperes", "one of the two: leave the other column out"
        issues.append(InputIssue(subject, columns.names["current"], rule, "", fix))
    if issues:
        raise InputError(first_and_how_many_more(subject, issues))
    power_w = read["current"] * supply_v if "current" in read else read.get("power")
    error, error_s = _error(numbers, time_s)
    over = columns.passed_over
    remarks = (*columns.remarks, *gap_remarks(time_s), *([f"not read: {', '.join(over)}"] if over else []))
    outputs = [numbers[name] > 0.5 for name in SWITCHES if name in numbers]
    return RunLog(
        subject=subject,
        time_s=time_s,
        bath_c=read.get("bath"),
        ware_c=read.get("ware"),
        power_w=power_w,
        segments=_segments(time_s, np.stack(outputs)) if outputs else (),
        remarks=remarks,
        simulated=bool(re.match(r"(#.*\n)*# simulated", text.lstrip("\ufeff"))),
        water_l=read.get("water"),
        error=error,
        error_s=error_s,
        began=columns.began,
    )


def read_called(texts: Sequence[str]) -> dict[str, str]:
    """Read what ``--columns`` maps: ``bath_c=T1,power_w=Plug``; by the name here, that in the file."""
    found, issues = dict[str, str](), list[InputIssue]()
    for pair in (pair for text in texts for pair in text.split(",")):
        ours, equals, theirs = (part.strip() for part in pair.partition("="))
        if not equals or not theirs:
            issues.append(InputIssue("--columns", "", "is a name here, = and a name there", pair, EXAMPLE))
        elif ours not in FORM.heads:
            meant = choice_meant(ours, list(FORM.heads))
            fix = f"did you mean {meant}?" if meant else f"one of {', '.join(FORM.heads)}"
            if theirs in FORM.heads:
                fix = f"the other way round: --columns {theirs}={ours}"
            issues.append(InputIssue("--columns", "", "names no column of a log", written(ours), fix))
        elif ours in found or theirs in found.values():
            issues.append(InputIssue("--columns", "", "names a column twice", written(pair), EXAMPLE))
        else:
            found[ours] = theirs
    if issues:
        raise InputError(issues)
    return found


def _of_another(subject: str, text: str, input_sha256: str) -> list[InputIssue]:
    """A log that says which plan it is of must be of this one."""
    said = HASH.search(text)
    if not said or not input_sha256 or said[1] == input_sha256:
        return []
    rule = "is the log of another plan: it names other profiles"
    found = f"{said[1][:12]}…, the plan has {input_sha256[:12]}…"
    return [InputIssue(subject, "", rule, found, "give the plan that ran")]


def _outputs_issues(columns: LogColumns) -> list[InputIssue]:
    """All four outputs or none."""
    there = [name for name in SWITCHES if name in columns.numbers]
    if len(there) in (0, len(SWITCHES)):
        return []
    missing = ", ".join(name for name in SWITCHES if name not in there)
    fix = "all four, or none: then the phases are found from the watts"
    return [InputIssue(columns.subject, ", ".join(there), f"are outputs, and {missing} is missing", "", fix)]


def _error(numbers: Mapping[str, Array], time_s: Array) -> tuple[int, float]:
    """What the controller first says that went wrong, and when; what a log begins with is of a run before."""
    codes = numbers.get("error")
    if codes is None:
        return 0, np.inf
    new = np.flatnonzero((codes[1:] != 0.0) & (codes[1:] != codes[:-1])) + 1
    return (int(codes[new[0]]), float(time_s[new[0]])) if len(new) else (0, np.inf)


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
