"""Quantities of a machine that may drift, by the names that a person gives them."""

from __future__ import annotations

import math
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from optimizer.errors import InputError, InputIssue
from optimizer.profile.did_you_mean import choice_meant
from optimizer.profile.messages import written

DRIFTING: Mapping[str, tuple[str, str]] = {
    "voltage": ("voltage_v", "V"),
    "element": ("rated_w", "W"),
    "wash_pump": ("wash_pump_w", "W"),
    "inlet": ("inlet_c", "K"),
    "room": ("room_c", "K"),
    "flow": ("flow_l_per_min", "l/min"),
    "drain": ("drain_l_per_min", "l/min"),
    "drain_lag": ("drain_lag_s", "s"),
    "residual": ("residual_l", "l"),
    "ware": ("ware_kj_per_k", "kJ/K"),
    "tank": ("tank_kj_per_k", "kJ/K"),
    "loss_still": ("loss_still_w_per_k", "W/K"),
    "loss_spraying": ("loss_spraying_w_per_k", "W/K"),
    "response": ("response_spraying_s", "s"),
}
"""By the word for a quantity: its name among the tolerances, and the unit of a drift in plain numbers."""

NO_PERCENT = ("inlet", "room")
"""Temperatures, of which a percentage says nothing."""

FORM = re.compile(r"(?P<word>[a-z_]+)=(?P<by>[+-]\d+(\.\d+)?)(?P<percent>%?)")
MOST_PERCENT = 95.0
HOTTEST_C = 95.0
"""No feed and no room drifts beyond this [°C]."""
EXAMPLE = "--drift element=-10%"


@dataclass(frozen=True)
class Drift:
    """A quantity that is off its measured value.

    Attributes
    ----------
    word : str
        Which quantity, a key of `DRIFTING`.
    by : float
        By how much: a share of it [1], or in its own unit.
    is_share : bool
        Which of the two.
    """

    word: str
    by: float
    is_share: bool

    @property
    def name(self) -> str:
        """Its name among the tolerances."""
        return DRIFTING[self.word][0]

    def of(self, value: float) -> float:
        """What a value has become."""
        return value * (1.0 + self.by) if self.is_share else value + self.by

    def __str__(self) -> str:
        if self.is_share:
            return f"{self.word} {100.0 * self.by:+g} %"
        return f"{self.word} {self.by:+g} {DRIFTING[self.word][1]}"


def read_drifts(texts: Sequence[str]) -> tuple[Drift, ...]:
    """Read drifts as they are typed: ``element=-10%`` or ``inlet=+4``."""
    found, issues = list[Drift](), list[InputIssue]()
    for text in texts:
        match = FORM.fullmatch(text.strip())
        if match is None:
            rule = "is a quantity, an equals sign, and a signed number, perhaps with %"
            word = text.partition("=")[0].strip()
            fix = EXAMPLE if word in DRIFTING else f"{EXAMPLE}; what drifts: {', '.join(DRIFTING)}"
            issues.append(InputIssue("--drift", "", rule, written(text), fix))
            continue
        word, by, is_share = match["word"], float(match["by"]), bool(match["percent"])
        if word not in DRIFTING:
            meant = choice_meant(word, list(DRIFTING))
            fix = f"{f'did you mean {meant}? ' if meant else ''}What drifts: {', '.join(DRIFTING)}"
            issues.append(InputIssue("--drift", "", "names no quantity that drifts", written(word), fix))
        elif is_share and word in NO_PERCENT:
            rule = "is a temperature, which drifts by kelvin"
            issues.append(InputIssue("--drift", word, rule, written(text), f"--drift {word}=+4"))
        elif is_share and not -MOST_PERCENT <= by <= 10.0 * MOST_PERCENT:
            rule = f"drifts by -{MOST_PERCENT:g} % to +{10 * MOST_PERCENT:g} %"
            issues.append(InputIssue("--drift", word, rule, written(text), EXAMPLE))
        elif any(one.word == word for one in found):
            issues.append(InputIssue("--drift", word, "is given twice", written(text), "give it once"))
        else:
            found.append(Drift(word, by / 100.0 if is_share else by, is_share))
    if issues:
        raise InputError(issues)
    return tuple(found)


def drifted(table: Mapping[str, float], drifts: Sequence[Drift]) -> dict[str, float]:
    """Let the quantities of a machine drift; `InputError` where one becomes what no machine has."""
    found, issues = dict(table), list[InputIssue]()
    for drift in drifts:
        value = drift.of(found[drift.name])
        if not math.isfinite(value) or (value <= 0.0 and drift.word not in NO_PERCENT):
            rule = f"leaves {value:g} of {found[drift.name]:g}"
            issues.append(InputIssue("--drift", drift.word, rule, str(drift), "less of it"))
        elif drift.word in NO_PERCENT and not 0.0 < value < HOTTEST_C:
            now_c = found[drift.name]
            rule = f"makes {value:.3g} °C of {now_c:.3g}: water and air drift within 0 to {HOTTEST_C:g} °C"
            fix = f"between -{math.floor(now_c)} and +{math.floor(HOTTEST_C - now_c)}"
            issues.append(InputIssue("--drift", drift.word, rule, str(drift), fix))
        found[drift.name] = value
    if issues:
        raise InputError(issues)
    return found
