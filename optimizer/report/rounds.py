"""What rounds a programme has, in words."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import asdict, dataclass
from itertools import groupby
from typing import Any

from optimizer.check.certificate import Trace
from optimizer.check.trace_rounds import round_parts, round_peaks_c
from optimizer.planner.structure import Mode, Structure
from optimizer.programme.constants import KINDS, ROUND_NUMBERS, Constants, Kind, Round
from optimizer.programme.plan import Plan
from optimizer.report.layout import NOTHING, columns, wrapped
from optimizer.report.numbers import mmss, plain
from optimizer.units import S_PER_MIN

NUMBERS = ("no", "one", "two", "three", "four", "five", "six")
"""No kind of round comes more often than six times."""

HEATED = {
    Mode.UNHEATED: "",
    Mode.WHILE_SPRAYING: " heated while spraying",
    Mode.THEN_SPRAY: " heated before the spray",
    Mode.STEAM: "",
    Mode.BOTH_WAYS: " heated before the spray and in it",
}
NOUNS: dict[Kind, tuple[str, str]] = {
    "prerinse": ("prerinse", "prerinses"),
    "wash": ("wash", "washes"),
    "rinse": ("rinse", "rinses"),
    "steam": ("round of steam", "rounds of steam"),
}


def kind_noun(kind: Kind, number: int) -> str:
    """Name a kind of round for a number of them.

    Parameters
    ----------
    kind : str
        The kind.
    number : int
        How many [1].

    Returns
    -------
    str
        Singular or plural.

    Examples
    --------
    >>> kind_noun("wash", 2)
    'washes'
    """
    return NOUNS[kind][number != 1]


def structure_words(structure: Structure) -> str:
    """Say which rounds follow each other, how each is heated, and which soak.

    Parameters
    ----------
    structure : Structure
        Kinds and heat modes.

    Returns
    -------
    str
        Equal rounds in a row together, with commas between.

    Examples
    --------
    >>> cold, hot = Mode.UNHEATED, Mode.THEN_SPRAY
    >>> structure_words(Structure((0, 1, 2, 2), (cold, hot, cold, cold)))
    'one prerinse, one wash heated before the spray, two rinses'
    >>> structure_words(Structure((1, 2), (cold, cold), soaked=(0,)))
    'one wash with a soak, one rinse'
    """
    parts = []
    soaks = [" with a soak" * (index in structure.soaked) for index in range(len(structure.kinds))]
    for (kind, mode, soak), rounds in groupby(zip(structure.kinds, structure.modes, soaks, strict=True)):
        number = len(list(rounds))
        parts.append(f"{NUMBERS[number]} {kind_noun(KINDS[kind], number)}{HEATED[mode]}{soak}")
    return ", ".join(parts)


TENTHS = 10.0
LONGEST = "≤"
"""Stands before a time that is the longest, as something else ends it sooner."""


@dataclass(frozen=True)
class Lasted:
    """How long what something else than time ends lasted in a round of the nominal run [s]."""

    fill_s: int
    heat_s: int
    spray_element_s: int


def lasted(trace: Trace) -> list[Lasted]:
    """Read from the nominal run how long each round filled and was heated, with the pump off and on."""
    found = []
    for part in round_parts(trace):
        inlet, element, pump = (on[part] for on in (trace.inlet, trace.element, trace.wash_pump))
        fill_s = int(inlet.argmin())  # up to the first second without it: a top-up comes later
        found.append(Lasted(fill_s, int((element & ~pump).sum()), int((element & pump).sum())))
    return found


def longest_times(constants: Constants, row: Round) -> tuple[str, ...]:
    """Name the times of a round that are longest ones: a level switch or a sensor ends them sooner."""
    names = ["fill_s"] if constants.fill_control == "level" else []
    if constants.control == "thermostat" and row.setpoint_dc:
        names += [name for name in ("heat_s", "spray_element_s") if getattr(row, name)]
    return tuple(names)


def rounds_title(constants: Constants) -> str:
    """Head the table, and say where needed that not all of its times are nominal."""
    some = any(longest_times(constants, row) for row in constants.rounds)
    return f"ROUNDS (nominal; {LONGEST} longest time)" if some else "ROUNDS (nominal)"


def rounds_table(plan: Plan, trace: Trace) -> str:
    """Lay the rounds out, leaving out the columns that no round uses."""
    table = columns(rounds_cells(plan, trace))
    return "\n".join([table, "", *(wrapped(note) for note in rounds_notes(plan, trace))])


def rounds_cells(plan: Plan, trace: Trace) -> list[list[str]]:
    """Give the table's cells: a row of names, a row of units, and a row for each round."""
    constants = plan.constants
    by_level = constants.fill_control == "level"
    heads = [
        ("round", ""),
        ("level" if by_level else "water", "l"),
        ("fill", "m:ss"),
        ("heat", "m:ss"),
        ("spray", "m:ss"),
        ("element", "m:ss"),
        ("set", "°C"),
        ("peak", "°C"),
        ("soak", "m:ss"),
        ("rest", "m:ss"),
        ("top-up", "m:ss"),
        ("mix", "m:ss"),
        ("drain", "m:ss"),
        ("detergent", "g"),
    ]
    peaks = zip(constants.rounds, round_peaks_c(trace), strict=True)
    rows = [_cells(plan, number, row, peak_c) for number, (row, peak_c) in enumerate(peaks, start=1)]
    kept = [i for i in range(len(heads)) if any(row[i] != NOTHING for row in rows)]
    names, units = ([head[part] for head in heads] for part in (0, 1))
    return [[line[i] for i in kept] for line in (names, units, *rows)]


