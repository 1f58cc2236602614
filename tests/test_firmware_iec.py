"""The controller as a function block: parsed by a parser of the standard, and beside the one in C.

No compiler or simulator of IEC 61131-3 is to be had from the package registries, so none has run it: here a
translator of our own does (structured_text.py), in lock step with the C one.
"""

from __future__ import annotations

import re
from types import SimpleNamespace
from typing import Any

import numpy as np
import pytest
import several_cases
from controller_bench import ALL
from controller_cases import built, quick_plan
from controller_rig import IN, SOURCES, USUAL, Ask, Error, Hook, In, On, State, needs_cc, rig
from exploring import TIMES
from structured_text import translated

from optimizer.check.drain_wait import drain_stop_dc
from optimizer.emit.forms import firmware_files
from optimizer.emit.meanings import SEVERAL_FORMAT
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Plan

SOURCE = (SOURCES / "wash_programme.st").read_text(encoding="utf-8")
PLANS = {"timed": several_cases.quick, "switched": several_cases.switched}
CASES = [(case, name) for case, plans in PLANS.items() for name in plans()]
DID = ("on", "state", "round", "error", "detergent_dg", "running", "seen_dc", "cool")
NOTHING_SEEN = -32768
SEVERAL = ("everyday", "rehearsal")
OUTPUTS = {"INLET": On.INLET, "ELEMENT": On.ELEMENT, "WASH_PUMP": On.WASH_PUMP, "DRAIN_PUMP": On.DRAIN_PUMP}


@pytest.mark.slow
def test_a_parser_of_the_standard_takes_it() -> None:
    blark = pytest.importorskip("blark.parse", reason="no parser here: .ci/run installs blark")
    parsed = blark.parse_source_code(SOURCE)
    assert parsed.exception is None
    kinds = [type(item).__name__ for item in parsed.transform().items]
    assert kinds == ["DataTypeDeclaration", "DataTypeDeclaration", "Function", "FunctionBlock"]
    structures = SOURCE[: SOURCE.index("\nFUNCTION WASH_LENGTH")]
    # A parser in Python takes a second for 1000 signs: two programmes are several.
    plans = {name: plan for name, plan in several_cases.timed().items() if TIMES or name in SEVERAL}
    for text in {*firmware_files(plans, "iec").values(), structures} - {SOURCE}:
        assert blark.parse_source_code(text).exception is None
    spoilt = blark.parse_source_code(structures.replace("END_STRUCT", "", 1))
    assert spoilt.exception is not None


def test_cautions_come_first() -> None:
    text = " ".join(SOURCE.split())
    assert text.index("CAUTIONS") < text.index("FUNCTION_BLOCK WASH_PROGRAMME")
    words = ("Mains voltage", "licensed electrician", "local codes", "float switch in series", "scald",
             "NO COMPILER OF THE STANDARD HAS SEEN IT")  # fmt: skip
    assert all(word in text for word in words)


def table_of(plan: Plan) -> SimpleNamespace:
    """The structure WASH_TABLE of a plan, times in milliseconds."""
    constants = plan.constants
    rows = [None]
    for row in constants.rounds:
        fields = {key.upper(): getattr(row, key) for key in vars(row) if key != "kind"}
        fields = {key: 1000 * value if key.endswith("_S") else value for key, value in fields.items()}
        rows.append(SimpleNamespace(KIND=KINDS.index(row.kind), **fields))  # type: ignore[arg-type]
    element = plan.inputs.machine.element
    times = ("start_drain_s", "gap_s", "after_soak_s", "stand_s", "fill_max_s", "drain_min_s")
    times += ("element_max_s", "total_max_s")
    return SimpleNamespace(
        FORMAT=SEVERAL_FORMAT, FILL_IS_COLD=True, DRAIN_WAIT_S=1000 * WAIT_S,
        DRAIN_MAX_DC=USUAL["DRAIN_MAX_DC"], DRAIN_STOP_DC=drain_stop_dc(plan.inputs.machine),
        SENSOR_MOVES_S=1000 * USUAL["SENSOR_MOVES_S"],
        ROUNDS=len(constants.rounds), ROW=rows, HYSTERESIS_DK=constants.hysteresis_dk,
        BATH_MAX_DC=constants.bath_max_dc, BENCH_RUN=constants.bench_run,
        RESTART_AFTER_CUT=constants.restart_after_cut, FILL_BY_LEVEL=constants.fill_control == "level",
        HAS_THERMOSTAT=constants.control == "thermostat",
        ELEMENT_REST_S=1000 * (element.rest_s if element else 0),
        **{name.upper(): 1000 * getattr(constants, name) for name in times},
    )  # fmt: skip


