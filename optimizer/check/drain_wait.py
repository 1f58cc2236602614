"""When a bath that no round has cooled may be drained: by what a sensor reads, or after how long a wait.

A run that is stopped, held by its lid or cut off leaves a bath as hot as it was. The reference controller
drains it only then. Hottest is what a sensor leaves that has stuck just under its set point: the element is
on until the controller finds it, and nothing but the wait tells when that bath has cooled.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import replace
from functools import lru_cache

import numpy as np

from optimizer.check.equations import FILM_J_PER_KG_K, State
from optimizer.check.integrate import Simulation, Stretch
from optimizer.check.meters import Meter, hottest_water_c
from optimizer.check.phases import Phase, phases
from optimizer.check.sensor_meter import moves_s
from optimizer.check.worst_cases import Array, Cases, fault_cases
from optimizer.physics.water import BOILING_C, specific_heat_kj_per_kg_k
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants

SPARE_K = 2.0
"""The hottest bath counts as so much hotter than it was found, as it is found at a few ends of the tolerances
[K]; *no source*, our choice."""

SETTLED_K, MOST_TIMES = 0.05, 20
"""A round is repeated until it gets no hotter by more than this [K], or so often [1]."""

UNKNOWN_ERROR_K = 5.0
"""Error of a sensor that someone fitted to a timed machine, whose profile states none [K]; *no source*, our
choice."""

SPIKE_K = 1.0
"""A reading may jump so far, and must not end a sound run [K]; *no source*, our choice."""

WAIT_MOST_S = 1_000_000
"""A wait is no longer than this [s]: where it would be, the room is nearly as hot as what the pipe stands."""


READ_MOST_DC = 1200
"""No reading of a bath is above it [0.1 °C]."""


def drain_read_most_dc(machine: Machine) -> int:
    """WASH_DRAIN_MAX_DC of a machine: `drain_read_most_c` in whole tenths, rounded down [0.1 °C]."""
    return math.floor(min(10.0 * drain_read_most_c(machine) + 1e-6, READ_MOST_DC))


def drain_stop_dc(machine: Machine) -> int:
    """WASH_DRAIN_STOP_DC of a machine: a bath that reads more is hotter than its drain pipe stands [0.1 °C].

    That of a sound run never reads so much, `SPIKE_K` included, whatever the sensor's error.
    """
    if machine.drain_pump.stands_the_boil:
        return READ_MOST_DC
    over_k = _reads_apart_k(machine)[1] + SPIKE_K
    return math.ceil(min(10.0 * (machine.drain_pump.drain_limit_c + over_k) - 1e-6, READ_MOST_DC))


def drain_read_most_c(machine: Machine) -> float:
    """Hottest reading with which the drain pipe stands the bath, sensor error and layers included [°C].

    Infinite where the pipe stands the boil.
    """
    if machine.drain_pump.stands_the_boil:
        return math.inf
    return machine.drain_pump.drain_limit_c - _reads_apart_k(machine)[0]


def read_least_c(machine: Machine, bath_c: Array) -> Array:
    """What a sound sensor reads of a bath at the least [°C]."""
    return bath_c - _reads_apart_k(machine)[0]


def drain_lets_pass_c(machine: Machine) -> float:
    """Hottest bath that may read no more than WASH_DRAIN_STOP_DC, and so is drained in its turn [°C]."""
    return drain_stop_dc(machine) / 10.0 + _reads_apart_k(machine)[0]


def _reads_apart_k(machine: Machine) -> tuple[float, float]:
    """How far a reading may be below and above the mean of the bath, which is what a drain takes [K]."""
    element = machine.element
    if element is None or element.control != "thermostat":
        return UNKNOWN_ERROR_K, UNKNOWN_ERROR_K
    # Where it sits it may be colder or warmer than the mean.
    error_k, over_k = element.sensor_error_k, element.sensor_over_mean_k
    return error_k + max(-over_k.low, 0.0), error_k + max(over_k.high, 0.0)


@lru_cache(maxsize=16)
def drain_wait_s(constants: Constants, machine: Machine, found_s: int | None = None) -> int:
    """Time in which whatever bath a programme leaves cools to what the drain pipe stands, all off [s].

    While the bath is hotter than the pipe stands it loses ``UA (T_pipe - T_room)`` or more, and ware that is
    no colder than the bath stays so. So it is cool enough once what water, tank and ware held above the
    pipe's temperature is gone::

        t = (C_bath (T_bath - T_pipe) + C_ware (T_ware - T_pipe)) / (UA (T_pipe - T_room))

    with the least heat lost and the hottest room; nothing evaporates. Water that leaks in meanwhile is no
    hotter than the pipe stands, and changes nothing. One lump that cools by Newton's law would be there
    sooner than a bath beside ware that keeps its heat. 0 where no bath is ever too hot for the pipe.
    ``found_s`` is WASH_SENSOR_MOVES_S, that of this programme alone if left out [s].
    """
    pipe_c, room_c = machine.drain_pump.drain_limit_c, machine.room.air_c.high
    if machine.drain_pump.stands_the_boil:
        return 0
    left = hottest_left(constants, machine, found_s)
    if left.hottest_c + SPARE_K <= pipe_c:
        return 0
    if room_c >= pipe_c:
        return WAIT_MOST_S
    wait_s = left.above_j / (machine.tank.loss_still_w_per_k.low * (pipe_c - room_c))
    return min(math.ceil(wait_s), WAIT_MOST_S)


class Left(Meter):
    """What a programme may leave in the tank as all goes off: how hot, and how much heat is in it."""

    hottest_c: float = -math.inf
    """Hottest water of any bath [°C]."""
    above_j: float = 0.0
    """Most heat of bath, tank and ware above what the drain pipe stands, the spare included [J]."""

    def __init__(self, cases: Cases, pipe_c: float) -> None:
        self._cases, self._pipe_c = cases, pipe_c
        self.spare_s: dict[int, tuple[float, float]] = {}
        """By round: least and most time that its heating has left as it ends at its set point [s]."""

    def add(self, stretch: Stretch) -> None:
        """Count every phase but a fill: the little that the drain before it left is no bath."""
        phase, samples, cases = stretch.phase, stretch.samples, self._cases
        if phase.name == "fill":
            return
        if phase.end == "setpoint":
            left_s = phase.longest_s - samples.lasted_s
            least_s, most_s = self.spare_s.get(phase.round, (math.inf, 0.0))
            self.spare_s[phase.round] = min(least_s, left_s.min()), max(most_s, left_s.max())
        bath_c = hottest_water_c(cases, stretch.element, phase.outputs.wash_pump, samples.bath_c)
        self.hottest_c = max(self.hottest_c, float(bath_c.max()))
        water_j_per_kg_k = 1000.0 * specific_heat_kj_per_kg_k(np.minimum(bath_c, BOILING_C))
        bath_j_per_k = water_j_per_kg_k * samples.water_kg + cases.tank_j_per_k[:, None]
        # The film is counted with either: as much of it as there is hangs on the ware once the pump is off.
        ware_j_per_k = (cases.ware_j_per_k + FILM_J_PER_KG_K * cases.film_kg)[:, None]
        above_k, ware_above_k = (
            np.maximum(at_c + SPARE_K - self._pipe_c, 0.0)
            for at_c in (bath_c, np.maximum(samples.ware_c, bath_c))
        )
        above_j = bath_j_per_k * above_k + ware_j_per_k * ware_above_k
        self.above_j = max(self.above_j, float(above_j.max()))


def hottest_left(constants: Constants, machine: Machine, found_s: int | None = None) -> Left:
    """Run a programme, then each of its rounds on a machine that is hot already, until none gets hotter.

    A round may be repeated after a stop, a lid or a cut: what stood in the tank was drained as hot as the
    pipe stands, and the ware may be as hot as any bath. That is warmer than any sound second run begins.
    Then each round that a thermostat heats once more, with a sensor that sticks as its set point is near.
    ``found_s`` is the time after which the controller finds it, as `drain_wait_s` has it [s].
    """
    cases, pipe_c = fault_cases(machine), machine.drain_pump.drain_limit_c
    left = Left(cases, pipe_c)
    for stretch in Simulation(constants, cases, machine.tank.vent_m2).run():
        left.add(stretch)
    wet = replace(cases, start_share=np.ones(cases.count))
    rounds = [
        [phase for phase in phases(constants) if phase.round == number]
        for number in range(len(constants.rounds))
    ]

    def begun_hot(at: Cases, asked: Sequence[Phase], hottest_c: float) -> None:
        ware_c = np.full(at.count, hottest_c)
        start = State(np.minimum(ware_c, pipe_c), ware_c, at.carry_over_kg, at.film_kg)
        for stretch in Simulation(constants, at, machine.tank.vent_m2).run(asked, start):
            left.add(stretch)

    for _ in range(MOST_TIMES):
        before_c = left.hottest_c
        for asked in rounds:
            begun_hot(wet, asked, before_c)
        if left.hottest_c - before_c <= SETTLED_K:
            break
    if constants.control == "thermostat":
        # While it sprays the sensor sits in no layer.
        stirred = replace(wet, sensor_over_mean_k=np.zeros(wet.count))
        sound_c, spare_s = left.hottest_c, dict(left.spare_s)
        finds_s = moves_s(constants, machine) if found_s is None else found_s
        for asked in rounds:
            for sprays, stuck in _stuck(asked, spare_s, finds_s):
                begun_hot(stirred if sprays else wet, stuck, sound_c)
    return left


def _stuck(
    asked: Sequence[Phase], spare_s: dict[int, tuple[float, float]], finds_s: int
) -> Iterator[tuple[bool, Sequence[Phase]]]:
    """Let the sensor stick just under the set point in the heating of a round, and in its spray; say which.

    The element then stays on for the rest of that phase's time, or until the controller finds it. Time that
    it is off in between counts anew: what was not found while heating may go on for as long in the spray.
    """
    heat = next((at for at, phase in enumerate(asked) if phase.end == "setpoint"), None)
    hold = next((at for at, phase in enumerate(asked) if phase.cycles), None)
    on: list[Phase] = []
    if hold is not None:
        seen = replace(asked[hold], end="setpoint", cycles=False)
        on = [replace(seen, end="time", longest_s=min(seen.longest_s, finds_s), steam=True)]
        yield True, [*asked[:hold], seen, *on]
    if heat is not None:
        least_s, most_s = spare_s[asked[heat].round]
        longest_s = min(math.ceil(most_s), finds_s)
        heats_on = replace(asked[heat], end="time", longest_s=longest_s, steam=True)
        unfound = [asked[heat + 1], *on] if least_s < finds_s else []
        yield False, [*asked[: heat + 1], heats_on, *unfound]
