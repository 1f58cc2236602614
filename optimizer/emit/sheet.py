"""What every form lays out: the numbers with unit, range and meaning, and the words around them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from optimizer.check.controller_numbers import ControllerNumbers
from optimizer.check.table_rows import bath_most_c, room_under_limit_k
from optimizer.emit.assertions import Limit
from optimizer.emit.bench_run import bench_limits
from optimizer.emit.limits import limits
from optimizer.emit.meanings import (
    FACTS,
    MEANING,
    MEANING_OF_FACT,
    MEANING_OF_ROUND,
    OF_ROUND,
    TOP,
    names,
    of_round,
    unit_of,
)
from optimizer.emit.opening import cautions_of, meant_for, opening
from optimizer.emit.shared_limits import ConstantLimits, is_watchdog
from optimizer.profile.shipped import PROFILE_KINDS
from optimizer.programme.constants import KINDS, Kind, Round
from optimizer.programme.plan import Plan


@dataclass(frozen=True)
class Note:
    """A number, how far it may be edited while the others stay, what it does and which limit it stands on."""

    name: str
    value: int
    low: int
    high: int
    meaning: str
    aside: str = ""

    @property
    def unit(self) -> str:
        """Unit of the number."""
        return unit_of(self.name)

    @property
    def follows(self) -> bool:
        """Whether it follows from other numbers and is changed with them only."""
        return is_watchdog(self.name)

    @property
    def comment(self) -> str:
        """Unit, meaning, value and range in one line."""
        unit = "" if self.unit == "1" else f"[{self.unit}] "
        if self.follows:
            return f"{unit}{self.meaning}; {self.value}, follows from the phases"
        only = f"{self.value} and nothing else"
        allowed = only if self.low == self.high else f"{self.value}, allowed {self.low} to {self.high}"
        return "; ".join(filter(None, (f"{unit}{self.meaning}", allowed, self.aside)))


@dataclass(frozen=True)
class Sheet:
    """All that a form writes; of numbers that were read, only the numbers."""

    notes: Mapping[str, Note]
    input_sha256: str
    opening: tuple[str, ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)
    meant_for: str = ""
    cautions: tuple[str, ...] = ()
    assertions: tuple[Limit, ...] = ()

    @classmethod
    def of_plan(cls, plan: Plan, shared: ControllerNumbers | None = None) -> Sheet:
        """Lay out the constants of a proven plan, or of a bench run that was checked.

        `shared` are the numbers of a controller that runs other programmes too.
        """
        found = bench_limits(plan, shared) if plan.constants.bench_run else limits(plan, shared)
        wanted = [*names(len(plan.constants.rounds)), *FACTS]
        return cls(
            notes={name: _note(name, plan, found) for name in wanted},
            input_sha256=plan.constants.input_sha256,
            opening=tuple(opening(plan)),
            titles={kind: getattr(plan.inputs, kind).title for kind in PROFILE_KINDS},
            meant_for=meant_for(plan),
            cautions=cautions_of(plan),
            assertions=found.relations,
        )

    @classmethod
    def of_numbers(cls, values: Mapping[str, int], input_sha256: str) -> Sheet:
        """Lay out numbers that were read, without a word around them."""
        return cls(
            {name: Note(name, value, value, value, "") for name, value in values.items()}, input_sha256
        )

    @property
    def bench_run(self) -> bool:
        """Whether these are the numbers of a bench run."""
        return bool(self.notes["bench_run"].value)

    @property
    def top(self) -> list[Note]:
        """Numbers of the programme as a whole."""
        return [self.notes[name] for name in TOP]

    @property
    def facts(self) -> list[Note]:
        """Numbers of machine and circuit, which a controller takes too."""
        return [self.notes[name] for name in FACTS]

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """Kinds of the rounds."""
        count = self.notes["rounds"].value
        return tuple(KINDS[self.notes[of_round(number, "kind")].value] for number in range(1, count + 1))

    def rounds(self) -> Iterator[tuple[str, list[Note]]]:
        """Give each round's heading and its numbers."""
        count = self.notes["rounds"].value
        for number in range(1, count + 1):
            notes = [self.notes[of_round(number, name)] for name in OF_ROUND]
            yield f"Round {number} of {count}: {KINDS[notes[0].value]}", notes


def _note(name: str, plan: Plan, found: ConstantLimits) -> Note:
    value, (low, high) = found.values[name], found.range_of(name)
    if not name.startswith("round_"):
        return Note(name, value, low, high, MEANING_OF_FACT.get(name) or MEANING[name])
    _, place, inner = name.split("_", 2)
    row = plan.constants.rounds[int(place) - 1]
    kind = f", {row.kind}" if inner == "kind" else ""
    aside = "" if plan.constants.bench_run else _aside(name, inner, row, plan, found)
    return Note(name, value, low, high, MEANING_OF_ROUND[inner] + kind, aside)


def _aside(name: str, inner: str, row: Round, plan: Plan, found: ConstantLimits) -> str:
    """Which limit stands behind a number of a round of a programme."""
    machine, constants = plan.inputs.machine, plan.constants
    if inner == "fill_s":
        holds = f"the tank holds {machine.tank.capacity_l:g} l"
        if constants.fill_control == "level":
            return f"at most, {holds}"
        low, high = found.widest_range_of(name)
        return f"{low} to {high} with others, {holds}: {_with_another_fill(row)}"
    if inner == "setpoint_dc" and row.setpoint_dc:
        return f"more: {found.stops(name)}"
    if inner in ("heat_s", "spray_element_s") and getattr(row, inner):
        at_most = "at most, " if constants.control == "thermostat" else ""
        return f"{at_most}ceiling {_ceiling(row, plan)}"
    return ""


def _with_another_fill(row: Round) -> str:
    """Which numbers another fill asks for, as the limits have it: more water never gets more element."""
    more = ["longer drain"]
    more += ["longer top-up"] * bool(row.top_up_s) + ["more detergent"] * bool(row.detergent_dg)
    said = f"more water may ask for {' and '.join(more)}"
    if row.heated:
        said += ", gets no more element"
    less = ["less element"] * (row.heated and row.setpoint_dc == 0)
    less += ["less detergent"] * bool(row.detergent_dg)
    return said + (f"; less water for {' and '.join(less)}" if less else "")


def _ceiling(row: Round, plan: Plan) -> str:
    """The hottest that the certificate lets this bath be, and why."""
    machine, prerinse_c = plan.inputs.machine, plan.inputs.goal.prerinse.limit_c
    most_c, room_k = bath_most_c(plan.constants, machine), room_under_limit_k(plan.constants, machine)
    tank_c, pipe = machine.tank.limit_c, machine.drain_pump
    if row.kind == "prerinse" and prerinse_c < most_c:
        return f"{prerinse_c:g} C (prerinse)"
    why = f"tank, {tank_c:g} C, less {room_k:g} K for a cut-out" if room_k else "tank"
    why = "boil" if most_c < tank_c - room_k else why
    drained = pipe.drain_limit_c < most_c and not pipe.stands_the_boil
    return f"{most_c:.4g} C ({why})" + f", {pipe.drain_limit_c:g} C as it is drained (pipe)" * drained