def test_the_table_has_every_member_of_the_structure() -> None:
    structures = dict(re.findall(r"^TYPE (\w+) : STRUCT(.*?)END_STRUCT", SOURCE, re.M | re.S))
    each = re.compile(r"\b([A-Z][A-Z_0-9]*)\b(?=[^;]*:)")
    members = {name: set(each.findall(text)) for name, text in structures.items()}
    table = table_of(several_cases.quick()["first"])
    assert members["WASH_TABLE"] - {"NAME"} == set(vars(table))
    assert members["WASH_ROUND"] == set(vars(table.ROW[1]))


WAIT_S = 25
"""A bath that nothing reads cools for so long."""
READ_OR_NOT = [
    (case, name, reads)
    for case, name in CASES
    for reads in ((True,) if case == "switched" else (True, False))
]
"""A thermostat needs its sensor."""


class Block:
    """The function block on a machine: told what a copy of the C one is told."""

    def __init__(self, plan: Plan, hooks: int) -> None:
        self.space, self.call = translated(SOURCE, "WASH_PROGRAMME")
        self.space["TABLE"] = table_of(plan)
        self.hooks, self.powered, self.clock_ms = hooks, False, 0

    def tell(self, clock_ms: int, told: np.void) -> tuple[int, ...]:
        """Call it once; give outputs, state, round, error, detergent, flag."""
        flags, space = int(told["flags"]), self.space
        if not flags & In.POWER:
            self.powered = False
            space.update(dict.fromkeys(OUTPUTS, False))
            return self._did()
        first = not self.powered
        self.powered = True
        inputs: dict[str, Any] = {
            "INIT": first, "WAS_RUNNING": first and space["RUNNING"], "START": bool(flags & In.START),
            "STOP": bool(flags & In.STOP), "SKIP": bool(told["asks"] & Ask.SKIP_ROUND),
            "KEPT_COOL": space["TANK_COOL"] and not (first and told["asks"] & Ask.SPOILT),
            "TANK_IS_COOL": bool(told["asks"] & Ask.TANK_IS_COOL),
            "STEP": 0 if first else clock_ms - self.clock_ms, "HAS_BATH": bool(self.hooks & Hook.BATH),
            "BATH_VALID": bool(flags & In.BATH), "BATH": int(told["bath_dc"]), "FULL": bool(flags & In.FULL),
            "HAS_FLOAT": bool(self.hooks & Hook.COVERED), "COVERED": bool(flags & In.COVERED),
            "OVERFLOW": bool(self.hooks & Hook.OVERFLOW) and bool(flags & In.OVERFLOW),
            "LID_SHUT": not told["asks"] & Ask.LID_OPEN, "NO_LID_SWITCH": not self.hooks & Hook.LID,
        }  # fmt: skip
        space.update(inputs)
        self.clock_ms = clock_ms
        self.call()
        return self._did()

    def _did(self) -> tuple[int, ...]:
        space = self.space
        on = sum(int(bit) for name, bit in OUTPUTS.items() if space[name])
        dose = space["DETERGENT_DG"] if space["DETERGENT"] and self.powered else 0
        seen_dc = space["SEEN_DC"] if space["VALID"] and self.powered else NOTHING_SEEN
        standing = space["STATE"], max(space["ROUND"] - 1, 0), space["ERROR"]
        return on, *standing, dose, int(space["RUNNING"]), seen_dc, int(space["TANK_COOL"])


