"""The goal profile: what the programme must reach, and within which limits."""

from __future__ import annotations

from collections import Counter
from typing import Annotated, Literal

from pydantic import model_validator

from optimizer.profile.measured import TITLE, Breach, Measured, ProfileModel, Quantity, TextForm, refuse

RoundKind = Literal["prerinse", "wash", "rinse"]
MOST_DOSES = 8
"""Doses that a goal may have [1]; more than any load has soils."""
DRYING_C = 60.0
"""Temperature at which the film on the ware takes its heat of vaporisation [°C]; *no source*, a value between
the heat of a last rinse and the room."""
SOAK_MOST_MIN = 240.0
"""Most that a goal may allow a soak [min]."""
SOAK_MIN = 60.0
"""Longest rest inside a wash where a goal does not say [min]; *no source*, our choice: in a shut machine the
ware stays wet for longer."""
LEAST_DURATION_MIN = 5
"""Shortest duration that a goal may ask for [min]."""
TRIAL = "set by the user, or learnt from trial loads"


class Dose(ProfileModel):
    """What removes one soil, as equivalent minutes at a reference temperature.

    The rate is ``10^((T - reference_c) / z_k)`` of the ware temperature, 0 below the floor, constant
    above the ceiling. Without detergent only ``bare_share`` of it counts, and none below
    ``bare_floor_c``. It is that of a spray as strong as the one on which the minutes were set; another
    machine's has the ``mechanics_factor`` of its wash pump. A run must reach the high end of the minutes.
    """

    name: Annotated[
        str, TextForm("[a-z][a-z0-9-]{0,23}", "1 to 24 small letters, digits and -, a letter first", "grease")
    ]
    reference_c: Annotated[float, Quantity("°C", 10, 95, 50, "temperature at which the minutes are stated")]
    z_k: Annotated[float, Quantity("K", 3, 120, 33, "kelvin for ten times the rate")]
    floor_c: Annotated[float, Quantity("°C", 0, 95, 0, "no effect below, with detergent")] = 0.0
    ceiling_c: Annotated[float, Quantity("°C", 10, 120, 70, "no further gain above")] = 120.0
    minutes: Annotated[Measured, Quantity("min", 0.05, 600, 12, TRIAL)]
    kinds: list[RoundKind]
    bare_share: Annotated[float, Quantity("1", 0, 1, 0.4, "share of the rate left without detergent")] = 1.0
    bare_floor_c: Annotated[float, Quantity("°C", 0, 95, 42, "no effect below, without detergent")] = 0.0
    soak_share: Annotated[float, Quantity("1", 0, 1, 0.2, "share of the rate left with the spray off")] = 0.0

    @property
    def minutes_plain(self) -> bool:
        """Whether the minutes are one number, without a low and a high end."""
        return self.minutes.low == self.minutes.high

    @model_validator(mode="after")
    def _ordered(self) -> Dose:
        below = f"must not lie above ceiling_c ({self.ceiling_c:g} °C)"
        floors = {"floor_c": self.floor_c, "bare_floor_c": self.bare_floor_c}
        fix = "a lower floor, or a higher ceiling"
        found = [Breach((key,), value, below, fix) for key, value in floors.items() if value > self.ceiling_c]
        if not self.kinds or len(set(self.kinds)) < len(self.kinds):
            rule = "must name at least one kind of round, and none twice"
            found.append(Breach(("kinds",), self.kinds, rule, '["prerinse", "wash"]'))
        refuse(found)
        return self


DETERGENT = Quantity("currency/kg", 0, 2e7, 4, "the packet, in the tariff's currency")


