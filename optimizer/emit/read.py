"""The one reader of constants, for all forms.

Comments are stripped and the numbers collected by name. The constants that they make are written again in
the same form, and what is written must be what was read: anything else in the file is refused. So no line
can do anything that this reader does not know of.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass, field, replace
from itertools import zip_longest
from operator import itemgetter
from typing import ClassVar

from optimizer.emit.forms import FORMS, form_of
from optimizer.emit.meanings import (
    CONSTANTS_FORMAT,
    FACTS,
    TEXTS,
    constants_from,
    names,
    numbers,
    of_round,
    parted,
)
from optimizer.emit.one_form import Form, Ranges, Statement, UnreadableError, most_of
from optimizer.emit.several import NAME_MOST
from optimizer.emit.shared_limits import is_watchdog
from optimizer.emit.sheet import Sheet
from optimizer.errors import InputError, InputIssue
from optimizer.profile.messages import written
from optimizer.programme.constants import KINDS, ROUNDS_MAX, Constants

WRITE_AGAIN = "write the file again with scullion constants"
WRITE_ANEW = "write it from its plan with scullion constants, and its controller with it (--with-controller)"
BROKEN_OFF = "write the file again: a plan with scullion plan, constants with scullion constants"
"""What breaks off before it says what it is may be a plan: both are JSON."""
NAME_RULE = (
    f"must be 1 to {NAME_MOST} letters of A-Z, a-z, digits, blank, dot, dash and underscore, not blank first"
)
NAME = re.compile(rf"[A-Za-z0-9][A-Za-z0-9 ._-]{{0,{NAME_MOST - 1}}}", re.ASCII)
TEXT_RULES = {
    "name": (NAME, NAME_RULE),
    "input_sha256": (re.compile(r"[0-9a-f]{64}"), "must be 64 hexadecimal digits"),
}
"""What a text has to match, and the rule in words."""
ISSUE_KEY = re.compile(r"rounds\[(\d+)\]\.(\w+)")
SHAPE = ("format", "rounds", "programmes")
"""Numbers that say what else stands in a file."""
WORD_NAMES = {"control": "has_thermostat", "fill_control": "fill_by_level"}
"""Attributes of constants that stand in most forms as a flag of another name."""
DIFFERENCES = 5
"""How many of them are shown at most [1]: more of them mostly have one cause."""


def read_constants(text: str, subject: str) -> Constants:
    """Read a file of one programme in any of the forms, told apart by what is in it.

    Raises `InputError` with every issue found, each by its line or key: none of the forms, a number missing,
    twice, out of range or not a plain number, a watchdog that does not follow from the others, anything that
    scullion does not write, several programmes.
    """
    form = FORMS[form_named(text, subject)]
    statements = statements_of(form, text, subject)
    if count_of(form, statements) is not None:
        raise InputError([_holds_several(subject)])
    return Reader(form, subject).read(statements, form.printed(text))


def form_named(text: str, subject: str) -> str:
    """Tell the form of a file by its text; raises `InputError` where it is none of them."""
    name = form_of(text)
    if name is None:
        rule = f"is none of the forms of constants ({', '.join(FORMS)})"
        raise InputError([InputIssue(subject, "", rule, "", "give a file that scullion constants wrote")])
    return name


def _holds_several(subject: str) -> InputIssue:
    return InputIssue(subject, "", "holds several programmes where one is asked for", "", "name one of them")


def statements_of(form: Form, text: str, subject: str) -> list[Statement]:
    """Strip the comments of a file; raises `InputError` where it is not in its form at all."""
    try:
        return list(form.statements(text))
    except UnreadableError as error:
        raise InputError(
            [
                InputIssue(subject, *issue, BROKEN_OFF if "is not JSON" in issue[1] else WRITE_AGAIN)
                for issue in error.issues
            ]
        ) from error


def count_of(form: Form, statements: Sequence[Statement]) -> int | None:
    """How many programmes a file says that it holds: None where it says nothing, 0 for no sound number."""
    for statement in statements:
        match = form.named.fullmatch(statement.words)
        if match is not None and match["name"] == form.shown("programmes"):
            return form.value("programmes", match["value"]) or 0
    return None


def written_as(
    issue: InputIssue, form: str | None, subject: str, named: Callable[[str], str] = str
) -> InputIssue:
    """Name what is wrong with constants by their file, and by their name as it stands in that form.

    Without a form they stand in a plan. `named` gives a number's name among several programmes.
    """
    inner = ISSUE_KEY.fullmatch(issue.key)
    name = of_round(int(inner[1]), inner[2]) if inner else issue.key
    if form is None:
        return replace(issue, subject=subject, key=f"constants.{issue.key}")
    known = {**WORD_NAMES, **{one: one for one in names(ROUNDS_MAX)}}
    key = FORMS[form].shown(named(known[name])) if name in known else issue.key
    return replace(issue, subject=subject, key=key)


@dataclass
class Reader:
    """Collects the numbers of a file of one programme, and what is wrong with it."""

    layout: ClassVar[int] = CONSTANTS_FORMAT
    """Version of the files that it reads [1]."""

    form: Form
    subject: str
    values: dict[str, int] = field(default_factory=dict)
    places: dict[str, str] = field(default_factory=dict)
    """Where each number stands, sound or not."""
    texts: dict[str, str] = field(default_factory=dict)
    issues: list[InputIssue] = field(default_factory=list)
    allowed: dict[str, int] = field(default_factory=dict)
    """Nearest value that the file lets a number have, of those that are beyond it."""

    def refuse(self, place: str, rule: str, found: str = "", fix: str = "") -> None:
        self.issues.append(InputIssue(self.subject, place, rule, found, fix or WRITE_AGAIN))

    def read(self, statements: Sequence[Statement], printed: Ranges) -> Constants:
        """Read the statements of a file, held against the ranges that it prints."""
        self.collect(statements, printed)
        return constants_from(self.values, self.texts["input_sha256"])

    def collect(self, statements: Sequence[Statement], printed: Ranges) -> None:
        """Collect the numbers; raises `InputError` where anything is wrong with them or around them."""
        name_of = {self.form.shown(name): name for name in self._names(ROUNDS_MAX)}
        plain = [self._taken(statement, name_of) for statement in statements]
        self._refuse_other_format()
        self._complete()
        if not self.issues:
            self._within(printed)
            self._element_within()
            self._drain_within()
            for constants, named in self._tables():
                self._sound(constants, named)
        if self._is_counted():
            self._compare(statements, plain)
        if self.issues:
            raise InputError(self.issues)

    def _is_counted(self) -> bool:
        """Whether it is known how many rounds there are, so that the file can be written again."""
        return self.rounds > 0

    def _tables(self) -> Iterable[tuple[Constants, Callable[[str], str]]]:
        """Each programme, mended, with what gives the name in the file of a number of it."""
        return [(constants_from(self._mended(), self.texts["input_sha256"]), str)]

    def _mended(self) -> dict[str, int]:
        """The numbers, with those that the file does not let be so brought to the nearest that it does."""
        return self.values | self.allowed

    def _written_again(self) -> str:
        values = {name: self.values.get(name, 0) for name in self._names(self.rounds)}
        return self.form.write(Sheet.of_numbers(values, self.texts.get("input_sha256", "")))

    def _names(self, rounds: int) -> list[str]:
        """Names of all that stands in a file of so many rounds."""
        return [*names(rounds), *FACTS, "input_sha256"]

    @property
    def rounds(self) -> int:
        """How many rounds there are said to be [1]; 0 where no sound number says so."""
        found = self.values.get("rounds", 0)
        return found if found <= ROUNDS_MAX else 0

    def _taken(self, statement: Statement, name_of: dict[str, str]) -> str:
        """Take the number of a statement, if it has one; give the statement as scullion writes it."""
        match = self.form.named.fullmatch(statement.words)
        if match is None:
            return statement.words
        shown, literal = match["name"], match["value"]
        name = name_of.get(shown)
        place = ", ".join(filter(None, (statement.place, shown if shown.isprintable() else written(shown))))
        if name is None:
            self.refuse(place, "is not a name that scullion writes", written(literal))
        elif name in self.places:
            self.refuse(place, f"stands here a second time, after {self.places[name]}", written(literal))
        elif parted(name)[1] in TEXTS:
            self._take_text(name, place, literal)
        else:
            self.places[name] = place
            value = self.form.value(name, literal)
            if value is not None and value <= most_of(name):
                self.values[name] = value
                start, end = match.span("value")
                return statement.words[:start] + self.form.literal(name, value) + statement.words[end:]
            self.refuse(place, self._rule(name), written(literal))
        return statement.words

    def _take_text(self, name: str, place: str, literal: str) -> None:
        self.places[name] = place
        quote, (pattern, rule) = self.form.quote, TEXT_RULES[parted(name)[1]]
        self.texts[name] = literal.removeprefix(quote).removesuffix(quote)
        if pattern.fullmatch(self.texts[name]) is None or literal != f"{quote}{self.texts[name]}{quote}":
            self.refuse(place, rule, written(literal))

    def _rule(self, name: str) -> str:
        most = most_of(name)
        if most < len(KINDS):
            return f"must be one of {', '.join(self.form.literal(name, value) for value in range(most + 1))}"
        return f"must be a whole number from 0 to {most}, written like {self.form.literal(name, 10)}"

    def _complete(self) -> None:
        """Refuse what is missing and what is too much."""
        if "rounds" in self.values and not self.rounds:
            rule = f"a programme has 1 to {ROUNDS_MAX} rounds"
            self.refuse(self.places["rounds"], rule, str(self.values["rounds"]))
        wanted = self._names(self.rounds)
        for name in wanted:
            if name not in self.places:
                self.refuse(self.form.shown(name), "is missing")
        for name, value in self.values.items() if self.rounds else ():
            if name not in wanted:
                self.refuse(self.places[name], f"there are only {self.rounds} rounds", str(value))

    def _refuse_other_format(self) -> None:
        """Refuse a file of another version at once: whatever else is not as here is right in that one."""
        found = self.values.get("format", self.layout)
        if found != self.layout:
            rule = f"this version reads constants of format {self.layout}"
            issue = InputIssue(self.subject, self.places["format"], rule, str(found), WRITE_ANEW)
            raise InputError([issue])

    def _sound(self, mended: Constants, named: Callable[[str], str]) -> None:
        """Refuse what no machine may be given, and watchdogs that do not follow from the table.

        Numbers that were refused are `mended` by then: the fix of one must agree with that of another.
        `named` gives the name in the file of a number of this programme.
        """
        issues = mended.issues(self.subject)
        for issue in issues:
            inner = ISSUE_KEY.fullmatch(issue.key)
            name = named(of_round(int(inner[1]), inner[2]) if inner else issue.key)
            place = self.places.get(name, name)
            self.issues.append(replace(issue, key=place, fix=issue.fix or WRITE_AGAIN))
        if issues:
            return
        for name, value in numbers(mended).items():
            if is_watchdog(name) and self.values[named(name)] != value:
                rule, found = "does not follow from the other numbers", str(self.values[named(name)])
                self.refuse(self.places[named(name)], rule, found, str(value))

    def _within(self, printed: Ranges) -> None:
        """Refuse a number outside the range that the file itself prints beside it: no proof covers it."""
        for name, place in self.places.items():
            ends = printed.get(self.form.shown(name))
            if ends is None or name not in self.values or ends[0] <= self.values[name] <= ends[1]:
                continue
            nearest = min(max(self.values[name], ends[0]), ends[1])
            # A file whose printed ranges were edited too may ask for rounds that are not in it.
            if parted(name)[1] not in SHAPE and nearest <= most_of(name):
                self.allowed[name] = nearest
            rule = f"is outside the range that this file prints beside it, {ends[0]} to {ends[1]}"
            fix = f"{nearest} is the nearest allowed; or plan again and {WRITE_AGAIN}"
            self.refuse(place, rule, str(self.values[name]), fix)

    def _element_within(self) -> None:
        """Refuse an element that is on for longer in a round than the watchdog of the round says.

        A form may print no ranges; that watchdog is the longest that was proven, and must not follow.
        """
        for constants, named in self._tables():
            follows = constants.total_max_s == self.values[named("total_max_s")]
            for number, row in enumerate(constants.rounds, start=1):
                watchdog = named(of_round(number, "element_max_s"))
                over_s = row.element_max_s - self.values[watchdog]
                # The whole programme lasts no longer where an element is on for longer in a spray.
                in_spray = row.spray_element_s >= over_s and (follows or row.heat_s < over_s)
                name = named(of_round(number, "spray_element_s" if in_spray else "heat_s"))
                if over_s > 0:
                    self._refuse_longer(name, watchdog, max(self._mended()[name] - over_s, 0))

    def _refuse_longer(self, name: str, watchdog: str, most_s: int) -> None:
        self.allowed[name] = most_s
        rule = f"has the element on for longer than was proven of this round ({self.form.shown(watchdog)})"
        fix = f"{most_s} is the longest allowed, of 0 to {most_s}; or plan again and {WRITE_AGAIN}"
        self.refuse(self.places[name], rule, str(self.values[name]), fix)

    def _drain_within(self) -> None:
        """Refuse a drain shorter than the shortest that was proven, where that number was left as it was.

        A form may print no ranges. Who changes the shortest drain alone leaves the whole programme as long.
        """
        for constants, named in self._tables():
            least_s, total_s = (self.values[named(name)] for name in ("drain_min_s", "total_max_s"))
            if constants.total_max_s == total_s:
                continue
            rounds = range(1, len(constants.rounds) + 1)
            for name in map(named, ["start_drain_s", *(of_round(number, "drain_s") for number in rounds)]):
                if self.values[name] < least_s and name not in self.allowed:
                    self.allowed[name] = least_s
                    rule = f"is shorter than any drain was proven ({self.form.shown(named('drain_min_s'))})"
                    fix = f"{least_s} is the shortest allowed; or plan again and {WRITE_AGAIN}"
                    self.refuse(self.places[name], rule, str(self.values[name]), fix)

    def _compare(self, statements: Sequence[Statement], plain: Sequence[str]) -> None:
        """Refuse the first statements that are not as scullion writes them."""
        expected = [statement.words for statement in self.form.statements(self._written_again())]
        given = list(zip(plain, statements, strict=True))
        if self.issues:
            # What is wrong with the numbers has been said: only what stands around them is compared.
            given = [pair for pair in given if not self.form.named.fullmatch(pair[0])]
            expected = [words for words in expected if not self.form.named.fullmatch(words)]
        if not self.form.ordered:
            given, expected = sorted(given, key=itemgetter(0)), sorted(expected)
        same_length = len(given) == len(expected)
        pairs = zip_longest(given, expected)
        differing = [(pair, words) for pair, words in pairs if pair is None or pair[0] != words]
        for pair, words in differing[: DIFFERENCES if same_length else 1]:
            if pair is None:
                self.refuse("end", f"is missing: {words}")
            else:
                place, found = pair[1].place, written(pair[1].words)
                self.refuse(place, "is not what scullion writes here", found, f"write {words}" * same_length)
