"""A study that is stopped: by Ctrl-C, or because its parent is killed."""

from __future__ import annotations

import csv
import json
import os
import signal
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import psutil
import pytest
from batch_cases import LOG, goals
from patience import PATIENCE_S, wait_for

from optimizer.batch.cache import AnswerCache
from optimizer.batch.cases import StudyRequest, read_cases
from optimizer.interrupts import interrupts_held

ROOT = Path(__file__).resolve().parent.parent
ENV = os.environ | {"PYTHONPATH": os.pathsep.join(map(str, (ROOT, ROOT / "tests")))}

HANGS = """
import sys
import batch_cases
from optimizer.batch import workers
workers.solve_case = batch_cases.first_answered_others_hang
from optimizer.__main__ import main
main()
"""
"""The program, with workers that never end but for the first case."""

STRUCK = """
import os, signal
from concurrent.futures import _base

class Struck(_base._AcquireFutures):
    def __enter__(self):
        super().__enter__()
        if any(name.endswith(".answer") for name in os.listdir(CACHE)):
            _base._AcquireFutures = self.__class__.__base__
            os.kill(os.getpid(), signal.SIGINT)

_base._AcquireFutures = Struck
"""
"""Ctrl-C as the library has just locked the futures to wait for, once the first case is finished."""


@contextmanager
def study(folder: Path, count: int, *program: str) -> Iterator[tuple[subprocess.Popen[str], tuple[str, ...]]]:
    """Start a study in a process group of its own, as a terminal does."""
    names = goals(folder, count)
    log = folder / "log"
    log.mkdir()
    command = [
        sys.executable,
        *program,
        "compare",
        "--machine",
        "clubhouse",
        "--goal",
        ",".join(names),
    ]
    command += ["--jobs", "2", "--json", "--cache", str(folder / "cache"), "--csv", str(folder / "t.csv")]
    pipe = subprocess.PIPE
    with subprocess.Popen(
        command, stdout=pipe, stderr=pipe, text=True, start_new_session=True, env=ENV | {LOG: str(log)}
    ) as process:
        try:
            yield process, names
        finally:
            for child in (
                psutil.Process(process.pid).children(recursive=True) if process.poll() is None else []
            ):
                child.kill()
            process.kill()


SIGNAL_AT_BIRTH = """
import multiprocessing, os, signal, sys
import batch_cases
from pathlib import Path
from optimizer.batch import workers as module
module.solve_case = batch_cases.answered
workers = module.WorkerProcesses(2, module.solve_case)
futures = [workers.submit(case) for case in batch_cases.three(Path(sys.argv[1]))[:2]]
for child in multiprocessing.active_children():
    os.kill(child.pid, signal.SIGINT)
print(sum("no plan" in future.result() for future in futures))
workers.stop(at_once=False)
"""


def test_workers_leave_ctrl_c_to_their_parent_from_the_first_moment(tmp_path: Path, log: Path) -> None:
    """In a process of its own, in which nothing was ever started before."""
    command = [sys.executable, "-c", SIGNAL_AT_BIRTH, str(tmp_path)]
    done = subprocess.run(
        command, env=ENV | {LOG: str(log)}, capture_output=True, text=True, timeout=PATIENCE_S, check=False
    )
    assert (done.returncode, done.stdout, done.stderr) == (0, "2\n", "")


def test_ctrl_c_waits_for_the_end_of_what_must_not_be_cut() -> None:
    done = []

    def work() -> None:
        with interrupts_held():
            os.kill(os.getpid(), signal.SIGINT)
            time.sleep(0.05)
            done.append("block")
        done.append("after")

    with pytest.raises(KeyboardInterrupt):
        work()
    assert done == ["block"]
    assert signal.getsignal(signal.SIGINT) is signal.default_int_handler


def test_ctrl_c_stops_at_once_and_keeps_what_is_finished(tmp_path: Path) -> None:
    """At once: the cases that were begun take for ever."""
    with study(tmp_path, 12, "-c", HANGS) as (process, names):
        wait_for(lambda: list((tmp_path / "cache").glob("*.answer")))
        workers = psutil.Process(process.pid).children(recursive=True)
        os.killpg(process.pid, signal.SIGINT)
        out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 130
    wait_for(lambda: not any(worker.is_running() for worker in workers))
    assert_interrupted(tmp_path, names, out, err, "no plan")


def test_ctrl_c_in_the_librarys_own_code_stops_as_well(tmp_path: Path) -> None:
    """Raised there, it left a future locked, and the program waited for its worker without end."""
    cache = tmp_path / "cache"
    cache.mkdir()
    with study(tmp_path, 12, "-c", STRUCK.replace("CACHE", repr(str(cache))) + HANGS) as (process, names):
        out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 130
    assert_interrupted(tmp_path, names, out, err, "no plan")


@pytest.mark.slow
def test_ctrl_c_breaks_off_real_plans(tmp_path: Path) -> None:
    with study(tmp_path, 12, "-m", "optimizer") as (process, names):
        wait_for(lambda: list((tmp_path / "cache").glob("*.answer")))
        os.killpg(process.pid, signal.SIGINT)
        out, err = process.communicate(timeout=PATIENCE_S)
    assert process.returncode == 130
    assert_interrupted(tmp_path, names, out, err, "planned")


def assert_interrupted(folder: Path, names: tuple[str, ...], out: str, err: str, status: str) -> None:
    """What is finished stands in the answer, in the table and in the cache, the rest is said not to be."""
    assert "Traceback" not in err
    content = json.loads(out)
    statuses = [case["status"] for case in content["cases"]]
    finished = statuses.count(status)
    assert content["interrupted"] is True
    assert 1 <= finished < 12
    assert statuses.count("not finished") == 12 - finished
    assert f"Interrupted: {finished} of 12 cases finished." in err
    with (folder / "t.csv").open(encoding="utf-8", newline="") as file:
        assert [row["status"] for row in csv.DictReader(file)] == statuses
    cache = AnswerCache(folder / "cache")
    kept = [cache.find(case) is not None for case in read_cases(StudyRequest(("clubhouse",), names))]
    assert kept == [one == status for one in statuses]


def test_workers_end_with_their_parent(tmp_path: Path) -> None:
    with study(tmp_path, 4, "-c", HANGS) as (process, _):
        own = psutil.Process(process.pid)
        wait_for(lambda: len(own.children()) >= 2)
        workers = own.children(recursive=True)
        process.kill()
        process.communicate(timeout=PATIENCE_S)
        wait_for(lambda: not any(worker.is_running() for worker in workers))
