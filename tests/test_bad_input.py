"""What bad profiles get: every fault at once, each with key, rule, value found and fix, and nothing else."""

from __future__ import annotations

import math
import os
import tomllib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from profile_cases import as_nobody, changed, faults_in, scullion, shipped_text
from pydantic import BaseModel

from optimizer.errors import Fault, InputError
from optimizer.output.faults import MOST_SHOWN, fault_report
from optimizer.profile.explain import key_path, written
from optimizer.profile.load import MODELS, kind_of, parse_profile, validate_profile
from optimizer.profile.measured import Measured, Quantity
from optimizer.profile.shipped import PROFILE_KINDS, ProfileKind
from optimizer.programme.inputs import load_inputs

CAPACITY = "fill to the lip with the basket in, bucket, kitchen scales and stopwatch"
COVER = "litres at which water stands 50 mm over the heated part"
AIR = "{ nominal = 18, low = 14, high = 24 }"

MACHINE_FAULTS = [
    # the change to the clubhouse, then key, rule, value found and fix
    ("capacity_l = 28", "capacty_l = 28",
     ("tank.capacty_l", "is not a key of this table", "28", "did you mean capacity_l?")),
    ("[ware]", "[wares]", ("wares", "is not a key of this table", "a table", "did you mean ware?")),
    ("settings = 8", "settings = 8\ncover_l = 7",
     ("ware.cover_l", "is not a key of this table", "7", "it belongs into [element]")),
    ("controller_w = 3", "controller_w = 3\ncolour = 'red'",
     ("supply.colour", "is not a key of this table", '"red"',
      "leave it out; the keys here are voltage_v, controller_w")),
    ("capacity_l = 28", "", ("tank.capacity_l", "is missing", "", f"capacity_l = 28  # l; {CAPACITY}")),
    ('kind = "machine"', "", ("kind", "is missing", "", 'kind = "machine"')),
    ('usual_circuit = "shared-6a"', "", ("usual_circuit", "is missing", "", 'usual_circuit = "plug-10a"')),
    (f"air_c = {AIR}", "",
     ("room.air_c", "is missing", "", "air_c = 18  # °C; thermometer beside the machine")),
    ("low = 14, ", "", ("room.air_c.low", "is missing", "",
                        "write { nominal, low, high } or { nominal, tolerance_pct }")),
    ("capacity_l = 28", "capacity_l = 28000",
     ("tank.capacity_l", "must lie between 2 and 200 l", "28000", f"did you mean 28 l? ({CAPACITY})")),
    ("cover_l = 7.5", "cover_l = 7500",
     ("element.cover_l", "must lie between 0.3 and 100 l", "7500", f"did you mean 7.5 l? ({COVER})")),
    ("rated_w = { nominal = 900, tolerance_pct = 3 }", "rated_w = 0.9",
     ("element.rated_w", "must lie between 50 and 6000 W", "0.9",
      "did you mean 900 W? (name-plate, or ohm-meter: V²/R)")),
    ("limit_c = 85", "limit_c = 185",
     ("tank.limit_c", "must lie between 30 and 110 °C", "185",
      "typical: 75 °C (lowest limit of tank, hoses, pump and glue)")),
    ("capacity_l = 28", "capacity_l = -28",
     ("tank.capacity_l", "must lie between 2 and 200 l", "-28", f"typical: 28 l ({CAPACITY})")),
    ("heat_share = 0.5", "heat_share = 50",
     ("wash_pump.heat_share", "must lie between 0 and 1", "50",
      "did you mean 0.05? (share of its power that warms the water)")),
    ("capacity_l = 28", "capacity_l = nan",
     ("tank.capacity_l", "must be a finite number", "nan", f"for example 28  # l; {CAPACITY}")),
    ("capacity_l = 28", "capacity_l = -inf",
     ("tank.capacity_l", "must be a finite number", "-inf", f"for example 28  # l; {CAPACITY}")),
    (AIR, "nan", ("room.air_c", "must be a finite number", "nan", "a plain number")),
    ("low = 14", "low = inf", ("room.air_c.low", "must be a finite number", "inf",
                               "for example 18  # °C; thermometer beside the machine")),
    (AIR, "{ nominal = 18, tolerance_pct = nan }",
     ("room.air_c", "must be a finite number", "{ nominal = 18, tolerance_pct = nan }", "a plain number")),
    ("capacity_l = 28", 'capacity_l = "28"',
     ("tank.capacity_l", "must be a number", '"28"', f"for example 28  # l; {CAPACITY}")),
    ("capacity_l = 28", "capacity_l = true",
     ("tank.capacity_l", "must be a number", "true", f"for example 28  # l; {CAPACITY}")),
    (AIR, '"18"',
     ("room.air_c", "must be a number, { nominal, low, high } or { nominal, tolerance_pct }", '"18"',
      "18, without quotes")),
    (AIR, "[14, 24]",
     ("room.air_c", "must be a number, { nominal, low, high } or { nominal, tolerance_pct }", "[14, 24]",
      "a plain number")),
    ("rest_s = 20", "rest_s = 20.5",
     ("element.rest_s", "must be a whole number", "20.5",
      "for example 20  # s; after it goes off, until no streaks rise from it")),
    (AIR, "{ nominal = 18, low = 24, high = 14 }",
     ("room.air_c", "low ≤ nominal ≤ high must hold", "{ nominal = 18, low = 24, high = 14 }",
      "put the smallest reading in low and the largest in high")),
    (AIR, "{ nominal = 18, tolerance_pct = 91 }",
     ("room.air_c", "tolerance_pct must lie between 0 and 90 %", "{ nominal = 18, tolerance_pct = 91 }",
      "for example 5")),
    (AIR, "{ nominal = 18, low = 14, tolerance_pct = 5 }",
     ("room.air_c", "must be { nominal, low, high } or { nominal, tolerance_pct }, all of them numbers",
      "{ nominal = 18, low = 14, tolerance_pct = 5 }", "{ nominal = 10, tolerance_pct = 5 }")),
    ('material = "PP"', 'material = "HDP"',
     ("tank.material", 'must be "PP" or "HDPE" or "LDPE" or "ABS" or "PC" or "PMMA" or "PVC" or "stainless"',
      '"HDP"', '"HDPE"')),
    ('material = "PP"', 'material = "LDPE"',
     ("tank.limit_c", "is above what LDPE stands for long (50 °C)", "85", "50 or less")),
    ('usual_tariff = "two-rate"', "usual_tariff = 2",
     ("usual_tariff", "must be text in quotes", "2", 'for example "flat"')),
    ('title = "Tote machine in the kitchen of a rowing clubhouse"', f'title = "{"x" * 71}"',
     ("title", "must be a title of 1 to 70 characters on one line", f'"{"x" * 58}…',
      'for example "A machine of our own"')),
    ("capacity_l = 28", "capacity_l = 7.4",
     ("tank.capacity_l", "is less than element.cover_l (7.5 l)", "7.4",
      "above 7.5 l, or measure element.cover_l again")),
    ("prime_l = 5", "prime_l = 26.2",
     ("tank.capacity_l", "is less than wash_pump.prime_l + holdup_l (28.1 l)", "28",
      "above 28.1 l, or measure wash_pump.prime_l + holdup_l again")),
    ('control = "timed"\n\n[tank]', 'control = "timed"\nlevel_l = 9\n\n[tank]',
     ("inlet.level_l", 'goes with control = "level", and only with it', "9",
      'litres in the tank when the switch closes, or control = "timed"')),
    ('control = "timed"\n\n[tank]', 'control = "level"\n\n[tank]',
     ("inlet.level_l", 'goes with control = "level", and only with it', "",
      'litres in the tank when the switch closes, or control = "timed"')),
    ('control = "timed"\n\n[tank]', 'control = "level"\nlevel_l = 7.2\n\n[tank]',
     ("inlet.level_l", "is less than element.cover_l (7.5 l)", "7.2",
      "above 7.5 l, or measure element.cover_l again")),
    ('control = "timed"\n\n[tank]',
     'control = "level"\nlevel_l = { nominal = 27, tolerance_pct = 4 }\n\n[tank]',
     ("tank.capacity_l", "is less than inlet.level_l (28.08 l)", "28",
      "above 28.08 l, or measure inlet.level_l again")),
    ("rated_v = 230", "rated_v = 120",
     ("element.rated_v", "does not fit supply.voltage_v (230 V)", "120",
      "read both again: name-plate of the element, multimeter at the socket")),
]  # fmt: skip


