"""The requirements: of each, one row with the worst case found against its limit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from optimizer.check.certificate import EVERY_POINT, RISE, WARE_END, Row, Sense, exact_row
from optimizer.check.circuit_rows import circuit_rows
from optimizer.check.detergent_rows import sets_above
from optimizer.check.fills import topped_up_l, tops_up_dry_ware
from optimizer.check.meters import DoseMeter, HeatMeter, WaterMeter
from optimizer.check.phases import Phase, conflicts
from optimizer.check.residue import Rinsing
from optimizer.check.sensor_meter import SensorMeter
from optimizer.check.soak_rows import soak_rows
from optimizer.check.table_rows import bath_most_c, heating_row, room_under_limit_k, stand_least_s, table_rows
from optimizer.check.worst_cases import Array, Cases
from optimizer.physics.water import latent_heat_kj_per_kg
from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import DRYING_C, Goal
from optimizer.profile.machine import Machine
from optimizer.profile.machine_loads import COMMON_DRAIN_C
from optimizer.programme.constants import Constants, Kind
from optimizer.units import J_PER_KJ, S_PER_MIN

ROUNDING = 1e-12
"""Values closer than this share count as equal, so that a limit met exactly does not fail by rounding [1]."""

FIRST_WASH = "first_wash.bath_c"
"""Key of the hottest bath as the first wash's spray begins."""

FIRST_RINSE = "first_rinse.bath_c"
"""Key of the least bath of the first rinse."""

RISE_WORDS = "bath over the ware as a spray begins"

OPEN_LOOP_BATH = "hottest bath, heated by time alone"
BATH_WITH_ROOM = "hottest bath, with room for a cut-out"
"""The row of the hottest bath where nothing reads it, and where a thermostat's bath leaves such room."""


@dataclass(frozen=True)
class Judged:
    """A requirement that tolerances may touch, with its value in every case [unit of the row]."""

    key: str
    requirement: str
    unit: str
    sense: Sense
    limit: float
    values: Array

    @property
    def badness(self) -> Array:
        """How bad each case is: the higher, the worse."""
        return -self.values if self.sense == "at least" else self.values

    def row(self, case: int, point: str) -> Row:
        """Make the row of a case."""
        worst = float(self.values[case])
        if math.isclose(worst, self.limit, rel_tol=ROUNDING):
            worst = self.limit
        return Row(self.key, self.requirement, self.unit, self.sense, self.limit, None, worst, point)

    def worst_row(self, names: Sequence[str]) -> Row:
        """Pick the worst case; a value that no tolerance touches belongs to every point."""
        case = int(self.badness.argmax())
        return self.row(
            case,
            EVERY_POINT if bool(np.all(self.values == self.values[case])) else names[case],
        )


