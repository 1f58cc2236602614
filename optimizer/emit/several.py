"""Several programmes of one machine, laid out for one file: what they share once, a table each."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace

from optimizer.check.controller_numbers import controller_numbers
from optimizer.emit.assertions import Limit
from optimizer.emit.meanings import (
    FACTS,
    MEANING,
    SEVERAL_FORMAT,
    SHARED,
    TOP_OF_PROGRAMME,
    of_programme,
    parted,
)
from optimizer.emit.opening import several_cautions, several_opening
from optimizer.emit.sheet import Note, Sheet
from optimizer.programme.constants import Kind
from optimizer.programme.plan import Plan

PROGRAMMES_MAX = 255
"""Programmes of a file at most [1]: the controller counts them in a byte."""
NAME_MOST = 16
"""Letters of a name at most [1]: a line of a small display."""
REHEARSAL = "rehearsal"
"""Name of the bench run among other programmes, and of nothing that washes."""
WASHES = "is the name of the rehearsal, which heats nothing; this programme does wash"


@dataclass(frozen=True)
class Programme:
    """One programme of several: its number in the file, its name, and its sheet."""

    number: int
    name: str
    sheet: Sheet

    @property
    def texts(self) -> dict[str, str]:
        """What it has beside numbers, by name."""
        texts = {"name": self.name, "input_sha256": self.sheet.input_sha256}
        return {of_programme(self.number, name): text for name, text in texts.items()}

    @property
    def top(self) -> list[Note]:
        """Its numbers as a whole, by their names in the file."""
        return [self._named(self.sheet.notes[name]) for name in TOP_OF_PROGRAMME]

    def rounds(self) -> Iterator[tuple[str, list[Note]]]:
        """Give each round's heading and its numbers, by their names in the file."""
        for heading, notes in self.sheet.rounds():
            yield heading, [self._named(note) for note in notes]

    @property
    def length_s(self) -> int:
        """Its longest run [s]."""
        return self.sheet.notes["total_max_s"].value

    @property
    def kinds(self) -> tuple[Kind, ...]:
        """Kinds of its rounds."""
        return self.sheet.kinds

    def _named(self, note: Note) -> Note:
        return replace(note, name=of_programme(self.number, note.name))


@dataclass(frozen=True)
class Several:
    """All that a form writes of several programmes; of numbers that were read, only the numbers."""

    programmes: tuple[Programme, ...]
    shared: tuple[Note, ...]
    facts: tuple[Note, ...]
    opening: tuple[str, ...] = ()
    titles: Mapping[str, str] = field(default_factory=dict)
    cautions: tuple[str, ...] = ()

    @classmethod
    def of_plans(cls, plans: Mapping[str, Plan]) -> Several:
        """Lay out proven plans and bench runs that were checked, all of one machine, by their names."""
        pairs, first = enumerate(plans.items(), start=1), next(iter(plans.values())).inputs
        shared = controller_numbers(first.machine, (plan.constants for plan in plans.values()))
        programmes = tuple(
            Programme(number, name, Sheet.of_plan(plan, shared)) for number, (name, plan) in pairs
        )
        sheets = [one.sheet for one in programmes]
        return cls(
            programmes,
            shared=(*_counts(len(programmes)), *(_common(name, sheets) for name in SHARED)),
            facts=tuple(_common(name, sheets) for name in FACTS),
            opening=tuple(several_opening(plans)),
            titles={"machine": first.machine.title, "circuit": first.circuit.title},
            cautions=several_cautions(plans),
        )

    @classmethod
    def of_numbers(cls, values: Mapping[str, int], texts: Mapping[str, str]) -> Several:
        """Lay out numbers that were read, without a word around them."""
        once = {name: value for name, value in values.items() if not parted(name)[0]}
        programmes = []
        for number in range(1, values["programmes"] + 1):
            own = {parted(name)[1]: value for name, value in values.items() if parted(name)[0] == number}
            sha256 = texts.get(of_programme(number, "input_sha256"), "")
            sheet = Sheet.of_numbers(once | own, sha256)
            programmes.append(Programme(number, texts.get(of_programme(number, "name"), ""), sheet))
        notes = {name: Note(name, value, value, value, "") for name, value in once.items()}
        shared = tuple(notes[name] for name in ("format", "programmes", *SHARED))
        return cls(tuple(programmes), shared, tuple(notes[name] for name in FACTS))

    @property
    def assertions(self) -> Iterator[tuple[Programme, Sequence[Limit]]]:
        """Give the relations of each programme; those that hold for all alike stand with the first."""
        said: set[Limit] = set()
        for one in self.programmes:
            own = [limit for limit in one.sheet.assertions if limit not in said and limit.names != {"format"}]
            said |= {limit for limit in own if limit.names <= {*SHARED, *FACTS}}
            yield one, own


def _counts(programmes: int) -> tuple[Note, ...]:
    values = {"format": SEVERAL_FORMAT, "programmes": programmes}
    return tuple(Note(name, value, value, value, MEANING[name]) for name, value in values.items())


def _common(name: str, sheets: Sequence[Sheet]) -> Note:
    """A number that all programmes share, in the range that suits them all."""
    notes = [sheet.notes[name] for sheet in sheets]
    return replace(notes[0], low=max(note.low for note in notes), high=min(note.high for note in notes))