@pytest.mark.slow
@needs_cc
@pytest.mark.parametrize(("case", "name", "reads"), READ_OR_NOT)
@pytest.mark.parametrize("wrong", [0.0, 0.003])
def test_it_does_what_the_c_one_does(case: str, name: str, reads: bool, wrong: float) -> None:
    """Sound runs, and everything around it going wrong at random; the clock moves at every call."""
    plan = PLANS[case]()[name]
    hooks = ALL | Hook.LID | Hook.COOL | (Hook.FULL if case == "switched" else Hook(0))
    hooks = hooks if reads else hooks & ~Hook.BATH
    rng = np.random.default_rng(len(name))
    block, seen, kept = Block(plan, int(hooks)), set(), set()
    program = built(plan, "-DWASH_FILL_IS_COLD=1", f"-DWASH_DRAIN_WAIT_S={WAIT_S}UL")
    with rig(program, [hooks]) as copies:
        last, clock_ms, told = copies.step(0, 0), 1000, np.zeros(1, IN)
        for _ in range(2500):
            clock_ms += int(rng.integers(1, 1500)) + (30_000 if rng.random() < wrong / 3.0 else 0)
            drains, fills = last["on"][0] & On.DRAIN_PUMP, last["state"][0] == State.FILL
            flags = In.POWER | In.BATH | (In(0) if drains else In.COVERED) | (In.FULL if fills else In(0))
            for flag in (In.BATH, In.COVERED, In.FULL, In.OVERFLOW, In.STOP, In.POWER):
                flags ^= flag if rng.random() < wrong else In(0)
            flags |= In.START if rng.random() < 0.1 else In(0)
            told["flags"], told["bath_dc"] = int(flags), rng.integers(250, 620)
            told["asks"] = int(rng.random() < wrong) * Ask.SKIP_ROUND
            told["asks"] |= int(rng.random() < 4.0 * wrong) * Ask.LID_OPEN
            told["asks"] |= int(rng.random() < 4.0 * wrong) * Ask.TANK_IS_COOL
            told["asks"] |= int(rng.random() < 0.2) * Ask.SPOILT
            last = copies.tell(clock_ms, told)
            did = tuple(int(last[key][0]) for key in DID)
            assert block.tell(clock_ms, told[0]) == did
            assert not block.powered or block.space["HOT"] == bool(last["seen_lid"][0] & 4)
            seen.add((did[1], did[3]))
            kept.add(did[-1])
    assert {State.SPRAY, State.DRAIN, State.IDLE} <= {state for state, _ in seen}
    assert kept == {0, 1}
    assert wrong == 0.0 or len({error for _, error in seen}) > 2
    assert (State.HELD in {state for state, _ in seen}) == (wrong > 0.0)


def test_a_clock_that_stops_switches_everything_off() -> None:
    block = Block(several_cases.quick()["first"], int(ALL))
    told, clock_ms = np.zeros(1, IN)[0], 0
    told["flags"], told["bath_dc"] = In.POWER | In.BATH | In.COVERED, 200
    for _ in range(100):
        clock_ms += 1000
        block.tell(clock_ms, told)
    told["flags"] |= In.START
    block.tell(clock_ms + 1000, told)
    told["flags"] ^= In.START
    calls = 0
    while block.tell(clock_ms + 1000, told)[0]:
        calls += 1
    assert calls == 20
    assert block.space["ERROR"] == Error.CLOCK_STOPPED


@pytest.mark.parametrize("case", PLANS)
def test_the_tables_are_those_of_the_constants(case: str) -> None:
    """The same names, so that an edited constant is the one that runs; every member once."""
    plans = several_cases.CASES["thermostat" if case == "switched" else case]()
    files = firmware_files(plans, "iec")
    assert list(files) == ["wash_timing.st", "wash_tables.st", "wash_programme.st"]
    declared = dict(re.findall(r"^ +(WASH_\w+) : (\w+)", files["wash_timing.st"], re.M))
    used = re.findall(r"(\w+) := (WASH_\w+)", files["wash_tables.st"])
    assert {name for _, name in used} <= declared.keys()
    structures = dict(re.findall(r"^TYPE (\w+) : STRUCT(.*?)END_STRUCT", SOURCE, re.M | re.S))
    kinds = {}
    for text in structures.values():
        for names, kind in re.findall(r"([\w, ]+?) : (\w+)", text):
            kinds |= {name.strip(): kind for name in names.split(",")}
    assert all(declared[name] == kinds[member] for member, name in used)
    for number, plan in enumerate(plans.values(), start=1):
        for place in range(1, len(plan.constants.rounds) + 1):
            of_round = [member for member, name in used if name.startswith(f"WASH_P{number}_ROUND_{place}_")]
            assert sorted(of_round) == sorted(vars(table_of(plan).ROW[1]))


