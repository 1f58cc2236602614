"""The controller in MicroPython against the one in C, step by step, under a real MicroPython.

Both are told the same at every step, and everything that comes back has to be the same: outputs, state,
round, error, detergent, flag, what calls answered, what a person sees. What the C one does is held against
the check and the rules of safety elsewhere; so that holds for this one too.
"""

from __future__ import annotations

import subprocess
from functools import cache
from pathlib import Path

import numpy as np
import pytest
import several_cases
from controller_bench import ALL, FINE, Bench
from controller_cases import SHIPPED, all_hooks, built_several, by_machine, outputs_of, proven, quick_plan
from controller_micropython import BUILD, NODE, in_micropython, needs_micropython
from controller_plant import Scenario, run
from controller_rig import IN, SOURCES, TESTS, Ask, Error, Hook, In, On, State, Twins, needs_cc, rig
from exploring import TIMES, few_of
from test_controller_faults import fault_scenarios

from optimizer.programme.plan import Plan

pytestmark = [needs_cc, needs_micropython]

CASES = {"timed": (several_cases.quick, ALL), "switched": (several_cases.switched, ALL | Hook.FULL)}
PACED_C = ("-DWASH_STEPS_MAX_PER_S=100", "-DWASH_FILL_IS_COLD=1", "-DWASH_DRAIN_WAIT_S=25UL")
PACED_PY = ("STEPS_MAX_PER_S = const(500000)", "STEPS_MAX_PER_S = const(100)")
OF_MACHINE = {"FILL_IS_COLD": 1, "DRAIN_WAIT_S": 25}
OPTIONAL = (Hook.BATH, Hook.COVERED, Hook.OVERFLOW, Hook.FLAG, Hook.DETERGENT, Hook.LID, Hook.COOL)


def twins(plans: dict[str, Plan], *, paced: bool = False) -> Twins:
    """The same programmes in C and in MicroPython."""
    other = in_micropython(plans, PACED_PY, numbers=OF_MACHINE) if paced else in_micropython(plans)
    assert isinstance(other, tuple)
    return Twins(built_several(plans, *(PACED_C if paced else ())), other)


@cache
def quick_twins(case: str) -> Twins:
    """Those of short phases, in a loop of 100 steps a second at most."""
    return twins(CASES[case][0](), paced=True)


def test_it_runs_in_micropython_and_not_in_another_python() -> None:
    code = (
        f'const {{ loadMicroPython }} = await import("{BUILD}/micropython.mjs");'
        "const found = await loadMicroPython();"
        'found.runPython("import sys; print(sys.implementation.name, *sys.implementation.version[:2])");'
    )
    command = [str(NODE), "--input-type=module", "-e", code]
    said = subprocess.run(command, capture_output=True, text=True, check=True).stdout
    assert said.split() == ["micropython", "1", "27"]


NO_PROGRAMME = """
import wash_controller as w
import wash_timing

class Board(w.Hooks):
    no_lid_switch = True
    on = 0
    now = 0
    full = False

    def clock_ms(self):
        Board.now += 500
        return Board.now

    def outputs(self, on):
        Board.on = on

    def was_running(self):
        return False

    def set_running(self, running):
        if Board.full:
            raise OSError("no memory left")

first = w.programmes(wash_timing)[0]
unsound = w.programmes(wash_timing)[0]
unsound.gap_s = 0
assert w.ERROR_TEXTS[w.HOOKS] == "hooks do not fit" and w.ERROR_TEXTS[w.PROGRAMME] == "no programme"
NONE = [(Board(), None), (Board(), unsound), (Board(), "first"), (None, first), (w.Hooks(), first)]
for hooks, one in NONE:
    wash = w.Wash(hooks, one)
    wanted = w.HOOKS if one is first else w.PROGRAMME
    assert wash.hooks is None and wash.error == wanted and wash.step() == w.IDLE
    assert not wash.start() and not wash.skip()
    name = first.name if one is first else ""
    assert wash.view() == (name, "idle", w.ERROR_TEXTS[wanted], 0, 0, 0, None, False)
wash = w.Wash(Board(), first)
for one in (None, unsound, "first"):
    assert wash.choose(one) is False and wash.programme is first
wash.start()
while not Board.on:
    wash.step()
Board.full = True
try:
    wash.stop()
    print("no error")
except OSError:
    print("off", Board.on, wash.state == w.SAFE_OFF)
"""