class Detergent(ProfileModel):
    """Detergent of every wash round (leave the table out to wash with plain water).

    A wash gets the grams of the load, ``g_per_setting`` times the place settings that go in, and no less than
    ``least_g_per_l`` in its fullest bath; both are for water of ``hardness_mmol_per_l`` or softer, and times
    ``1 + more_per_mmol_per_l (H - hardness_mmol_per_l)`` in water of a higher hardness H. That rule is ours.
    In its smallest bath it may be no stronger than ``most_g_per_l``. Until the pump has sprayed for
    ``dissolving_min``, in which it is put in and dissolves, the bath counts as plain water; after that, ware
    colder than ``dissolves_from_c`` counts for nothing, however long it is sprayed while the bath warms.
    """

    g_per_setting: Annotated[
        float, Quantity("g", 0, 20, 2.5, "the packet's dose over the place settings it is meant for")
    ]
    least_g_per_l: Annotated[
        float, Quantity("g/l", 0.1, 30, 3, "what the minutes of the doses were found with")
    ]
    price_per_kg: Annotated[float, DETERGENT]
    most_g_per_l: Annotated[float, Quantity("g/l", 0.2, 60, 8, "more foams, and is hard on glass")] = 8.0
    dissolving_min: Annotated[
        float,
        Quantity("min", 0, 15, 2.5, "0.5 to put it in by hand, then spraying until none is seen in the sump"),
    ] = 2.5
    dissolves_from_c: Annotated[
        float, Quantity("°C", 0, 60, 25, "colder ware counts for nothing in a wash with it; liquid: 0")
    ] = 0.0
    hardness_mmol_per_l: Annotated[
        float, Quantity("mmol/l", 0, 10, 1.5, "the packet: water that its grams are for")
    ] = 1.5
    more_per_mmol_per_l: Annotated[
        float,
        Quantity("1", 0, 1, 0.15, "share more for each mmol/l above; the packet's grams for hard water"),
    ] = 0.15
    spray_least_c: Annotated[
        float, Quantity("°C", 0, 90, 35, "bath as a spray with detergent ends: foam, fat; 0: not asked")
    ] = 0.0
    drain_least_c: Annotated[
        float, Quantity("°C", 0, 90, 32, "bath as the drain of a wash begins: else fat sets; 0: not asked")
    ] = 0.0

    @model_validator(mode="after")
    def _ordered(self) -> Detergent:
        if self.most_g_per_l <= self.least_g_per_l:
            rule = f"must lie above least_g_per_l ({self.least_g_per_l:g} g/l)"
            refuse([Breach(("most_g_per_l",), self.most_g_per_l, rule, f"{2.0 * self.least_g_per_l:g}")])
        return self

    def more_by(self, hardness_mmol_per_l: float) -> float:
        """What the hardness of the water makes of the grams.

        Parameters
        ----------
        hardness_mmol_per_l : float
            Calcium and magnesium of the water together [mmol/l], 0 or more.

        Returns
        -------
        float
            Factor ``1 + s max(H - H_0, 0)`` [1], 1 or more: s is ``more_per_mmol_per_l``, H_0
            ``hardness_mmol_per_l``. The rule is ours, no source; that packets state grams for soft, medium
            and hard water is common practice.
        """
        return 1.0 + self.more_per_mmol_per_l * max(hardness_mmol_per_l - self.hardness_mmol_per_l, 0.0)


class Rinse(ProfileModel):
    """Rinse quality.

    What is left after the last drain is said in two ways that must not be mixed up: a ratio of concentrations
    (the last film over the last wash), and a share of the soil (what is left of all that was in the last
    wash, sump and film together). The second is less by about what the wash's own drain takes away.
    """

    residue_max: Annotated[
        float, Quantity("1", 1e-7, 0.5, 0.001, "concentration in the last film over that in the last wash")
    ]
    soil_max: (
        Annotated[float, Quantity("1", 1e-9, 0.5, 0.0001, "share of the last wash's soil that may stay")]
        | None
    ) = None
    film_mg_per_l: (
        Annotated[float, Quantity("mg/l", 0.001, 5000, 5, "most detergent in the last film")] | None
    ) = None
    rounds_min: Annotated[int, Quantity("1", 0, 6, 1, "rinse rounds, whatever the residue asks")] = 1
    spray_least_min: Annotated[float, Quantity("min", 0.2, 60, 2, "until every piece was reached")] = 2.0
    first_least_c: Annotated[
        float,
        Quantity("°C", 0, 60, 32, "bath as the first rinse's spray ends: else fat sets; 0: not asked"),
    ] = 0.0


class Hygiene(ProfileModel):
    """Thermal hygiene of the rinse rounds: an A0 value, or heat-unit equivalents (never converted)."""

    method: Literal["none", "a0", "hue"] = "none"
    target_s: Annotated[float, Quantity("s", 1, 40000, 60, "A0: 60, 600, 3000; heat units: 3600")] | None = (
        None
    )

    @model_validator(mode="after")
    def _target_given(self) -> Hygiene:
        if (self.method != "none") != (self.target_s is not None):
            rule = 'goes with method = "a0" or "hue", and only with them'
            fix = "target_s = 60" if self.target_s is None else "leave target_s out, or name the method"
            refuse([Breach(("target_s",), self.target_s, rule, fix)])
        return self


class Drying(ProfileModel):
    """Drying by the heat in the ware: left by a hot last rinse, or by the steam of a boiling pool."""

    method: Literal["none", "hot_rinse", "steam"] = "none"
    heat_factor: Annotated[
        float, Quantity("1", 0.1, 3, 0.6, "heat of the ware over that to dry its film")
    ] = 0.6
    stand_min: Annotated[
        float, Quantity("min", 0, 240, 20, "after the last drain: lid shut first, then ajar")
    ] = 0.0

    @property
    def standing_min(self) -> float:
        """How long the load stands after the last drain, 0 where nothing is dried [min]."""
        return self.stand_min if self.method != "none" else 0.0


