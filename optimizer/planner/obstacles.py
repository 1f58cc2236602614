"""Obstacles: what in machine or circuit rules out every programme, whatever the goal asks of doses and times.

A pump that trips the breaker, water fed too hot, levels that do not fit, a tank that does not stand steam.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import replace

import numpy as np

from optimizer.errors import Reason
from optimizer.physics import Array
from optimizer.physics.water import boiling_c
from optimizer.planner.circuit_load import Currents
from optimizer.planner.margins import Assessor
from optimizer.planner.reasons import (
    cold_end_reason,
    never_counts,
    reason_of,
    spray_leasts_c,
    step_reason,
    warmest_c,
)
from optimizer.planner.simulation import Runs
from optimizer.planner.structure import ALONE, Mode, Programme, Settings, Structure
from optimizer.planner.tabulate import Tabulator
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.programme.circuit_device import start_words
from optimizer.programme.constants import KINDS
from optimizer.programme.plan import Inputs

STEAM_TANK_MARGIN_K = 2.0
"""By how much a tank's limit must be above the boil [K]."""

COVER, SWITCH, CAPACITY = "cover.element_l", "cover.suction_l", "overflow.level_l"
"""Keys of the water over the element, of that over the pump's suction, and of the most in the tank."""
STRONGEST = "detergent.most_g_per_l"
"""Key of the strongest bath of a wash."""

PRERINSE = KINDS.index("prerinse")
LOADS = {
    Mode.UNHEATED: "the pumps",
    Mode.WHILE_SPRAYING: "element and wash pump together",
    Mode.BOTH_WAYS: "element and wash pump together",
}
"""What runs in a heat mode; in all others it is the element alone."""


def obstacles(assessor: Assessor) -> list[Reason]:
    """Find what rules out every programme; empty where durations and levels decide."""
    return list(_obstacles(assessor))


def _obstacles(assessor: Assessor) -> Iterator[Reason]:
    if not assessor.heats(Mode.UNHEATED):
        yield current_reason(assessor.currents, Mode.UNHEATED)
        return
    yield from _never_warm(assessor)
    yield from _never_covered(assessor)
    tabulator = Tabulator(assessor)
    options = tabulator.table().options
    machine = assessor.inputs.machine
    if not options[KINDS.index("wash")] and (strong := _strong(assessor)):
        yield strong
    elif not options[KINDS.index("wash")]:
        yield _switch(assessor) if machine.inlet.level_l is not None else _levels(assessor)
    else:
        if not options[PRERINSE] and assessor.inputs.goal.prerinse.rounds_min > 0:
            # The first round takes most water: the machine may have dried out before it.
            covers = tabulator.fills(PRERINSE, Mode.UNHEATED, math.nan)
            yield hot_feed(assessor) if covers else _levels(assessor)
        yield from _hot_first_bath(assessor)


def current_reason(currents: Currents, mode: Mode) -> Reason:
    """Say what current a heat mode that does not fit would take, running or as a pump starts."""
    circuit = currents.circuit
    doing = LOADS.get(mode, "the element alone")
    if currents.running_a(mode) > circuit.available_a:
        needed_a = _up_to_tenth(currents.running_a(mode))
        asked = f"{circuit.available_a:.1f} A left for the machine"
        advice = "a circuit of its own, or a smaller background load"
        return Reason("current of the circuit", asked, f"{needed_a:g} A ({doing})", advice)
    needed_a = _up_to_tenth(currents.starting_a(mode))
    asked = f"{circuit.start_most_a:g} A, {start_words(circuit)}"
    advice = "a pump that starts softly, less on beside it, or a circuit an electrician finds fit for it"
    return Reason("current as a pump starts", asked, f"{needed_a:g} A ({doing})", advice)


def _never_warm(assessor: Assessor) -> Iterator[Reason]:
    """Give what asks for more warmth than a machine without an element ever has, whatever the times."""
    if assessor.inputs.machine.element is not None:
        return
    most_c = warmest_c(assessor)
    for key, least_c in spray_leasts_c(assessor.inputs.goal).items():
        if most_c < least_c:
            yield cold_end_reason(assessor, key, most_c, "at the most")
    for target, key in enumerate(assessor.simulator.targets.keys):
        if never_counts(assessor, target):
            yield reason_of(assessor, key, -1.0 - assessor.backoff(key))