@pytest.mark.parametrize(("old", "new", "expected"), MACHINE_FAULTS)
def test_each_machine_fault_is_told_in_full(old: str, new: str, expected: tuple[str, str, str, str]) -> None:
    found = faults_in("machine", changed("machine", "clubhouse", (old, new)))
    assert found == [Fault("my.toml", *expected)]


OTHER_FAULTS: list[tuple[ProfileKind, str, list[tuple[str, str]], list[tuple[str, str, str]]]] = [
    # kind, shipped profile, changes, then key, rule and value found of each fault
    ("machine", "clubhouse", [("limit_c = 85", "limit_c = 30"), ("high = 16 }", "high = 30 }")],
     [("inlet.water_c", "its high end must stay below tank.limit_c (30 °C)", "30")]),
    ("machine", "clubhouse", [("capacity_l = 28", "capacity_l = 7"), ("rated_v = 230", "rated_v = 120")],
     [("tank.capacity_l", "is less than element.cover_l (7.5 l)", "7"),
      ("element.rated_v", "does not fit supply.voltage_v (230 V)", "120")]),
    ("machine", "clubhouse", [("porcelain_kg", "# "), ("glass_kg", "# "), ("stainless_kg", "# ")],
     [("ware", "at least one mass must be above 0 kg, its low end too", "")]),
    ("machine", "narrowboat", [("nominal = 5.5, tolerance_pct = 4", "nominal = 3.8, tolerance_pct = 0")],
     [("inlet.level_l", "is less than wash_pump.prime_l + holdup_l (3.9 l)", "3.8"),
      ("inlet.level_l", "is less than element.cover_l (4 l)", "3.8")]),
    ("goal", "own", [("z_k = 27", "z_k = 2.7")],
     [("dose[2].z_k", "must lie between 3 and 120 K", "2.7")]),
    ("goal", "own", [('name = "egg"', 'name = "Egg"')],
     [("dose[2].name", "must be 1 to 24 small letters, digits and -, a letter first", '"Egg"')]),
    ("goal", "own", [('name = "egg"', 'name = "grease"')],
     [("dose[1].name", "two doses have this name", '"grease"'),
      ("dose[2].name", "two doses have this name", '"grease"')]),
    ("goal", "own", [("bare_floor_c = 42", "bare_floor_c = 76")],
     [("dose[1].bare_floor_c", "must not lie above ceiling_c (75 °C)", "76")]),
    ("goal", "own", [('kinds = ["wash"]', 'kinds = ["soak"]')],
     [("dose[1].kinds[1]", 'must be "prerinse" or "wash" or "rinse"', '"soak"')]),
    ("goal", "own", [('kinds = ["wash"]', "kinds = []")],
     [("dose[1].kinds", "must name at least one kind of round, and none twice", "[]")]),
    ("goal", "own", [('kinds = ["wash"]', 'kinds = "wash"')],
     [("dose[1].kinds", "must be a list", '"wash"')]),
    ("goal", "own", [('kinds = ["wash"]', 'kinds = ["prerinse"]')],
     [("dose[1].bare_floor_c", "a prerinse may reach 40 °C (prerinse.limit_c) and must pass this", "42")]),
    ("goal", "own", [('method = "a0"', 'method = "none"')],
     [("hygiene.target_s", 'goes with method = "a0" or "hue", and only with them', "60")]),
    ("goal", "own", [("target_s = 60", "")],
     [("hygiene.target_s", 'goes with method = "a0" or "hue", and only with them', "")]),
    ("circuit", "shared-6a", [("low = 0.1, high = 0.5", "low = 0.1, high = 6")],
     [("background_a", "must leave something of the 6 A that rating_a and usable_share allow", "6")]),
    ("circuit", "shared-6a", [("rcd = true", 'rcd = "yes"')], [("rcd", "must be true or false", '"yes"')]),
    ("circuit", "shared-6a", [("rcd = true", "")], [("rcd", "is missing", "")]),
    ("tariff", "flat", [('currency = "GBP"', 'currency = "£"')],
     [("currency", "must be three capital letters", '"£"')]),
    ("tariff", "flat", [('form = "flat"', 'form = "windows"')],
     [("electricity.form", "flat takes price_per_kwh; windows takes price_per_kwh (for all other hours) and "
       "window; series takes series_csv; and nothing else", '"windows"')]),
    ("tariff", "generator", [('until = "08:00"', 'until = "20:00"')],
     [("quiet[1].until", "must differ from start, or the machine may never run", '"20:00"')]),
    ("tariff", "generator", [('until = "08:00"', 'until = "24:00"')],
     [("quiet[1].until", "must be a time of day from 00:00 to 23:59", '"24:00"')]),
    ("tariff", "two-rate", [('"sat", "sun"]', '"sun", "sun"]')],
     [("electricity.window[1].days", "must name at least one day, and none twice",
       '["mon", "tue", "wed", "thu", "fri", "sun", "sun"]')]),
    ("tariff", "two-rate", [("[[electricity.window]]", "[electricity.window]")],
     [("electricity.window", "must be a list", "a table")]),
    ("tariff", "two-rate", [("= 0.22", "= 22")],
     [("electricity.window[1].price_per_kwh", "must lie between -5 and 10 currency/kWh", "22")]),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "name", "changes", "expected"), OTHER_FAULTS)
