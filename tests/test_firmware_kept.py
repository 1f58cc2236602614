"""What the example programs keep over a power cut: the programme, whether it runs, whether the tank is cool.

No published rule is behind it (no source): nothing begins by itself of which nobody knows what it was, and a
memory that fails stops no run and leaves nothing on.
"""

from __future__ import annotations

from dataclasses import replace

import pytest
import several_cases
from controller_micropython import needs_micropython
from controller_rig import needs_cc
from firmware_boards import DRY, REHEARSAL, Event, in_c, in_python, press, scripted, text_of, writes

from optimizer.programme.plan import Plan


def by_itself() -> dict[str, Plan]:
    """The quick programmes, each to begin again by itself after a power cut."""
    plans = several_cases.quick()
    plans.pop("rehearsal")
    return {n: replace(p, constants=replace(p.constants, restart_after_cut=True)) for n, p in plans.items()}


def many() -> dict[str, Plan]:
    """As many programmes as a byte counts."""
    plan = several_cases.quick()["cold"]
    return {f"no {number}": plan for number in range(1, 256)}


@needs_cc
@pytest.mark.parametrize(("number", "begins"), [(1, True), (4, False), (200, False), (255, False)])
def test_a_kept_number_that_no_programme_has_begins_nothing(number: int, begins: bool) -> None:
    """Fewer programmes than before, or a spoilt byte: no other one goes on by itself."""
    kept = [(0, "kept 0", number), (0, "kept 1", 1)]
    said = in_c([*kept, *DRY], 30_000, plans=by_itself)
    assert bool(writes(said)) == begins
    assert ("second: " if begins else "first: idle") in text_of(said)
    cut = in_c([*kept, *DRY], 30_000)
    assert ("power cut" in text_of(cut)) == begins
    assert not writes(cut)


@needs_cc
def test_a_flag_of_an_unknown_run_is_not_left_for_the_next_power_up() -> None:
    """Else a press that chooses a programme would make it one that was running."""
    said = in_c([(0, "kept 0", 77), (0, "kept 1", 1), *DRY, *press(2500)], 5000, plans=by_itself)
    kept = [one.rest for one in said if one.what == "keep"]
    assert [rest for rest in kept if not rest.startswith("2 ")] == ["1 0", "0 0", "0 1"]


COOL, HOT = 0x5A, 0xA5
BROKEN: list[Event] = [(1, "adc", 0)]
"""Nothing reads the bath."""


@needs_cc
@pytest.mark.parametrize(("kept", "hot"), [(COOL, False), (255, True), (HOT, True), (0, True), (1, True)])
def test_only_its_own_word_says_that_the_tank_is_cool(kept: int, hot: bool) -> None:
    """A new board, a byte that was spoilt, and the number that other flags have."""
    said = in_c([(0, "kept 0", 0), (0, "kept 1", 0), (0, "kept 2", kept), *DRY, *BROKEN], 3000)
    assert ("HOT: not drained" in text_of(said)) == hot


@needs_micropython
def test_only_its_own_word_says_that_the_tank_is_cool_in_micropython() -> None:
    """What an older program wrote has no such word; nor has a line that a cut has ended, or no file."""
    words = ["0 0 cool", "0 0", "0 0 hot", "0 0 coo", "0 0 1", "", "cool"]
    tries = [f"open(wash_main.KEPT_FILE, 'w').write('{one}')\nprint(0, *wash_main.kept())" for one in words]
    said = scripted("\n".join(["print(0, *wash_main.kept())", *tries]))
    assert [f"{one.what} {one.rest}" for one in said] == [
        "0 False False",
        "0 False True",
        *["0 False False"] * 6,
    ]


@needs_cc
def test_a_run_is_noted_hot_first_then_as_running() -> None:
    """So that the last write alone can be lost; after it, as done, then as cool."""
    kept = [(0, "kept 0", 3), (0, "kept 1", 0), (0, "kept 2", COOL)]
    run_s = several_cases.quick()["rehearsal"].constants.total_max_s
    said = in_c([*kept, *DRY, *press(2500, long=True)], 60_000 + 1000 * run_s)
    writes_of = [one.rest for one in said if one.what == "keep"]
    assert writes_of == [f"2 {HOT}", "1 1", "1 0", f"2 {COOL}"]


@needs_micropython
@pytest.mark.slow
def test_a_flag_of_an_unknown_run_is_not_left_in_the_file() -> None:
    said = in_python(
        DRY, 1500, "open(wash_main.KEPT_FILE, 'w').write('77 1')", by_itself, "print(0, *wash_main.kept())"
    )
    assert (said[-1].what, said[-1].rest.split()[0]) == ("0", "False")


