"""What bad profiles get: every issue at once, each with key, rule, value found and fix, and nothing else."""

from __future__ import annotations

import math
import tomllib

import pytest
from profile_cases import changed, issues_in, shipped_text

from optimizer.errors import InputIssue
from optimizer.profile.load import parse_profile, validate_profile
from optimizer.profile.messages import key_path, written
from optimizer.profile.shipped import ProfileKind
from optimizer.report.errors import MOST_SHOWN, issue_report

WARE_FROM = """\
# litres at which the water reaches the lowest ware: a cold top-up under ware
# that is to dry by its heat ends below
ware_from_l = 13
"""
CAPACITY = "fill to the lip with a full load in, bucket, kitchen scales and stopwatch"
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
    ("rated_w = { nominal = 880, tolerance_pct = 3 }", "rated_w = 0.9",
     ("element.rated_w", "must lie between 50 and 6000 W", "0.9",
      "did you mean 900 W? (name-plate, or ohm-meter: V²/R)")),
    ("limit_c = 85", "limit_c = 185",
     ("tank.limit_c", "must lie between 30 and 110 °C", "185",
      "did you mean 85 °C, which is 185 °F? (lowest limit of tank, hoses, pump and glue)")),
    ("capacity_l = 28", "capacity_l = -28",
     ("tank.capacity_l", "must lie between 2 and 200 l", "-28", f"typical: 28 l ({CAPACITY})")),
    ("heat_share = 0.5", "heat_share = 50",
     ("wash_pump.heat_share", "must lie between 0 and 1", "50",
      "did you mean 0.5? (share of its power that warms the water)")),
    ("capacity_l = 28", "capacity_l = nan",
     ("tank.capacity_l", "must be a finite number between 2 and 200 l", "nan",
      f"for example 28  # l; {CAPACITY}")),
    ("capacity_l = 28", "capacity_l = -inf",
     ("tank.capacity_l", "must be a finite number between 2 and 200 l", "-inf",
      f"for example 28  # l; {CAPACITY}")),
    ("capacity_l = 28", "capacity_l = 1e308",
     ("tank.capacity_l", "must lie between 2 and 200 l", "1e+308", f"typical: 28 l ({CAPACITY})")),
    (AIR, "{ nominal = 1e308, tolerance_pct = 90 }",
     ("room.air_c", "must lie between -5 and 45 °C", "{ nominal = 1e+308, tolerance_pct = 90 }",
      "typical: 18 °C (thermometer beside the machine)")),
    (AIR, "nan", ("room.air_c", "must be a finite number", "nan", "a plain number")),
    ("low = 14", "low = inf", ("room.air_c.low", "must be a finite number between -5 and 45 °C", "inf",
                               "for example 18  # °C; thermometer beside the machine")),
    (AIR, "{ nominal = 18, tolerance_pct = nan }",
     ("room.air_c", "must be a finite number", "{ nominal = 18, tolerance_pct = nan }", "a plain number")),
    ("capacity_l = 28", 'capacity_l = "28"',
     ("tank.capacity_l", "must be a number between 2 and 200 l", '"28"', f"for example 28  # l; {CAPACITY}")),
    ("capacity_l = 28", "capacity_l = true",
     ("tank.capacity_l", "must be a number between 2 and 200 l", "true", f"for example 28  # l; {CAPACITY}")),
    (AIR, '"18"',
     ("room.air_c", "must be a number, { nominal, low, high } or { nominal, tolerance_pct }", '"18"',
      "18, without quotes")),
    (AIR, "[14, 24]",
     ("room.air_c", "must be a number, { nominal, low, high } or { nominal, tolerance_pct }", "[14, 24]",
      "a plain number")),
    ("rest_s = 20", "rest_s = 20.5",
     ("element.rest_s", "must be a whole number between 1 and 600 s", "20.5",
      "for example 20  # s; after it goes off, until no streaks rise from it")),
    (AIR, "{ nominal = 18, low = 24, high = 14 }",
     ("room.air_c", "low ≤ nominal ≤ high must hold", "{ nominal = 18, low = 24, high = 14 }",
      "put the smallest reading in low and the largest in high")),
    (AIR, "{ nominal = 18, tolerance_pct = 91 }",
     ("room.air_c", "tolerance_pct must lie between 0 and 90 %", "{ nominal = 18, tolerance_pct = 91 }",
      "for example 5")),
    (AIR, "{ nominal = 18, low = 14, tolerance_pct = 5 }",
     ("room.air_c", "must be { nominal, low, high } or { nominal, tolerance_pct }, all of them numbers",
      "{ nominal = 18, low = 14, tolerance_pct = 5 }", "{ nominal = 18, tolerance_pct = 5 }")),
    ('material = "PP"', 'material = "HDP"',
     ("tank.material", 'must be "PP" or "HDPE" or "LDPE" or "ABS" or "PC" or "PMMA" or "PVC" or "stainless"',
      '"HDP"', '"HDPE"')),
    ('material = "PP"', 'material = "Steel"',
     ("tank.material", 'must be "PP" or "HDPE" or "LDPE" or "ABS" or "PC" or "PMMA" or "PVC" or "stainless"',
      '"Steel"', '"stainless"')),
    ('material = "PP"', 'material = "oak"',
     ("tank.material", 'must be "PP" or "HDPE" or "LDPE" or "ABS" or "PC" or "PMMA" or "PVC" or "stainless"',
      '"oak"', "one of PP, HDPE, LDPE, ABS, PC, PMMA, PVC, stainless")),
    ('material = "PP"', 'material = "LDPE"',
     ("tank.limit_c", "is above what LDPE stands for long (50 °C)", "85", "50 or less")),
    ('usual_tariff = "two-rate"', "usual_tariff = 2",
     ("usual_tariff", "must be text in quotes", "2", 'for example "flat"')),
    ('title = "Tote machine in the kitchen of a rowing clubhouse"', f'title = "{"x" * 71}"',
     ("title", "must be a title of 1 to 70 characters on one line", f'"{"x" * 58}…',
      'for example "A machine of our own"')),
    (f"capacity_l = 28\n{WARE_FROM}", "capacity_l = 7.4",
     ("tank.capacity_l", "is less than element.cover_l (7.5 l)", "7.4",
      "above 7.5 l, or measure element.cover_l again")),
    ("prime_l = 5", "prime_l = 26.2",
     ("tank.capacity_l", "is less than wash_pump.prime_l + holdup_l (28.1 l)", "28",
      "above 28.1 l, or measure wash_pump.prime_l + holdup_l again")),
    ('control = "timed"\n\n[wash_pump]', 'control = "thermostat"\n\n[wash_pump]',
     ("element.sensor_error_k", 'is missing: it goes with control = "thermostat"', "",
      "sensor_error_k = 1, the sensor's largest gap to a thermometer in the same water")),
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
    found = issues_in("machine", changed("machine", "clubhouse", (old, new)))
    assert found == [InputIssue("my.toml", *expected)]


