"""Numbers found in a file of constants, and the table that they make: all of it, or issues."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import dataclass, field, replace

from optimizer.emit.numbers import CONSTANTS_FORMAT, FLAGS, OF_ROUND, TOP, names, numbers, of_round
from optimizer.emit.watchdogs import UINT32_MAX, is_watchdog
from optimizer.errors import InputError, InputIssue
from optimizer.profile.messages import written
from optimizer.programme.constants import KINDS, ROUND_NUMBERS, ROUNDS_MAX, Constants, Round

WRITE_AGAIN = "write the file again with scullion constants"
WHOLE = re.compile(r"0|[1-9][0-9]{0,9}", re.ASCII)
"""A whole number as all languages read it: no sign, no zero in front, none that wraps in 64 bits."""
SHA256 = re.compile(r"[0-9a-f]{64}")
OF_A_ROUND = re.compile(r"round_([1-9][0-9]?)_([a-z_]+)", re.ASCII)
AT_FAULT = re.compile(r"rounds\[(\d+)\]\.(\w+)")


@dataclass
class Reader:
    """Collects what a file says; each number may be said once.

    Attributes
    ----------
    subject : str
        Name of the file, for the messages.
    shown : callable
        Writes a name as the file does.
    extra : tuple of str
        Names of numbers that this form has beside the constants.
    numbers : dict of str to int
        Value by name [unit of the name].
    places : dict of str to str
        Where each was found.
    sha256 : str or None
        Hash of the profiles.
    issues : list of InputIssue
        What is wrong so far.
    """

    subject: str
    shown: Callable[[str], str]
    extra: tuple[str, ...] = ()
    numbers: dict[str, int] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    sha256: str | None = None
    issues: list[InputIssue] = field(default_factory=list)

    def issue(self, place: str, rule: str, found: str = "", fix: str = WRITE_AGAIN) -> None:
        """Note an issue.

        Parameters
        ----------
        place : str
            Where: a line, a key.
        rule : str
            What is wrong.
        found : str
            What stands there.
        fix : str
            What to write instead.
        """
        self.issues.append(InputIssue(self.subject, place, rule, found, fix))

    def refuse(self, name: str, place: str, rule: str, found: str, fix: str = WRITE_AGAIN) -> None:
        """Note that a number is there, and what is wrong with it.

        Parameters
        ----------
        name : str
            Its name in the list of numbers.
        place : str
            Where it was found; empty where its name says so.
        rule : str
            What is wrong.
        found : str
            What stands there.
        fix : str
            What to write instead.
        """
        self.issue(self._at(name, place), rule, found, fix)
        self.places.setdefault(name, self._at(name, place))

    def take(self, name: str, value: int, place: str) -> None:
        """Take a number.

        Parameters
        ----------
        name : str
            Its name in the list of numbers.
        value : int
            Its value [unit of the name].
        place : str
            Where it was found; empty where its name says so.
        """
        if name in self.places:
            self.refuse(name, place, f"stands here a second time, after {self.places[name]}", written(value))
        elif name not in (*TOP, *self.extra) and not _is_of_round(name):
            self.refuse(name, place, "is not a name that scullion writes", written(value))
        elif not 0 <= value <= UINT32_MAX:
            self.refuse(name, place, f"must be a whole number from 0 to {UINT32_MAX}", written(value))
        else:
            self.numbers[name], self.places[name] = value, self._at(name, place)

    def take_text(self, name: str, text: str, place: str) -> None:
        """Take a number from its digits.

        Parameters
        ----------
        name : str
            Its name in the list of numbers.
        text : str
            Its digits.
        place : str
            Where it was found.
        """
        if WHOLE.fullmatch(text):
            self.take(name, int(text), place)
        else:
            self.refuse(name, place, "must be a whole number, in plain digits", written(text))

    def _at(self, name: str, place: str) -> str:
        return f"{place}, {self.shown(name)}" if place else self.shown(name)

    def take_sha256(self, text: str, place: str) -> None:
        """Take the hash.

        Parameters
        ----------
        text : str
            The hash.
        place : str
            Where it was found.
        """
        at = self._at("input_sha256", place)
        if self.sha256 is not None:
            self.issue(at, "stands here a second time", written(text))
        elif SHA256.fullmatch(text) is None:
            self.issue(at, "must be 64 hexadecimal digits", written(text))
        self.sha256 = text

    def constants(self) -> Constants:
        """Make the table.

        Returns
        -------
        Constants
            The constants, well formed.

        Raises
        ------
        InputError
            With the issues so far and what is missing or, where there are none, what is out of range or does
            not follow from the others.
        """
        self._missing()
        for step in (self._odd, self._unsound):
            if not self.issues:
                step()
        if self.issues:
            raise InputError(self.issues)
        return self._table()

    @property
    def rounds(self) -> int:
        """How many rounds there are said to be [1]; 0 where no sound number says so."""
        found = self.numbers.get("rounds", 0)
        return found if found <= ROUNDS_MAX else 0

    def _missing(self) -> None:
        if "rounds" in self.numbers and not self.rounds:
            rule = f"a programme has 1 to {ROUNDS_MAX} rounds"
            self.issue(self.places["rounds"], rule, str(self.numbers["rounds"]))
        wanted = [*names(self.rounds), *self.extra]
        for name in wanted:
            if name not in self.places:
                self.issue(self.shown(name), "is missing")
        for name in self.numbers.keys() - set(wanted) if self.rounds else ():
            self.issue(self.places[name], f"there are only {self.rounds} rounds", str(self.numbers[name]))
        if self.sha256 is None:
            self.issue(self.shown("input_sha256"), "is missing")

    def _odd(self) -> None:
        """What is a number here and something else in the table."""
        found = self.numbers["format"]
        if found != CONSTANTS_FORMAT:
            rule = f"this version reads constants of format {CONSTANTS_FORMAT}"
            self.issue(self.places["format"], rule, str(found))
        for name in FLAGS:
            if self.numbers[name] > 1:
                self.issue(self.places[name], "must be 0 or 1", str(self.numbers[name]))
        for number in range(1, self.rounds + 1):
            name = of_round(number, "kind")
            if self.numbers[name] >= len(KINDS):
                self.issue(self.places[name], f"must be 0 to {len(KINDS) - 1}", str(self.numbers[name]))

    def _unsound(self) -> None:
        table = self._table()
        for issue in table.issues(self.subject):
            self.issues.append(replace(issue, key=self._place_of(issue.key), fix=issue.fix or WRITE_AGAIN))
        if self.issues:
            return
        for name, value in numbers(table).items():
            if is_watchdog(name) and self.numbers[name] != value:
                rule = "does not follow from the other numbers"
                self.issue(self.places[name], rule, str(self.numbers[name]), str(value))

    def _place_of(self, key: str) -> str:
        inner = AT_FAULT.fullmatch(key)
        name = of_round(int(inner[1]), inner[2]) if inner else key
        return self.places.get(name, name)

    def _table(self) -> Constants:
        found = self.numbers
        rows = []
        for number in range(1, self.rounds + 1):
            row = {name: found[of_round(number, name)] for name in ROUND_NUMBERS}
            rows.append(Round(KINDS[found[of_round(number, "kind")]], **row))
        return Constants(
            start_drain_s=found["start_drain_s"],
            gap_s=found["gap_s"],
            rounds=tuple(rows),
            stand_s=found["stand_s"],
            control="thermostat" if found["has_thermostat"] else "timed",
            fill_control="level" if found["fill_by_level"] else "timed",
            hysteresis_dk=found["hysteresis_dk"],
            bath_max_dc=found["bath_max_dc"],
            input_sha256=self.sha256 or "",
            bench_run=bool(found["bench_run"]),
        )


def _is_of_round(name: str) -> bool:
    found = OF_A_ROUND.fullmatch(name)
    return found is not None and found[2] in OF_ROUND