@needs_micropython
@pytest.mark.slow
@pytest.mark.parametrize(("kept", "begins"), [("1 1", True), ("4 1", False), ("-1 1", False), ("1", False)])
def test_a_kept_number_that_no_programme_has_begins_nothing_in_micropython(kept: str, begins: bool) -> None:
    before = f"open(wash_main.KEPT_FILE, 'w').write('{kept}')"
    said = in_python(DRY, 30_000, before, by_itself)
    assert bool(writes(said)) == begins
    assert ("second: " if begins else "first: idle") in text_of(said)


@needs_cc
@pytest.mark.slow
def test_the_last_of_255_programmes_is_chosen_kept_and_found_again() -> None:
    events = [(0, "kept 0", 253), (0, "kept 1", 0), *DRY, *press(2500)]
    said = in_c(events, 6000, plans=many)
    assert "no 254: idle" in text_of(said)
    assert "no 255: idle" in text_of(said)
    assert any((one.what, one.rest) == ("keep", "0 254") for one in said)
    again = in_c([(0, "kept 0", 254), (0, "kept 1", 1), *DRY], 3000, plans=many)
    assert "no 255: " in text_of(again)
    assert "power cut" in text_of(again)


KEEPING = '''
import os

class Cut(Exception):
    pass

class Disk:
    """Stands for open() and os: loses power at the operation that it is told."""

    def __init__(self, files, last, over):
        self.files, self.last, self.over = files, last, over

    def act(self):
        self.last -= 1
        if self.last < 0:
            raise Cut

    def open(self, name, mode="r"):
        if mode == "r" and name not in self.files:
            raise OSError(2)
        if mode == "w":
            self.act()
            self.files[name] = ""
        return File(self, name)

    def rename(self, old, new):
        self.act()
        if new in self.files and not self.over:
            raise OSError(17)
        self.files[new] = self.files.pop(old)

    def remove(self, name):
        self.act()
        del self.files[name]

class File:
    def __init__(self, disk, name):
        self.disk, self.name = disk, name

    def __enter__(self):
        return self

    def __exit__(self, *_):
        return False

    def read(self):
        return self.disk.files[self.name]

    def write(self, text):
        for letter in text:
            self.disk.act()
            self.disk.files[self.name] += letter

for over in (True, False):
    for last in range(18):
        files = {wash_main.KEPT_FILE: "7 1 cool"}
        disk = Disk(files, last, over)
        wash_main.open = disk.open
        wash_main.os = disk
        try:
            kept = wash_main.keep(3, False, False)
        except Cut:
            kept = None
        disk.last = 99
        print(0, kept, *wash_main.kept())
'''


@needs_micropython
def test_a_power_cut_while_the_number_is_kept_leaves_the_old_or_the_new() -> None:
    """At every operation, on file systems that rename over a file and on those that do not (FAT)."""
    said = [f"{one.what} {one.rest}" for one in scripted(KEEPING)]
    assert len(said) == 36
    old, new = "7 True True", "3 False False"
    assert set(said) == {f"None {old}", f"None {new}", f"True {new}"}
    assert f"True {new}" in said[:18]
    assert {f"None {new}", f"True {new}"} <= set(said[18:])


FULL_DISK = """
tries = []

def full(name, mode="r"):
    tries.append(mode)
    raise OSError(28)

wash_main.open = full
"""


@needs_micropython
@pytest.mark.slow
def test_a_full_disk_stops_no_run_and_leaves_nothing_on() -> None:
    """The whole rehearsal runs, a press stops the next run; each note says that nothing is kept."""
    again_ms = 32_000 + 1000 * several_cases.quick()["rehearsal"].constants.total_max_s
    stop_ms = again_ms + 4000
    events = [*REHEARSAL, *press(again_ms, long=True), *press(stop_ms)]
    said = in_python(events, stop_ms + 20_000, FULL_DISK)
    assert said[-1].what == "end"
    assert "NOT KEPT" in text_of(said)
    stopped = [(ms, pin, level) for ms, pin, level in writes(said) if ms > stop_ms]
    assert not stopped[0][2]
    assert stopped[0][0] < stop_ms + 200
    kept = in_python(events, stop_ms + 20_000)
    assert writes(kept) == writes(said)
    assert "NOT KEPT" not in text_of(kept)


@needs_cc
def test_a_memory_that_holds_nothing_is_called_that() -> None:
    """Not a missing hook: what board_keep() was given is not there when it is read."""
    said = in_c([(0, "forgets", 1), *DRY, *press(2500), *press(5000, long=True)], 12_000)
    text = text_of(said)
    assert "board_kept() does not give back what board_keep() was given: nothing can be started" in text
    assert "STOPPED: no programme" in text
    assert "hook" not in text
    assert not writes(said)
