"""Every command, output and Python session in the pages runs, and prints what the page shows."""

from __future__ import annotations

import doctest
import importlib.util
import re
import shlex
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from functools import partial
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet
from exploring import TIMES
from planner_cases import PLAINLY, plan_of
from profile_cases import scullion

import optimizer.plan_and_prove
from optimizer.batch import run_cases, workers
from optimizer.batch.cases import Case
from optimizer.plan_and_prove import plan_and_prove
from optimizer.profile.shipped import profile_path
from optimizer.starts import joint
from optimizer.whatif import frontier

ROOT = Path(__file__).resolve().parent.parent
PAGES = ("README.md", *(f"docs/{path.name}" for path in sorted((ROOT / "docs").glob("*.md"))))
BLOCK = re.compile(
    r"(?P<notes>(?:^[ ]*<!--[^\n]*-->\n)*)^(?P<indent>[ ]*)```(?P<kind>\w+)\n(?P<body>.*?)^[ ]*```$",
    re.MULTILINE | re.DOTALL,
)


NO_CHANGE: Mapping[str, str] = {}
SOONER = {
    "clubhouse everyday": "cold-shed fresh-cups",
    "--machine narrowboat --goal glasses": "--machine cold-shed --goal fresh-cups",
    "--machine clubhouse --goal eco-everyday,everyday": "--machine cold-shed --goal fresh-cups,everyday",
}
"""Pairs in long commands, and what is planned in their place: commands and options stay as they are written.
With SCULLION_EXPLORE the pairs do, too."""
SAID: dict[str, tuple[int, str]] = {}
"""What long commands that name no file said, by their line."""


@dataclass(frozen=True)
class Block:
    """A fenced block with the remarks that stand before it."""

    kind: str
    lines: tuple[str, ...]
    output_of: str
    slow: bool


def blocks(page: str) -> list[Block]:
    found = []
    for match in BLOCK.finditer((ROOT / page).read_text(encoding="utf-8")):
        lines = tuple(line.removeprefix(match["indent"]) for line in match["body"].splitlines())
        output = re.search(r"<!-- output: (.*?) -->", match["notes"])
        slow = "<!-- slow -->" in match["notes"]
        found.append(Block(match["kind"], lines, output[1] if output else "", slow))
    return found


def call(capsys: pytest.CaptureFixture[str], line: str) -> tuple[int, str]:
    ended = scullion(capsys, *shlex.split(line)[1:])
    return ended.code, ended.out + ended.err


def run_blocks(
    page: str,
    capsys: pytest.CaptureFixture[str],
    *,
    slow: bool,
    easier: Mapping[str, str] = NO_CHANGE,
    until: str = "nothing",
    sooner: Mapping[str, str] = NO_CHANGE,
) -> list[str]:
    """Run the shell blocks of a page in order, one folder for all; give what did not end well.

    A file named in `easier` gets that text once a command has written it. The first line that begins like
    `until` is the last one. Words of a line in `sooner` are replaced.
    """
    wrong = []
    for block in blocks(page):
        if block.kind != "sh" or block.slow != slow or any(".venv" in line for line in block.lines):
            continue
        for written in block.lines:
            line = written
            for words, others in sooner.items():
                line = line.replace(words, others)
            if line.startswith("mkdir "):
                Path(line.removeprefix("mkdir ")).mkdir()
                continue
            assert line.startswith("scullion "), f"{page}: no call of the program: {line}"
            before = {name for name in easier if Path(name).exists()}
            if slow and "." not in line:
                # It names no file, so that it does the same on every page.
                code, text = SAID[line] = SAID.get(line) or call(capsys, line)
            else:
                code, text = call(capsys, line)
            if code:
                wrong.append(f"{line}: exit {code}\n{text}")
            for name in easier.keys() - before:
                if Path(name).exists():
                    Path(name).write_text(easier[name], encoding="utf-8")
            if line.startswith(until):
                return wrong
    return wrong


@pytest.fixture(autouse=True)
def plans_made_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """Six pages plan the same pair; what is planned with the usual options is planned once."""

    for module in (optimizer.plan_and_prove, joint, frontier, workers):
        monkeypatch.setattr(module, "plan_and_prove", plan_of)


@pytest.fixture(autouse=True)
def no_more_processes_than_asked_for(monkeypatch: pytest.MonkeyPatch) -> None:
    """What says no `--jobs` is worked out here, where plans are made once; with SCULLION_EXPLORE it is not.

    What comes out does not depend on that (`test_batch_in_parallel.py`, `test_batch_compare.py`).
    """
    if TIMES:
        return

    def working(most: int, function: Callable[[Case], str]) -> workers.Workers:
        return workers.ThisProcess() if most == 1 else workers.WorkerProcesses(most, function)

    monkeypatch.setattr(run_cases, "WorkerProcesses", working)
    for module in (run_cases, workers):
        monkeypatch.setattr(module, "processors", lambda: 1)


@pytest.fixture(autouse=True)
def in_a_folder_of_its_own(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)


LONG = (
    *("README.md", "docs/firmware.md", "docs/guarantee.md", "docs/library.md", "docs/page.md"),
    "docs/review.md",
)
"""Pages that plan a machine and a goal which take long to plan."""

UNTIL = {} if TIMES else {"README.md": "scullion plan"}
"""What follows its plan there is run with an easier goal below; with SCULLION_EXPLORE as it stands, too."""


def long_ones_slow(pages: Iterable[str]) -> list[ParameterSet]:
    return [pytest.param(page, marks=[pytest.mark.slow] * (page in LONG)) for page in pages]