def test_cross_checks_and_other_kinds(
    kind: ProfileKind, name: str, changes: list[tuple[str, str]], expected: list[tuple[str, str, str]]
) -> None:
    found = faults_in(kind, changed(kind, name, *changes))
    assert [(fault.key, fault.rule, fault.found) for fault in found] == expected
    assert all(fault.subject == "my.toml" and fault.fix for fault in found)


def test_a_floor_at_the_ceiling_is_a_step() -> None:
    assert faults_in("goal", changed("goal", "own", ("bare_floor_c = 42", "bare_floor_c = 75"))) == []


def test_all_faults_of_a_file_come_together() -> None:
    text = changed(
        "machine",
        "clubhouse",
        ("capacity_l = 28", "capacity_l = 28000"),
        ("rated_v = 230", 'rated_v = "230"'),
        ("settings = 8", "setings = 8"),
        ("vent_m2 = 0.002", "vent_m2 = inf"),
        ("rest_s = 20", ""),
    )
    assert {fault.key for fault in faults_in("machine", text)} == {
        "tank.capacity_l", "element.rated_v", "ware.setings", "tank.vent_m2", "element.rest_s"
    }  # fmt: skip


# --- text that is no profile


@pytest.mark.parametrize(
    ("text", "rule", "found", "fix"),
    [
        ("a = 1,5", "line 1 column 6", '"a = 1,5"', "write the decimals behind a point, not a comma"),
        ("\n\r\na = PP", "line 3 column 5", '"a = PP"', "put text into double quotes"),
        ("[tank", "line 1 column 6", '"[tank"', "write a table's name between brackets"),
        ("a", "line 1 column 2", '"a"', "write key = value"),
        ("a = 1\na = 2", "line 2 column 6", '"a = 2"', "write key = value"),
        ('a = """', "at its end", "", "close the last bracket or quote"),
        ("a = [", "at its end", "", "close the last bracket or quote"),
        ("x = [\n" + "[\n" * 5000, "is nested too deeply", "", "compare with a shipped profile"),
        (f"x = {'9' * 1990}" + "9" * 3000, "line of more than 2000", "", "compare with a shipped profile"),
        (".".join("a" * 400_000) + " = 1", "line of more than 2000", "", "compare with a shipped profile"),
    ],
)
def test_text_that_is_not_toml(text: str, rule: str, found: str, fix: str) -> None:
    (fault,) = faults_in("machine", text)
    assert fault.subject == "my.toml"
    assert rule in fault.rule
    assert (fault.found, fault.key) == (found, "")
    assert fault.fix.startswith(fix)


