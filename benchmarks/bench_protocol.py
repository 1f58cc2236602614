"""What is done on the bench of an invented machine, and the conditions that it is done at."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, replace

import numpy as np
from bench_truth import Bench, Truth

from optimizer.profile.machine_ware import HEAT_CAPACITY_KJ_PER_KG_K

STEP_S = 10.0
ROOM_K = 0.5
"""By how much the room may be another than it was read, while a test runs [K]."""
LOST_SHARE = 0.01
"""Share of its excess over the room that water loses at the most while it is poured [1]."""
STOOD_K = 0.1
"""How close to the room is what stood until it was as warm, standard deviation [K]."""
SECURE_KG = 0.5
"""Water beyond what the pump and the element ask for [kg]."""


@dataclass(frozen=True)
class Session:
    """One test of the protocol: what is done, and for how long.

    Attributes
    ----------
    name : str
        Its name.
    last_s : float
        How long it is logged [s].
    pump_on, ware_in : bool
        Whether the pump sprays, whether the ware is in.
    element_from_s : float or None
        When the element is switched on [s]; None: never.
    poured_c : float or None
        True temperature of the water just before it is poured [°C]; None: it stood at room temperature.
    follows : str
        The session that it goes on from.
    """

    name: str
    last_s: float
    pump_on: bool = True
    ware_in: bool = False
    element_from_s: float | None = None
    poured_c: float | None = None
    follows: str = ""


PROTOCOL = (
    Session("pump alone, then element", 1800.0, element_from_s=1200.0),
    Session("hot pour", 600.0, poured_c=60.0),
    Session("cooling", 720.0, pump_on=False, follows="hot pour"),
    Session("ware, still", 300.0, pump_on=False, ware_in=True, poured_c=52.0),
    Session("ware, spraying", 240.0, ware_in=True, follows="ware, still"),
)
"""The shortest protocol that settles all thermal numbers; without an element its first log ends earlier."""


@dataclass(frozen=True)
class Conditions:
    """What a session is run at, as it is.

    Attributes
    ----------
    began_c : float
        Room as the test began, and all that stood in it [°C].
    drift_k : float
        By how much the room is another while the test runs [K].
    water_kg : float
        Water [kg].
    volts : float
        Voltage while the element is on [V].
    poured_c : float
        Temperature of the water just before it is poured [°C].
    lost_share : float
        Share of its excess over the room that it loses while it is poured [1].
    bath_k, ware_k : float
        What stood at the room's temperature is above it [K]: tank and water, and ware.
    """

    began_c: float
    drift_k: float
    water_kg: float
    volts: float
    poured_c: float = 0.0
    lost_share: float = 0.0
    bath_k: float = 0.0
    ware_k: float = 0.0

    @property
    def room_c(self) -> float:
        """Room while the test runs [°C]."""
        return self.began_c + self.drift_k


def protocol(truth: Truth) -> tuple[Session, ...]:
    """Give the sessions that a machine can do."""
    if truth.machine.element is not None:
        return PROTOCOL
    return (replace(PROTOCOL[0], last_s=1200.0, element_from_s=None), *PROTOCOL[1:])


def water_for(truth: Truth, session: Session) -> float:
    """Water of a session: enough for the pump, and to cover the element where it is on [kg]."""
    pump, element = truth.machine.wash_pump, truth.machine.element
    needs = pump.prime_l + truth.mean["wash_pump.holdup_l"]
    if session.element_from_s is not None and element is not None:
        needs = max(needs, element.cover_l + truth.mean["wash_pump.holdup_l"])
    return max(5.0, needs + SECURE_KG)


@dataclass(frozen=True)
class Point:
    """Everything that a set of logs depends on.

    Attributes
    ----------
    one : dict of str to float
        What is looked for, by key of the profile.
    conditions : dict of str to Conditions
        By session; one that follows another has those of that.
    pump_w : float
        Power of the wash pump [W].
    ware_kj_per_k : float
        Heat capacity of the load [kJ/K].
    bench : Bench
        Errors of the instruments.
    """

    one: Mapping[str, float]
    conditions: Mapping[str, Conditions]
    pump_w: float
    ware_kj_per_k: float
    bench: Bench


def ware_kj_per_k(run: Mapping[str, float]) -> float:
    """Heat capacity of the load of a run [kJ/K]."""
    cp = HEAT_CAPACITY_KJ_PER_KG_K
    return sum(cp[name] * run.get(f"ware.{name}_kg", 0.0) for name in cp)


def ware_sd_kj_per_k(truth: Truth) -> float:
    """Standard deviation of that from load to load [kJ/K]."""
    cp = HEAT_CAPACITY_KJ_PER_KG_K
    return float(np.sqrt(sum((cp[name] * truth.sd.get(f"ware.{name}_kg", 0.0)) ** 2 for name in cp)))


def draw_point(truth: Truth, bench: Bench, rng: np.random.Generator) -> Point:
    """Draw what the sessions are run at."""
    conditions = dict[str, Conditions]()
    for session in protocol(truth):
        if session.follows:
            conditions[session.name] = conditions[session.follows]
            continue
        conditions[session.name] = Conditions(
            began_c=0.5 * (truth.mean["room.air_c"] + 20.0) + float(rng.uniform(-1.0, 1.0)),
            drift_k=float(rng.uniform(-ROOM_K, ROOM_K)),
            water_kg=water_for(truth, session),
            volts=float(rng.normal(truth.mean["supply.voltage_v"], truth.sd["supply.voltage_v"])),
            poured_c=(session.poured_c or 0.0) + float(rng.uniform(-2.0, 2.0)),
            lost_share=float(rng.uniform(0.0, LOST_SHARE)),
            bath_k=float(rng.normal(0.0, STOOD_K)),
            ware_k=float(rng.normal(0.0, STOOD_K)),
        )
    run = truth.run(rng)
    return Point(truth.one, conditions, run["wash_pump.power_w"], ware_kj_per_k(run), bench)
