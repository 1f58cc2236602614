"""Programmes one step away from a plan, written as one would try them at the machine: a list of rounds, of
which one is changed. Nothing of the planner's own steps is used."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from optimizer.plan_and_prove import Proven
from optimizer.planner.convert_constants import programme_of
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import ROUNDS_MOST, Mode, Programme, Settings, Structure
from optimizer.planner.trim import trim
from optimizer.planner.trim_space import Space
from optimizer.programme.constants import KINDS

HEAT_S, SETPOINT_C, SOAK_S, REST_S, TOP_UP_S = 1500.0, 50.0, 1200.0, 600.0, 60.0
"""What a heat phase, a soak, a rest or a top-up that was not there is first tried with [s, °C]."""
UP, DOWN, KELVIN = 1.25, 0.8, 5.0
"""A level or a heating up and down [1]; a set point [K]."""


@dataclass(frozen=True)
class Row:
    """One round; times in seconds, the set point in °C, inf where there is none."""

    kind: str
    fill_s: float
    spray_s: float
    heat_s: float = 0.0
    spray_heat_s: float = 0.0
    setpoint_c: float = np.inf
    soak_s: float = 0.0
    rest_s: float = 0.0
    top_up_s: float = 0.0

    @property
    def heats_s(self) -> tuple[float, float]:
        return self.heat_s, self.spray_heat_s

    @property
    def heated(self) -> bool:
        return sum(self.heats_s) > 0.0

    @property
    def mode(self) -> Mode:
        if self.kind == "steam":
            return Mode.STEAM
        if self.heat_s:
            return Mode.BOTH_WAYS if self.spray_heat_s else Mode.THEN_SPRAY
        return Mode.WHILE_SPRAYING if self.spray_heat_s else Mode.UNHEATED


Rows = tuple[Row, ...]


def rows_of(programme: Programme) -> Rows:
    """A programme of one candidate as rounds."""
    structure, settings = programme
    rows = []
    for i, (kind, mode) in enumerate(zip(structure.kinds, structure.modes, strict=True)):
        element_s = float(settings.element_s[0, i])
        alone = mode in (Mode.THEN_SPRAY, Mode.BOTH_WAYS, Mode.STEAM)
        row = Row(KINDS[kind], float(settings.fill_s[0, i]), float(settings.spray_s[0, i]))
        if mode is not Mode.UNHEATED:
            row = replace(
                row,
                heat_s=element_s * alone,
                spray_heat_s=element_s if mode is Mode.WHILE_SPRAYING else float(settings.while_s[0, i]),
                setpoint_c=float(settings.setpoint_c[0, i]),
            )
        rows.append(
            replace(
                row,
                soak_s=float(settings.soak_s[0, i]) * (i in structure.soaked),
                rest_s=float(settings.cool_s[0, i]) * (i in structure.rested),
                top_up_s=float(settings.top_up_s[0, i]) * (i in structure.topped),
            )
        )
    return tuple(rows)


def programme_of_rows(rows: Rows) -> Programme:
    """Rounds as a programme of one candidate."""
    modes = tuple(row.mode for row in rows)
    structure = Structure(
        tuple(KINDS.index(row.kind) for row in rows),
        modes,
        *(
            tuple(i for i, row in enumerate(rows) if getattr(row, name))
            for name in ("soak_s", "rest_s", "top_up_s")
        ),
    )

    def column(of: list[float]) -> np.ndarray:
        return np.array([of])

    both = [mode is Mode.BOTH_WAYS for mode in modes]
    return Programme(
        structure,
        Settings(
            fill_s=column([row.fill_s for row in rows]),
            element_s=column([row.heat_s or row.spray_heat_s for row in rows]),
            spray_s=column([row.spray_s for row in rows]),
            setpoint_c=column([row.setpoint_c for row in rows]),
            soak_s=column([row.soak_s for row in rows]),
            while_s=column([row.spray_heat_s * two for row, two in zip(rows, both, strict=True)]),
            cool_s=column([row.rest_s for row in rows]),
            top_up_s=column([row.top_up_s for row in rows]),
        ),
    )


def single_steps(rows: Rows, assessor: Assessor) -> Iterator[tuple[str, Rows]]:
    """Every step, with its name; what machine, circuit or goal do not allow is left out."""
    seen = {rows}
    for name, found in _steps(rows, assessor):
        if found not in seen and _allowed(found, assessor):
            seen.add(found)
            yield name, found


def _allowed(rows: Rows, assessor: Assessor) -> bool:
    counts = {kind: sum(row.kind == kind for row in rows) for kind in KINDS}
    least, most = assessor.rounds_least, assessor.rounds_most
    if not all(least[kind] <= count <= most.get(kind, 0) for kind, count in counts.items()):
        return False
    soaks = all(assessor.soaking.may(KINDS.index(row.kind)) for row in rows if row.soak_s)
    cools = assessor.may_drain_hot or not any(row.rest_s + row.top_up_s for row in rows)
    return soaks and cools and all(assessor.heats(row.mode) for row in rows)


def _steps(rows: Rows, assessor: Assessor) -> Iterator[tuple[str, Rows]]:
    setpoint_c = SETPOINT_C if assessor.thermostat else np.inf

    def with_row(i: int, row: Row) -> Rows:
        return (*rows[:i], row, *rows[i + 1 :])

    for i, row in enumerate(rows):
        here = f"{row.kind} {i + 1}"
        yield f"{here} struck", (*rows[:i], *rows[i + 1 :])
        yield f"{here} twice", (*rows[: i + 1], *rows[i:])
        yield f"one like {here} cold", (*rows[:i], cold(row), *rows[i:])
        yield f"one like {here} cold after it", (*rows[: i + 1], cold(row), *rows[i + 1 :])
        if i and rows[i - 1].kind == row.kind:
            yield (
                f"{here} merged into the one before",
                (*rows[: i - 1], merged(rows[i - 1], row), *rows[i + 1 :]),
            )
        if row.kind == "steam":
            continue
        if may_be_warm(i, rows, assessor):
            for named, other in heated_otherwise(row, setpoint_c):
                yield f"{here} {named}", with_row(i, other)
        for other_i, other in enumerate(rows):
            takes = (
                other_i != i and row.heated and other.kind != "steam" and may_be_warm(other_i, rows, assessor)
            )
            if takes and not other.heated:
                moved = list(rows)
                moved[i] = cold(row)
                moved[other_i] = replace(
                    other, heat_s=row.heat_s, spray_heat_s=row.spray_heat_s, setpoint_c=row.setpoint_c,
                    spray_s=max(other.spray_s, row.spray_heat_s),
                )  # fmt: skip
                yield f"heat of {here} to {other_i + 1}", tuple(moved)
        for share in (UP, DOWN):
            yield f"level of {here} times {share}", with_row(i, replace(row, fill_s=row.fill_s * share))
            if row.heated:
                hotter = replace(row, heat_s=row.heat_s * share, spray_heat_s=row.spray_heat_s * share)
                if np.isfinite(row.setpoint_c):
                    hotter = replace(hotter, setpoint_c=row.setpoint_c + (KELVIN if share > 1.0 else -KELVIN))
                yield f"heat of {here} times {share}", with_row(i, hotter)
        yield f"soak of {here}", with_row(i, replace(row, soak_s=0.0 if row.soak_s else SOAK_S))
        if row.heated:
            for rest_s in (0.0, row.rest_s or REST_S):
                for top_up_s in (0.0, row.top_up_s or TOP_UP_S):
                    cooled = replace(row, rest_s=rest_s, top_up_s=top_up_s)
                    yield f"{here} rests {rest_s:.0f} s, topped up {top_up_s:.0f} s", with_row(i, cooled)
    if rows[0].kind != "prerinse":
        yield "a prerinse", (Row("prerinse", rows[0].fill_s, 60.0), *rows)


def cold(row: Row) -> Row:
    """The same round unheated; it neither soaks nor cools."""
    return Row(row.kind, row.fill_s, max(row.spray_s - row.spray_heat_s, 60.0))


def merged(first: Row, second: Row) -> Row:
    """One round for two: the higher level, the spray and the heat of both."""
    return replace(
        first if first.heated else second,
        fill_s=max(first.fill_s, second.fill_s),
        spray_s=first.spray_s + second.spray_s,
        heat_s=first.heat_s + second.heat_s,
        spray_heat_s=first.spray_heat_s + second.spray_heat_s,
        soak_s=max(first.soak_s, second.soak_s),
    )


def may_be_warm(i: int, rows: Rows, assessor: Assessor) -> bool:
    """Whether practice warms that round: a wash, the last rinse, and the first where it must not be cold."""
    kind = rows[i].kind
    if kind != "rinse":
        return kind == "wash"
    first = all(row.kind != "rinse" for row in rows[:i])
    return i == len(rows) - 1 or (first and assessor.warms_first_rinse)


def heated_otherwise(row: Row, setpoint_c: float) -> Iterator[tuple[str, Row]]:
    """The round unheated, heated alone, with the spray, and both ways."""
    on_s = row.heat_s + row.spray_heat_s or HEAT_S
    spray_s = max(row.spray_s - row.spray_heat_s, 60.0)
    warm = replace(row, setpoint_c=row.setpoint_c if row.heated else setpoint_c)
    yield "unheated", replace(row, heat_s=0.0, spray_heat_s=0.0, setpoint_c=np.inf, spray_s=spray_s)
    yield "heated first", replace(warm, heat_s=on_s, spray_heat_s=0.0, spray_s=spray_s)
    yield "heated with the spray", replace(warm, heat_s=0.0, spray_heat_s=on_s, spray_s=spray_s + on_s)
    half_s = 0.5 * on_s
    yield "heated both ways", replace(warm, heat_s=half_s, spray_heat_s=half_s, spray_s=spray_s + half_s)


LITTLE_S, LITTLE_SHARE = 300.0, 0.005
"""A plan does without heat of so few minutes where that costs no more than this share [s, 1]."""


def best_step(proven: Proven, rounds_most: Mapping[str, int] = ROUNDS_MOST) -> tuple[str, float]:
    """The step that saves the largest share of a plan's cost, trimmed with what the plan's checks taught."""
    plan = proven.plan
    assessor = Assessor(plan.inputs, proven.kept, rounds_most=rounds_most)
    programme = programme_of(plan.constants, plan.inputs.machine)
    cost = float(assessor.objective(assessor.run(programme)[1])[0])
    found = ("none", 0.0)
    for name, rows in single_steps(rows_of(programme), assessor):
        structure, start = programme_of_rows(rows)
        trimmed = trim(Space(assessor, structure), start, worse_than=cost)
        if trimmed is not None:
            saved = 1.0 - trimmed.objective / cost
            if any(0.0 < on_s <= LITTLE_S for row in rows_of(trimmed.programme) for on_s in row.heats_s):
                saved -= LITTLE_SHARE
            found = max(found, (name, saved), key=lambda one: one[1])
    return found
