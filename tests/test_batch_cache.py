"""Cases of a study: the key that names each, and the folder in which answers are kept."""

from __future__ import annotations

import json
import os
import pickle
import subprocess
import sys
from dataclasses import replace
from pathlib import Path

import batch_cases
import pytest
from batch_cases import copied, given, refused, summed, three
from calling import call

from optimizer.batch import cases as cases_module
from optimizer.batch import run_cases as pool
from optimizer.batch import workers
from optimizer.batch.cache import AnswerCache
from optimizer.batch.cases import Case, StudyRequest, read_cases
from optimizer.batch.run_cases import Progress, WorkerSettings, run_cases
from optimizer.errors import EXIT_NO_PLAN

ROOT = Path(__file__).resolve().parent.parent


# --- the key


def test_key_counts_content_and_not_names(tmp_path: Path) -> None:
    again, other = (
        copied(tmp_path, "again.toml"),
        copied(tmp_path, "other.toml", ("time_weight = 1", "time_weight = 2")),
    )
    shipped, same, changed, dearer = read_cases(
        StudyRequest(("clubhouse",), ("everyday", str(again), str(other)), tariffs=("two-rate",))
    ) + read_cases(StudyRequest(("clubhouse",), ("everyday",), tariffs=("flat",)))
    assert shipped.key == same.key
    assert len({shipped.key, changed.key, dearer.key}) == 3


def test_key_counts_solver_and_source() -> None:
    (case,) = read_cases(StudyRequest(("clubhouse",), ("everyday",)))
    (by_cbc,) = read_cases(StudyRequest(("clubhouse",), ("everyday",), solver="cbc"))
    assert case.key != by_cbc.key
    assert case.engine.startswith("scullion 0.")
    assert ("HiGHS" in case.engine, "CBC" in by_cbc.engine) == (True, True)
    assert case.engine == cases_module.engine("auto")
    other_source = cases_module.engine("auto", ("units.py",))
    assert replace(case, engine=other_source).key != case.key


def test_key_is_the_same_in_another_process() -> None:
    """Whose texts have other hashes: those of this process are drawn as it starts."""
    (case,) = read_cases(StudyRequest(("narrowboat",), ("glasses",)))
    asked = "StudyRequest(('narrowboat',), ('glasses',))"
    code = f"from optimizer.batch.cases import *;print(read_cases({asked})[0].key)"
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, env=os.environ | {"PYTHONHASHSEED": "1"},
        capture_output=True, text=True, check=True,
    )  # fmt: skip
    assert done.stdout.strip() == case.key


def test_every_fault_of_every_profile_once(tmp_path: Path) -> None:
    bad = copied(tmp_path, "bad.toml", ("duration_min = 240", "duration_min = -1"))
    with pytest.raises(cases_module.InputError) as caught:
        read_cases(StudyRequest(("no-machine", "clubhouse"), ("no-goal", str(bad)), ("no-circuit",)))
    text = str(caught.value)
    assert len(caught.value.issues) == 4
    assert all(name in text for name in ("no-machine", "no-goal", "no-circuit", "limits.duration_min"))


# --- what is cached


def kept(folder: Path) -> tuple[list[Case], Path]:
    """Three cases and the folder that holds their answers."""
    cases, cache = three(folder), folder / "cache"
    for case in cases:
        AnswerCache(cache).put(batch_cases.answered(case), case)
    return cases, cache


