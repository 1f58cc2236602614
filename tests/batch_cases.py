"""Cases of studies, and workers that misbehave: functions a worker process finds by their name."""

from __future__ import annotations

import os
import signal
import time
from pathlib import Path

from optimizer.batch.answer import refused_answer
from optimizer.batch.cases import Case, StudyRequest, read_cases
from optimizer.batch.run_cases import Study
from optimizer.errors import NoPlanError, Reason
from optimizer.profile.shipped import profile_path

LOG = "STUDY_TEST_LOG"
"""Variable with the folder in which a worker notes what it was given."""

LONGEST_MIN = 240
"""Longest duration of the shipped goal that the others are copies of [min]."""


def copied(folder: Path, name: str, *changes: tuple[str, str], goal: str = "everyday") -> Path:
    """Copy a shipped goal to a file of its own, with changes."""
    text = profile_path("goal", goal).read_text(encoding="utf-8")
    for old, new in changes:
        assert old in text
        text = text.replace(old, new)
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def goals(folder: Path, count: int) -> tuple[str, ...]:
    """Write so many goals that differ in their longest duration."""
    lines = [f"duration_min = {LONGEST_MIN + number}" for number in range(count)]
    return tuple(str(copied(folder, f"g{i}.toml", (lines[0], line))) for i, line in enumerate(lines))


def three(folder: Path) -> list[Case]:
    """Three cases that differ in their goal."""
    return read_cases(StudyRequest(("clubhouse",), goals(folder, 3)))


def summed(study: Study) -> list[tuple[str, tuple[str, ...]] | None]:
    """What each case came to."""
    return [result and (result.status, result.why) for result in study.results]


def refused(*numbers: int) -> list[tuple[str, tuple[str, ...]]]:
    """What `answered` says of cases."""
    return [("no plan", (f"case {one}: asked much, nearest little",)) for one in numbers]


def number(case: Case) -> int:
    """Number of a goal of `goals`."""
    return round(case.inputs.goal.limits.duration_min) - LONGEST_MIN


def noted(case: Case) -> int:
    """Note that a worker was given a case, and count how often that was."""
    folder = Path(os.environ[LOG])
    tries = len(list(folder.glob(f"{number(case)}-*")))
    (folder / f"{number(case)}-{tries}-{os.getpid()}").touch()
    return tries


def given(folder: Path) -> list[int]:
    """Give the number of every case that a worker was given, in order of the numbers."""
    return sorted(int(path.name.split("-")[0]) for path in folder.iterdir())


def answered(case: Case) -> str:
    """Refuse a case, as quick as can be."""
    noted(case)
    reason = Reason(f"case {number(case)}", "much", "little")
    return refused_answer(case.key, NoPlanError("none", [reason]))


def answered_backwards(case: Case) -> str:
    """Answer a case, but the last of three, only when a worker has answered the next one."""
    folder = Path(os.environ[LOG])
    while number(case) < 2 and not list(folder.glob(f"{number(case) + 1}-*")):
        time.sleep(0.01)
    return answered(case)


def first_answered_others_hang(case: Case) -> str:
    """Answer the first case; the others would take an hour."""
    if number(case) > 0:
        time.sleep(3600.0)
    return answered(case)


def second_dies_once(case: Case) -> str:
    if number(case) == 1 and noted(case) == 0:
        os.kill(os.getpid(), signal.SIGKILL)
    return answered(case)


def second_always_dies(case: Case) -> str:
    if number(case) == 1:
        noted(case)
        os.kill(os.getpid(), signal.SIGKILL)
    return answered(case)


def second_answers_another(case: Case) -> str:
    text = answered(case)
    return text.replace(case.key, "0" * 64) if number(case) == 1 else text


def second_raises(case: Case) -> str:
    if number(case) == 1:
        raise RuntimeError("broken\nand more")
    return answered(case)