def test_no_programme_is_refused_and_outputs_go_off_before_the_flag(tmp_path: Path) -> None:
    """As in C, where wash_choose(NULL) is false; a file system that is full leaves nothing on."""
    command = in_micropython(several_cases.quick())
    assert isinstance(command, tuple)
    script = tmp_path / "script.py"
    script.write_text(NO_PROGRAMME, encoding="utf-8")
    words = [str(NODE), str(TESTS / "run_main.mjs"), str(BUILD), command[3], str(script)]
    done = subprocess.run(words, capture_output=True, text=True, check=False)
    assert (done.stdout.strip(), done.returncode) == ("off 0 True", 0), done.stderr[-500:]


def test_texts_are_those_of_the_c_one() -> None:
    """Word for word, in the order of the states and errors."""
    c, python = ((SOURCES / f"wash_controller.{end}").read_text(encoding="utf-8") for end in ("c", "py"))
    names: dict[str, list[str]] = {}
    exec(compile(python, "wash_controller.py", "exec"), names)  # type: ignore[arg-type]
    for function, texts, kinds in (
        ("state", names["STATE_TEXTS"], State),
        ("error", names["ERROR_TEXTS"], Error),
    ):
        block = c.split(f"wash_{function}_text(")[1].split("};")[0].split("{", 2)[2]
        assert [word.strip().strip('"') for word in block.split(",") if word.strip()] == list(texts)
        assert len(texts) == len(kinds)
        assert max(map(len, texts)) <= 17
    for kind in (*State, *Error):
        assert names[kind.name] == kind.value


@pytest.mark.slow
@pytest.mark.parametrize("number", range(4))
def test_every_programme_of_a_file_does_what_its_table_says(number: int) -> None:
    plans = list(several_cases.quick().values())
    constants = plans[number].constants
    wanted = outputs_of(constants).tolist()
    with rig(quick_twins("timed"), [ALL]) as copies:
        bench = Bench(copies)
        row = np.zeros(1, IN)
        row["flags"], row["bath_dc"], row["choose"] = FINE, 200, number + 1
        bench.clock_ms += 1000
        assert copies.tell(bench.clock_ms, row)[0]["asked"] == 1
        for _ in range(8):
            bench.step()
        first = bench.start()
        assert first["left_s"] == constants.total_max_s
        on = [int(first["on"])]
        for second in range(1, len(wanted)):
            on.append(int(bench.step()["on"]))
            assert bench.last["left_s"] == constants.total_max_s - second
        assert on == wanted
        assert bench.until(State.IDLE)["on"] == 0
        assert (bench.last["left_s"], bench.last["error"]) == (0, Error.OK)


