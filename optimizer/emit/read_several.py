"""Reads a file of several programmes, by the same rules as a file of one."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from functools import lru_cache, partial
from typing import ClassVar

from optimizer.emit.forms import FORMS
from optimizer.emit.meanings import (
    FACTS,
    SEVERAL_FORMAT,
    TEXTS,
    TOP_OF_SEVERAL,
    constants_from,
    names_of_programme,
    of_programme,
    parted,
)
from optimizer.emit.read import Reader, count_of, form_named, statements_of
from optimizer.emit.several import PROGRAMMES_MAX, REHEARSAL, WASHES, Several
from optimizer.programme.constants import ROUNDS_MAX, Constants


def read_programmes(text: str, subject: str) -> dict[str, Constants]:
    """Read a file of constants in any of the forms: its programmes by name, "" where it holds but one.

    Raises `InputError` as `read_constants` does; names that stand twice are refused as well.
    """
    return dict(_read(text, subject)[0])


def facts_in(text: str, subject: str) -> dict[str, int]:
    """Read what a file of constants says of machine and circuit, as a controller takes it."""
    return dict(_read(text, subject)[1])


@lru_cache(maxsize=1)
def _read(text: str, subject: str) -> tuple[dict[str, Constants], dict[str, int]]:
    """Read both at once: whoever asks for the one asks for the other next."""
    form = FORMS[form_named(text, subject)]
    statements = statements_of(form, text, subject)
    count = count_of(form, statements)
    if count is None:
        one = Reader(form, subject)
        return {"": one.read(statements, form.printed(text))}, _facts(one)
    reader = _SeveralReader(form, subject, count=min(count, PROGRAMMES_MAX))
    reader.collect(statements, form.printed(text))
    return reader.programmes(), _facts(reader)


def _facts(reader: Reader) -> dict[str, int]:
    return {name: reader.values[name] for name in FACTS}


def named_in(number: int, name: str) -> str:
    """Name in a file of several of what stands under this name in a file of one."""
    return name if name in TOP_OF_SEVERAL else of_programme(number, name)


@dataclass
class _SeveralReader(Reader):
    """Collects the numbers of several programmes, and what is wrong with them."""

    layout: ClassVar[int] = SEVERAL_FORMAT

    count: int = 0
    """Programmes that the file says it holds [1]; 0 where no sound number says so."""

    def programmes(self) -> dict[str, Constants]:
        """Make the constants of each programme, by name."""
        return {self.texts[of_programme(n, "name")]: self._constants(n) for n in self._numbers()}

    def _numbers(self) -> Iterable[int]:
        return range(1, self.count + 1)

    def _constants(self, number: int) -> Constants:
        every = self._mended().items()
        own = {parted(name)[1]: value for name, value in every if parted(name)[0] in (0, number)}
        return constants_from(own, self.texts[of_programme(number, "input_sha256")])

    def _names(self, rounds: int) -> list[str]:
        own = (name for number in self._numbers() for name in names_of_programme(number, rounds))
        return [*TOP_OF_SEVERAL, *own]

    def _rounds_of(self, number: int) -> int:
        found = self.values.get(of_programme(number, "rounds"), 0)
        return found if found <= ROUNDS_MAX else 0

    def _is_counted(self) -> bool:
        return self.count > 0 and all(self._rounds_of(number) for number in self._numbers())

    def _complete(self) -> None:
        if "programmes" in self.values and not 1 <= self.values["programmes"] <= PROGRAMMES_MAX:
            rule = f"a file holds 1 to {PROGRAMMES_MAX} programmes"
            self.refuse(self.places["programmes"], rule, str(self.values["programmes"]))
        wanted = {*TOP_OF_SEVERAL}
        for number in self._numbers():
            rounds = of_programme(number, "rounds")
            if rounds in self.values and not self._rounds_of(number):
                rule = f"a programme has 1 to {ROUNDS_MAX} rounds"
                self.refuse(self.places[rounds], rule, str(self.values[rounds]))
            wanted |= set(names_of_programme(number, self._rounds_of(number)))
        for name in self._names(ROUNDS_MAX):
            if name in wanted and name not in self.places:
                self.refuse(self.form.shown(name), "is missing")
            elif name in self.values and name not in wanted and self._rounds_of(parted(name)[0]):
                rule = f"there are only {self._rounds_of(parted(name)[0])} rounds"
                self.refuse(self.places[name], rule, str(self.values[name]))
        self._refuse_names()

    def _refuse_names(self) -> None:
        """Refuse a name that another programme has, and a wash by the name of the rehearsal."""
        seen: set[str] = set()
        for number in self._numbers():
            name = self.texts.get(of_programme(number, "name"), "")
            if name.casefold() in seen:
                self.refuse(
                    self.places[of_programme(number, "name")], "another programme has this name", name
                )
            seen |= {name.casefold()} - {""}
            if name.casefold() == REHEARSAL and self.values.get(of_programme(number, "bench_run")) == 0:
                self.refuse(self.places[of_programme(number, "name")], WASHES, name)

    def _tables(self) -> Iterable[tuple[Constants, Callable[[str], str]]]:
        return [(self._constants(number), partial(named_in, number)) for number in self._numbers()]

    def _written_again(self) -> str:
        wanted = list(TOP_OF_SEVERAL)
        for number in self._numbers():
            wanted += names_of_programme(number, self._rounds_of(number))
        values = {name: self.values.get(name, 0) for name in wanted if parted(name)[1] not in TEXTS}
        values["programmes"] = self.count
        return self.form.write_several(Several.of_numbers(values, self.texts))
