"""Closed forms of physics.thermal against scipy's solve_ivp on the equations they claim to solve."""

from __future__ import annotations

import numpy as np
import pytest
from exploring import cases
from hypothesis import example, given
from hypothesis import strategies as st
from iapws import IAPWS97
from scipy.integrate import quad, solve_ivp

from optimizer.physics.thermal import Flow, drained_c, filled_c, heating_time_s, mixed_c, temperature_after_c
from optimizer.physics.two_nodes import TwoNodes, after, course_of
from optimizer.planner.simulated_bath import reached_s

FINE = {"rtol": 1e-10, "atol": 1e-9}
FEW = cases(30)

room = st.floats(-5.0, 40.0)
loss = st.floats(0.5, 60.0)
capacity = st.floats(3e3, 3e5)
bath = st.floats(3.0, 95.0)
power = st.floats(0.0, 3000.0)
times = st.floats(1.0, 7200.0)


class TestLump:
    @FEW
    @given(bath, times, capacity, power, loss, room)
    def test_temperature_after(
        self, start_c: float, time_s: float, j_per_k: float, power_w: float, w_per_k: float, room_c: float
    ) -> None:
        run = solve_ivp(
            lambda _, y: (power_w - w_per_k * (y - room_c)) / j_per_k, (0.0, time_s), [start_c], **FINE
        )
        found = temperature_after_c(start_c, time_s, j_per_k, power_w, w_per_k, room_c)
        assert found == pytest.approx(run.y[0, -1], abs=1e-5)

    @FEW
    @given(bath, times, capacity, power, loss, room)
    def test_heating_time_is_its_inverse(
        self, start_c: float, time_s: float, j_per_k: float, power_w: float, w_per_k: float, room_c: float
    ) -> None:
        """A rise takes the time it took; what is reached takes none; beyond the settling point, for ever."""
        end_c = float(temperature_after_c(start_c, time_s, j_per_k, power_w, w_per_k, room_c))
        again_s = float(heating_time_s(start_c, end_c, j_per_k, power_w, w_per_k, room_c))
        settled_c = room_c + power_w / w_per_k
        if end_c <= start_c:
            assert again_s == 0.0
        elif settled_c - end_c > 1e-3 and end_c - start_c > 1e-3:
            assert again_s == pytest.approx(time_s, rel=1e-6)
        if settled_c > start_c:
            assert heating_time_s(start_c, settled_c + 1.0, j_per_k, power_w, w_per_k, room_c) == np.inf

    def test_heating_with_no_loss_to_speak_of_is_m_c_dt(self) -> None:
        """10 kg of water from 15 to 55 °C with IAPWS-IF97 enthalpies, within 0.2 %."""
        water_j = 10e3 * (IAPWS97(T=328.15, P=0.101325).h - IAPWS97(T=288.15, P=0.101325).h)
        time_s = float(heating_time_s(15.0, 55.0, 41800.0, 1000.0, 1e-6, 20.0))
        assert time_s * 1000.0 == pytest.approx(water_j, rel=2e-3)

    def test_mixing_keeps_the_heat(self) -> None:
        first_j, second_j = 36e3, 9e3
        assert mixed_c(60.0, first_j, 15.0, second_j) * (first_j + second_j) == pytest.approx(
            60.0 * first_j + 15.0 * second_j
        )


class TestFillAndDrain:
    @FEW
    @given(bath, st.floats(5.0, 400.0), st.floats(2e3, 2e4), st.floats(50.0, 900.0), bath, loss, room)
    def test_fill(
        self,
        start_c: float,
        time_s: float,
        j_per_k: float,
        w_per_k: float,
        inlet_c: float,
        loss_w_per_k: float,
        room_c: float,
    ) -> None:
        def slope(t: float, y: np.ndarray) -> np.ndarray:
            heat_w = w_per_k * (inlet_c - y) - loss_w_per_k * (y - room_c)
            return heat_w / (j_per_k + w_per_k * t)

        run = solve_ivp(slope, (0.0, time_s), [start_c], **FINE)
        flow = Flow(w_per_k, inlet_c)
        found = filled_c(start_c, time_s, j_per_k, flow, loss_w_per_k, room_c)
        assert found == pytest.approx(run.y[0, -1], abs=1e-5)

    @FEW
    @given(bath, st.floats(4e3, 1e5), st.floats(2e3, 2e4), st.floats(100.0, 900.0), loss, room)
    def test_drain(
        self,
        start_c: float,
        water_j_per_k: float,
        kept_j_per_k: float,
        w_per_k: float,
        loss_w_per_k: float,
        room_c: float,
    ) -> None:
        whole_j_per_k = water_j_per_k + kept_j_per_k
        run = solve_ivp(
            lambda t, y: -loss_w_per_k * (y - room_c) / (whole_j_per_k - w_per_k * t),
            (0.0, water_j_per_k / w_per_k),
            [start_c],
            **FINE,
        )
        found = drained_c(start_c, water_j_per_k, kept_j_per_k, w_per_k, loss_w_per_k, room_c)
        assert found == pytest.approx(run.y[0, -1], abs=1e-5)

    def test_limits(self) -> None:
        """No loss: a fill is plain mixing, a drain changes nothing; no time: nothing happens."""
        flow = Flow(400.0, 10.0)
        assert filled_c(50.0, 100.0, 5e3, flow, 0.0, 20.0) == pytest.approx(mixed_c(50.0, 5e3, 10.0, 40e3))
        assert filled_c(50.0, 0.0, 5e3, flow, 9.0, 20.0) == 50.0
        assert filled_c(50.0, 1e7, 5e3, flow, 0.0, 20.0) == pytest.approx(10.0, abs=1e-3)
        assert drained_c(60.0, 40e3, 5e3, 400.0, 0.0, 20.0) == 60.0
        assert drained_c(60.0, 0.0, 5e3, 400.0, 9.0, 20.0) == 60.0
        assert 20.0 < drained_c(60.0, 40e3, 5e3, 400.0, 9.0, 20.0) < 60.0


