"""A second process that works ahead: its answers are taken where they are asked for, and nothing hangs on it.

It is forked, which pytest's own threads may forbid: what needs a real one runs in a process of its own.
"""

from __future__ import annotations

import os
import signal
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from calling import call
from exploring import cases
from hypothesis import given
from hypothesis import strategies as st
from patience import PATIENCE_S, wait_for
from planner_cases import FEW, FOUR_RINSES, plan_of, tiny

import optimizer.plan_and_prove
import optimizer.second_process as second_process_module
from optimizer.planner import feasibility, trims_ahead
from optimizer.planner.feasibility import Feasibility, HowFar, asked_keys, how_far
from optimizer.planner.margins import Assessor
from optimizer.planner.neighbours import single_steps
from optimizer.planner.search import choose_by_model
from optimizer.planner.solver import FULL, Budget
from optimizer.planner.trims_ahead import Ask, in_order
from optimizer.second_process import ahead, core_left, second_process

ROOT = Path(__file__).resolve().parent.parent
LINUX = pytest.mark.skipif(sys.platform != "linux", reason="the process is forked on Linux alone")

ALONE = f"""
import os, sys, time
sys.path.insert(0, {str(ROOT / "tests")!r})
os.sched_getaffinity = lambda _: {{0, 1}}
from multiprocessing import active_children
from optimizer.second_process import ahead, core_left, second_process
"""


def run(script: str) -> str:
    """What a script prints that runs in a process of its own."""
    done = subprocess.run(
        [sys.executable, "-c", ALONE + script],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert done.stderr == ""
    assert done.returncode == 0
    return done.stdout


@LINUX
def test_it_answers_one_thing_after_the_other() -> None:
    script = """
with second_process():
    first = ahead(pow, 2, 5)
    while not first.done: pass
    second = ahead(pow, 3, 2)
    print(first.result(), second.result(), core_left(), len(active_children()))
print(ahead(pow, 2, 5), core_left(), active_children())
"""
    assert run(script) == "32 9 True 1\nNone None []\n"


@LINUX
def test_it_is_asked_nothing_while_it_works_and_what_is_forgotten_is_dropped() -> None:
    script = """
reads, writes = os.pipe()
with second_process():
    slow = ahead(os.read, reads, 1)
    print(ahead(pow, 2, 5), core_left())
    slow.forget()
    os.write(writes, b"x")
    while (other := ahead(pow, 2, 5)) is None: pass
    print(other.result())
"""
    assert run(script) == "None False\n32\n"


@LINUX
def test_an_error_there_is_the_same_error_here() -> None:
    script = """
with second_process():
    wrong = ahead(int, "x")
    try:
        wrong.result()
    except ValueError as error:
        print(error)
    unsent = ahead(open, os.devnull)
    print(unsent.result().name == os.devnull, ahead(pow, 2, 5).result())
"""
    assert run(script) == "invalid literal for int() with base 10: 'x'\nTrue 32\n"


@LINUX
def test_what_a_dead_one_had_is_worked_out_here() -> None:
    script = """
reads, writes = os.pipe()
with second_process():
    slow = ahead(os.read, reads, 1)
    (child,) = active_children()
    child.kill()
    child.join()
    os.write(writes, b"x")
    print(slow.result(), slow.done, ahead(pow, 2, 5), core_left(), active_children())
"""
    assert run(script) == "b'x' True None True []\n"


@LINUX
def test_there_is_none_beside_a_thread() -> None:
    script = """
import threading
ends = threading.Event()
thread = threading.Thread(target=ends.wait)
thread.start()
with second_process():
    print(ahead(pow, 2, 5))
ends.set()
"""
    assert run(script) == "None\n"


@LINUX
def test_there_is_one_at_the_most() -> None:
    script = """
with second_process(), second_process():
    print(ahead(pow, 2, 5).result(), len(active_children()))
"""
    assert run(script) == "32 1\n"


@LINUX
def test_what_both_get_ready_for_leaves_it_safe_to_copy() -> None:
    """The loops of the simulation are loaded before, once for both, and begin no thread."""
    script = """
from optimizer.library import job
from optimizer.planner.simulated_rounds import all_rounds
inputs = job.load("clubhouse", "everyday")
with job.two_processes(inputs):
    print(len(all_rounds.signatures), len(active_children()), ahead(pow, 2, 5).result())
"""
    assert run(script) == "1 1 32\n"


def test_one_core_has_none(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0}, raising=False)
    with second_process():
        assert ahead(pow, 2, 5) is None
        assert core_left() is None