def _never_covered(assessor: Assessor) -> Iterator[Reason]:
    """Give an element that no timed fill covers below the lip, where nothing but it warms enough.

    On the programme's side: the element is covered with the inlet at its slowest, the lip reached at its
    quickest; no margin, no water lost or grown.
    """
    machine = assessor.inputs.machine
    if machine.element is None or machine.inlet.level_l is not None:
        return
    covers_l = _most_covered_l(machine, assessor.water.carry_over_high_l)
    if machine.element.cover_l <= covers_l:
        return
    inputs = assessor.inputs
    bare = replace(inputs, machine=machine.model_copy(update={"element": None}))
    if not any(_never_warm(assessor.again(bare))):
        return
    flow = machine.inlet.flow_l_per_min
    asked = (
        f"cover_l = {machine.element.cover_l:g} l, in a tank of capacity_l = {machine.tank.capacity_l:g} l, "
        f"filled by time at {flow.low:g} to {flow.high:g} l/min"
    )
    # A plan keeps something back for evaporation and growth.
    kept_back = assessor.cover_factor * assessor.water.hot_growth
    nearest_l = max(math.floor(10.0 * covers_l / kept_back) / 10.0, 0.0)
    advice = "an element that lies lower, a bigger tank, or a level switch in it: now a quick inlet runs over"
    yield Reason("water over the element", asked, f"{nearest_l:g} l", advice, COVER)


def _most_covered_l(machine: Machine, carry_over_l: float) -> float:
    """Most water that is in the tank for sure, by a fill that never passes the lip [l]."""
    flow = machine.inlet.flow_l_per_min
    most_l = machine.tank.capacity_l - carry_over_l
    return most_l * flow.low / flow.high + machine.tank.residual_l.low


def _least_round(assessor: Assessor) -> Runs:
    """Run a first round that is not heated, of as little water as can be sprayed."""
    pump, corners = assessor.inputs.machine.wash_pump, assessor.simulator.corners
    fill_s = (pump.prime_l + pump.holdup_l.high) / float(corners.inlet_l_per_s.min())
    round_of = np.array([[fill_s]])
    return first_rounds(assessor, fill_s=round_of, spray_s=round_of)


def first_rounds(assessor: Assessor, *, fill_s: Array, spray_s: Array) -> Runs:
    """Run first rounds that are not heated, by how long they fill and spray: candidates × 1 [s]."""
    none = np.zeros_like(fill_s)
    settings = Settings(fill_s, none, spray_s, np.full_like(fill_s, np.inf), none, none)
    return assessor.simulator.run(Programme(Structure((PRERINSE,), (Mode.UNHEATED,)), settings))


def _hot_first_bath(assessor: Assessor) -> Iterator[Reason]:
    """Water that, as it comes in, is too hot for the ware it is sprayed on first."""
    key = "ware.rise_k"
    most_k = assessor.step_limits_k.get(key, math.inf)
    if math.isinf(most_k) or _may_heat_first(assessor):
        return
    stepped = assessor.simulator.corners.stepped
    rise_k = -float(_least_round(assessor).over_k[:, stepped].min()) / (1.0 - assessor.backoff(key))
    if rise_k > most_k:
        yield step_reason(assessor, key, rise_k)


def _may_heat_first(assessor: Assessor) -> bool:
    """Whether a first round may be heated before its spray: its ware warms with the bath meanwhile."""
    colder = assessor.rounds_least["prerinse"] > 0 and not assessor.heat_counts(PRERINSE)
    return not colder and any(assessor.heats(mode) for mode in ALONE)


def untaught(assessor: Assessor, inputs: Inputs) -> Assessor:
    """Judge as if nothing was searched: corners that joined for one limit would move a nearest value."""
    return Assessor(inputs, rounds_most=assessor.rounds_most, terms=assessor.terms)


