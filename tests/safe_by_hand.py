"""Whether a programme is safe, by litres, seconds, amperes and a one-node bath of a few lines.

It shares nothing with the check: what the check passes is held against it.
"""

from __future__ import annotations

from optimizer.profile.goal import Detergent
from optimizer.profile.machine import Machine
from optimizer.programme.constants import Constants, Round
from optimizer.programme.plan import Plan


def hottest_c(table: Constants, rig: Machine) -> float:
    """Hottest end of any heating by one node in steps of 5 s: warm inlet, most power, least water.

    Lossless would be too strict after an hour; the losses are the profile's.
    """
    element = rig.element
    assert element is not None
    bath_c = rig.room.air_c.high
    worst_c = bath_c
    supply = rig.supply.voltage_v.high
    power_w = element.rated_w.high * (supply / element.rated_v) ** 2
    pump_w = rig.wash_pump.power_w.high * rig.wash_pump.heat_share
    dry_j_per_k = 1000.0 * (rig.tank.heat_capacity_kj_per_k.low + rig.ware.heat_capacity_kj_per_k.low)
    for row in table.rounds:
        filled_l = row.fill_s * rig.inlet.flow_l_per_min.low / 60.0
        if rig.inlet.level_l is not None:
            filled_l = min(filled_l, rig.inlet.level_l.low - rig.tank.residual_l.low)
        kept = 4186.0 * rig.tank.residual_l.low + dry_j_per_k
        capacity = kept + 4150.0 * filled_l
        bath_c = (kept * bath_c + 4150.0 * filled_l * rig.inlet.water_c.high) / capacity
        for seconds, watts, loss in (
            (row.heat_s, power_w, rig.tank.loss_still_w_per_k.low),
            (row.spray_element_s, power_w + pump_w, rig.tank.loss_spraying_w_per_k.low),
            (row.spray_s - row.spray_element_s, pump_w, rig.tank.loss_spraying_w_per_k.low),
        ):
            for _ in range(seconds // 5):
                off = row.setpoint_dc and bath_c >= row.setpoint_dc / 10.0 + element.sensor_error_k
                heat_w = pump_w * (watts != power_w) if off else watts
                bath_c += 5.0 * (heat_w - loss * (bath_c - rig.room.air_c.high)) / capacity
                worst_c = max(worst_c, bath_c)
    return worst_c


def assert_safe(table: Constants, plan: Plan) -> None:
    """Litres, seconds, degrees and amperes, each at its bad end."""
    rig, element = plan.inputs.machine, plan.inputs.machine.element
    assert element is not None
    assert table.gap_s >= 1
    error_k = element.sensor_error_k if table.control == "thermostat" else 0.0
    assert table.bath_max_dc <= 10.0 * (rig.tank.limit_c - error_k)
    full_l = rig.tank.capacity_l - rig.tank.residual_l.low
    pump, pumps_s = rig.drain_pump, table.start_drain_s - rig.drain_pump.drain_lag_s.high
    assert pumps_s * pump.flow_l_per_min.low / 60.0 >= full_l - 1e-9
    if rig.inlet.level_l is not None:
        # The inlet stays open if the switch sticks: not for long after the slowest fill is over.
        slowest_s = 60.0 * rig.inlet.level_l.high / rig.inlet.flow_l_per_min.low
        assert all(slowest_s <= row.fill_s <= 1.05 * slowest_s + 10.0 for row in table.rounds)
    for number, row in enumerate(table.rounds):
        assert_level(number, row, table, rig)
        assert_detergent(row, rig, plan.inputs.goal.detergent)
        if row.heat_s or row.spray_element_s:
            assert row.spray_element_s + table.after_soak_s * bool(row.soak_s) <= row.spray_s
            assert seconds_off(row, table) >= element.rest_s
        if row.setpoint_dc:
            assert row.setpoint_dc <= table.bath_max_dc
            # A tenth of a kelvin of the pump's own heat after the element is off.
            assert row.setpoint_dc / 10.0 + element.sensor_error_k <= rig.tank.limit_c + 0.1
        if row.spray_element_s:
            supply = rig.supply.voltage_v
            element_a = element.rated_w.high * supply.high / element.rated_v**2
            pump_a = rig.wash_pump.power_w.high / (supply.low * rig.wash_pump.power_factor)
            assert element_a + pump_a <= plan.inputs.circuit.available_a
    # Two nodes against one: the ware lags behind the bath, by a kelvin or two.
    assert hottest_c(table, rig) <= rig.tank.limit_c + 2.0
    if table.control == table.fill_control == "timed":
        run_s = table.start_drain_s + sum(
            part + table.gap_s for row in table.rounds
            for part in (row.fill_s, row.heat_s, row.spray_s, row.rest_s, row.drain_s) if part
        )  # fmt: skip
        run_s += sum(row.soak_s + 2 * table.gap_s for row in table.rounds if row.soak_s)
        assert run_s <= 60.0 * plan.inputs.goal.limits.duration_min


def assert_level(number: int, row: Round, table: Constants, rig: Machine) -> None:
    most_l, least_l = (
        row.fill_s * end / 60.0 for end in (rig.inlet.flow_l_per_min.high, rig.inlet.flow_l_per_min.low)
    )
    residual, film = rig.tank.residual_l, rig.ware.film_l
    there_l = residual.low if number else 0.0
    fullest_l = residual.high + film.high + most_l
    if rig.inlet.level_l is not None:
        # The switch sees what was left in the sump, and lets in so much less.
        fullest_l = rig.inlet.level_l.high
        most_l = min(most_l, rig.inlet.level_l.high - residual.low)
        least_l = min(least_l + there_l, rig.inlet.level_l.low) - there_l
    assert fullest_l <= rig.tank.capacity_l + 1e-9
    # What evaporates need not be drained: a few grams from under the lid. By level the check's corners pair a
    # wet start with much residual only, so the first drain may leave up to a film more than the usual rest;
    # the switch sees that and lets in so much less.
    spare_l = 0.05 + (film.high if rig.inlet.level_l is not None and number == 0 else 0.0)
    pumps_s = row.drain_s - rig.drain_pump.drain_lag_s.high
    assert pumps_s * rig.drain_pump.flow_l_per_min.low / 60.0 >= most_l - spare_l
    # Warm water stands a little higher than it was let in.
    covered_l = (least_l + there_l) * 1.02
    if row.heat_s or row.spray_element_s:
        assert rig.element is not None
        assert covered_l >= rig.element.cover_l + rig.wash_pump.holdup_l.high * bool(row.spray_element_s)
    assert covered_l >= rig.wash_pump.prime_l + rig.wash_pump.holdup_l.high


def assert_detergent(row: Round, rig: Machine, detergent: Detergent | None) -> None:
    """A wash has what load and litres ask for, and no more than it bears; no other round has any."""
    grams = row.detergent_dg / 10.0
    if row.kind != "wash" or detergent is None:
        assert grams == 0.0
        return
    flow, sump_l, film_l = rig.inlet.flow_l_per_min, rig.tank.residual_l, rig.ware.film_l
    most_l = row.fill_s * flow.high / 60.0 + sump_l.high + film_l.high
    least_l = row.fill_s * flow.low / 60.0 + sump_l.low + film_l.low
    if rig.inlet.level_l is not None:
        most_l, least_l = rig.inlet.level_l.high + film_l.high, rig.inlet.level_l.low
    hardest = max(rig.inlet.hardness_mmol_per_l.high - detergent.hardness_mmol_per_l, 0.0)
    harder = 1.0 + detergent.more_per_mmol_per_l * hardest
    assert grams >= harder * detergent.g_per_setting * rig.ware.settings - 1e-6
    assert grams >= harder * detergent.least_g_per_l * most_l - 1e-6
    assert grams <= detergent.most_g_per_l * least_l + 1e-6


def seconds_off(row: Round, table: Constants) -> int:
    """Seconds from the element's last second to the drain."""
    rest_s = row.rest_s + table.gap_s if row.rest_s else 0
    rest_s += row.soak_s + 2 * table.gap_s if row.soak_s else 0
    if row.spray_element_s:
        return row.spray_s - row.spray_element_s + table.gap_s + rest_s
    return table.gap_s + row.spray_s + table.gap_s + rest_s