@needs_cc
@pytest.mark.parametrize("bath_dc", [650, 651])
def test_what_reads_too_hot_for_the_pipe_is_not_drained_in_its_turn(bath_dc: int) -> None:
    """As the C one: the top-up of the wash is stirred, then the bath is read before its drain."""
    plan, hooks = quick_plan(), int(ALL)
    block, told, states = Block(plan, hooks), np.zeros(1, IN), set()
    block.space["TABLE"].DRAIN_STOP_DC = 650
    options = "-DWASH_FILL_IS_COLD=1", f"-DWASH_DRAIN_WAIT_S={WAIT_S}UL", "-DWASH_DRAIN_STOP_DC=650"
    with rig(built(plan, *options), [hooks]) as copies:
        last, clock_ms, reads_dc = copies.step(0, 0), 1000, 200
        for _ in range(400):
            clock_ms += 500
            drains = last["on"][0] & On.DRAIN_PUMP
            told["flags"] = int(In.POWER | In.BATH | In.START | (In(0) if drains else In.COVERED))
            reads_dc = bath_dc if last["state"][0] == State.MIX else reads_dc
            told["bath_dc"] = reads_dc
            last = copies.tell(clock_ms, told)
            did = tuple(int(last[key][0]) for key in DID)
            assert block.tell(clock_ms, told[0]) == did
            states.add((did[1], did[2], did[3]))
    assert ((State.DRAIN, 1, Error.OK) in states) == (bath_dc == 650)
    assert any(error == Error.TOO_HOT for _, _, error in states) == (bath_dc == 651)


@needs_cc
@pytest.mark.parametrize("lost", [False, True])
def test_a_sensor_found_stuck_or_lost_gives_no_leave_to_drain(lost: bool) -> None:
    """As the C one: it reads cool, and the bath stays in for all of the wait with everything off."""
    plan, hooks = quick_plan(), int(ALL)
    block, told, found_ms, drained_ms = Block(plan, hooks), np.zeros(1, IN), 0, 0
    block.space["TABLE"].SENSOR_MOVES_S = 1000 * (600 if lost else 2)
    wanted = Error.SENSOR_LOST if lost else Error.SENSOR_STUCK
    options = f"-DWASH_DRAIN_WAIT_S={WAIT_S}UL", f"-DWASH_SENSOR_MOVES_S={600 if lost else 2}U"
    with rig(built(plan, "-DWASH_FILL_IS_COLD=1", *options), [hooks]) as copies:
        last, clock_ms = copies.step(0, 0), 1000
        for _ in range(600):
            clock_ms += 500
            drains = last["on"][0] & On.DRAIN_PUMP
            reads = not lost or found_ms or not (last["round"][0] == 1 and last["state"][0] == State.SPRAY)
            told["flags"] = int(In.POWER | In.START | (In(0) if drains else In.COVERED))
            told["flags"] |= int(In.BATH) if reads else 0
            told["bath_dc"] = 200
            last = copies.tell(clock_ms, told)
            did = tuple(int(last[key][0]) for key in DID)
            assert block.tell(clock_ms, told[0]) == did
            if did[3] == wanted and not found_ms:
                found_ms = clock_ms
            if found_ms and did[0]:
                drained_ms = drained_ms or clock_ms
                assert did[0] == On.DRAIN_PUMP
                break
    assert found_ms
    assert WAIT_S - 6 <= (drained_ms - found_ms) / 1000.0 <= WAIT_S + 2
