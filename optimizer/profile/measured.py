"""A measured quantity with its tolerance, and what a value or a text of a profile may be."""

from __future__ import annotations

import re
import sys
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, NamedTuple

from pydantic import (
    BaseModel,
    ConfigDict,
    GetCoreSchemaHandler,
    GetJsonSchemaHandler,
    ValidationError,
    field_validator,
    model_validator,
)
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, InitErrorDetails, PydanticCustomError, core_schema

from optimizer.errors import CONTROL
from optimizer.profile.did_you_mean import in_another_unit

NO_CONTROL, IN_LETTERS = "must hold no control character", "write it in plain letters"
MEASURED_FORMS = "{ nominal, low, high } or { nominal, tolerance_pct }"
MEASURED_EXAMPLE = "{{ nominal = {:g}, tolerance_pct = 5 }}"


class ProfileModel(BaseModel):
    """Base of every profile table: strict types, unknown keys refused, no nan or inf, immutable."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)

    @field_validator("*", mode="after")
    @classmethod
    def _shown_as_it_is(cls, value: Any) -> Any:
        # Texts are printed, and an escape written into one would reach the terminal.
        if isinstance(value, str) and CONTROL.search(value):
            raise broken(NO_CONTROL, IN_LETTERS)
        return value


def broken(rule: str, fix: str) -> PydanticCustomError:
    """Make a validation error in the trade's words that carries its fix.

    Parameters
    ----------
    rule : str
        The rule that is broken.
    fix : str
        What to write instead.

    Returns
    -------
    PydanticCustomError
        For a validator to raise.
    """
    return PydanticCustomError("profile", "{rule}", {"rule": rule, "fix": fix})


class Breach(NamedTuple):
    """A rule between several keys of a table that does not hold.

    Attributes
    ----------
    at : tuple of str or int
        Where to point: keys and list positions, counted from the table that is checked.
    found : object
        The value found there.
    rule : str
        The rule, with the other numbers it compares.
    fix : str
        What to write instead.
    """

    at: tuple[str | int, ...]
    found: object
    rule: str
    fix: str


def refuse(breaches: Sequence[Breach]) -> None:
    """Report every breach at its own key; for validators that compare several keys.

    Parameters
    ----------
    breaches : sequence of Breach
        What does not hold; nothing happens where it is empty.

    Raises
    ------
    ValidationError
        One error a breach.
    """
    if breaches:
        details = [InitErrorDetails(type=broken(b.rule, b.fix), loc=b.at, input=b.found) for b in breaches]
        raise ValidationError.from_exception_data("profile", details)


class Measured(ProfileModel):
    """A quantity with the two ends of its tolerance.

    Written in a profile as a plain number (exact), as ``{ nominal, low, high }`` or as
    ``{ nominal, tolerance_pct }``.

    Attributes
    ----------
    nominal, low, high : float
        The value to count with and its two ends, in the unit of the key; low ≤ nominal ≤ high.
    """

    nominal: float
    low: float
    high: float

    @model_validator(mode="before")
    @classmethod
    def _from_short_forms(cls, value: Any) -> Any:
        if _is_number(value):
            return dict.fromkeys(("nominal", "low", "high"), _finite(value))
        if isinstance(value, Measured):
            return value
        if not isinstance(value, dict):
            raise broken(f"must be a number, {MEASURED_FORMS}", _unquoted(value))
        # With neither end and a key that is none, a tolerance was meant by another name: one issue, not 3.
        if "tolerance_pct" not in value and ({"low", "high"} & set(value) or set(value) <= {"nominal"}):
            return value
        numbers = [value.get("nominal"), value.get("tolerance_pct")]
        if set(value) != {"nominal", "tolerance_pct"} or not all(map(_is_number, numbers)):
            raise broken(f"must be {MEASURED_FORMS}, all of them numbers", MEASURED_EXAMPLE.format(10.0))
        nominal, share = map(_finite, numbers)
        if not 0.0 <= share <= 90.0:
            raise broken("tolerance_pct must lie between 0 and 90 %", "for example 5")
        spread, most = abs(nominal) * share / 100.0, sys.float_info.max
        return {"nominal": nominal, "low": max(nominal - spread, -most), "high": min(nominal + spread, most)}

    @model_validator(mode="after")
    def _ordered(self) -> Measured:
        if not self.low <= self.nominal <= self.high:
            raise broken(
                "low ≤ nominal ≤ high must hold", "put the smallest reading in low and the largest in high"
            )
        return self

    @classmethod
    def __get_pydantic_json_schema__(
        cls, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        numbers = {key: {"type": "number"} for key in ("nominal", "low", "high")}
        share = {"nominal": {"type": "number"}, "tolerance_pct": {"type": "number"}}
        forms = [
            {"type": "object", "properties": form, "required": list(form), "additionalProperties": False}
            for form in (numbers, share)
        ]
        return {"anyOf": [{"type": "number"}, *forms]}


def _is_number(value: object) -> bool:
    return isinstance(value, int | float) and not isinstance(value, bool)


def _finite(value: Any) -> float:
    # A whole number in TOML may be longer than any float.
    if not -sys.float_info.max <= value <= sys.float_info.max:
        raise broken("must be a finite number", "a plain number")
    return float(value)


def _unquoted(value: object) -> str:
    """Offer the number inside the quotes, where there is one."""
    try:
        return f"{float(value):g}, without quotes" if isinstance(value, str) else "a plain number"
    except ValueError:
        return "a plain number"


@dataclass(frozen=True)
class Quantity:
    """Annotation of a profile field: its unit and the range in which a value is believable.

    Attributes
    ----------
    unit : str
        Unit as printed.
    least, most : float
        Ends of the believable range [in that unit].
    typical : float
        A typical value, offered as the fix [in that unit].
    how : str
        Where a builder gets the value from.
    """

    unit: str
    least: float
    most: float
    typical: float
    how: str

    @property
    def example(self) -> str:
        """A typical value as it is written in a profile, with a remark on it."""
        unit = "" if self.unit == "1" else f"{self.unit}; "
        return f"{self.typical:g}  # {unit}{self.how}"

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self._believable, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        ends = {"minimum": self.least, "maximum": self.most}
        return (
            handler(schema) | ends | {"description": f"[{self.unit}] {self.how}", "examples": [self.typical]}
        )

    def _believable(self, value: Any) -> Any:
        ends = (value.nominal, value.low, value.high) if isinstance(value, Measured) else (value,)
        wrong = next((end for end in map(_finite, ends) if not self.least <= end <= self.most), None)
        if wrong is None:
            return value
        rule = f"must lie between {self.least:g} and {self.most:g}{self._space_unit}"
        meant = in_another_unit(wrong, self.unit, self.least, self.most)
        raise broken(rule, f"{meant or f'typical: {self.typical:g}{self._space_unit}'} ({self.how})")

    @property
    def _space_unit(self) -> str:
        """The unit behind a number; a pure number has none."""
        return "" if self.unit == "1" else f" {self.unit}"


@dataclass(frozen=True)
class TextForm:
    """Annotation of a profile field that holds text: the form it must have.

    Attributes
    ----------
    pattern : str
        Regular expression that the whole text must match.
    words : str
        The same in words.
    sample : str
        A text that has the form.
    """

    pattern: str
    words: str
    sample: str

    @property
    def example(self) -> str:
        """A text of the form as it is written in a profile."""
        return f'"{self.sample}"'

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self._matching, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        return handler(schema) | {
            "pattern": f"^(?:{self.pattern})$",
            "description": self.words,
            "examples": [self.sample],
        }

    def _matching(self, value: str) -> str:
        if CONTROL.search(value):  # before the form, which would only be said to be another one
            raise broken(NO_CONTROL, IN_LETTERS)
        if re.fullmatch(self.pattern, value):
            return value
        raise broken(f"must be {self.words}", f"for example {self.example}")


TITLE = TextForm(
    r"[^\x00-\x1f\x7f]{1,70}", "a title of 1 to 70 characters on one line", "A machine of our own"
)
