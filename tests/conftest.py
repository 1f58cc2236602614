"""Fixtures that several files of tests share."""

from __future__ import annotations

import gc
import json
import os
import shutil
import signal
import subprocess
import sys
import tempfile
from collections import Counter
from collections.abc import Generator, Iterator
from pathlib import Path
from typing import Any, NamedTuple

import batch_cases
import planner_cases
import pytest
from browser_cases import browser
from calling import Shown, call
from exploring import USUAL, cases
from hypothesis import settings
from kept_checks import keep_checks
from long_cases import LONG_CASES, LONG_FIXTURES
from sharing import COMPILES, begin_to_compile, one_at_a_time, written_down

from optimizer.programme.plan import Plan
from optimizer.programme.planfile import plan_to_json

settings.register_profile("scullion", cases(USUAL))
settings.load_profile("scullion")

LONGEST = (
    *("test_docs_run", "test_planner_shipped", "test_controller_micropython"),
    *("test_controller_faults", "test_check_bounds_search", "test_check_every_number", "test_guards_alike"),
    *("test_measure_thermal_fit", "test_page_browser", "test_check_certify", "test_open_loop"),
)
"""Files that take minutes, the longest first: last, one would keep its worker at work alone."""
COMPILER = pytest.StashKey[subprocess.Popen[bytes] | None]()
OWN_PLANS = pytest.StashKey[str]()


def pytest_configure(config: pytest.Config) -> None:
    """Make the folder of plans and checks that the workers of a run share; they find it by its variable.

    One that is named there already is used, and left: `.ci/run` has its three runs of one source share it. A
    run that was started in the background ignores Ctrl-C, and so would the programs that its tests stop.
    """
    signal.signal(signal.SIGINT, signal.default_int_handler)
    if not hasattr(config, "workerinput"):
        if planner_cases.PLANS not in os.environ:
            config.stash[OWN_PLANS] = os.environ[planner_cases.PLANS] = tempfile.mkdtemp(
                prefix="scullion-plans-"
            )
        if (getattr(config.option, "numprocesses", None) or 0) > 1:
            config.stash[COMPILER] = begin_to_compile(Path(os.environ[planner_cases.PLANS]))
    keep_checks(Path(os.environ[planner_cases.PLANS]))


@pytest.hookimpl(wrapper=True)
def pytest_collection_modifyitems(
    config: pytest.Config, items: list[pytest.Item]
) -> Generator[None, None, None]:
    """Mark the long cases, and begin with the long files; the others follow by how many tests they have.

    A case that is named as long and is not in its file any more ends the run.
    """
    mark_long_cases(config, items)
    yield
    files = {item: item.nodeid.split("::")[0] for item in items}
    places = {name: place for place, name in enumerate(LONGEST)}
    tests = Counter(files.values())

    def turn(item: pytest.Item) -> tuple[int, int]:
        return places.get(Path(files[item]).stem, len(LONGEST)), -tests[files[item]]

    items.sort(key=turn)


def mark_long_cases(config: pytest.Config, items: list[pytest.Item]) -> None:
    """Mark the cases that `tests/long_cases.txt` names, and hold what it names against what is there."""
    by_name = {item.nodeid.removeprefix("tests/"): item for item in items}
    there = set(by_name)
    for name, item in by_name.items():
        file = name.split("::")[0]
        needs = {f"{file}::{fixture}" for fixture in getattr(item, "fixturenames", ())}
        there |= needs
        if name in LONG_CASES or needs & LONG_FIXTURES:
            item.add_marker(pytest.mark.slow)
    files = {name.split("::")[0] for name in by_name}
    gone = [name for name in (LONG_CASES | LONG_FIXTURES) - there if name.split("::")[0] in files]
    if gone and not any("::" in word for word in config.args):
        raise pytest.UsageError(f"tests/long_cases names what is not there: {', '.join(sorted(gone))}")


@pytest.hookimpl(wrapper=True)
def pytest_make_collect_report(collector: pytest.Collector) -> Generator[None, Any, Any]:
    """Let the workers read what one of them has made of a file of tests."""
    if not isinstance(collector, pytest.Module) or not hasattr(collector.config, "workerinput"):
        return (yield)
    with written_down(Path(os.environ[planner_cases.PLANS]), collector.path.stem):
        return (yield)


def pytest_collection_finish(session: pytest.Session) -> None:
    """Wait for what is compiled meanwhile; what was collected is not searched for garbage from here on."""
    if hasattr(session.config, "workerinput"):
        with one_at_a_time(Path(os.environ[planner_cases.PLANS]), COMPILES):
            gc.collect()
            gc.freeze()


def pytest_unconfigure(config: pytest.Config) -> None:
    if compiler := config.stash.get(COMPILER, None):
        compiler.kill()
        compiler.wait()
    if made := config.stash.get(OWN_PLANS, ""):
        shutil.rmtree(made, ignore_errors=True)


@pytest.fixture(scope="module")
def started() -> Iterator[Any]:
    """A browser, for the tests of pages."""
    with browser() as found:
        yield found


class Compared(NamedTuple):
    """A comparison by one worker process, and what it left behind."""

    words: tuple[str, ...]
    stdout: bytes
    cases: list[dict[str, Any]]
    table: Path
    cache: Path


@pytest.fixture(scope="session")
def compared(tmp_path_factory: pytest.TempPathFactory) -> Compared:
    """Compare two shipped machines with two shipped goals; one of the four has no plan.

    Once a run of the tests; each worker has a copy.
    """
    made = Path(os.environ[planner_cases.PLANS]) / "compare"
    table, cache, said = made / "table.csv", made / "cache", made / "said.json"
    words = ("compare", "--machine", "clubhouse,cold-shed", "--goal", "fresh-cups,glasses")
    options = ["--jobs", "1", "--json", "--csv", str(table), "--cache", str(cache)]
    command = [sys.executable, "-m", "optimizer", *words, *options]
    with one_at_a_time(made.parent, made.name):
        if not said.exists():
            made.mkdir(exist_ok=True)
            done = subprocess.run(command, capture_output=True, check=False)
            assert (done.returncode, done.stderr) == (0, b"")
            said.write_bytes(done.stdout)
    own = shutil.copytree(made, tmp_path_factory.mktemp("compare") / "own")
    stdout = said.read_bytes()
    return Compared(words, stdout, json.loads(stdout)["cases"], own / table.name, own / cache.name)


@pytest.fixture(scope="module")
def plan_path(plan: Plan, tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The plan of a module's own fixture `plan`, in a file."""
    path = tmp_path_factory.mktemp("plan") / "plan.json"
    path.write_text(plan_to_json(plan), encoding="utf-8")
    return path


@pytest.fixture
def shown(capfd: pytest.CaptureFixture[str]) -> Shown:
    """Run a command inside this process; its exit code and what it printed."""

    def shown_by(*words: str | Path) -> tuple[int, str, str]:
        code = call(*words)
        return code, *capfd.readouterr()

    return shown_by


@pytest.fixture
def log(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Folder in which the workers of `batch_cases` note what they were given."""
    folder = tmp_path / "log"
    folder.mkdir()
    monkeypatch.setenv(batch_cases.LOG, str(folder))
    return folder
