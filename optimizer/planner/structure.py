"""A programme as the planner sees it: kinds and heat modes of its rounds, and their numbers."""

from __future__ import annotations

import math
from collections.abc import Iterable
from dataclasses import dataclass, field
from enum import IntEnum
from functools import lru_cache
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from optimizer.physics import Array
from optimizer.profile.machine_loads import Element
from optimizer.programme.constants import KINDS, ROUNDS_MAX, SPRAY_BY_SOAK_S

ROUNDS_MOST: dict[str, int] = {"prerinse": 2, "wash": 3, "rinse": 6, "steam": 1}
"""Most rounds of a kind that the planner tries [1]."""


@dataclass(frozen=True)
class Terms:
    """What a plan is looked for by, beside its goal.

    Attributes
    ----------
    prerinse_most_s : float
        Longest spray of a prerinse [s].
    traded : bool
        Whether whole seconds of one number are traded for those of another: nine tenths of the time of a
        trim, for a thousandth of the cost or so.
    any_rinse_heated : bool
        Whether the models may heat each rinse, not only the last, and the first where that must not be cold:
        heat in others goes down the drain, but where one alone does not do, or a later one chills the ware.
    """

    prerinse_most_s: float = math.inf
    traded: bool = True
    any_rinse_heated: bool = False


USUAL_TERMS = Terms()
"""Those of a plan by itself."""


class Mode(IntEnum):
    """How a round is heated."""

    UNHEATED = 0
    WHILE_SPRAYING = 1
    THEN_SPRAY = 2
    STEAM = 3
    BOTH_WAYS = 4
    """Alone, and then on while spraying."""


ALONE = (Mode.THEN_SPRAY, Mode.BOTH_WAYS)
"""Modes in which the element is on with the pump off, steam left out."""
TOGETHER = (Mode.WHILE_SPRAYING, Mode.BOTH_WAYS)
"""Modes in which element and wash pump are on together."""


def over_reading_k(element: Element, modes: Iterable[Mode]) -> float:
    """By how much a bath may be hotter than its sensor reads: its error, its layers if heated alone [K]."""
    layers_k = max(element.top_over_mean_k.high - element.sensor_over_mean_k.low, 0.0)
    return element.sensor_error_k + (layers_k if any(mode in ALONE for mode in modes) else 0.0)


@dataclass(frozen=True)
class Structure:
    """What is fixed when durations are chosen.

    Attributes
    ----------
    kinds : tuple of int
        Index into `KINDS`, a round each [1].
    modes : tuple of Mode
        Heat mode, a round each.
    soaked : tuple of int
        Indices of the rounds that soak, rising [1].
    rested, topped : tuple of int
        Indices of the rounds that rest before the drain until the bath has cooled, and of those that are
        topped up with cold water for it, rising [1].
    """

    kinds: tuple[int, ...]
    modes: tuple[Mode, ...]
    soaked: tuple[int, ...] = ()
    rested: tuple[int, ...] = ()
    topped: tuple[int, ...] = ()

    @property
    def last_wash(self) -> int:
        """Index of the last wash round [1]."""
        return max(i for i, kind in enumerate(self.kinds) if KINDS[kind] == "wash")

    @property
    def label(self) -> str:
        """Short name; marks say which rounds are heated, soak, rest and are topped up (``wa~. ri+-=``)."""
        marks = {Mode.UNHEATED: "", Mode.WHILE_SPRAYING: "~", Mode.THEN_SPRAY: "+", Mode.STEAM: ""}
        marks[Mode.BOTH_WAYS] = "+~"
        soaks = [
            "." * (index in self.soaked) + "-" * (index in self.rested) + "=" * (index in self.topped)
            for index in range(len(self.kinds))
        ]
        rounds = zip(self.kinds, self.modes, soaks, strict=True)
        return " ".join(KINDS[kind][0:2] + marks[mode] + soak for kind, mode, soak in rounds)


class Marks(NamedTuple):
    """Which rounds of a structure are what, one value a round.

    ``heated`` leaves steam out; ``after_s`` is the spray that follows a soak [s].
    """

    prerinses: NDArray[np.bool_]
    washes: NDArray[np.bool_]
    heated: NDArray[np.bool_]
    steams: NDArray[np.bool_]
    together: NDArray[np.bool_]
    both_ways: NDArray[np.bool_]
    then_spray: NDArray[np.bool_]
    after_s: Array


@lru_cache(maxsize=256)
def marks_of(structure: Structure) -> Marks:
    """Which rounds of a structure are what; the same arrays each time, to be read only."""
    kinds = np.array([KINDS[kind] for kind in structure.kinds])
    modes = np.array([int(mode) for mode in structure.modes])
    steams = modes == Mode.STEAM
    return Marks(
        prerinses=kinds == "prerinse",
        washes=kinds == "wash",
        heated=(modes != Mode.UNHEATED) & ~steams,
        steams=steams,
        together=np.isin(modes, TOGETHER),
        both_ways=modes == Mode.BOTH_WAYS,
        then_spray=modes == Mode.THEN_SPRAY,
        after_s=np.array([float(SPRAY_BY_SOAK_S) * (i in structure.soaked) for i in range(len(modes))]),
    )


@dataclass(frozen=True)
class Settings:
    """Numbers of one or many programmes of the same structure, ``[candidate, round]``.

    Attributes
    ----------
    fill_s : ndarray
        Inlet open; not used with a level switch [s].
    element_s : ndarray
        Element on, alone or from the start of the spray, as the round's mode says; alone in one heated both
        ways [s].
    spray_s : ndarray
        Wash pump on [s].
    setpoint_c : ndarray
        Sensor reading at which the element goes off; inf where it is timed [°C].
    soak_s : ndarray
        Everything off before the last part of the spray; 0 in a round that does not soak [s].
    while_s : ndarray
        Element on from the start of the spray in a round heated both ways; 0 in any other [s].
    cool_s : ndarray
        Everything off before the drain at least; the element may ask for more [s].
    top_up_s, mix_s : ndarray
        Inlet open before the drain, and wash pump on after that; 0 in a round that is not topped up [s].
    """

    fill_s: Array
    element_s: Array
    spray_s: Array
    setpoint_c: Array
    soak_s: Array
    while_s: Array
    cool_s: Array = field(default_factory=lambda: np.zeros((1, ROUNDS_MAX)))
    top_up_s: Array = field(default_factory=lambda: np.zeros((1, ROUNDS_MAX)))
    mix_s: Array = field(default_factory=lambda: np.zeros((1, ROUNDS_MAX)))


class Programme(NamedTuple):
    """A structure with its numbers: one programme, or many candidates of the same structure."""

    structure: Structure
    settings: Settings