@pytest.mark.parametrize("page", long_ones_slow(PAGES))
def test_every_command_runs(
    page: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Whether there is a plan for the README's own files is asked of the plainest search."""
    if page == "README.md":
        monkeypatch.setattr(
            optimizer.plan_and_prove, "plan_and_prove", partial(plan_and_prove, search=PLAINLY)
        )
    assert run_blocks(page, capsys, slow=False, until=UNTIL.get(page, "nothing")) == []


def test_every_command_of_the_readme_runs_with_an_easier_goal(capsys: pytest.CaptureFixture[str]) -> None:
    """The same commands and files; only the goal that it plans is the one that is planned the soonest."""
    easy = profile_path("goal", "fresh-cups").read_text(encoding="utf-8")
    assert run_blocks("README.md", capsys, slow=False, easier={"supper.toml": easy}) == []
    assert Path("supper.toml").read_text(encoding="utf-8") == easy
    assert Path("wash_timing.h").exists()


@pytest.mark.slow
@pytest.mark.parametrize("page", [page for page in PAGES if any(block.slow for block in blocks(page))])
def test_every_long_command_runs(page: str, capsys: pytest.CaptureFixture[str]) -> None:
    assert run_blocks(page, capsys, slow=True, sooner={} if TIMES else SOONER) == []


@pytest.mark.parametrize("words", SOONER)
def test_what_is_planned_sooner_stands_in_a_long_command(words: str) -> None:
    lines = [line for page in PAGES for block in blocks(page) if block.slow for line in block.lines]
    assert any(words in line for line in lines)


def shown_and_printed(page: str, capsys: pytest.CaptureFixture[str], *, slow: bool) -> list[str]:
    """Paragraphs of shown outputs that the command does not print."""
    missing = []
    for block in blocks(page):
        if not block.output_of or block.slow != slow:
            continue
        _, text = call(capsys, block.output_of)
        printed = [line.rstrip() for line in text.splitlines()]
        for line in filter(None, (line.rstrip() for line in block.lines)):
            if line not in printed:
                missing.append(f"{block.output_of}: {line}")
    return missing


@pytest.mark.slow
@pytest.mark.parametrize("page", [page for page in PAGES if any(block.output_of for block in blocks(page))])
def test_outputs_are_as_shown(
    page: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert shown_and_printed(page, capsys, slow=False) == []


@pytest.mark.slow
@pytest.mark.parametrize(
    "page", [page for page in PAGES if any(block.output_of and block.slow for block in blocks(page))]
)
def test_long_outputs_are_as_shown(
    page: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "80")
    assert shown_and_printed(page, capsys, slow=True) == []


@pytest.mark.parametrize(
    "page", long_ones_slow(page for page in PAGES if any(b.kind == "pycon" for b in blocks(page)))
)
def test_python_sessions_give_what_they_show(page: str) -> None:
    session = "\n".join(
        line for block in blocks(page) if block.kind == "pycon" for line in (*block.lines, "")
    )
    test = doctest.DocTestParser().get_doctest(session, {}, page, page, 0)
    report: list[str] = []
    ended = doctest.DocTestRunner(optionflags=doctest.NORMALIZE_WHITESPACE).run(test, out=report.append)
    assert ended.failed == 0, "".join(report)
    assert ended.attempted > 10


def test_every_measured_number_has_its_row() -> None:
    """The table is the model's: a key that changes there is out of date here."""
    from typing import get_args

    from optimizer.profile.machine import Machine
    from optimizer.profile.measured import Quantity

    page = (ROOT / "docs" / "machine.md").read_text(encoding="utf-8").splitlines()
    rows = [
        f"| `{table}.{key}` | {mark.unit} | {mark.least:g} to {mark.most:g} | {mark.how} |"
        for table, field in Machine.model_fields.items()
        for model in (field.annotation, *get_args(field.annotation))
        for key, inner in getattr(model, "model_fields", {}).items()
        for mark in (*inner.metadata, *(m for part in get_args(inner.annotation) for m in get_args(part)))
        if isinstance(mark, Quantity)
    ]
    assert len(rows) > 30
    assert [row for row in rows if row not in page] == []


def test_links_lead_somewhere() -> None:
    broken = [
        f"{page}: {target}"
        for page in (*PAGES, "DEVELOPERS.md", "CHANGELOG.md", "benchmarks/README.md")
        for target in re.findall(r"\]\((?!https?:)([^)#]+)", (ROOT / page).read_text(encoding="utf-8"))
        if not ((ROOT / page).parent / target).exists()
    ]
    assert broken == []


def test_readme_is_one_page() -> None:
    assert len((ROOT / "README.md").read_text(encoding="utf-8").splitlines()) <= 140


BENCH_PARTS = (
    *("bench_bound", "bench_executed", "bench_plain", "bench_protocol", "bench_thermal", "bench_truth"),
    *("mutant_tests", "plain_estimates", "trial_learners"),
)
"""Modules of the benchmarks that others import, and that run nothing themselves."""


@pytest.mark.parametrize("path", sorted((ROOT / "benchmarks").glob("*.py")), ids=lambda path: path.stem)
def test_every_benchmark_loads(path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What it imports is still there; what it measures is for whoever runs it."""
    monkeypatch.syspath_prepend(path.parent)
    spec = importlib.util.spec_from_file_location(f"benchmark_{path.stem}", path)
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = module
    try:
        spec.loader.exec_module(module)
    finally:
        del sys.modules[spec.name]
    assert path.stem in BENCH_PARTS or callable(module.main)