def noise(case: str, seed: int, tells: int, number: int, most: int) -> int:
    """Tell copies of both anything; gives the steps that each of them took."""
    plans, needed = CASES[case]
    rng = np.random.default_rng(seed)
    hooks = np.full(number, int(needed & (Hook.BATH | Hook.FULL) if case == "switched" else 0))
    for hook in OPTIONAL:
        hooks |= np.where(rng.random(number) < 0.6, int(hook), 0)
    hooks &= np.where(hooks & Hook.FLAG > 0, -1, ~int(Hook.COOL))
    wrong, upset = rng.choice([0.0, 0.001, 0.02]), rng.choice([0.0, 0.002, 0.02])
    clock_ms = int(rng.integers(0, 2**32)) + np.cumsum(rng.integers(1, 1900, tells))
    told, steps, seen, lids = np.zeros(number, IN), 0, set(), set()
    skew_ms = np.zeros(number, np.int64)
    with rig(quick_twins(case), [int(has) for has in hooks]) as copies:
        last = copies.step(int(clock_ms[0]) - 1, int(In.POWER))
        for now_ms in clock_ms:
            drained = (last["on"] & On.DRAIN_PUMP) > 0
            flags = np.where(drained, 0, In.COVERED) | np.where(last["state"] == State.FILL, In.FULL, 0)
            flags |= In.BATH | In.POWER
            for flag in (In.BATH, In.FULL, In.COVERED, In.OVERFLOW):
                flags ^= np.where(rng.random(number) < wrong, flag, 0)
            for flag in (In.POWER, In.STOP, In.SKIP):
                flags ^= np.where(rng.random(number) < upset / 4.0, flag, 0)
            flags |= np.where(rng.random(number) < 0.2, In.START, 0)
            skew_ms += np.where(rng.random(number) < upset / 4.0, rng.integers(0, 2**32, number), 0)
            told["flags"] = flags
            told["bath_dc"] = np.where(
                rng.random(number) < wrong, rng.integers(-400, 2000, number), rng.integers(250, 600, number)
            )
            told["asks"] = np.where(rng.random(number) < upset, Ask.SKIP_ROUND, 0)
            told["asks"] |= np.where(rng.random(number) < 4.0 * upset, Ask.LID_OPEN, 0).astype(np.uint8)
            told["asks"] |= np.where(rng.random(number) < upset, Ask.TANK_IS_COOL, 0).astype(np.uint8)
            for ask in (Ask.WRITE_LOST, Ask.SPOILT, Ask.STICKS):
                told["asks"] |= np.where(rng.random(number) < 10.0 * upset, ask, 0).astype(np.uint8)
            told["choose"] = np.where(rng.random(number) < 0.1, rng.integers(1, len(plans()) + 2, number), 0)
            told["twice"] = np.where(rng.random(number) < wrong, rng.integers(0, 16, number), 0)
            told["more"] = rng.integers(0, most, number)
            told["skew_ms"] = skew_ms % 2**32
            last = copies.tell(int(now_ms) % 2**32, told)
            steps += int((1 + told["more"])[(flags & In.POWER > 0) & (flags & In.SKIP == 0)].sum())
            seen |= set(last["error"].tolist())
            lids |= set(last["state"].tolist())
    assert Error.LATE in seen or upset == 0.0
    assert State.HELD in lids or upset == 0.0
    return steps


@pytest.mark.parametrize("bath_dc", [650, 651])
def test_what_reads_too_hot_for_the_pipe_is_not_drained_in_its_turn(bath_dc: int) -> None:
    """The top-up of the wash is stirred, then the bath is read before its drain."""
    plans = {"only": quick_plan()}
    other = in_micropython(plans, PACED_PY, numbers={**OF_MACHINE, "DRAIN_STOP_DC": 650})
    assert isinstance(other, tuple)
    both = Twins(built_several(plans, *PACED_C, "-DWASH_DRAIN_STOP_DC=650"), other)
    with rig(both, [int(ALL)]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.MIX, 1)
        while bench.last["state"] in (State.MIX, State.GAP):
            bench.step(100, bath_dc=bath_dc)
        wanted = (State.DRAIN, Error.OK) if bath_dc == 650 else (State.SAFE_OFF, Error.TOO_HOT)
        assert (bench.last["state"], bench.last["error"]) == wanted