class Prerinse(ProfileModel):
    """Prerinse rounds."""

    rounds_min: Annotated[int, Quantity("1", 0, 2, 1, "prerinse rounds, whatever the doses ask")] = 1
    limit_c: Annotated[float, Quantity("°C", 5, 60, 40, "protein and starch set above 40 °C")] = 40.0
    spray_least_min: Annotated[float, Quantity("min", 0.2, 60, 2, "until every piece was reached")] = 2.0


DROP = Quantity("K", 5, 100, 40, "ware over bath as a spray begins; glass: tested at 42 (ASTM C149)")
RISE = Quantity("K", 5, 100, 50, "bath over ware as a spray begins; glass stands more of this")


class Limits(ProfileModel):
    """Outer limits.

    The steps of temperature, ``ware_drop_k`` and ``ware_rise_k``, are differences between ware and bath as a
    spray begins; left out, any step may be. What a stream of the inlet does to the ware that it falls on is
    not judged. Values for glass and porcelain are from memory. ``first_wash_most_c`` is for what heat sets
    before it is washed off: the bath is heated while it sprays instead.
    """

    duration_min: Annotated[
        float, Quantity("min", LEAST_DURATION_MIN, 900, 150, "the longest you are ready to wait")
    ]
    time_weight: Annotated[float, Quantity("1", 0, 10, 1, "0: time is worth nothing")] = 1.0
    water_l: Annotated[float, Quantity("l", 2, 600, 60, "the most you can spare")] | None = None
    ware_drop_k: Annotated[float, DROP] | None = None
    ware_rise_k: Annotated[float, RISE] | None = None
    first_wash_most_c: Annotated[
        float,
        Quantity("°C", 0, 100, 60, "bath as the first wash's spray begins: hotter, egg sets; 0: not asked"),
    ] = 0.0
    soak_min: Annotated[float, Quantity("min", 0, SOAK_MOST_MIN, 60, "longest soak of a wash, 0: none")] = (
        SOAK_MIN
    )


class Goal(ProfileModel):
    """What the programme must reach."""

    kind: Literal["goal"]
    title: Annotated[str, TITLE]
    about: str = ""
    dose: list[Dose]
    rinse: Rinse
    limits: Limits
    detergent: Detergent | None = None
    hygiene: Hygiene = Hygiene()
    drying: Drying = Drying()
    prerinse: Prerinse = Prerinse()

    @property
    def detergent_per_kg(self) -> float:
        """Price of the detergent, 0 without [currency/kg]."""
        return self.detergent.price_per_kg if self.detergent else 0.0

    @property
    def spray_least_c(self) -> float:
        """Least bath as a spray with detergent ends, 0 where none is asked [°C]."""
        return self.detergent.spray_least_c if self.detergent else 0.0

    @property
    def drain_least_c(self) -> float:
        """Least bath as the drain of a wash with detergent begins, 0 where none is asked [°C].

        No more than a spray has to end with, where that is asked: a bath does not get warmer by itself.
        """
        if self.detergent is None:
            return 0.0
        least_c = self.detergent.drain_least_c
        return min(least_c, self.spray_least_c) if self.spray_least_c > 0.0 else least_c

    @property
    def dissolves_from_c(self) -> float:
        """Ware temperature from which a wash with detergent counts, 0 where none is asked [°C]."""
        return self.detergent.dissolves_from_c if self.detergent else 0.0

    @property
    def plain_minutes(self) -> tuple[str, ...]:
        """Names of the doses whose minutes have no low and high end."""
        return tuple(dose.name for dose in self.dose if dose.minutes_plain)

    @model_validator(mode="after")
    def _doses_make_sense(self) -> Goal:
        found = []
        if not 1 <= len(self.dose) <= MOST_DOSES:
            rule = f"a goal has 1 to {MOST_DOSES} doses"
            found.append(Breach(("dose",), len(self.dose), rule, "one [[dose]] table for each soil"))
        counts = Counter(dose.name for dose in self.dose)
        for number, dose in enumerate(self.dose):
            if counts[dose.name] > 1:
                found.append(
                    Breach(("dose", number, "name"), dose.name, "two doses have this name", "rename one")
                )
            # No detergent is in a prerinse, so the floor that counts there is the bare one.
            if dose.kinds == ["prerinse"] and dose.bare_floor_c >= self.prerinse.limit_c:
                rule = (
                    f"a prerinse may reach {self.prerinse.limit_c:g} °C (prerinse.limit_c) and must pass this"
                )
                fix = 'let the dose count in the wash as well: kinds = ["prerinse", "wash"]'
                found.append(Breach(("dose", number, "bare_floor_c"), dose.bare_floor_c, rule, fix))
        refuse(found)
        return self