def test_kept_answers_need_no_worker(tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cases, cache = kept(tmp_path)

    def no_workers(*_: object) -> None:
        raise AssertionError("a worker was asked")

    monkeypatch.setattr(pool, "WorkerProcesses", no_workers)
    monkeypatch.setattr(pool, "Cluster", no_workers)
    told: list[Progress] = []
    study = run_cases(cases, WorkerSettings(cache=cache), told.append)
    assert (summed(study), told) == (refused(0, 1, 2), [Progress(3, 3, 3)])
    # Nor does it matter by what path the same profile is found.
    (tmp_path / "moved.toml").write_bytes((tmp_path / "g1.toml").read_bytes())
    moved = read_cases(StudyRequest(("clubhouse",), (str(tmp_path / "moved.toml"),)))
    assert summed(run_cases(moved, WorkerSettings(cache=cache))) == refused(1)


def digit_changed(data: bytes) -> bytes:
    return data.replace(b"case 1", b"case 7")


DAMAGE = {
    "empty": lambda _: b"",
    "cut short": lambda data: data[:-20],
    "one letter": digit_changed,
    "no text": lambda _: b"\xff\xfe\x00" * 50,
    "a pickle": lambda _: pickle.dumps({"a": 1}),
    "too long": lambda data: data + b" " * 1_000_000,
}


@pytest.mark.parametrize("damage", DAMAGE)
def test_damaged_answer_counts_as_none(damage: str, tmp_path: Path, log: Path) -> None:
    cases, cache = kept(tmp_path)
    path = cache / f"{cases[1].key}.answer"
    before = path.read_bytes()
    path.write_bytes(DAMAGE[damage](before))
    assert path.read_bytes() != before
    again = AnswerCache(cache)
    assert [again.find(case) is not None for case in cases] == [True, False, True]
    assert [issue.subject for issue in again.refused] == [str(path)]


def test_damaged_answer_is_found_anew(tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    cases, cache = kept(tmp_path)
    path = cache / f"{cases[1].key}.answer"
    before = path.read_bytes()
    path.write_bytes(DAMAGE["one letter"](before))
    monkeypatch.setattr(workers, "solve_case", batch_cases.answered)
    study = run_cases(cases, WorkerSettings(jobs=1, cache=cache))
    assert (summed(study), study.progress) == (refused(0, 1, 2), Progress(3, 3, 2))
    assert given(log) == [0, 1, 1, 2]
    assert path.read_bytes() == before
    (remark,) = study.refused
    assert (remark.subject, "edited" in remark.rule) == (str(path), True)


def test_command_says_which_edited_answer_it_did_not_use(
    tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    cases, cache = kept(tmp_path)
    path = cache / f"{cases[1].key}.answer"
    path.write_bytes(digit_changed(path.read_bytes()))
    monkeypatch.setattr(workers, "solve_case", batch_cases.answered)
    goals = ",".join(case.inputs.names[1] for case in cases)
    words = ["compare", "--machine", "clubhouse", "--goal", goals, "--cache", str(cache), "--json"]
    assert call(*words) == EXIT_NO_PLAN
    shown = capfd.readouterr()
    assert [case["why"] for case in json.loads(shown.out)["cases"]] == [why[0] for _, why in refused(0, 1, 2)]
    remark = " ".join(shown.err.split())
    assert remark.startswith(f"Not used from the cache, and planned again: {path} was edited or cut short")


def test_answer_to_another_case_counts_as_none(tmp_path: Path, log: Path) -> None:
    cases, cache = kept(tmp_path)
    first, second = (cache / f"{case.key}.answer" for case in cases[:2])
    second.write_bytes(first.read_bytes())
    assert AnswerCache(cache).find(cases[1]) is None


def test_cache_that_cannot_be_used_is_bad_input(tmp_path: Path) -> None:
    (tmp_path / "file").touch()
    for place in (tmp_path / "file", tmp_path / "file" / "below"):
        with pytest.raises(cases_module.InputError, match="--cache"):
            AnswerCache(place)


def test_disk_that_fails_does_not_cost_the_study(
    tmp_path: Path, log: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    def full(*_: object, **__: object) -> None:
        raise cases_module.InputError(
            [cases_module.InputIssue("cache", "", "cannot be written", "disk full")]
        )

    monkeypatch.setattr("optimizer.batch.cache.write_text_atomic", full)
    monkeypatch.setattr(workers, "solve_case", batch_cases.answered)
    study = run_cases(three(tmp_path), WorkerSettings(jobs=1, cache=tmp_path / "cache"))
    assert summed(study) == refused(0, 1, 2)
    assert [issue.found for issue in study.not_cached] == ["disk full"]