def hot_feed(assessor: Assessor) -> Reason:
    """Water that is too hot for a prerinse as it comes in; the nearest value hangs on the machine alone."""
    assessor = untaught(assessor, assessor.inputs)
    goal, corners = assessor.inputs.goal, assessor.simulator.corners
    runs = _least_round(assessor)
    hottest_c = float(runs.peak_c[:, corners.hot].max()) * (1.0 + assessor.backoff("prerinse.bath_c"))
    advice = "rounds_min = 0 in [prerinse], or cooler water for it"
    limit = f"{goal.prerinse.limit_c:g} °C"
    # Half a kelvin more than the corners ask is what a proof of every point takes, and some levels to choose.
    nearest = f"{math.ceil(hottest_c + 1.0):g} °C"
    return Reason("hottest prerinse", limit, nearest, advice, key="prerinse.bath_c")


def _switch(assessor: Assessor) -> Reason:
    """A level switch that closes too early for the pump."""
    switch_l = assessor.inputs.machine.inlet.level_l
    assert switch_l is not None
    nearest_l = _up_to_tenth(Tabulator(assessor).cover_l(Mode.UNHEATED))
    advice = "raise the switch: the pump would draw air"
    asked = f"{switch_l.low:g} l at its lowest"
    return Reason("litres at the level switch", asked, f"{nearest_l:g} l", advice, SWITCH)


def _strong(assessor: Assessor) -> Reason | None:
    """A load whose detergent is too strong in as much water as the tank holds, or as the switch lets in."""
    goal, machine, dosing = assessor.inputs.goal, assessor.inputs.machine, assessor.dosing
    if goal.detergent is None:
        return None
    longest_s = max(assessor.longest_fill_s(), 0.0)
    if dosing.shortest_fill_s(first=False) <= (0.0 if machine.inlet.level_l is not None else longest_s):
        return None
    found = float(dosing.strongest_g_per_l(np.array(longest_s)))
    asked = f"{goal.detergent.most_g_per_l:g} g/l"
    advice = "fewer grams a setting, a smaller load, or more water in the wash"
    return Reason("strongest bath of a wash", asked, f"{_up_to_tenth(found):g} g/l", advice, STRONGEST)


def _levels(assessor: Assessor) -> Reason:
    """A tank that runs over, inlet at its fastest, when the pump is covered, inlet at its slowest."""
    corners = assessor.simulator.corners
    least_s = Tabulator(assessor).cover_l(Mode.UNHEATED) / float(corners.inlet_l_per_s.min())
    most_l = least_s * float(corners.inlet_l_per_s.max()) + assessor.water.carry_over_high_l
    nearest_l = _up_to_tenth(most_l * (1.0 + assessor.backoff("overflow.level_l")))
    advice = "a bigger tank, a steadier inlet, or a pump that holds less water up"
    asked = f"{assessor.inputs.machine.tank.capacity_l:g} l to the lip"
    return Reason("size of the tank", asked, f"{nearest_l:g} l", advice, CAPACITY)


def steam_refused(machine: Machine, goal: Goal) -> Reason | None:
    """Say why a machine must not dry by steam; None where it may, or is not asked to."""
    if goal.drying.method != "steam":
        return None
    instead = 'method = "hot_rinse" in [drying] dries by the heat of the last rinse instead'
    if machine.element is None:
        return Reason("drying by steam", "an element that boils a pool", "no element", instead)
    tank, least_c = machine.tank, _up_to_tenth(boiling_c(machine.room.height_m) + STEAM_TANK_MARGIN_K)
    if tank.limit_c >= least_c:
        return None
    soft = (
        f"a {tank.material} tank softens in steam"
        if tank.material != "stainless"
        else "some part does not stand it"
    )
    asked = f"a tank that stands {least_c:g} °C: steam, and {STEAM_TANK_MARGIN_K:g} K to spare"
    return Reason("drying by steam", asked, f"its limit is {tank.limit_c:g} °C", f"{soft}; {instead}")


def _up_to_tenth(value: float) -> float:
    return math.ceil(value * 10.0) / 10.0