def test_deep_dotted_key_is_an_unknown_key() -> None:
    found = faults_in("goal", shipped_text("goal", "glasses") + ".".join(["limits", *"a" * 900]) + " = 1\n")
    assert [(fault.key, fault.found) for fault in found] == [("limits.limits", "a table")]


def test_another_kind_of_profile_is_one_fault() -> None:
    (fault,) = faults_in("machine", shipped_text("goal", "everyday"))
    assert fault == Fault(
        "my.toml",
        "kind",
        "must be a machine profile here, and this is a goal profile",
        '"goal"',
        "give a machine profile",
    )


def test_unknown_kind_is_an_ordinary_fault() -> None:
    found = faults_in("machine", changed("machine", "clubhouse", ('kind = "machine"', 'kind = "oven"')))
    assert [str(fault) for fault in found] == [
        'my.toml: kind: must be "machine", found "oven"\n    fix: "machine"'
    ]


@pytest.mark.parametrize("text", ["", "kind = 3", "kind = ['machine']", "title = 'x'"])
def test_file_that_does_not_say_its_kind(tmp_path: Path, text: str) -> None:
    path = tmp_path / "my.toml"
    path.write_text(text)
    with pytest.raises(InputError, match="must be one of machine, goal, circuit, tariff"):
        kind_of(str(path))


