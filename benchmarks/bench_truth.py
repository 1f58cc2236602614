"""Invented machines whose true numbers are known, and instruments that are a little wrong.

A machine is a shipped profile with every number moved. What varies from run to run (flow, what a drain
leaves, voltage) is a normal population; all else is one number.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Any

import numpy as np

from optimizer.measure.estimate import Instruments
from optimizer.profile.load import load_profile
from optimizer.profile.machine import Machine

VARIES = {
    "supply.voltage_v": 0.006,
    "room.air_c": 0.0,
    "inlet.water_c": 0.0,
    "inlet.flow_l_per_min": 0.02,
    "inlet.level_l": 0.01,
    "tank.residual_l": 0.08,
    "ware.film_l": 0.06,
    "ware.porcelain_kg": 0.02,
    "ware.glass_kg": 0.02,
    "ware.stainless_kg": 0.02,
    "ware.plastic_kg": 0.02,
    "wash_pump.power_w": 0.008,
    "wash_pump.holdup_l": 0.04,
    "drain_pump.power_w": 0.01,
    "drain_pump.flow_l_per_min": 0.02,
    "drain_pump.drain_lag_s": 0.08,
}
"""What varies from run to run: standard deviation over the mean, about the middle of what is drawn [1]."""

SPREAD_K = {"room.air_c": 0.8, "inlet.water_c": 0.5}
"""Standard deviation of a temperature about its course over the year [K]."""

SWING_K = {"room.air_c": 3.5, "inlet.water_c": 3.0}
"""Half of what that course moves by [K]."""

YEAR_DAYS, COLDEST_DAY = 365.25, 35.0

MOVED = 0.3
"""How far one number of a random machine lies from its shipped one, as the logarithm of the ratio [1]."""

LAG_S = (2.0, 12.0)
"""Time constant of a probe, from and to [s]."""

VENT_SD = 0.5
"""Standard deviation of the logarithm of the true evaporation over that of the formula [1]."""

ONE_NUMBER = (
    "tank.heat_capacity_kj_per_k",
    "tank.loss_still_w_per_k",
    "tank.loss_spraying_w_per_k",
    "ware.response_spraying_s",
    "ware.response_still_s",
    "wash_pump.heat_share",
    "element.rated_w",
    "tank.capacity_l",
    "element.cover_l",
    "wash_pump.prime_l",
)

CLOSE = {"tank.capacity_l": 0.05, "element.cover_l": 0.05, "wash_pump.prime_l": 0.05}
"""How far these lie from their shipped one, in place of `MOVED`: they have to go together [1]."""


@dataclass(frozen=True)
class Truth:
    """A machine as it is.

    Attributes
    ----------
    like : str
        The shipped machine that it was made from.
    one : dict of str to float
        What is one number, by key.
    mean, sd : dict of str to float
        What varies from run to run, by key: mean and standard deviation of its population.
    swing : dict of str to float
        Temperatures: half of what they move by over the year [K].
    machine : Machine
        The shipped machine's profile.
    """

    like: str
    one: dict[str, float]
    mean: dict[str, float]
    sd: dict[str, float]
    swing: dict[str, float]
    machine: Machine

    def run(self, rng: np.random.Generator, day: float | None = None) -> dict[str, float]:
        """Draw one run: a value for every key, on a day of the year."""
        at = float(rng.uniform(0.0, YEAR_DAYS)) if day is None else day
        course = -np.cos(2.0 * np.pi * (at - COLDEST_DAY) / YEAR_DAYS)
        varying = {
            key: max(float(rng.normal(mean + self.swing.get(key, 0.0) * course, self.sd[key])), 1e-3)
            for key, mean in self.mean.items()
        }
        return self.one | varying

    def nominal(self, key: str) -> float:
        """The true number, or the mean of its population."""
        return self.one[key] if key in self.one else self.mean[key]


@dataclass(frozen=True)
class Bench:
    """Instruments as they are: each is wrong by an amount that stays, and noise comes on top.

    Attributes
    ----------
    bath_off_k, ware_off_k : float
        What the two thermometers read too much [K].
    scales_off_kg : float
        What the scales read too much [kg].
    stopwatch_off_s : float
        What a stopped time is too long [s].
    meter_share, volts_share : float
        What the plug-in meter reads too much, as a share [1].
    white_k : float
        Standard deviation of the noise of a reading [K].
    wander_k, wander_s : float
        Standard deviation and time constant of a noise that stays for a while [K, s]; 0 for none.
    lag_bath_s, lag_ware_s : float
        Time constants with which the probes follow [s].
    vent_share : float
        Evaporation over that of the formula [1].
    stated : Instruments
        What is known of them.
    """

    bath_off_k: float = 0.0
    ware_off_k: float = 0.0
    scales_off_kg: float = 0.0
    stopwatch_off_s: float = 0.0
    meter_share: float = 0.0
    volts_share: float = 0.0
    white_k: float = 0.05
    wander_k: float = 0.0
    wander_s: float = 60.0
    lag_bath_s: float = 0.0
    lag_ware_s: float = 0.0
    vent_share: float = 1.0
    stated: Instruments = field(default_factory=Instruments)

    def reads_c(
        self, true_c: np.ndarray, off_k: float, rng: np.random.Generator, step_s: float
    ) -> np.ndarray:
        """What a thermometer logs of a course of temperatures at a constant step of time."""
        noise = self.white_k * rng.standard_normal(len(true_c))
        if self.wander_k:
            keep = np.exp(-step_s / self.wander_s)
            drawn = self.wander_k * rng.standard_normal(len(true_c))
            wander = np.empty(len(true_c))
            last = drawn[0]
            for at, fresh in enumerate(drawn):
                last = fresh if at == 0 else keep * last + np.sqrt(1.0 - keep**2) * fresh
                wander[at] = last
            noise = noise + wander
        return stepped(true_c + off_k + noise, self.stated.thermometer_step_k)


def stepped(value: Any, step: float) -> Any:
    """Round to the last digit that an instrument shows."""
    return np.round(np.round(np.asarray(value) / step) * step, 9) if step else value


def random_truth(rng: np.random.Generator, like: str) -> Truth:
    """Move every number of a shipped machine."""
    machine = load_profile("machine", like)
    one, mean, sd = dict[str, float](), dict[str, float](), dict[str, float]()
    swing = {key: swing_k * float(rng.uniform(0.5, 1.5)) for key, swing_k in SWING_K.items()}
    for key in ONE_NUMBER:
        shipped = value_of(machine, key)
        if shipped:
            moved = CLOSE.get(key, MOVED)
            factor = float(np.exp(rng.uniform(-moved, moved)))
            one[key] = min(shipped * factor, 0.9) if key == "wash_pump.heat_share" else shipped * factor
    for key, share in VARIES.items():
        shipped = value_of(machine, key)
        if not shipped:
            continue
        if key in SPREAD_K:
            mean[key], sd[key] = shipped + rng.uniform(-2.0, 2.0), SPREAD_K[key] * rng.uniform(0.5, 1.5)
        else:
            close = 0.02 if key in ("supply.voltage_v", "inlet.level_l") else 0.15
            mean[key] = shipped * float(np.exp(rng.uniform(-close, close)))
            sd[key] = mean[key] * share * rng.uniform(0.5, 1.5)
    return Truth(like, one, mean, sd, swing, machine)


def true_shipped(like: str) -> Truth:
    """A machine whose true numbers are the nominal ones of its shipped profile."""
    machine = load_profile("machine", like)
    one = {key: shipped for key in ONE_NUMBER if (shipped := value_of(machine, key))}
    mean = {key: shipped for key in VARIES if (shipped := value_of(machine, key))}
    sd = {key: SPREAD_K.get(key, mean[key] * VARIES[key]) for key in mean}
    return Truth(like, one, mean, sd, dict(SWING_K), machine)


def random_bench(rng: np.random.Generator, wander_k: float = 0.0) -> Bench:
    """Cheap instruments, each wrong by an amount within what is stated of it."""
    stated = Instruments()

    def within(error: float) -> float:
        return float(rng.uniform(-error, error))

    return Bench(
        bath_off_k=within(stated.thermometer_error_k),
        ware_off_k=within(stated.thermometer_error_k),
        scales_off_kg=within(stated.scales_error_kg),
        stopwatch_off_s=within(stated.stopwatch_error_s),
        meter_share=within(stated.meter_error_share),
        volts_share=within(stated.voltmeter_error_share),
        wander_k=wander_k,
        lag_bath_s=float(rng.uniform(*LAG_S)),
        lag_ware_s=float(rng.uniform(*LAG_S)),
        vent_share=float(np.exp(rng.normal(0.0, VENT_SD))),
        stated=stated,
    )


def value_of(machine: Machine, key: str) -> float:
    """Nominal number of a profile; 0 where the machine has none."""
    table, name = key.split(".")
    value = getattr(getattr(machine, table), name, None) if getattr(machine, table) is not None else None
    return float(getattr(value, "nominal", value) or 0.0)
