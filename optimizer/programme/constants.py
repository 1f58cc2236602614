"""The table a controller steps through: integers only, one row a round.

It is all that the planner passes on to the check and to the emitters. The controller does this:

* ``start_drain_s`` of draining, then the rounds in order; ``gap_s`` with every output off between
  any two phases, so that no two motors start together.
* A round is fill, heat, spray, rest, top-up, mix, drain. A phase of 0 s is left out together with its gap.
* A wash may soak: everything off for ``soak_s`` before the last ``after_soak_s`` of its spray, with a gap on
  either side. The ware stays wet, and what came loose is sprayed off it.
* fill: inlet open for ``fill_s`` (with a level switch: until it closes, at most ``fill_s``).
* heat: element alone for ``heat_s`` (``setpoint_dc`` > 0: until the sensor reads it, at most ``heat_s``).
* spray: wash pump for ``spray_s``; element from its start for ``spray_element_s`` (``setpoint_dc`` > 0:
  off when the sensor reads the setpoint, on again the hysteresis below it, never after ``spray_element_s``).
  It is off during a soak and after it.
* rest: everything off. top-up: inlet open for ``top_up_s``, by time, whatever a level switch says: cold
  water, so that the drain pipe stands what is drained. mix: wash pump for ``mix_s``, which stirs it in.
* drain: drain pump for ``drain_s``.
* after the last drain the load stands for ``stand_s``.
* A ``steam`` round, if there is one, comes last: a shallow pool that the element boils for ``heat_s``, with
  no spray. Its element is always timed (``setpoint_dc`` 0): water that boils gets no hotter.

Watchdogs, for a controller that watches itself, follow from the table: the longest the element is on and
the inlet open, the shortest drain, the length of the programme. Only ``bath_max_dc`` is a number of its own.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, fields
from itertools import pairwise
from typing import Literal

from optimizer.errors import InputIssue
from optimizer.profile.messages import written

Kind = Literal["prerinse", "wash", "rinse", "steam"]
KINDS: tuple[Kind, ...] = ("prerinse", "wash", "rinse", "steam")
Control = Literal["timed", "thermostat"]
FillControl = Literal["timed", "level"]

UINT16_MAX = 65535
"""Largest number of a table: an unsigned 16-bit integer [1]."""
ROUNDS_MAX = 32
"""Rounds a table may have [1]; more than any programme needs."""
GAP_S = 2
"""Pause with every output off between two phases [s]."""
SPRAY_BY_SOAK_S = 60
"""Spray before a soak and after it at least: the ware is wet all over, and what came loose is sprayed off it
[s]; *no source*, our choice: the shortest spray of a wash."""
REST_BEFORE_DRAIN_S = 120
"""A rest of a wash that lasts longer before its drain counts as a soak, unless a spray follows it [s]; *no
source*, our choice."""
MIX_LEAST_S = 60
"""Wash pump on for so long at least, or a top-up does not count as stirred into the bath [s]; *no source*,
our choice: pumps of such machines turn a bath over several times in it."""


@dataclass(frozen=True)
class Round:
    """One round as the controller takes it.

    Attributes
    ----------
    kind : str
        ``prerinse``, ``wash``, ``rinse`` or ``steam``.
    fill_s : int
        Inlet open [s]; with a level switch the longest it may be open.
    heat_s : int
        Element on, pump off [s]; with a thermostat the longest it may be on.
    spray_s : int
        Wash pump on [s].
    spray_element_s : int
        Element on from the start of the spray [s]; with a thermostat it may cycle for so long.
    setpoint_dc : int
        Sensor reading at which the element goes off [0.1 °C]; 0 where the element is timed.
    soak_s : int
        Everything off before the last part of the spray [s]; only in a wash.
    rest_s : int
        Everything off before the drain [s].
    top_up_s : int
        Inlet open before the drain, to cool what is drained [s].
    mix_s : int
        Wash pump on after a top-up [s]; without a top-up 0.
    drain_s : int
        Drain pump on [s].
    detergent_dg : int
        Detergent put in as the spray begins [0.1 g].
    """

    kind: Kind
    fill_s: int
    heat_s: int
    spray_s: int
    spray_element_s: int
    setpoint_dc: int
    soak_s: int = field(default=0, kw_only=True)
    rest_s: int
    top_up_s: int = field(default=0, kw_only=True)
    mix_s: int = field(default=0, kw_only=True)
    drain_s: int
    detergent_dg: int

    @property
    def heated(self) -> bool:
        """Whether the element is used in this round."""
        return self.heat_s > 0 or self.spray_element_s > 0

    @property
    def element_max_s(self) -> int:
        """Longest the element is on in this round [s]."""
        return self.heat_s + self.spray_element_s

    @property
    def phases_s(self) -> tuple[int, ...]:
        """Fill, heat, spray, soak, rest, top-up, mix and drain at their longest [s]."""
        before_s = (self.fill_s, self.heat_s, self.spray_s, self.soak_s, self.rest_s)
        return (*before_s, self.top_up_s, self.mix_s, self.drain_s)

    @property
    def stirred(self) -> bool:
        """Whether a top-up is stirred into the bath, so that its drain takes water of one temperature."""
        return self.mix_s >= MIX_LEAST_S

    @property
    def pauses(self) -> int:
        """Pauses of the round, one a phase; a soak has two, as it parts the spray [1]."""
        return sum(map(bool, self.phases_s)) + bool(self.soak_s)

    def split_spray_s(self, after_soak_s: int) -> tuple[int, int]:
        """Split the spray at the soak.

        Parameters
        ----------
        after_soak_s : int
            Spray after the soak, of the table that the round stands in [s].

        Returns
        -------
        tuple of int
            Spray before the soak and after it; all of it before, where the round has no soak [s].
        """
        after_s = after_soak_s if self.soak_s else 0
        return self.spray_s - after_s, after_s


ROUND_NUMBERS = tuple(field.name for field in fields(Round) if field.name != "kind")
"""Names of the numbers of a round, in the order in which they are written."""


@dataclass(frozen=True)
class Constants:
    """A whole programme as the controller takes it.

    Attributes
    ----------
    start_drain_s : int
        Drain pump on before the first round [s].
    gap_s : int
        Pause between two phases [s].
    after_soak_s : int
        Last part of the spray of a round that soaks, after its soak [s]; 0 where no round has one.
    rounds : tuple of Round
        The rounds in order.
    stand_s : int
        The load stands after the last drain [s].
    control : str
        ``timed`` or ``thermostat``; ``timed`` where there is no element.
    fill_control : str
        ``timed`` or ``level``.
    hysteresis_dk : int
        Thermostat: gap between off and on again [0.1 K]; 0 where the element is timed.
    bath_max_dc : int
        Watchdog: hottest reading of a sound run and a little [0.1 °C]; 0, none, where nothing reads the bath.
    input_sha256 : str
        Hash of the profiles the numbers came from; of a bench run, one of its own made from that.
    bench_run : bool
        Whether this only rehearses a programme, in seconds and with the element never on.
    restart_after_cut : bool
        Whether the machine starts by itself as the power comes back; false unless someone edits it, because a
        pulled plug is a cut as well, and hands may be in the tank.
    lid_open_after_s : int
        Lid shut until so long after the last drain, then ajar [s]; 0 where nothing is dried.
    """

    start_drain_s: int
    gap_s: int
    rounds: tuple[Round, ...]
    stand_s: int
    control: Control
    fill_control: FillControl
    hysteresis_dk: int
    bath_max_dc: int
    input_sha256: str
    bench_run: bool = False
    after_soak_s: int = 0
    restart_after_cut: bool = False
    lid_open_after_s: int = 0

    @property
    def element_max_s(self) -> int:
        """Watchdog: longest the element is on in any round [s]."""
        return max(row.element_max_s for row in self.rounds)

    @property
    def fill_max_s(self) -> int:
        """Watchdog: longest the inlet is open at a time [s]."""
        return max(max(row.fill_s, row.top_up_s) for row in self.rounds)

    @property
    def drain_min_s(self) -> int:
        """Watchdog: shortest drain, the one at the start included [s]."""
        return min(self.start_drain_s, *(row.drain_s for row in self.rounds))

    @property
    def total_max_s(self) -> int:
        """Watchdog: the whole programme with every phase at its longest, pauses and standing too [s]."""
        rounds_s = sum(sum(row.phases_s) + row.pauses * self.gap_s for row in self.rounds)
        return self.start_drain_s + rounds_s + self.stand_s

    @property
    def detergent_g(self) -> float:
        """Detergent of all rounds together [g]."""
        return sum(row.detergent_dg for row in self.rounds) / 10.0

    def issues(self, subject: str) -> list[InputIssue]:
        """Find what no machine may be given, whatever its profile.

        Parameters
        ----------
        subject : str
            Name of the file, for the messages.

        Returns
        -------
        list of InputIssue
            Empty where the table is well formed.
        """
        found: list[InputIssue] = []
        tops = {
            "start_drain_s": 1,
            "gap_s": 1,
            "after_soak_s": 0,
            "stand_s": 0,
            "lid_open_after_s": 0,
            "hysteresis_dk": 0,
            "bath_max_dc": int(self.control == "thermostat"),
        }
        for key, least in tops.items():
            found += _range_issue(subject, key, getattr(self, key), least)
        if not 1 <= len(self.rounds) <= ROUNDS_MAX:
            rule = f"a programme has 1 to {ROUNDS_MAX} rounds"
            fix = f"leave out {len(self.rounds) - ROUNDS_MAX} of them" if self.rounds else "add a wash round"
            found.append(InputIssue(subject, "rounds", rule, str(len(self.rounds)), fix))
        for number, row in enumerate(self.rounds, start=1):
            found += _round_issues(subject, f"rounds[{number}]", row, self)
        if self.bench_run and self.restart_after_cut:
            rule = "a bench run is started by a person, never by itself"
            found.append(InputIssue(subject, "restart_after_cut", rule, "true", "false"))
        if self.after_soak_s and not any(row.soak_s for row in self.rounds):
            rule = "must be 0 where no round has a soak"
            found.append(InputIssue(subject, "after_soak_s", rule, written(self.after_soak_s), "0"))
        return found + _order_issues(subject, self.rounds)


def first_rinse(constants: Constants) -> int | None:
    """Find the round that rinses off the last wash.

    Parameters
    ----------
    constants : Constants
        The table.

    Returns
    -------
    int or None
        Its number, from 0 [1]; None where no rinse follows a wash.
    """
    kinds = [row.kind for row in constants.rounds]
    return kinds.index("rinse") if "rinse" in kinds and "wash" in kinds else None


def first_wash(constants: Constants) -> int | None:
    """Find the first wash, whose spray may be the first hot water on the ware.

    Parameters
    ----------
    constants : Constants
        The table.

    Returns
    -------
    int or None
        Its number, from 0 [1]; None without a wash.
    """
    kinds = [row.kind for row in constants.rounds]
    return kinds.index("wash") if "wash" in kinds else None


def _range_issue(subject: str, key: str, value: object, least: int) -> list[InputIssue]:
    if isinstance(value, int) and not isinstance(value, bool) and least <= value <= UINT16_MAX:
        return []
    rule = f"must be a whole number from {least} to {UINT16_MAX}"
    fix = f"at most {UINT16_MAX}" if isinstance(value, int) and value > UINT16_MAX else f"at least {least}"
    return [InputIssue(subject, key, rule, written(value), fix)]


def _order_issues(subject: str, rounds: Sequence[Round]) -> list[InputIssue]:
    """Point to the first round that stands after one of a later kind."""
    for number, (before, row) in enumerate(pairwise(rounds), start=2):
        if KINDS.index(row.kind) < KINDS.index(before.kind):
            rule, fix = f"the order is {', '.join(KINDS)}", f"every {row.kind} before the first {before.kind}"
            found = f"{row.kind} after {before.kind}"
            return [InputIssue(subject, f"rounds[{number}].kind", rule, found, fix)]
    return []


def _soak_issues(subject: str, key: str, row: Round, after_soak_s: int) -> list[InputIssue]:
    """Find what is wrong with a soak: it stands in a wash, between two parts of its spray."""
    if not row.soak_s:
        return []
    if row.kind != "wash":
        return [InputIssue(subject, f"{key}.soak_s", "only a wash may soak", str(row.soak_s), "0")]
    if not 0 < after_soak_s < row.spray_s:
        rule = "must leave some of the spray before the soak and some after it"
        found, fix = f"{after_soak_s} of {row.spray_s} s", f"1 to {max(row.spray_s - 1, 1)}"
        return [InputIssue(subject, "after_soak_s", rule, found, fix)]
    if row.spray_element_s > row.spray_s - after_soak_s:
        rule = "the element may not be on after the soak"
        fix = f"at most {row.spray_s - after_soak_s}"
        return [InputIssue(subject, f"{key}.spray_element_s", rule, str(row.spray_element_s), fix)]
    return []


def _round_issues(subject: str, key: str, row: Round, table: Constants) -> list[InputIssue]:
    found: list[InputIssue] = []
    works = "spray_s" if row.kind != "steam" else None if table.bench_run else "heat_s"
    for name in ROUND_NUMBERS:
        least = 1 if name in ("fill_s", "drain_s", works) else 0
        found += _range_issue(subject, f"{key}.{name}", getattr(row, name), least)
    if found:
        return found
    found += _soak_issues(subject, key, row, table.after_soak_s)
    if row.mix_s and not row.top_up_s:
        rule = "there is no top-up to be stirred in"
        found.append(InputIssue(subject, f"{key}.mix_s", rule, str(row.mix_s), "0, or a top_up_s"))
    if row.spray_element_s > row.spray_s:
        rule, fix = "the element may not be on longer than the spray", f"at most {row.spray_s}"
        found.append(InputIssue(subject, f"{key}.spray_element_s", rule, str(row.spray_element_s), fix))
    if row.kind == "steam" and (row.spray_s or row.setpoint_dc or row.mix_s):
        rule = "a steam round has no spray, no mix and no setpoint"
        what = f"{row.spray_s} s, {row.mix_s} s, {row.setpoint_dc} dC"
        found.append(InputIssue(subject, key, rule, what, "0 for all"))
    elif row.kind != "steam" and row.heated and table.control == "thermostat" and row.setpoint_dc == 0:
        fix = f"1 to {table.bath_max_dc} (bath_max_dc)"
        found.append(
            InputIssue(subject, f"{key}.setpoint_dc", "a thermostat round needs a setpoint", "0", fix)
        )
    if 0 < table.bath_max_dc < row.setpoint_dc:
        rule, fix = "is above bath_max_dc, where the controller stops", f"at most {table.bath_max_dc}"
        found.append(InputIssue(subject, f"{key}.setpoint_dc", rule, str(row.setpoint_dc), fix))
    if row.element_max_s > UINT16_MAX:
        rule = f"the element may be on for at most {UINT16_MAX} s in a round"
        fix = "a shorter heat_s or spray_element_s"
        found.append(InputIssue(subject, key, rule, str(row.element_max_s), fix))
    return found