# --- believable ranges, one step past each end


class Spot:
    """A quantity of a model: where it stands in a shipped profile, and its annotation."""

    def __init__(
        self, kind: ProfileKind, name: str, loc: tuple[str, ...], whole: bool, note: Quantity
    ) -> None:
        self.kind, self.name, self.loc, self.whole, self.note = kind, name, loc, whole, note

    def faults(self, value: float) -> list[Fault]:
        """Faults at this spot once the value stands there."""
        data = tomllib.loads(shipped_text(self.kind, self.name))
        table: Any = data
        for key in self.loc[:-1]:
            table = table[key][0] if isinstance(table[key], list) else table[key]
        table[self.loc[-1]] = value
        try:
            validate_profile(self.kind, data, "my.toml")
        except InputError as error:
            return [f for f in error.faults if f.key.replace("[1]", "") == ".".join(self.loc)]
        return []

    def __repr__(self) -> str:
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


@pytest.mark.parametrize("spot", SPOTS, ids=repr)
def test_ends_of_the_believable_range(spot: Spot) -> None:
    rule = f"must lie between {spot.note.least:g} and {spot.note.most:g}"
    for end, way in ((spot.note.least, -1), (spot.note.most, 1)):
        inside = int(end) if spot.whole else float(end)
        outside = inside + way if spot.whole else math.nextafter(inside, way * math.inf)
        assert not [fault for fault in spot.faults(inside) if fault.rule.startswith(rule)]
        (fault,) = spot.faults(outside)
        assert fault.rule.startswith(rule)
        assert fault.found == written(outside)


@pytest.mark.parametrize("spot", [spot for spot in SPOTS if spot.note.typical and not spot.whole], ids=repr)
@pytest.mark.parametrize("factor", [1000.0, 0.001])
def test_thousandfold_value_is_asked_about(spot: Spot, factor: float) -> None:
    """A kilowatt for a watt, millilitres for litres: wherever the result is not believable itself."""
    value = spot.note.typical * factor
    found = spot.faults(value)
    if not spot.note.least <= value <= spot.note.most:
        assert len(found) == 1
        assert found[0].fix.startswith(f"did you mean {spot.note.typical:g}")


@pytest.mark.parametrize("spot", SPOTS, ids=repr)
@pytest.mark.parametrize("value", [math.nan, math.inf, -math.inf, "7", True, [7], None, 10**400])
def test_what_is_no_number(spot: Spot, value: Any) -> None:
    found = spot.faults(value)
    if value is None and spot.loc[-1] in (
        "level_l",
        "target_s",
        "water_l",
        "co2_kg_per_kwh",
        "price_per_kwh",
    ):
        return  # these may be left out; whether one must stand there is for another rule
    assert len(found) == 1
    assert "nan" not in found[0].rule + found[0].fix
    assert found[0].rule.startswith(("must be", "is less than", "must lie"))


# --- four profiles together


def misfits(*names: str) -> list[Fault]:
    with pytest.raises(InputError) as caught:
        load_inputs(*names)
    return list(caught.value.faults)


def with_element(tmp_path: Path, rated_w: float) -> str:
    path = tmp_path / "my.toml"
    text = changed("machine", "clubhouse", ("{ nominal = 900, tolerance_pct = 3 }", repr(rated_w)))
    path.write_text(text, encoding="utf-8")
    return str(path)


def test_element_bigger_than_the_circuit(tmp_path: Path) -> None:
    """By Ohm's law 1500 W at 230 V is 35.27 Ω, through which 238 V drives 6.75 A."""
    path = with_element(tmp_path, 1500.0)
    assert misfits(path, "everyday") == [
        Fault(
            path,
            "element.rated_w",
            "takes more than the circuit shared-6a has left (5.5 A: 6 A less 0.5 A beside the machine)",
            "6.75 A at 238 V",
            "at most 1222 W here, a circuit with more left, or less on it beside the machine",
        )
    ]


