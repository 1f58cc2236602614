"""Two nodes, bath and ware, that exchange heat: the exact course at constant power."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array, Number

CLOSE_K = 1e-6
"""Newton's steps have met a temperature when they are this close to it [K]."""

HALVINGS = 50
"""Halvings where they have not: a day is then known to less than a nanosecond [1]."""


@dataclass(frozen=True)
class TwoNodes:
    """Bath and ware that exchange heat, with a constant heat input to the bath.

    ``C_b dT_b/dt = P - UA (T_b - T_room) - G (T_b - T_w)``, ``C_w dT_w/dt = G (T_b - T_w)``: two linear
    equations, solved by their two decay rates.

    Attributes
    ----------
    bath_j_per_k, ware_j_per_k : float or ndarray
        Heat capacities, above 0 [J/K].
    exchange_w_per_k : float or ndarray
        Conductance between bath and ware, above 0 [W/K].
    loss_w_per_k : float or ndarray
        Heat loss of the bath to the room, above 0 [W/K].
    power_w : float or ndarray
        Heat put into the bath [W].
    room_c : float or ndarray
        Room temperature [°C].
    """

    bath_j_per_k: Number
    ware_j_per_k: Number
    exchange_w_per_k: Number
    loss_w_per_k: Number
    power_w: Number
    room_c: Number

    def run(self, bath_c: Number, ware_c: Number) -> TwoNodesRun:
        """Start a run.

        Parameters
        ----------
        bath_c, ware_c : float or ndarray
            Temperatures at the start [°C].

        Returns
        -------
        TwoNodesRun
            The run, to be asked for temperatures at any time.

        Examples
        --------
        >>> run = TwoNodes(50e3, 8e3, 200.0, 9.0, 900.0, 20.0).run(15.0, 20.0)
        >>> bath_c, ware_c = run.at(1800.0)
        >>> print(bath_c.round(2), ware_c.round(2))
        41.16 40.67
        """
        bath_rate = np.asarray(self.exchange_w_per_k) / self.bath_j_per_k
        loss_rate = np.asarray(self.loss_w_per_k) / self.bath_j_per_k
        ware_rate = np.asarray(self.exchange_w_per_k) / self.ware_j_per_k
        half_trace = 0.5 * (bath_rate + loss_rate + ware_rate)
        root = np.sqrt(half_trace**2 - loss_rate * ware_rate)
        fast, slow = half_trace + root, loss_rate * ware_rate / (half_trace + root)
        settled_c = np.asarray(self.room_c + self.power_w / self.loss_w_per_k)
        # Ware above its final value: a e^(-slow t) + b e^(-fast t); its slope at 0 is ware_rate (T_b - T_w).
        above, slope = ware_c - settled_c, ware_rate * (bath_c - ware_c)
        slow_part = (fast * above + slope) / (fast - slow)
        return TwoNodesRun(settled_c, slow, fast, slow_part, above - slow_part, ware_rate)