@LINUX
@pytest.mark.parametrize("sent", [signal.SIGINT, signal.SIGTERM, signal.SIGKILL])
def test_none_outlives_its_process(sent: signal.Signals) -> None:
    script = """
with second_process():
    ahead(time.sleep, 0.0).result()
    print(active_children()[0].pid, flush=True)
    ahead(time.sleep, 0.5)
    time.sleep(600)
"""
    with subprocess.Popen(
        [sys.executable, "-c", ALONE + script],
        cwd=ROOT,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        start_new_session=True,
    ) as process:
        assert process.stdout is not None
        second = int(process.stdout.readline())
        if sent is signal.SIGINT:
            os.killpg(process.pid, sent)  # as a terminal does
        else:
            process.send_signal(sent)
        process.wait(PATIENCE_S)
    wait_for(lambda: not _runs(second))


def _runs(number: int) -> bool:
    """Whether a process is there, and not only waits for somebody to read how it ended."""
    try:
        state = Path(f"/proc/{number}/stat").read_text(encoding="utf-8").rpartition(")")[2].split()[0]
    except OSError:
        return False
    return state not in "ZX"


class Stand:
    """Stands in for the second process: ready after it was looked at so many times."""

    def __init__(self, looks: list[int]) -> None:
        self.looks, self.at_work, self.forgotten = looks, False, 0

    def ahead(self, function: Callable[..., Any], *arguments: Any) -> Stand | None:
        if self.at_work or not self.looks:
            return None
        self.at_work, self.left = True, self.looks.pop()
        self.asked = function, arguments
        return self

    @property
    def done(self) -> bool:
        self.left -= 1
        return self.left < 0

    def result(self) -> Any:
        self.at_work = False
        function, arguments = self.asked
        return function(*arguments)

    def forget(self) -> None:
        self.at_work, self.forgotten = False, self.forgotten + 1


def asks() -> tuple[Assessor, list[Ask]]:
    """Steps from the model's programme for the tiny machine, at corners and a point that joined them."""
    judge = Assessor(tiny(), rounds_most=FEW.rounds_most)
    choice = choose_by_model(judge)
    assert choice is not None
    steps = list(single_steps(choice.trimmed.programme, judge))
    most = 1.2 * choice.trimmed.objective
    return judge, [
        Ask(step.structure, step.settings, most) for step in steps if len(step.settings.spray_s) == 1
    ]


JUDGE, ASKS = asks()
ALL = list(in_order(JUDGE, ASKS))


def same(one: Any, other: Any) -> bool:
    """Whether two trims came to the same, to the last bit."""
    if one.trimmed is None or other.trimmed is None:
        return one.trimmed is other.trimmed and one.least == other.least
    mine, yours = one.trimmed.programme, other.trimmed.programme
    numbers = all(
        getattr(mine.settings, name).tobytes() == getattr(yours.settings, name).tobytes()
        for name in vars(mine.settings)
    )
    return numbers and mine.structure == yours.structure and one.trimmed.objective == other.trimmed.objective


def test_the_steps_are_worth_a_test() -> None:
    assert len(ASKS) >= 3
    assert {one.trimmed is None for one in ALL} == {True, False}


@given(st.lists(st.integers(0, 4)), st.integers(0, len(ALL)))
def test_trims_come_in_order_whoever_was_quicker(looks: list[int], asked: int) -> None:
    stand = Stand(looks)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(trims_ahead, "ahead", stand.ahead)
        trims = in_order(JUDGE, ASKS)
        found = [next(trims) for _ in range(asked)]
        trims.close()
    assert all(same(one, other) for one, other in zip(found, ALL, strict=False))
    assert not stand.at_work