OTHER_FAULTS: list[tuple[ProfileKind, str, list[tuple[str, str]], list[tuple[str, str, str]]]] = [
    # kind, shipped profile, changes, then key, rule and value found of each issue
    ("machine", "clubhouse", [("limit_c = 85", "limit_c = 30"), ("high = 16 }", "high = 30 }")],
     [("inlet.water_c", "its high end must stay below tank.limit_c (30 °C)", "30")]),
    ("machine", "clubhouse", [("capacity_l = 28", "capacity_l = 7"), ("rated_v = 230", "rated_v = 120")],
     [("tank.ware_from_l", "must not lie above capacity_l (7 l)", "13"),
      ("tank.capacity_l", "is less than element.cover_l (7.5 l)", "7"),
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
    ("circuit", "shared-6a", [("low = 0.1, high = 1.2", "low = 0.1, high = 6")],
     [("background_a", "must leave something of the 6 A that rating_a and usable_share allow", "6")]),
    ("circuit", "shared-6a", [('earth_fault = "rcd_30ma"', "earth_fault = true")],
     [("earth_fault", 'must be "rcd_30ma" or "gfci_class_a" or "inverter" or "none"', "true")]),
    ("circuit", "shared-6a", [('earth_fault = "rcd_30ma"', "")], [("earth_fault", "is missing", "")]),
    ("circuit", "inverter-10a", [("momentary_a = 26", "")],
     [("momentary_a", "is missing: an inverter that is asked for more for a moment shuts off", "")]),
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
     [("electricity.window[1].price_per_kwh", "must lie between -5 and 10 EUR/kWh", "22")]),
]  # fmt: skip


@pytest.mark.parametrize(("kind", "name", "changes", "expected"), OTHER_FAULTS)
def test_cross_checks_and_other_kinds(
    kind: ProfileKind, name: str, changes: list[tuple[str, str]], expected: list[tuple[str, str, str]]
) -> None:
    found = issues_in(kind, changed(kind, name, *changes))
    assert [(issue.key, issue.rule, issue.found) for issue in found] == expected
    assert all(issue.subject == "my.toml" and issue.fix for issue in found)


def test_a_floor_at_the_ceiling_is_a_step() -> None:
    assert issues_in("goal", changed("goal", "own", ("bare_floor_c = 42", "bare_floor_c = 75"))) == []


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
    assert {issue.key for issue in issues_in("machine", text)} == {
        "tank.capacity_l", "element.rated_v", "ware.setings", "tank.vent_m2", "element.rest_s"
    }  # fmt: skip


def test_message_is_cut_after_many_faults() -> None:
    issues = [InputIssue("my.toml", f"k{n}", "is not a key of this table") for n in range(MOST_SHOWN + 5)]
    report = issue_report(issues)
    assert report.startswith("Bad input: 25 issues.\n\n- my.toml: k0\n")
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
    assert [issue.rule for issue in issues_in("machine", text)] == ["must be a finite number"]


def test_profile_from_text_is_the_profile_from_data() -> None:
    text = shipped_text("tariff", "three-rate")
    assert parse_profile("tariff", text, "x") == validate_profile("tariff", tomllib.loads(text), "x")
