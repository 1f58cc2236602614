"""What a plan is: the constants, what they cost, and how they were found."""

from __future__ import annotations

from dataclasses import dataclass

from optimizer.profile.circuit import Circuit
from optimizer.profile.goal import Goal
from optimizer.profile.machine import Machine
from optimizer.profile.price_series import Prices
from optimizer.profile.tariff import Tariff
from optimizer.programme.constants import Constants

PLAN_FORMAT = 2
"""Number of the plan file's format [1]; one more with every change that older versions cannot read."""


@dataclass(frozen=True)
class Inputs:
    """The four profiles of a plan, each with the name it was asked for by.

    Attributes
    ----------
    machine, goal, circuit, tariff : profile models
        The profiles in full.
    names : tuple of str
        Their names in the same order.
    prices : Prices
        The tariff's price of electricity, summed up.
    """

    machine: Machine
    goal: Goal
    circuit: Circuit
    tariff: Tariff
    names: tuple[str, str, str, str]
    prices: Prices

    @property
    def meant_for(self) -> str:
        """What the goal presupposes of the ware, on one line, in the words of its profile; or nothing."""
        about = self.goal.about
        return " ".join("".join(one if one.isprintable() else " " for one in about).split())

    @property
    def invented(self) -> bool:
        """Whether the machine's profile says of itself that no such machine is there: it begins so."""
        return self.machine.about.lstrip().lower().startswith("invented")


@dataclass(frozen=True)
class Solve:
    """How the solver ended.

    Attributes
    ----------
    solver : str
        Name and version of the solver that ran.
    status : str
        ``optimal``, or what cut it off (``search budget``): the gap then says how far off it may be.
    objective : float
        Cost of the chosen programme in the model [currency].
    bound : float
        Proven lower bound of that model [currency].
    gap : float
        (objective - bound) / objective [1].
    """

    solver: str
    status: str
    objective: float
    bound: float
    gap: float


@dataclass(frozen=True)
class LowerBound:
    """What no programme costs less than.

    Attributes
    ----------
    rounds_most : tuple of int
        Prerinses, washes and rinses of the programmes that it is for, at the most [1].
    least : float
        What none of them costs less than, waiting included [currency].
    cost : float
        What the plan costs, waiting included [currency].
    prices_tried : int
        How many sets of prices were tried: the work that it took [1].
    """

    rounds_most: tuple[int, int, int]
    least: float
    cost: float
    prices_tried: int

    @property
    def gap(self) -> float:
        """How much cheaper than the plan a programme may be, at the most: a share of the plan's cost [1]."""
        return max(self.cost - self.least, 0.0) / max(abs(self.cost), 1e-12)


@dataclass(frozen=True)
class Costs:
    """What one run takes, nominal.

    Attributes
    ----------
    electricity_kwh : float
        Electrical energy [kWh].
    water_l : float
        Water [l].
    detergent_g : float
        Detergent, the tenths of a gram that the constants dose [g].
    duration_min : float
        Duration without the standing at the end [min].
    money : float
        Electricity at its mean price, water, waste water and detergent [currency].
    money_low, money_high : float
        The same at the lowest and the highest price of electricity [currency].
    waiting : float
        Value of the waiting time [currency]; part of what the planner minimises, not of ``money``.
    peak_a : float
        Highest running current, worst case [A].
    """

    electricity_kwh: float
    water_l: float
    detergent_g: float
    duration_min: float
    money: float
    money_low: float
    money_high: float
    waiting: float
    peak_a: float

    @property
    def with_waiting(self) -> float:
        """The money and the value of the waiting time [currency]: plans are compared by this."""
        return self.money + self.waiting


@dataclass(frozen=True)
class Certified:
    """What a certificate says that guards and cautions hang on; empty before a check.

    Attributes
    ----------
    bath_c : float or None
        Hottest bath that it guarantees, for the cut-outs to buy [°C].
    covering_l : float or None
        Least water over element and sump while the element is on, guaranteed, for the float switch [l]; None
        where the element is never on.
    cautions : tuple of str
        What the proof leaves open, in sentences.
    reading_c : float or None
        Hottest reading of the sensor that it guarantees, for the watchdog [°C]; None where none is read.
    ware_drop_k, ware_rise_k : float or None
        Largest step from ware to a colder and to a hotter bath as a spray begins that it guarantees, for the
        setpoints [K]; None where the goal limits none.
    heat_spare_s : float or None
        By how much the longest heatings stay under what a sensor that reads cold may have [s]; None where no
        sensor ends one.
    """

    bath_c: float | None = None
    covering_l: float | None = None
    cautions: tuple[str, ...] = ()
    reading_c: float | None = None
    ware_drop_k: float | None = None
    ware_rise_k: float | None = None
    heat_spare_s: float | None = None


UNCHECKED = Certified()
"""What is known before a check: nothing."""


@dataclass(frozen=True)
class Plan:
    """A chosen programme.

    Attributes
    ----------
    inputs : Inputs
        What it was planned for.
    constants : Constants
        The programme itself.
    costs : Costs
        What one run takes.
    solve : Solve
        How the choose step ended.
    certified : Certified
        What its certificate says of guards and cautions. A plan file does not hold it: whatever prints guards
        has checked before.
    """

    inputs: Inputs
    constants: Constants
    costs: Costs
    solve: Solve
    certified: Certified = UNCHECKED