def _litres(plan: Plan, row: Round) -> float:
    """Give the litres that go in at the nominal flow, or the level at which a switch closes."""
    inlet = plan.inputs.machine.inlet
    if inlet.level_l is not None:
        return inlet.level_l.nominal
    return row.fill_s * inlet.flow_l_per_min.nominal / S_PER_MIN


def _cells(plan: Plan, number: int, row: Round, peak_c: float) -> list[str]:
    longest = longest_times(plan.constants, row)
    fill, heat, element = (
        f"{LONGEST * (name in longest)}{_time(getattr(row, name))}"
        for name in ("fill_s", "heat_s", "spray_element_s")
    )
    return [
        f"{number} {row.kind}",
        f"{_litres(plan, row):.1f}",
        fill,
        heat,
        _time(row.spray_s),
        element,
        f"{row.setpoint_dc / TENTHS:.1f}" if row.setpoint_dc else NOTHING,
        f"{peak_c:.0f}",
        _time(row.soak_s),
        _time(row.rest_s),
        _time(row.top_up_s),
        _time(row.mix_s),
        mmss(row.drain_s),
        f"{row.detergent_dg / TENTHS:.1f}" if row.detergent_dg else NOTHING,
    ]


def _time(seconds: int) -> str:
    return mmss(seconds) if seconds else NOTHING


def rounds_notes(plan: Plan, trace: Trace) -> list[str]:
    """Say what the columns of the table mean, and what a switch or a sensor ends sooner."""
    constants, nominal = plan.constants, lasted(trace)
    stand = f" After the last: stand {mmss(constants.stand_s)}." if constants.stand_s else ""
    notes = [
        f"Before the first round: drain {mmss(constants.start_drain_s)}. Between two phases: "
        f"all off for {constants.gap_s} s.{stand}"
    ]
    if any(row.heat_s for row in constants.rounds):
        notes.append("heat: element on, pump off.")
    if any(row.spray_element_s for row in constants.rounds):
        notes.append("element: on with the pump, from the start of the spray.")
    if constants.after_soak_s:
        last = mmss(constants.after_soak_s)
        notes.append(f"soak: all off before the last {last} of the spray; what it loosened is sprayed off.")
    if any(row.top_up_s for row in constants.rounds):
        stirred = "; mix: the wash pump stirs it in" if any(row.mix_s for row in constants.rounds) else ""
        limit_c = plan.inputs.machine.drain_pump.drain_limit_c
        notes.append(f"top-up: cold water before the drain, whose pipe stands {limit_c:g} °C{stirred}.")
    if any(row.setpoint_dc for row in constants.rounds):
        notes.append(
            "The sensor stops the element where it reads the set temperature (peak: the mean of the bath, "
            f"which may be cooler than the layer the sensor sits in); {LONGEST} is its longest time. "
            f"In the nominal run: {_nominal_heating(constants, nominal)}."
        )
        notes += _cold_only(plan, nominal)
    if constants.fill_control == "level":
        fills = [mmss(found(one.fill_s for one in nominal)) for found in (min, max)]
        notes.append(
            f"The level switch ends the fill; {LONGEST} is its longest time, then stop and call for help. "
            f"In the nominal run: {' to '.join(dict.fromkeys(fills))}."
        )
    return notes


def _nominal_heating(constants: Constants, nominal: Sequence[Lasted]) -> str:
    """Say how long the element was on in each round that a sensor stops."""
    rounds = enumerate(zip(constants.rounds, nominal, strict=True), start=1)
    return ", ".join(
        f"{mmss(one.heat_s + one.spray_element_s)} in round {number}"
        for number, (row, one) in rounds
        if row.setpoint_dc
    )


def _cold_only(plan: Plan, nominal: Sequence[Lasted]) -> list[str]:
    """Say why a bath is set below what it has in the nominal run: the coldest water alone asks for heat."""
    water_c = plan.inputs.machine.inlet.water_c
    return [
        f"Round {number} heats only a bath that is colder than {row.setpoint_dc / TENTHS:.1f} °C (the water "
        f"comes at {water_c.low:g} to {water_c.high:g} °C), so that its spray need not be as long as the "
        "coldest asks."
        for number, (row, one) in enumerate(zip(plan.constants.rounds, nominal, strict=True), start=1)
        if row.setpoint_dc and not one.heat_s + one.spray_element_s
    ]


def rounds_to_list(plan: Plan, trace: Trace) -> list[dict[str, Any]]:
    """Give the rounds as plain data."""
    litres = "level_l" if plan.constants.fill_control == "level" else "fill_l"
    return [
        {
            "kind": row.kind,
            **{name: getattr(row, name) for name in ROUND_NUMBERS},
            litres: plain(_litres(plan, row)),
            "peak_c": plain(peak_c),
            "longest_times": list(longest_times(plan.constants, row)),
            "nominal": asdict(one),
        }
        for row, peak_c, one in zip(plan.constants.rounds, round_peaks_c(trace), lasted(trace), strict=True)
    ]