HARD = Assessor(
    tiny(goal__limits__water_l=6.0, goal__limits__duration_min=15.0, goal__rinse__residue_max=0.15),
    rounds_most=FOUR_RINSES,
)
"""Judges by a goal whose requirements hold alone, but not all together."""

EVERY = frozenset(asked_keys(HARD))
HOW_FAR = [
    *(HowFar(key, EVERY - {key}) for key in ("limits.water_l", "limits.duration_min", "rinse.residue")),
    HowFar("limits.water_l"),
]


def how_far_each(budget: Budget) -> tuple[list[Any], int, bool]:
    """How far each requirement goes, by all numbers; the work, and whether one was given up."""
    asked = Feasibility(HARD, budget=budget)
    found = [
        one and (one.margin, one.programme.structure, *map(bytes, vars(one.programme.settings).values()))
        for one in how_far(asked, HOW_FAR)
    ]
    return found, asked.work, asked.gave_up


BUDGETS = {budget: how_far_each(budget) for budget in (FULL, Budget(steps=0, nodes=0))}


def test_how_far_is_worth_a_test() -> None:
    for (found, work, gave_up), cut_off in zip(BUDGETS.values(), (False, True), strict=True):
        assert gave_up is cut_off
        assert work > 0
        assert {one is None for one in found} == ({True} if cut_off else {True, False})


@given(st.lists(st.integers(0, 4)), st.sampled_from(list(BUDGETS)))
@cases(6)
def test_how_far_each_goes_is_the_same_whoever_answers(looks: list[int], budget: Budget) -> None:
    stand = Stand(looks)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(feasibility, "ahead", stand.ahead)
        assert how_far_each(budget) == BUDGETS[budget]
    assert not stand.at_work


@LINUX
def test_a_real_one_trims_to_the_same_bit() -> None:
    script = """
with second_process():
    from optimizer.planner import trims_ahead
    usual, handed = trims_ahead.ahead, []

    def noted(*words):
        handed.append(usual(*words))
        return handed[-1]

    trims_ahead.ahead = lambda *_: None
    from test_second_process import ALL, ASKS, JUDGE, in_order, same
    trims_ahead.ahead = noted
    found = list(in_order(JUDGE, ASKS))
    print(all(map(same, found, ALL)), len(found) == len(ALL), any(handed))
"""
    assert run(script) == "True True True\n"


@LINUX
@pytest.mark.slow
@pytest.mark.parametrize("words", [("clubhouse", "glasses"), ("garage-120v", "everyday")], ids=" ".join)
def test_plan_says_the_same_on_one_core_and_on_two(
    words: tuple[str, str], monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    """On one it is planned here, by no second process, and once for all tests that ask for the pair."""
    monkeypatch.setattr(optimizer.plan_and_prove, "plan_and_prove", plan_of)
    monkeypatch.setattr(os, "sched_getaffinity", lambda _: {0}, raising=False)
    handed: list[object] = []
    monkeypatch.setattr(second_process_module._Second, "ask", lambda *asked: handed.append(asked))
    code = call("plan", *words, "--json")
    one = capfd.readouterr()
    script = """
import os, sys
os.sched_getaffinity = lambda _: {0, 1}
from optimizer import second_process
handed, usual = [], second_process._Second.ask

def ask(*words):
    handed.append(words)
    return usual(*words)

second_process._Second.ask = ask
sys.argv = ["scullion", "plan", *sys.argv[1:], "--json"]
from optimizer.__main__ import main
try:
    main()
finally:
    print(bool(handed), file=sys.stderr)
"""
    two = subprocess.run(
        [sys.executable, "-c", script, *words],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=PATIENCE_S,
        check=False,
    )
    assert (two.stdout, two.returncode) == (one.out, code)
    assert one.out
    *said, beside = two.stderr.splitlines()
    assert said == one.err.splitlines()
    assert (bool(handed), beside) == (False, "True")