def test_element_at_the_very_end_of_the_circuit(tmp_path: Path) -> None:
    most_w = 5.5 * 230.0**2 / 238.0
    assert load_inputs(with_element(tmp_path, most_w * (1.0 - 1e-9)), "everyday").circuit.rating_a == 6.0
    (fault,) = misfits(with_element(tmp_path, most_w * (1.0 + 1e-9)), "everyday")
    assert fault.key == "element.rated_w"


def test_pump_bigger_than_the_circuit(tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    text = changed("machine", "clubhouse", ("{ nominal = 85, tolerance_pct = 5 }", "1000"))
    path.write_text(text, encoding="utf-8")
    (fault,) = misfits(str(path), "everyday")
    # 1000 W at a power factor of 0.6 and 225 V.
    assert (fault.key, fault.found) == ("wash_pump.power_w", "7.41 A at 225 V")


def test_circuit_of_another_voltage() -> None:
    (fault,) = misfits("clubhouse", "everyday", "branch-15a-120v")
    assert str(fault) == (
        "clubhouse: supply.voltage_v: is not the voltage of the circuit branch-15a-120v (120 V), "
        "found 230 V\n"
        "    fix: another circuit, or measure at this one's socket"
    )


@pytest.mark.parametrize(("volts", "fits"), [(264.5, True), (264.6, False), (195.6, True), (195.4, False)])
def test_supply_may_lie_15_percent_off(tmp_path: Path, volts: float, fits: bool) -> None:
    path = tmp_path / "my.toml"
    old = "{ nominal = 230, low = 225, high = 238 }"
    path.write_text(changed("machine", "clubhouse", (old, repr(volts))), encoding="utf-8")
    if fits:
        assert load_inputs(str(path), "everyday").machine.supply.voltage_v.nominal == volts
    else:
        assert [fault.key for fault in misfits(str(path), "everyday")] == ["supply.voltage_v"]


def test_faults_of_all_four_files_come_together(tmp_path: Path) -> None:
    pieces: list[tuple[ProfileKind, str, str, str]] = [
        ("machine", "clubhouse", "rest_s = 20", "rest_s = 0"),
        ("goal", "own", "duration_min = 150", "duration_min = nan"),
        ("circuit", "shared-6a", "rating_a = 6", "rating_a = 600"),
        ("tariff", "flat", "0.27", '"0.27"'),
    ]
    paths = []
    for kind, name, old, new in pieces:
        path = tmp_path / f"{kind}.toml"
        path.write_text(changed(kind, name, (old, new)), encoding="utf-8")
        paths.append(str(path))
    found = misfits(*paths)
    assert [(fault.subject, fault.key) for fault in found] == [
        (paths[0], "element.rest_s"),
        (paths[1], "limits.duration_min"),
        (paths[2], "rating_a"),
        (paths[3], "electricity.price_per_kwh"),
    ]


def test_usual_profile_that_is_not_there_is_a_fault_of_the_machine(tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text(changed("machine", "clubhouse", ("shared-6a", "shared-9a")), encoding="utf-8")
    (fault,) = misfits(str(path), "everyday")
    assert (fault.subject, fault.key, fault.found) == (str(path), "usual_circuit", '"shared-9a"')
    assert fault.fix.startswith("did you mean shared-6a?")


# --- on the command line: exit 3, one message, nothing on standard output, nothing written


def test_message_in_full(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.chdir(tmp_path)
    text = changed("machine", "clubhouse", ("capacity_l = 28", "capacity_l = 28000"), ("rest_s = 20", ""))
    Path("my.toml").write_text(text, encoding="utf-8")
    ended = scullion(capsys, "profiles", "show", "my.toml", "--json")
    assert (ended.code, ended.out) == (3, "")
    assert (
        ended.err
        == """\
Bad input: 2 faults.

- my.toml: tank.capacity_l
    rule   must lie between 2 and 200 l
    found  28000
    fix    did you mean 28 l? (fill to the lip with the basket in, bucket,
           kitchen scales and stopwatch)

- my.toml: element.rest_s
    rule   is missing
    fix    rest_s = 20  # s; after it goes off, until no streaks rise from it
"""
    )


def make_nothing(path: Path) -> None:
    pass


def make_folder(path: Path) -> None:
    path.mkdir()


def make_10_mb(path: Path) -> None:
    path.write_bytes(b"#" * 10_000_000)


def make_latin_1(path: Path) -> None:
    path.write_bytes(shipped_text("goal", "roasting-tins").replace("–", "°").encode("latin-1"))


def make_binary(path: Path) -> None:
    path.write_bytes(bytes(range(256)) * 4)


def make_json(path: Path) -> None:
    path.write_text('{"kind": "goal"}')


@pytest.mark.parametrize(
    ("make", "rule"),
    [
        (make_nothing, "no such file"),
        (make_folder, "is a folder"),
        (make_10_mb, "is larger than any profile (1 MB)"),
        (make_latin_1, "is not UTF-8 text"),
        (make_binary, "is not UTF-8 text"),
        (make_json, "is not TOML, line 1 column 1: Invalid statement"),
    ],
)
def test_file_that_cannot_be_a_profile(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, make: Any, rule: str
) -> None:
    path = tmp_path / "my.toml"
    make(path)
    before = sorted(tmp_path.rglob("*"))
    for option in ([], ["--json"]):
        ended = scullion(capsys, "profiles", "show", path, *option)
        assert (ended.code, ended.out) == (3, "")
        assert ended.err.startswith(f"Bad input: 1 fault.\n\n- {path}\n    rule   {rule}")
        assert "Traceback" not in ended.err
    assert sorted(tmp_path.rglob("*")) == before


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions of another kind")
def test_file_that_may_not_be_read(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    path = tmp_path / "my.toml"
    path.write_text(shipped_text("goal", "glasses"), encoding="utf-8")
    path.chmod(0)
    with as_nobody():
        ended = scullion(capsys, "profiles", "show", path)
    assert (ended.code, ended.out) == (3, "")
    assert "    rule   may not be read\n" in ended.err


@pytest.mark.parametrize("name", ["", ".", "clubhouse.tom", "Clubhouse", "\x1b[31m", "münchen", "x" * 300])
def test_odd_names(capsys: pytest.CaptureFixture[str], name: str) -> None:
    ended = scullion(capsys, "profiles", "show", name)
    assert (ended.code, ended.out) == (3, "")
    assert "no shipped profile has this name" in ended.err
    assert "\x1b" not in ended.err


# --- the pieces


def test_message_is_cut_after_many_faults() -> None:
    faults = [Fault("my.toml", f"k{n}", "is not a key of this table") for n in range(MOST_SHOWN + 5)]
    report = fault_report(faults)
    assert report.startswith("Bad input: 25 faults.\n\n- my.toml: k0\n")
    assert report.count("- my.toml") == MOST_SHOWN
    assert report.endswith("\n\nAnd 5 more.")


def test_odd_keys_are_quoted() -> None:
    assert key_path(("dose", 0, "a b", "\x1b")) == 'dose[1]."a b"."\\u001b"'
    assert len(key_path(("k" * 500,))) < 130


@pytest.mark.parametrize(
    ("value", "text"),
    [
        (None, ""),
        (True, "true"),
        (7, "7"),
        (7.0, "7"),
        (0.1, "0.1"),
        (math.nan, "nan"),
        ("a\u202eb", '"a\\u202eb"'),
        ("°", '"°"'),
        ({}, "a table"),
        ({"nominal": 1, "low": {}}, "{ nominal = 1, low = … }"),
        ([1, [2]], "[1, …]"),
        (list(range(20)), "[0, 1, 2, 3, 4, 5, 6, 7, …]"),
    ],
)
def test_values_as_found(value: object, text: str) -> None:
    assert written(value) == text


def test_huge_whole_number_is_cut() -> None:
    assert len(written(16**9000)) == 60
    text = changed("machine", "clubhouse", ("settings = 8", "settings = 0x" + "f" * 1900))
    assert [fault.rule for fault in faults_in("machine", text)] == ["must be a finite number"]


def test_profile_from_text_is_the_profile_from_data() -> None:
    text = shipped_text("tariff", "three-rate")
    assert parse_profile("tariff", text, "x") == validate_profile("tariff", tomllib.loads(text), "x")
