"""A loop in two halves side by side: each place once, errors of either half, and nothing hangs after one."""

from __future__ import annotations

import os
import threading
from multiprocessing import get_context

import numpy as np
import pytest

from optimizer import second_thread
from optimizer.second_thread import in_halves


@pytest.fixture(autouse=True)
def two_cores(monkeypatch: pytest.MonkeyPatch) -> None:
    """Two cores, wherever the tests run."""
    monkeypatch.setattr(second_thread, "_has_another_core", lambda: True)


@pytest.mark.parametrize(("begin", "end", "least"), [(0, 0, 4), (0, 3, 4), (0, 4, 4), (2, 9, 4), (0, 2, 2)])
def test_each_place_is_done_once(begin: int, end: int, least: int) -> None:
    done, names = np.zeros(10, dtype=int), set()

    def half(first: int, before: int) -> None:
        names.add(threading.current_thread().name)
        done[first:before] += 1

    in_halves(half, begin, end, least)
    assert done[begin:end].tolist() == [1] * (end - begin)
    assert done.sum() == end - begin
    assert len(names) == (2 if end - begin >= least else 1)


@pytest.mark.parametrize("wrong", [0, 5])
def test_an_error_of_either_half_is_raised_and_the_next_loop_works(wrong: int) -> None:
    def half(first: int, before: int) -> None:
        if first <= wrong < before:
            raise ValueError(wrong)

    with pytest.raises(ValueError, match=str(wrong)):
        in_halves(half, 0, 8, 2)
    done: list[int] = []
    in_halves(lambda first, before: done.extend(range(first, before)), 0, 8, 2)
    assert sorted(done) == list(range(8))


def test_a_forked_process_has_a_thread_of_its_own() -> None:
    in_halves(lambda first, before: None, 0, 8, 2)
    child = get_context("fork").Process(target=_in_a_child)
    child.start()
    child.join(timeout=60.0)
    assert child.exitcode == 0


def _in_a_child() -> None:
    done: list[int] = []
    in_halves(lambda first, before: done.extend(range(first, before)), 0, 8, 2)
    os._exit(0 if sorted(done) == list(range(8)) else 1)


def test_a_worker_process_does_its_loops_alone(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.undo()
    monkeypatch.setattr(second_thread, "parent_process", lambda: object())
    names = set()
    in_halves(lambda first, before: names.add(threading.current_thread().name), 0, 8, 2)
    assert names == {threading.current_thread().name}
