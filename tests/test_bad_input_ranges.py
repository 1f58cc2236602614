"""Every quantity of every profile: the ends of its believable range, a wrong unit, and what is no number."""

from __future__ import annotations

import math
import tomllib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated, Any

import pytest
from profile_cases import shipped_text
from pydantic import BaseModel, TypeAdapter, ValidationError

from optimizer.errors import InputError, InputIssue
from optimizer.profile.load import MODELS, validate_profile
from optimizer.profile.measured import Measured, Quantity
from optimizer.profile.messages import written
from optimizer.profile.shipped import PROFILE_KINDS, ProfileKind


@dataclass(frozen=True)
class Spot:
    """A quantity of a model: where it stands in a shipped profile, and its annotation."""

    kind: ProfileKind
    name: str
    loc: tuple[str, ...]
    whole: bool
    note: Quantity

    def issues(self, value: float) -> list[InputIssue]:
        """Faults at this spot once the value stands there."""
        data = tomllib.loads(shipped_text(self.kind, self.name))
        table: Any = data
        for key in self.loc[:-1]:
            table = table[key][0] if isinstance(table[key], list) else table[key]
        table[self.loc[-1]] = value
        if self.kind == "tariff":  # the range of a price is that of currencies of any size
            data["currency"] = "JPY"
        try:
            validate_profile(self.kind, data, "my.toml")
        except InputError as error:
            return [f for f in error.issues if f.key.replace("[1]", "") == ".".join(self.loc)]
        return []

    def __str__(self) -> str:
        return f"{self.name}:{'.'.join(self.loc)}"


def spots(kind: ProfileKind, name: str) -> Iterator[Spot]:
    """Every quantity of the tables that a shipped profile has."""

    def walk(model: type[BaseModel], data: Any, loc: tuple[str, ...]) -> Iterator[Spot]:
        for key, field in model.model_fields.items():
            parts = [field.annotation, *getattr(field.annotation, "__args__", ())]
            notes = [*field.metadata, *(m for part in parts for m in getattr(part, "__metadata__", ()))]
            for note in notes:
                if isinstance(note, Quantity):
                    yield Spot(kind, name, (*loc, key), field.annotation is int, note)
            inner = [
                p for p in parts if isinstance(p, type) and issubclass(p, BaseModel) and p is not Measured
            ]
            if inner and data.get(key):
                below = data[key][0] if isinstance(data[key], list) else data[key]
                yield from walk(inner[0], below, (*loc, key))

    yield from walk(MODELS[kind], tomllib.loads(shipped_text(kind, name)), ())


SPOTS = [
    spot
    for kind, name in (
        ("machine", "narrowboat"),
        ("goal", "nursery"),
        ("circuit", "shared-6a"),
        ("tariff", "two-rate"),
    )
    for spot in spots(kind, name)  # type: ignore[arg-type]
]


def test_every_quantity_is_tried() -> None:
    assert len(SPOTS) > 55
    assert {spot.kind for spot in SPOTS} == set(PROFILE_KINDS)


@pytest.mark.parametrize("spot", SPOTS, ids=str)
def test_ends_of_the_believable_range(spot: Spot) -> None:
    rule = f"must lie between {spot.note.least:g} and {spot.note.most:g}"
    for end, way in ((spot.note.least, -1), (spot.note.most, 1)):
        inside = int(end) if spot.whole else float(end)
        outside = inside + way if spot.whole else math.nextafter(inside, way * math.inf)
        assert not [issue for issue in spot.issues(inside) if issue.rule.startswith(rule)]
        (issue,) = spot.issues(outside)
        assert issue.rule.startswith(rule)
        assert issue.found == written(outside)


# A value read in another unit, what is asked back, and values that nobody mixes up with another unit.
# 140 °F are 60 °C (exact); a litre per second is 60 l/min; the others are the prefixes of the SI.
OTHER_UNITS = [
    (Quantity("W", 50, 6000, 900, "how"), 0.9, "did you mean 900 W?"),
    (Quantity("l", 2, 200, 28, "how"), 28000.0, "did you mean 28 l?"),
    (Quantity("l", 2, 200, 28, "how"), 0.028, "did you mean 28 l?"),
    (Quantity("kg", 0, 60, 4, "how"), 4000.0, "did you mean 4 kg (4000 g)?"),
    (Quantity("A", 0.02, 100, 4, "how"), 600.0, "did you mean 0.6 A?"),
    (Quantity("m2", 0, 1, 0.002, "how"), 20.0, "did you mean 0.002 m2?"),
    (Quantity("l/min", 0.2, 40, 6, "how"), 0.1, "did you mean 6 l/min?"),
    (Quantity("l/min", 0.2, 40, 6, "how"), 360.0, "did you mean 6 l/min?"),
    (Quantity("s", 5, 600, 45, "how"), 0.75, "did you mean 45 s?"),
    (Quantity("1", 0, 1, 0.5, "how"), 50.0, "did you mean 0.5?"),
    (Quantity("°C", 30, 110, 75, "how"), 140.0, "did you mean 60 °C, which is 140 °F?"),
    (Quantity("°C", 1, 65, 12, "how"), 66.0, "typical: 12 °C"),
    (Quantity("K", 0.1, 10, 1, "how"), 1000.0, "typical: 1 K"),
    (Quantity("V", 90, 260, 230, "how"), 0.23, "typical: 230 V"),
    (Quantity("1", 1, 60, 6, "how"), 600.0, "typical: 6"),
    (Quantity("W", 50, 6000, 900, "how"), 0.0, "typical: 900 W"),
]


@pytest.mark.parametrize(("note", "value", "asked"), OTHER_UNITS, ids=str)
def test_value_in_another_unit_is_asked_about(note: Quantity, value: float, asked: str) -> None:
    with pytest.raises(ValidationError) as caught:
        TypeAdapter(Annotated[float, note]).validate_python(value)
    (error,) = caught.value.errors()
    assert error["ctx"]["fix"] == f"{asked} (how)"


NO_NUMBERS = (math.nan, math.inf, -math.inf, "7", True, [7], None, 10**400)
MAY_BE_LEFT_OUT = {
    *("level_l", "ware_from_l", "inrush_multiple", "surge_a", "stall_a", "dry_most_s", "target_s", "water_l"),
    *(
        "cut_out_room_k",
        "momentary_a",
        "soil_max",
        "film_mg_per_l",
        "ware_drop_k",
        "ware_rise_k",
        "co2_kg_per_kwh",
        "price_per_kwh",
    ),
}
"""Whether one of these must stand there is for another rule."""


@pytest.mark.parametrize("spot", SPOTS, ids=str)
def test_what_is_no_number(spot: Spot) -> None:
    for value in NO_NUMBERS:
        if value is None and spot.loc[-1] in MAY_BE_LEFT_OUT:
            continue
        found = spot.issues(value)  # type: ignore[arg-type]
        assert len(found) == 1, value
        assert "nan" not in found[0].rule + found[0].fix
        assert found[0].rule.startswith(("must be", "is less than", "must lie"))
