"""A measured quantity with its tolerance, and the range in which a value of it is believable."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from pydantic import BaseModel, ConfigDict, GetCoreSchemaHandler, GetJsonSchemaHandler, model_validator
from pydantic.json_schema import JsonSchemaValue
from pydantic_core import CoreSchema, PydanticCustomError, core_schema


class ProfileModel(BaseModel):
    """Base of every profile table: strict types, unknown keys refused, no nan or inf, immutable."""

    model_config = ConfigDict(strict=True, extra="forbid", frozen=True, allow_inf_nan=False)


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
        if isinstance(value, int | float) and not isinstance(value, bool):
            return {"nominal": value, "low": value, "high": value}
        if not isinstance(value, dict) or "tolerance_pct" not in value:
            return value
        extra = sorted(set(value) - {"nominal", "tolerance_pct"})
        if extra or "nominal" not in value:
            raise PydanticCustomError(
                "tolerance_form", "write either { nominal, low, high } or { nominal, tolerance_pct }"
            )
        nominal, share = value["nominal"], value["tolerance_pct"]
        for number in (nominal, share):
            if isinstance(number, bool) or not isinstance(number, int | float):
                raise PydanticCustomError("tolerance_number", "nominal and tolerance_pct must be numbers")
        if not 0.0 <= share <= 90.0:
            raise PydanticCustomError(
                "tolerance_range", "tolerance_pct must lie between 0 and 90 [%]", {"fix": "for example 5"}
            )
        spread = abs(nominal) * share / 100.0
        return {"nominal": nominal, "low": nominal - spread, "high": nominal + spread}

    @model_validator(mode="after")
    def _ordered(self) -> Measured:
        if not self.low <= self.nominal <= self.high:
            raise PydanticCustomError(
                "tolerance_order",
                "low ≤ nominal ≤ high must hold",
                {"fix": "put the smallest reading in low and the largest in high"},
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


@dataclass(frozen=True)
class Quantity:
    """Annotation of a profile field: its unit and the range in which a value is believable.

    Attributes
    ----------
    unit : str
        Unit as printed.
    least, most : float
        Ends of the believable range, in that unit.
    typical : float
        A typical value, offered as the fix.
    how : str
        Where a builder gets the value from.
    """

    unit: str
    least: float
    most: float
    typical: float
    how: str

    def __get_pydantic_core_schema__(self, source: Any, handler: GetCoreSchemaHandler) -> CoreSchema:
        return core_schema.no_info_after_validator_function(self._believable, handler(source))

    def __get_pydantic_json_schema__(
        self, schema: CoreSchema, handler: GetJsonSchemaHandler
    ) -> JsonSchemaValue:
        out = handler(schema)
        out["description"] = f"[{self.unit}] {self.how}"
        out["examples"] = [self.typical]
        return out

    def _believable(self, value: Any) -> Any:
        ends = (value.low, value.high, value.nominal) if isinstance(value, Measured) else (value,)
        wrong = next((end for end in ends if not self.least <= end <= self.most), None)
        if wrong is None:
            return value
        raise PydanticCustomError(
            "believable",
            "must lie between {least} and {most} [{unit}]",
            {"least": f"{self.least:g}", "most": f"{self.most:g}", "unit": self.unit, "fix": self._fix(wrong)},
        )

    def _fix(self, wrong: float) -> str:
        """Offer the value a factor of 1000 away where that one is believable, else a typical one."""
        for factor in (1000.0, 0.001):
            if self.least <= wrong * factor <= self.most and wrong != 0.0:
                return f"did you mean {wrong * factor:g} {self.unit}? ({self.how})"
        return f"typical: {self.typical:g} {self.unit} ({self.how})"