nodes = st.builds(
    TwoNodes,
    bath_j_per_k=st.floats(8e3, 1.2e5),
    ware_j_per_k=st.floats(1e3, 3e4),
    exchange_w_per_k=st.floats(2.0, 600.0),
    loss_w_per_k=loss,
    power_w=power,
    room_c=room,
)


class TestTwoNodes:
    @FEW
    @given(nodes, bath, bath, times)
    def test_against_solve_ivp(self, nodes: TwoNodes, bath_c: float, ware_c: float, time_s: float) -> None:
        def slope(_: float, y: np.ndarray) -> list[float]:
            crossing_w = nodes.exchange_w_per_k * (y[0] - y[1])
            heat_w = nodes.power_w - nodes.loss_w_per_k * (y[0] - nodes.room_c) - crossing_w
            return [heat_w / nodes.bath_j_per_k, crossing_w / nodes.ware_j_per_k]

        run = solve_ivp(slope, (0.0, time_s), [bath_c, ware_c], method="DOP853", **FINE)
        assert np.array(after(course_of(nodes, bath_c, ware_c), time_s)) == pytest.approx(
            run.y[:, -1], abs=1e-4
        )

    @FEW
    @given(nodes, bath, bath, times)
    @example(TwoNodes(78054.0, 1005.0, 600.0, 17.0, 23.0, 26.0), 39.0, 42.0, 5541.0)
    def test_energy_balances(self, nodes: TwoNodes, bath_c: float, ware_c: float, time_s: float) -> None:
        """Heat put in less heat lost is heat stored; the loss is integrated by quadrature.

        The ware may come to the bath's temperature in seconds of hours: a quadrature that is not told where
        looks past that. The example is one that it looked past, by the joule that the assertion missed.
        """
        run = course_of(nodes, bath_c, ware_c)
        end_bath_c, end_ware_c = after(run, time_s)
        stored_j = nodes.bath_j_per_k * (end_bath_c - bath_c) + nodes.ware_j_per_k * (end_ware_c - ware_c)
        quick_s = nodes.ware_j_per_k / nodes.exchange_w_per_k
        lost_j, _ = quad(
            lambda t: nodes.loss_w_per_k * float(after(run, t)[0] - nodes.room_c),
            0.0,
            time_s,
            limit=200,
            points=[share * quick_s for share in (1.0, 10.0) if share * quick_s < time_s],
        )
        scale_j = nodes.power_w * time_s + abs(lost_j) + 1e4
        assert stored_j == pytest.approx(nodes.power_w * time_s - lost_j, abs=1e-6 * scale_j)

    @FEW
    @given(nodes, bath, bath, times)
    @example(TwoNodes(8000.0, 1000.0, 20.0, 48.0, 121.0, 40.0), 42.0, 41.0, 728.0)
    def test_reached(self, nodes: TwoNodes, bath_c: float, ware_c: float, time_s: float) -> None:
        """A bath that rises all the way is at the target when it is said to be, and not before.

        The example is one that Newton's steps alone miss: cold ware all but stops the bath at first.
        """
        run = course_of(nodes, bath_c, ware_c)
        path_c = after(run, np.linspace(0.0, time_s, 200))[0]
        if (np.diff(path_c) <= 0.0).any() or path_c[-1] - path_c[0] < 0.5:
            return
        target_c = 0.4 * path_c[0] + 0.6 * path_c[-1]
        when_s = reached_s(run, target_c, time_s)
        assert float(after(run, when_s)[0]) == pytest.approx(target_c, abs=1e-4)
        assert reached_s(run, path_c[-1] + 1.0, time_s) == time_s
        assert reached_s(run, np.inf, time_s) == time_s
        assert reached_s(run, path_c[0] - 1.0, time_s) == 0.0