@dataclass(frozen=True)
class Findings:
    """A finished simulation: what was run, its meters, and its phases in order.

    Without a meter of the sensor nothing is said about what the sensor sees.
    """

    constants: Constants
    machine: Machine
    goal: Goal
    circuit: Circuit
    cases: Cases
    doses: DoseMeter
    water: WaterMeter
    heat: HeatMeter
    sequence: list[Phase]
    sensor: SensorMeter | None = None

    def rows(self) -> tuple[Row, ...]:
        """Hold every requirement against its limit in the worst of the cases."""
        every = self.judged()
        return tuple(one if isinstance(one, Row) else one.worst_row(self.cases.names) for one in every)

    def judged(self) -> tuple[Judged | Row, ...]:
        """Judge every requirement: clean, hygienic, rinsed, dry, safe, within the limits.

        A `Row` is one that is the same whatever the case.
        """
        return (
            *self._dose_rows(),
            *self._rinse_rows(),
            *self._prerinse_rows(),
            *self._detergent_rows(),
            *soak_rows(self.constants, self.goal),
            *self._drying_rows(),
            *self._tank_rows(),
            *self._step_rows(),
            *circuit_rows(self.sequence, self.machine, self.circuit),
            *self._limit_rows(),
            *table_rows(self.constants, self.machine, self.goal),
            *self._sensor_rows(),
        )

    def _row(
        self, key: str, requirement: str, unit: str, sense: Sense, limit: float, values: Array
    ) -> Judged:
        return Judged(key, requirement, unit, sense, limit, values)

    def _dose_rows(self) -> list[Judged | Row]:
        rows: list[Judged | Row] = [
            self._row(f"dose.{dose.name}", f"dose {dose.name}", "min", "at least", dose.minutes.high,
                      self.doses.doses_s[dose.name] / S_PER_MIN)
            for dose in self.goal.dose
        ]  # fmt: skip
        hygiene = self.goal.hygiene
        if hygiene.target_s is not None:
            what = (
                "A0 value of the rinses" if hygiene.method == "a0" else "heat-unit equivalents of the rinses"
            )
            values = self.doses.hygiene_s
            rows.append(
                self._row(f"hygiene.{hygiene.method}", what, "s", "at least", hygiene.target_s, values)
            )
        return rows

    def _rinse_rows(self) -> list[Judged | Row]:
        rinse = self.goal.rinse
        asked = [
            self._row(key, what, unit, "at most", limit, values)
            for key, (what, unit, limit, values) in self._rinsing.told(self.goal).items()
            if limit is not None
        ]
        first_c = self.heat.first_rinse_c
        if rinse.first_least_c > 0.0 and bool(np.isfinite(first_c).all()):
            what = "coldest bath as the first rinse's spray ends: fat must not set"
            asked.append(self._row(FIRST_RINSE, what, "°C", "at least", rinse.first_least_c, first_c))
        return [*asked, *self._round_rows("rinse", rinse.rounds_min, rinse.spray_least_min)]

    @property
    def _rinsing(self) -> Rinsing:
        return Rinsing.of(self.constants, self.water.full_kg, self.water.left_kg)

    def told(self) -> tuple[Judged, ...]:
        """What a reader wants to know, asked for or not: its limit is none that anything could break."""
        rinsing = [
            self._row(key, what, unit, "at most", math.inf, values)
            for key, (what, unit, _, values) in self._rinsing.told(self.goal).items()
        ]
        what = "ware after the last drain"
        ware = self._row(WARE_END, what, "°C", "at least", -math.inf, self.heat.ware_end_c)
        rise_k, most_k = self.heat.rise_k, self.goal.limits.ware_rise_k
        if most_k is not None or not bool(np.isfinite(rise_k).all()):
            return (*rinsing, ware)
        return (*rinsing, ware, self._row(RISE, RISE_WORDS, "K", "at most", math.inf, rise_k))

    def _prerinse_rows(self) -> list[Judged | Row]:
        prerinse = self.goal.prerinse
        rows = self._round_rows("prerinse", prerinse.rounds_min, prerinse.spray_least_min)
        if bool(np.isfinite(self.heat.prerinse_c).all()):
            what = "hottest prerinse spray: protein and starch must not set"
            values = self.heat.prerinse_c
            rows.append(self._row("prerinse.bath_c", what, "°C", "at most", prerinse.limit_c, values))
        most_c, first_c = self.goal.limits.first_wash_most_c, self.heat.first_wash_c
        if most_c > 0.0 and bool(np.isfinite(first_c).all()):
            what = "hottest bath as the first wash's spray begins: what sets must not cook on"
            rows.append(self._row(FIRST_WASH, what, "°C", "at most", most_c, first_c))
        return rows

    def _detergent_rows(self) -> list[Judged | Row]:
        goal, heat = self.goal, self.heat
        asked = {
            "detergent.bath_c": (
                f"a spray with detergent ends{sets_above(goal, goal.spray_least_c)}",
                goal.spray_least_c,
                heat.with_detergent_c,
            ),
            "detergent.drain_c": (
                f"the drain of a wash begins: fat must not set in it{sets_above(goal, goal.drain_least_c)}",
                goal.drain_least_c,
                heat.drained_with_detergent_c,
            ),
        }
        return [
            self._row(key, f"coldest bath as {when}", "°C", "at least", least_c, found_c)
            for key, (when, least_c, found_c) in asked.items()
            if least_c > 0.0 and bool(np.isfinite(found_c).all())
        ]

    def _round_rows(self, kind: Kind, rounds_min: int, spray_least_min: float) -> list[Judged | Row]:
        """Rounds of a kind and their sprays, which are as written whatever the tolerances."""
        sprays_min = [row.spray_s / S_PER_MIN for row in self.constants.rounds if row.kind == kind]
        count = float(len(sprays_min))
        rows: list[Judged | Row] = [
            exact_row(f"{kind}.rounds", f"{kind} rounds", "1", ("at least", float(rounds_min)), count)
        ]
        if sprays_min:
            what, worst = f"shortest {kind} spray", min(sprays_min)
            rows.append(exact_row(f"{kind}.spray_min", what, "min", ("at least", spray_least_min), worst))
        return rows

    def _drying_rows(self) -> list[Judged | Row]:
        if self.goal.drying.method == "none":
            return []
        film_j = self.cases.film_kg * latent_heat_kj_per_kg(DRYING_C) * J_PER_KJ
        what = "heat of the ware after the last drain, as a share of what dries all of its film"
        share, asked = self.heat.ware_heat_j / film_j, self.goal.drying.heat_factor
        rows: list[Judged | Row] = [self._row("drying.ware_heat", what, "1", "at least", asked, share)]
        topped = tops_up_dry_ware(self.constants, self.goal)
        if topped is not None:
            what, most_l = (
                "water after the last top-up, under ware that dries hot",
                self.machine.tank.ware_begins_l,
            )
            found_l = topped_up_l(self.machine, topped)
            point = "quick inlet, much left in the sump, thick film"
            rows.append(exact_row("drying.top_up_l", what, "l", ("at most", most_l), found_l, point))
        for row in self.constants.rounds:
            if row.kind == "steam":
                what = "steam: element uncovered at the earliest, after its switching off"
                bare_min = self.water.uncovered_s / S_PER_MIN
                rows.append(
                    self._row(
                        "steam.uncovered_min", what, "min", "at least", row.heat_s / S_PER_MIN, bare_min
                    )
                )
        return rows

    def _tank_rows(self) -> list[Judged | Row]:
        tank, element, water = self.machine.tank, self.machine.element, self.water
        what, room_k = "hottest bath", room_under_limit_k(self.constants, self.machine)
        if room_k > 0.0:
            timed = element is not None and element.control == "timed"
            what = f"{OPEN_LOOP_BATH if timed else BATH_WITH_ROOM}: {room_k:g} K under the tank's limit"
        limit_c = bath_most_c(self.constants, self.machine)
        rows: list[Judged | Row] = [
            self._row("tank.bath_c", what, "°C", "at most", limit_c, self.heat.hottest_c)
        ]
        if element is not None and any(row.heated for row in self.constants.rounds):
            what = "water while the element is on: it stays covered"
            # By the table, not by what was on: every point has all rows, one with a warm inlet too.
            never_l = np.maximum(water.fullest_l, element.cover_l)
            covered_l = np.where(np.isfinite(water.element_l), water.element_l, never_l)
            rows.append(self._row("cover.element_l", what, "l", "at least", element.cover_l, covered_l))
        prime_l = self.machine.wash_pump.prime_l
        what = "water at the suction while the wash pump runs"
        rows.append(self._row("cover.suction_l", what, "l", "at least", prime_l, water.suction_l))
        rows.append(
            self._row(
                "overflow.level_l", "most water in the tank", "l", "at most", tank.capacity_l, water.fullest_l
            )
        )
        rows.append(
            self._row("drain.left_l", "water a drain fails to remove", "l", "at most", 0.0, water.undrained_l)
        )
        if not self.machine.drain_pump.stands_the_boil:
            limit_c = self.machine.drain_pump.drain_limit_c
            what = "drain temperature: hottest water that a drain takes"
            if limit_c > COMMON_DRAIN_C:
                where = self.machine.drain_pump.drain_line or "NOBODY SAYS WHERE (drain_pump.drain_line)"
                what += f", above the {COMMON_DRAIN_C:g} °C of common pipes and codes: {where}"
            rows.append(self._row("drain.bath_c", what, "°C", "at most", limit_c, self.heat.drained_c))
        kinds = tuple(row.kind for row in self.constants.rounds)
        found = conflicts(self.sequence, kinds, 0 if element is None else element.rest_s)
        point = _first_and_how_many_more(found) if found else EVERY_POINT
        rows.append(
            exact_row(
                "outputs.conflicts", "conflicts of outputs", "1", ("at most", 0.0), float(len(found)), point
            )
        )
        return rows

    def _step_rows(self) -> list[Judged | Row]:
        """Steps of temperature that the ware meets as a spray begins, where the goal limits them."""
        limits = self.goal.limits
        found: list[Judged | Row] = []
        for key, words, most_k, values in (
            ("ware.drop_k", "ware over the bath as a spray begins", limits.ware_drop_k, self.heat.drop_k),
            (RISE, RISE_WORDS, limits.ware_rise_k, self.heat.rise_k),
        ):
            if most_k is not None and bool(np.isfinite(values).all()):
                found.append(self._row(key, words, "K", "at most", most_k, values))
        return found

    def _limit_rows(self) -> list[Judged | Row]:
        limits = self.goal.limits
        minutes = self.heat.elapsed_s / S_PER_MIN
        rows: list[Judged | Row] = [
            self._row("limits.duration_min", "duration", "min", "at most", limits.duration_min, minutes)
        ]
        if self.constants.stand_s:
            asked_min = stand_least_s(self.goal) / S_PER_MIN
            whole_min = minutes + self.constants.stand_s / S_PER_MIN
            what, most_min = "duration and standing", limits.duration_min + asked_min
            rows.append(self._row("limits.standing_min", what, "min", "at most", most_min, whole_min))
        if limits.water_l is not None:
            rows.append(
                self._row(
                    "limits.water_l", "water run in", "l", "at most", limits.water_l, self.water.filled_l
                )
            )
        return rows

    def _sensor_rows(self) -> list[Judged | Row]:
        """Judge what the sensor sees: no sound run stops it, no heating has time to spare."""
        if self.sensor is None or self.constants.control == "timed":
            return []
        limit_c = self.constants.bath_max_dc / 10.0
        what = "hottest reading: the watchdog must let it pass"
        rows: list[Judged | Row] = [
            self._row("watchdog.reading_c", what, "°C", "at most", limit_c, self.sensor.hottest_c)
        ]
        slowest_s = {number: float(taken_s.max()) for number, taken_s in self.sensor.heating_s.items()}
        return [*rows, *heating_row(self.constants, slowest_s)]


def _first_and_how_many_more(found: list[str]) -> str:
    return found[0] if len(found) == 1 else f"{found[0]}; {len(found) - 1} more"
