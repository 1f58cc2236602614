"""What the reference controller counts for itself, so that it holds where the program was changed wrongly."""

from __future__ import annotations

from pathlib import Path

import pytest
from controller_bench import ALL, CONSTANTS, Bench, assert_safe, expected, quick
from controller_rig import SOURCES, Error, Hook, On, State, needs_cc, rig

pytestmark = needs_cc


def changed_source(folder: Path, *changes: tuple[str, str]) -> Path:
    """Copy the source with some of its text changed."""
    text = (SOURCES / "wash_controller.c").read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) >= 1, old
        text = text.replace(old, new)
    (folder / "wash_controller.c").write_text(text, encoding="utf-8")
    return folder / "wash_controller.c"


def narrowed(macro: str, value: str) -> tuple[str, str]:
    include = '#include "wash_timing.h"'
    return include, f"{include}\n#undef {macro}\n#define {macro} {value}"


ENDLESS = (
    ("lasted_ms >= ms(row->fill_s)", "lasted_ms >= 9UL * ms(row->fill_s)"),
    ("ms(length_s(wash, row, wash->state))", "9UL * ms(length_s(wash, row, wash->state))"),
    ("wash->state_ms >= ms(longest_s)", "wash->state_ms >= 9UL * ms(longest_s)"),
)
"""Three mistakes of a hand that changes the source: fill, phases and element last nine times as long."""


@pytest.mark.parametrize(
    ("changes", "error"),
    [
        (ENDLESS[:1], Error.FILL_TIME),
        (ENDLESS[1:], Error.ELEMENT_TIME),
        ((narrowed("WASH_ELEMENT_MAX_S", "3U"),), Error.ELEMENT_TIME),
        ((ENDLESS[1],), Error.TOTAL_TIME),
        ((narrowed("WASH_DRAIN_MIN_S", "8U"),), Error.NOT_DRAINED),
    ],
    ids=["fill", "element of the round", "element of any round", "whole run", "drain before a fill"],
)
def test_watchdogs_hold_when_the_phases_do_not(
    changes: tuple[tuple[str, str], ...], error: int, tmp_path: Path
) -> None:
    program = quick("-DWASH_LATE_MS=1000UL", source=changed_source(tmp_path, *changes))
    longest_s = max(row.element_max_s for row in CONSTANTS.rounds) + 2
    with rig(program, [ALL & ~Hook.BATH]) as copies:
        bench = Bench(copies)
        bench.start()
        heated_s = filled_s = 0
        was_on = False
        while bench.last["error"] == Error.OK and bench.last["state"] != State.IDLE:
            was_on = bool(bench.last["on"] & On.ELEMENT)
            bench.step()
            filled_s = filled_s + 1 if bench.last["on"] & On.INLET else 0
            heated_s += bool(bench.last["on"] & On.ELEMENT)
            if bench.last["state"] == State.FILL:
                heated_s = 0
            assert heated_s <= longest_s + 1
            assert filled_s <= CONSTANTS.fill_max_s + 3
        assert_safe(bench, error, was_on=was_on)


def test_round_that_was_never_filled_never_heats(tmp_path: Path) -> None:
    """Another mistake: a round that begins after its fill."""
    change = "pause_before(wash, WASH_STATE_FILL)", "pause_before(wash, WASH_STATE_HEAT)"
    with rig(quick(source=changed_source(tmp_path, change)), [Hook(0)]) as copies:
        bench = Bench(copies)
        bench.start()
        on = bench.outputs(len(expected()))
        assert On.WASH_PUMP in on
        assert not any(value & On.ELEMENT for value in on)


def test_long_wait_for_the_element_does_not_count_as_the_run(tmp_path: Path) -> None:
    after_power_up = "a moment ago */\n    wash->pause_ms = "
    slow = changed_source(tmp_path, (after_power_up, f"{after_power_up}400000UL + "))
    with rig(quick(source=slow), [ALL]) as copies:
        bench = Bench(copies)
        assert bench.start()["state"] == State.COOL
        bench.until(State.START_DRAIN)
        bench.until(State.IDLE)
        assert bench.last["error"] == Error.OK