@dataclass(frozen=True)
class TwoNodesRun:
    """Temperatures of a two-node run; made by `TwoNodes.run`.

    Attributes
    ----------
    settled_c : ndarray, broadcast
        Temperature both nodes tend to [°C].
    slow_per_s, fast_per_s : ndarray, broadcast
        Decay rates [1/s].
    slow_k, fast_k : ndarray, broadcast
        Their amplitudes on the ware [K].
    ware_per_s : ndarray, broadcast
        Exchange over heat capacity of the ware [1/s].
    """

    settled_c: Array
    slow_per_s: Array
    fast_per_s: Array
    slow_k: Array
    fast_k: Array
    ware_per_s: Array

    def at(self, time_s: Number) -> tuple[Array, Array]:
        """Temperatures after a time.

        Parameters
        ----------
        time_s : float or ndarray
            Time, 0 or more [s].

        Returns
        -------
        tuple of ndarray, broadcast
            Bath and ware temperature [°C].

        Notes
        -----
        ``T_w = T_end + a exp(-t s) + b exp(-t f)`` with the slow and the fast decay rate; ``T_b`` follows
        from ``dT_w/dt = G/C_w (T_b - T_w)``.
        """
        slow, fast = self._decayed_k(time_s)
        ware_c = self.settled_c + slow + fast
        bath_c = ware_c - (self.slow_per_s * slow + self.fast_per_s * fast) / self.ware_per_s
        return bath_c, ware_c

    def ware_at(self, time_s: Number) -> Array:
        """Temperature of the ware after a time, as `at` gives it.

        Parameters
        ----------
        time_s : float or ndarray
            Time, 0 or more [s].

        Returns
        -------
        ndarray, broadcast
            Temperature of the ware [°C].

        References
        ----------
        See `at`.
        """
        slow, fast = self._decayed_k(time_s)
        return np.asarray(self.settled_c + slow + fast)

    def _decayed_k(self, time_s: Number) -> tuple[Array, Array]:
        slow = self.slow_k * np.exp(-self.slow_per_s * time_s)
        fast = self.fast_k * np.exp(-self.fast_per_s * time_s)
        return slow, fast

    def reached_s(self, target_c: Number, horizon_s: Number) -> Array:
        """Time at which a rising bath first reaches a temperature.

        Parameters
        ----------
        target_c : float or ndarray
            Temperature to reach [°C]; inf is never reached.
        horizon_s : float or ndarray
            Time at which to give up [s].

        Returns
        -------
        ndarray, broadcast
            Time, or the horizon where the target is not reached by then [s].

        Notes
        -----
        Eight of Newton's steps, held inside the horizon; halving where the curve is too bent for them: a
        bath that the ware holds back at first rises slowly and then faster. The numbers of steps are a
        choice of our own.

        Examples
        --------
        >>> run = TwoNodes(50e3, 8e3, 200.0, 9.0, 900.0, 20.0).run(15.0, 20.0)
        >>> float(run.reached_s(41.163, 7200.0).round(0))
        1800.0
        """
        horizon = np.asarray(horizon_s, dtype=float)
        end_c, _ = self.at(horizon)
        start_c, _ = self.at(np.zeros_like(horizon))
        rising = (end_c > target_c) & (start_c < target_c)
        goal_c = np.where(rising, target_c, end_c)
        time_s = horizon * np.clip((goal_c - start_c) / np.where(rising, end_c - start_c, 1.0), 0.0, 1.0)
        for _ in range(8):
            bath_c, _ = self.at(time_s)
            slow = self.slow_k * self.slow_per_s * np.exp(-self.slow_per_s * time_s)
            fast = self.fast_k * self.fast_per_s * np.exp(-self.fast_per_s * time_s)
            slope = -slow - fast + (self.slow_per_s * slow + self.fast_per_s * fast) / self.ware_per_s
            step = (goal_c - bath_c) / np.where(np.abs(slope) > 1e-12, slope, 1e-12)
            time_s = np.clip(time_s + np.where(rising, step, 0.0), 0.0, horizon)
        bath_c, _ = self.at(time_s)
        missed = rising & (np.abs(goal_c - bath_c) > CLOSE_K)
        if missed.any():
            time_s = np.where(missed, self._halved_s(goal_c, horizon), time_s)
        met = np.where(start_c >= target_c, 0.0, horizon)
        return np.where(rising, time_s, met)

    def _halved_s(self, goal_c: Array, horizon_s: Array) -> Array:
        """Close in on the time by halves: two decays cross what lies between start and end once."""
        low_s, high_s = np.zeros_like(horizon_s), horizon_s
        for _ in range(HALVINGS):
            time_s = 0.5 * (low_s + high_s)
            below = self.at(time_s)[0] < goal_c
            low_s, high_s = np.where(below, time_s, low_s), np.where(below, high_s, time_s)
        return high_s