@pytest.mark.parametrize("lost", [False, True])
def test_a_sensor_found_stuck_or_lost_gives_no_leave_to_drain(lost: bool) -> None:
    """It reads cool, and the bath stays in for all of the wait of 25 s with everything off."""
    plans, moves_s = {"only": quick_plan()}, 600 if lost else 2
    other = in_micropython(plans, PACED_PY, numbers={**OF_MACHINE, "SENSOR_MOVES_S": moves_s})
    assert isinstance(other, tuple)
    both = Twins(built_several(plans, *PACED_C, f"-DWASH_SENSOR_MOVES_S={moves_s}U"), other)
    with rig(both, [int(ALL)]) as copies:
        bench = Bench(copies)
        bench.start()
        bench.until(State.SPRAY if lost else State.HEAT, 1)
        while bench.last["error"] == Error.OK:
            bench.step(500, flags=FINE & ~int(In.BATH) if lost else None)
        assert bench.last["error"] == (Error.SENSOR_LOST if lost else Error.SENSOR_STUCK)
        on = [int(bench.step(add=int(In.START))["on"]) for _ in range(27)]
        assert not any(on[:18])
        assert On.DRAIN_PUMP in on[18:]


@pytest.mark.parametrize("case", CASES)
def test_the_same_whatever_it_is_told(case: str) -> None:
    assert noise(case, seed=3, tells=150, number=16, most=2) > 2400


@pytest.mark.slow
@pytest.mark.parametrize("case", CASES)
def test_the_same_in_more_than_a_hundred_thousand_steps_of_anything(case: str) -> None:
    seeds = range(10, 17 if TIMES else 12)
    tells = 800 if TIMES else 600
    steps = sum(noise(case, seed, tells=tells, number=16, most=12) for seed in seeds)
    assert steps > 87.5 * tells * len(seeds)


WITH_FAULTS = few_of(SHIPPED, ["narrowboat", "cold-shed"])
"""With all sensors and switches, and with the fewest; on the others the same code runs, without faults."""


def faults_of(machine: str) -> list[Scenario]:
    """Each fault once, with all hooks where it has them; with SCULLION_EXPLORE with the fewest as well."""
    every = fault_scenarios(machine)
    return every if TIMES else list({one.fault: one for one in sorted(every, key=_hooks)}.values())


def _hooks(scenario: Scenario) -> int:
    return int(scenario.hooks).bit_count()


@pytest.mark.slow
@pytest.mark.parametrize("machine", by_machine(SHIPPED))
def test_the_same_over_whole_programmes_and_every_fault_of_a_shipped_machine(machine: str) -> None:
    """On the check's two-node model: sound, and with one broken part at a time on two machines."""
    found = proven(machine)
    inputs, seen = found.plan.inputs, all_hooks(found.plan.inputs.machine)
    scenarios = [Scenario("nominal", seen), Scenario("corner", seen, case=0)]
    scenarios += faults_of(machine) if machine in WITH_FAULTS else []
    did = run(inputs.machine, twins({"only": found.plan}), scenarios, found.plan.constants.total_max_s + 60)
    assert did.state[-1, 0] == State.IDLE
    assert not did.error[:, :2].any()
    if found.plan.constants.control == "timed" and found.plan.constants.fill_control == "timed":
        wanted = outputs_of(found.plan.constants)
        assert (did.on[: len(wanted), 0] == wanted).all()


@pytest.mark.parametrize(
    ("old", "new"),
    [
        ("now_ms - self.clock_ms) & CLOCK_TURN", "now_ms - self.clock_ms)"),
        ("self.skips or self.state_ms", "self.state_ms"),
        ("dc - first_dc) <= READ_APART_DK", "dc - first_dc) <= 90 * READ_APART_DK"),
    ],
)
@pytest.mark.slow
def test_the_comparison_finds_a_mistake(old: str, new: str, monkeypatch: pytest.MonkeyPatch) -> None:
    plans = CASES["switched"][0]()
    other = in_micropython(plans, PACED_PY, (old, new), numbers=OF_MACHINE)
    assert isinstance(other, tuple)
    changed = Twins(built_several(plans, *PACED_C), other)
    monkeypatch.setattr("test_controller_micropython.quick_twins", lambda _: changed)
    with pytest.raises(pytest.fail.Exception, match="in the other"):
        sum(noise("switched", seed, tells=400, number=16, most=2) for seed in range(20, 30))
