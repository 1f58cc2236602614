"""The equations of the check: two nodes, bath (water and tank) and ware, integrated for all cases at once.

The film on the ware belongs to the ware while the wash pump is off, and to the bath while it sprays.

The cases are independent of each other, and within a phase nothing depends on the time. So each case has a
time of its own: with ``sigma`` from 0 to 1, ``dy/dsigma = duration · dy/dt``. One call of the integrator
takes every case from the start to the end of its phase, however long that is.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace

import numpy as np

from optimizer.check import equations_kernel as kernel
from optimizer.check.equations_steps import integrated
from optimizer.check.worst_cases import Array, Bools
from optimizer.physics.water import (
    BOILING_C,
    saturation_pressure_kpa,
    specific_heat_kj_per_kg_k,
)
from optimizer.units import J_PER_KJ

RTOL = 1e-7
"""Relative tolerance of the integration [1]; the absolute one is ten times it, in K and kg."""

SAMPLES_PER_STEP = 8
"""Samples in a step of the integrator; doses and switchings join them by straight lines [1]."""

STILL_AIR_KW_PER_M2_KPA = 0.089
"""Evaporation into still air: kilowatts a square metre and kilopascal (ASHRAE HVAC Applications)."""

FILM_J_PER_KG_K = J_PER_KJ * specific_heat_kj_per_kg_k(40.0)
"""Specific heat of the film on the ware, within 0.9 % from 0 to 100 °C (IAPWS-IF97) [J/(kg K)]."""

Slopes = Callable[[Array, Array, Array], tuple[Array, Array, Array]]
"""From bath [°C], ware [°C] and water [kg] to their slopes [K/s, K/s, kg/s]."""


@dataclass(frozen=True)
class State:
    """Where the cases stand: temperatures, and all water in the machine, hold-up and film included.

    ``film_kg`` of it hangs on the ware, as warm as that; 0 while the pump sprays and it is part of the bath.
    """

    bath_c: Array
    ware_c: Array
    water_kg: Array
    film_kg: Array


@dataclass(frozen=True)
class Drive:
    """What acts on the two nodes during a phase, one value a case.

    Attributes
    ----------
    heat_w : ndarray
        Heat put into the bath [W].
    loss_w_per_k : ndarray
        Heat loss of the bath to the room [W/K]. It holds that of evaporation, because it was measured so.
    response_s : ndarray
        Time constant with which the ware, without a film, follows the bath [s].
    film_kg : ndarray
        Water that hangs on the ware and is heated with it [kg]; 0 while the pump sprays.
    inflow_kg_per_s, outflow_kg_per_s : ndarray
        Water run in, at the temperature of the inlet, and water pumped out [kg/s].
    humidity : ndarray
        Relative humidity of the room [1].
    vent_m2 : float
        Opening through which water evaporates [m2]; 0 while the tank is not full.
    steam_share : ndarray or None
        Where it is given the bath boils: its net heat turns water to steam, and this share of the heat
        condenses on ware and film until they are as hot as the bath [1]. What condenses is not counted as
        coming back.
    """

    heat_w: Array
    loss_w_per_k: Array
    response_s: Array
    ware_j_per_k: Array
    film_kg: Array
    tank_j_per_k: Array
    room_c: Array
    humidity: Array
    inlet_c: Array
    inflow_kg_per_s: Array
    outflow_kg_per_s: Array
    vent_m2: float
    steam_share: Array | None = None


@dataclass(frozen=True)
class StopAt:
    """A bath temperature at which a case stops.

    Attributes
    ----------
    threshold_c : ndarray
        Where to stop, one a case [°C].
    direction : ndarray
        1 to stop at or above it, -1 to stop at or below, one a case [1].
    """

    threshold_c: Array
    direction: Array

    def beyond_k(self, bath_c: Array) -> Array:
        """How far the bath is past the threshold [K], negative before it; the first axis are the cases."""
        shape = (-1,) + (1,) * (bath_c.ndim - 1)
        above: Array = bath_c - self.threshold_c.reshape(shape)
        return above * self.direction.reshape(shape)


@dataclass(frozen=True)
class Samples:
    """What happened in a phase: one row a case, one column a sample; the time counts from its start.

    The film on the ware is the same throughout: one value a case.
    """

    time_s: Array
    bath_c: Array
    ware_c: Array
    water_kg: Array
    film_kg: Array

    @property
    def lasted_s(self) -> Array:
        """How long each case ran [s]."""
        return self.time_s[:, -1]

    @property
    def end(self) -> State:
        """Where the cases stand at the end."""
        return State(self.bath_c[:, -1], self.ware_c[:, -1], self.water_kg[:, -1], self.film_kg)


def slopes(drive: Drive) -> Slopes:
    """Build the right-hand side of the two nodes.

    Notes
    -----
    With water m and film m_f [kg], their specific heat c [J/(kg K)], heat capacities C [J/K], temperatures T
    [°C], heat P and loss UA [W, W/K], and the ware's time constant tau [s]::

        (c (m - m_f) + C_tank) dT_bath/dt = P - UA (T_bath - T_room) - (C_ware / tau) (T_bath - T_ware)
                                            + m'_in c (T_inlet - T_bath)
        (c m_f + C_ware) dT_ware/dt = (C_ware / tau) (T_bath - T_ware)
        dm/dt                       = m'_in - m'_out - w

    The conductance C_ware / tau is the one that was measured; with a film the ware follows more slowly. Each
    right side grows with the other temperature: of two runs the warmer one stays so.

    Evaporation is ``w = A (p_w - p_a) (0.089 + 0.0782 v) / h_fg`` [kg/s] with the vent A [m2], pressures
    [kPa] of saturated water and room air, air speed v [m/s] and heat of vaporisation h_fg [kJ/kg] (ASHRAE
    HVAC Applications, read in secondary pages), here with v = 0.
    Only its mass is counted; its heat is part of the measured loss UA.
    """
    moves = moves_of(drive, np.ones(len(drive.heat_w)))

    def slope(bath_c: Array, ware_c: Array, water_kg: Array) -> tuple[Array, Array, Array]:
        bath, ware, water = moves.slopes(np.array([bath_c, ware_c, water_kg]))
        return bath, ware, water

    return slope


def moves_of(drive: Drive, times: Array) -> kernel.Moves:
    """Build the right-hand side of `slopes` as it is integrated: each case's times a factor of its own.

    Notes
    -----
    Where a bath boils the net heat ``P_net = P - UA (T_bath - T_room)`` [W] makes steam: ``dm/dt = -P_net /
    h_fg`` [kg/s], and the share s of it warms ware and film: ``dT_ware/dt = s P_net / (C_ware + c m_f)``
    [K/s], up to the bath's temperature. Without net heat the bath cools instead; without water it makes no
    steam.
    """
    wet_ware_j_per_k = drive.ware_j_per_k + FILM_J_PER_KG_K * drive.film_kg
    exchange_w_per_k = drive.ware_j_per_k / drive.response_s
    rows = {
        kernel.HEAT: drive.heat_w,
        kernel.LOSS: drive.loss_w_per_k,
        kernel.EXCHANGE: exchange_w_per_k,
        kernel.WARE_PER_S: exchange_w_per_k / wet_ware_j_per_k,
        kernel.FILM: drive.film_kg,
        kernel.TANK: drive.tank_j_per_k,
        kernel.ROOM: drive.room_c,
        kernel.AIR: drive.humidity * saturation_pressure_kpa(drive.room_c),
        kernel.INLET: drive.inlet_c,
        kernel.IN: drive.inflow_kg_per_s,
        kernel.NET: drive.inflow_kg_per_s - drive.outflow_kg_per_s,
        kernel.WET_WARE: wet_ware_j_per_k,
    }
    packed = np.empty((kernel.ROWS, len(drive.heat_w)))
    for number, row in rows.items():
        packed[number] = row
    return kernel.Moves(
        drive=packed,
        times=times,
        fills=bool(np.any(drive.inflow_kg_per_s)),
        vent_kw_per_kpa=float(drive.vent_m2 * STILL_AIR_KW_PER_M2_KPA),
        steam_share=np.empty(0) if drive.steam_share is None else drive.steam_share,
    )


def spray_begins(state: State, tank_j_per_k: Array) -> State:
    """Mix the film with the bath: ``T_bath' = (C_bath T_bath + c m_f T_ware) / (C_bath + c m_f)``.

    Heat is kept, and the bath after it rises with both temperatures before.
    """
    liquid_c = np.minimum(state.bath_c, BOILING_C)
    in_tank_kg = np.maximum(state.water_kg - state.film_kg, 0.0)
    bath_j_per_k = J_PER_KJ * specific_heat_kj_per_kg_k(liquid_c) * in_tank_kg + tank_j_per_k
    film_j_per_k = FILM_J_PER_KG_K * state.film_kg
    share = np.divide(
        film_j_per_k, bath_j_per_k + film_j_per_k, out=np.zeros_like(film_j_per_k), where=film_j_per_k > 0.0
    )
    bath_c = state.bath_c + share * (state.ware_c - state.bath_c)
    return replace(state, bath_c=bath_c, film_kg=np.zeros_like(share))


def spray_ends(state: State, film_kg: Array, ware_j_per_k: Array) -> State:
    """Leave a film of bath on the ware: ``T_ware' = (C_ware T_ware + c m_f T_bath) / (C_ware + c m_f)``.

    Heat is kept, and the ware after it rises with both temperatures before.
    """
    film_kg = np.minimum(film_kg, state.water_kg)
    film_j_per_k = FILM_J_PER_KG_K * film_kg
    share = film_j_per_k / (ware_j_per_k + film_j_per_k)
    return replace(state, ware_c=state.ware_c + share * (state.bath_c - state.ware_c), film_kg=film_kg)


def advance(
    state: State,
    drive: Drive,
    duration_s: Array,
    stop: StopAt | None = None,
    rtol: float = RTOL,
    samples_per_step: int = SAMPLES_PER_STEP,
) -> Samples:
    """Run every case for its own time (0 leaves it where it is), or until its bath passes a temperature.

    The integration ends when the last case has stopped; a stopped case stays where it stopped.
    """
    runs = duration_s > 0.0
    start = np.stack([state.bath_c, state.ware_c, state.water_kg])
    if not runs.any():
        return _samples(start[:, :, None].repeat(2, axis=2), np.zeros((len(runs), 2)), drive.film_kg, None)
    event = None if stop is None else _all_stopped(stop, runs)
    values, sigma = integrated(moves_of(drive, duration_s), start, rtol, samples_per_step, event)
    return _samples(values, duration_s[:, None] * sigma, drive.film_kg, stop)


def _all_stopped(stop: StopAt, runs: Bools) -> Callable[[float, Array], float]:
    """Build the event at which the last running case passes its threshold."""

    def least_k(_: float, y: Array) -> float:
        return float(np.where(runs, stop.beyond_k(y[: len(runs)]), np.inf).min())

    least_k.terminal = True  # type: ignore[attr-defined]
    return least_k


def _samples(values: Array, time_s: Array, film_kg: Array, stop: StopAt | None) -> Samples:
    """Pack the samples; where a case has stopped, hold it at its (interpolated) stop."""
    if stop is not None:
        kernel.hold_stopped(values, time_s, stop.threshold_c, stop.direction)
    bath_c, ware_c, water_kg = values
    return Samples(time_s, bath_c, ware_c, water_kg, film_kg)
