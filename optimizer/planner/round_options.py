"""What the model chooses from: rounds, with straight lines for what depends on the temperature handed on.

Handed on is the temperature of tank, carry-over and ware that a round leaves to the next one.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

import numpy as np

from optimizer.physics import Array
from optimizer.planner.margins import Assessor
from optimizer.planner.structure import Mode
from optimizer.units import S_PER_MIN

FILL_STEPS = {"prerinse": (1.0,), "wash": (1.0, 1.35), "rinse": (1.0, 1.3, 1.7, 2.2, 2.9)}
"""Levels to choose from, as multiples of the least fill that covers pump and element [1]."""

HEATED_STEPS = (1.0, 1.35)
"""The same for heated rounds, where more water is more to heat [1]."""

LEAST_FILL_L = 0.5
"""Least fill of a round [l]."""

PEAK_STEP_K = 5.0
"""Step of the peak temperatures to choose from [K]."""

SEGMENTS_S = (180.0, 300.0, 600.0, 1200.0, 2400.0)
"""Lengths of the pieces a spray is made of; one more fills the rest of the longest duration [s]."""

HOURS_S = 14_400.0
"""Longest spray to choose from where the duration is left out [s]."""


@dataclass(frozen=True)
class Line:
    """A straight line, ``base + slope · T``, of the temperature handed on.

    Attributes
    ----------
    base : float
        Value at 0 °C [in unit] of what it stands for.
    slope : float
        Change per kelvin [in unit/K].
    """

    base: float
    slope: float = 0.0

    @classmethod
    def over(
        cls, function: Callable[[Array], Array], range_c: tuple[float, float], *, above: bool | None
    ) -> Line:
        """Chord of a function, shifted until nowhere below it (True), nowhere above it (False), or half-way.

        Examples
        --------
        >>> Line.over(lambda at_c: at_c**2, (0.0, 2.0), above=False)
        Line(base=-1.0, slope=2.0)
        """
        at_c = np.linspace(range_c[0], max(range_c[1], range_c[0] + 1e-3), 9)
        values = np.asarray(function(at_c), dtype=float)
        slope = float((values[-1] - values[0]) / (at_c[-1] - at_c[0]))
        gaps = values - slope * at_c
        base = {True: gaps.max(), False: gaps.min(), None: 0.5 * (gaps.max() + gaps.min())}[above]
        return cls(float(base), slope)


@dataclass(frozen=True)
class Option:
    """One round the planner may choose.

    "Second" is the second temperature handed on: the hot corner's for a timed element, the nominal one for a
    thermostat.

    Attributes
    ----------
    kind : int
        Index into `KINDS` [1].
    mode : Mode
        Heat mode.
    fill_s : float
        Inlet open; with a level switch the nominal time [s].
    peak_c : float
        Ware temperature in the cold corner when the heating ends; nan where unheated [°C].
    setpoint_c : float
        Thermostat reading; inf where timed [°C].
    element_s : Line
        Element on in the cold corner, of the cold temperature handed on [s].
    energy_on_s : Line
        Element on, nominal: of the cold temperature for a timed element, else of the second [s].
    ramp_dose_s : tuple of Line
        Dose gathered while heating, a line a target, of the cold temperature [s].
    cold_end_c, second_end_c : Line
        Temperature when the heating ends, each of its own temperature handed on [°C].
    second_per_element : float
        Timed: rise of the second temperature per second of element; else 0 [K/s].
    second_mix : float
        Share of the bath in the mix when a spray starts after the bath was heated alone; 1 otherwise [1].
    undissolved_s : ndarray
        Dose that its spray falls short of while detergent dissolves, one a target [s].
    cold_drop, second_drop : ndarray
        Fall of the two temperatures in each segment of the spray [K/s].
    rates : ndarray
        Dose rates, segments × targets [1].
    hold_rates : ndarray
        Dose rates while a thermostat holds the bath; empty where it can't [1].
    soak_rates : ndarray
        Dose rates while the ware soaks, one a target; empty where the round does not [1].
    cold_soak_drop, second_soak_drop : float
        Fall of the two temperatures while it soaks [K/s].
    hold_share : float
        Share of the time the element is on while it holds, nominal [1].
    cold_handed_on_c, second_handed_on_c : Line
        Temperature handed on to the next round, of the one at the end of the spray [°C].
    drop_k : Line or None
        Ware over bath as the spray begins, of the second temperature; None where the bath is heated first
        [K].
    before_spray_c : Line
        Second corner: bath as the spray begins where it is heated first, without what the element time adds
        [°C].
    hottest_c : Line
        Hottest bath that a thermostat lets heating alone come to, of the cold temperature handed on; 0 where
        the element is timed, or on while spraying [°C].
    step_share : float
        Share of the difference between ware and such a bath that is left after the heating [1].
    other_s : float
        Fill, rest, drain and gaps [s].
    other_j : float
        Electricity of inlet valve and drain pump [J].
    filled_l, filled_high_l : float
        Water, nominal and at the most [l]; at the most the top-up is in it.
    residue_decades : float
        Decades of residue that its drain leaves, worst corner [1].
    cool_s, top_up_s : float
        Rest before the drain, and inlet open before it, until the drain pipe stands what is drained [s].
    topped_l : float
        Water of the top-up, nominal [l].
    """

    kind: int
    mode: Mode
    fill_s: float
    peak_c: float
    setpoint_c: float
    element_s: Line
    energy_on_s: Line
    ramp_dose_s: tuple[Line, ...]
    cold_end_c: Line
    second_end_c: Line
    second_per_element: float
    second_mix: float
    undissolved_s: Array
    cold_drop: Array
    second_drop: Array
    rates: Array
    hold_rates: Array
    soak_rates: Array
    cold_soak_drop: float
    second_soak_drop: float
    hold_share: float
    cold_handed_on_c: Line
    second_handed_on_c: Line
    drop_k: Line | None
    before_spray_c: Line
    hottest_c: Line
    step_share: float
    other_s: float
    other_j: float
    filled_l: float
    filled_high_l: float
    residue_decades: float
    cool_s: float = 0.0
    top_up_s: float = 0.0
    topped_l: float = 0.0


@dataclass(frozen=True)
class OptionTable:
    """All options, by kind of round.

    Attributes
    ----------
    options : tuple of tuple of Option
        Options of each kind, in the order of `KINDS`.
    segments_s : ndarray
        Lengths of the spray segments [s].
    thermostat : bool
        Whether the element is thermostat-controlled.
    start_c : tuple of float
        Temperature before the first round, cold and second corner [°C].
    handed_on_range_c : tuple of float
        Range of temperatures handed on that the lines are made for [°C].
    blocked : tuple of Mode
        Heat modes that the circuit does not carry.
    """

    options: tuple[tuple[Option, ...], ...]
    segments_s: Array
    thermostat: bool
    start_c: tuple[float, float]
    handed_on_range_c: tuple[float, float]
    blocked: tuple[Mode, ...]


@dataclass(frozen=True)
class TableBasis:
    """What all options of a table are worked out from.

    Attributes
    ----------
    assessor : Assessor
        Machine, goal and circuit with their corners.
    safe : bool
        Safe lines: too long a heating, too small a dose. False: optimistic lines, too short a heating and
        too large a dose, to find structures that safe lines just miss.
    timed : bool
        Whether the longest duration is held; False: sprays and heatings of hours.
    """

    assessor: Assessor
    safe: bool = True
    timed: bool = True

    @property
    def thermostat(self) -> bool:
        """Whether the element is thermostat-controlled."""
        return self.assessor.thermostat

    @property
    def cold(self) -> int:
        """Cold corner with the weakest heat and the most to heat [1]."""
        corners = self.assessor.simulator.corners
        weak = np.flatnonzero(corners.cold & (corners.element_w == corners.element_w.min()))
        return int(weak[-1])

    @property
    def under_spray(self) -> Array:
        """Factor of the cold corner's spray on the rate of each target [1]."""
        simulator = self.assessor.simulator
        return simulator.targets.under_spray(simulator.corners.mechanics[self.cold])

    @property
    def hot(self) -> int:
        """Hot corner with the least to heat [1]."""
        return int(np.flatnonzero(self.assessor.simulator.corners.hot)[0])

    @property
    def second(self) -> int:
        """Corner of the second temperature: nominal for a thermostat, hot for a timed element [1]."""
        return self.assessor.simulator.corners.nominal if self.thermostat else self.hot

    @property
    def segments_s(self) -> Array:
        """Lengths of the spray segments [s]."""
        longest_s = self.assessor.inputs.goal.limits.duration_min * S_PER_MIN
        if not self.timed:
            longest_s = max(longest_s, HOURS_S)
        return np.array([*SEGMENTS_S, max(longest_s - sum(SEGMENTS_S), 60.0)])

    @property
    def handed_on_range_c(self) -> tuple[float, float]:
        """Range of temperatures handed on [°C]."""
        corners = self.assessor.simulator.corners
        low_c = min(float(corners.inlet_c.min()), float(corners.room_c.min()))
        return low_c, self.assessor.hottest_c
