"""Many cases: who does them, in what order they come back, and dead workers."""

from __future__ import annotations

import multiprocessing
from collections.abc import Callable
from concurrent.futures import wait
from contextlib import suppress
from pathlib import Path

import batch_cases
import pytest
from batch_cases import copied, given, refused, summed, three

from optimizer.batch import run_cases as pool
from optimizer.batch import workers
from optimizer.batch.cache import AnswerCache
from optimizer.batch.cases import Case, StudyRequest, read_cases
from optimizer.batch.run_cases import Progress, Study, WorkerSettings, run_cases


def run_with(
    worker: Callable[[Case], str], cases: list[Case], monkeypatch: pytest.MonkeyPatch, jobs: int = 2
) -> Study:
    monkeypatch.setattr(workers, "solve_case", worker)
    return run_cases(cases, WorkerSettings(jobs=jobs))


def test_results_come_in_the_order_of_the_cases(
    tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    told: list[Progress] = []
    monkeypatch.setattr(workers, "solve_case", batch_cases.answered_backwards)
    study = run_cases(three(tmp_path), WorkerSettings(jobs=3), told.append)
    assert summed(study) == refused(0, 1, 2)
    assert told == [Progress(3, finished, 0) for finished in range(4)]
    assert (given(log), study.interrupted) == ([0, 1, 2], False)


def test_equal_cases_are_planned_once(tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    twins = tuple(str(copied(tmp_path, name)) for name in ("a.toml", "b.toml"))
    study = run_with(batch_cases.answered, read_cases(StudyRequest(("clubhouse",), twins)), monkeypatch)
    assert given(log) == [0]
    assert [result.case.inputs.names[1] for result in study.results if result] == list(twins)
    assert study.progress == Progress(1, 1, 0)


def test_case_of_a_dead_worker_is_given_out_again(
    tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = run_with(batch_cases.second_dies_once, three(tmp_path), monkeypatch)
    assert summed(study) == refused(0, 1, 2)
    # Noted before it died, when it came back, and when it was answered; the others once.
    assert given(log) == [0, 1, 1, 1, 2]


def test_case_that_kills_its_worker_twice_has_failed_and_no_other(
    tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "solve_case", batch_cases.second_always_dies)
    cases, cache = three(tmp_path), tmp_path / "cache"
    study = run_cases(cases, WorkerSettings(jobs=2, cache=cache))
    assert [one and one[0] for one in summed(study)] == ["no plan", "failed", "no plan"]
    assert "died" in summed(study)[1][1][0]
    assert given(log) == [0, 1, 1, 2]
    assert [AnswerCache(cache).find(case) is not None for case in cases] == [True, False, True]


def test_worker_that_dies_without_a_case_is_replaced(
    tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(workers, "solve_case", batch_cases.answered)
    before = set(multiprocessing.active_children())
    processes = workers.WorkerProcesses(1, workers.solve_case)
    first, second, _ = three(tmp_path)
    try:
        done = processes.submit(first)
        wait([done])
        assert "case 0" in processes.answer(done)
        (child,) = set(multiprocessing.active_children()) - before
        child.kill()
        child.join()
        for _ in range(2):  # where its death was not noticed yet, the case goes down with it
            done = processes.submit(second)
            wait([done])
            with suppress(workers.WorkerDiedError):
                assert "case 1" in processes.answer(done)
                break
        assert given(log) == [0, 1]
    finally:
        processes.stop(at_once=True)


@pytest.mark.parametrize(
    ("worker", "says"),
    [
        (batch_cases.second_answers_another, "answers another case"),
        (batch_cases.second_raises, "RuntimeError: broken"),
    ],
)
def test_no_case_costs_the_others(
    worker: Callable[[Case], str], says: str, tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    study = run_with(worker, three(tmp_path), monkeypatch, jobs=1)
    assert [summed(study)[i] for i in (0, 2)] == refused(0, 2)
    status, why = summed(study)[1]
    assert status == "failed"
    assert says in why[0]
    assert "\n" not in why[0]


def test_fault_of_the_tool_is_an_answer(monkeypatch: pytest.MonkeyPatch) -> None:
    def broken(*_: object, **__: object) -> None:
        raise ZeroDivisionError("float division")

    monkeypatch.setattr(workers, "plan_and_prove", broken)
    (case,) = read_cases(StudyRequest(("clubhouse",), ("everyday",)))
    result = pool.read_answer(workers.solve_case(case), case)
    assert (result.status, result.why) == (
        "failed",
        ("bug in scullion: ZeroDivisionError: float division",),
    )


def test_worker_of_another_version_does_not_answer() -> None:
    (case,) = read_cases(StudyRequest(("clubhouse",), ("everyday",)))
    stranger = Case(case.inputs, "scullion 9.9.9", "auto")
    result = pool.read_answer(workers.solve_case(stranger), stranger)
    assert result.status == "failed"
    assert "another version" in result.why[0]
