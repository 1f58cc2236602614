"""Text that is no profile: what is told of it, and what is never shown of it."""

from __future__ import annotations

import tomllib
from pathlib import Path

import pytest
from profile_cases import changed, issues_in, scullion, shipped_text

from optimizer.errors import InputError, InputIssue
from optimizer.profile.load import kind_of, validate_profile


@pytest.mark.parametrize(
    ("text", "rule", "found", "fix"),
    [
        ("a = 1,5", "line 1 column 6", '"a = 1,5"', "write the decimals behind a point, not a comma"),
        ("\n\r\na = PP", "line 3 column 5", '"a = PP"', "put text into double quotes"),
        ("[tank", "line 1 column 6", '"[tank"', "write a table's name between brackets"),
        ("a", "line 1 column 2", '"a"', "write key = value"),
        ("a = 1\na = 2", "line 2 column 6", '"a = 2"', "write each key and each table once"),
        ('a = """', "at its end", "", "close the last bracket or quote"),
        ("a = [", "at its end", "", "close the last bracket or quote"),
        ("x = [\n" + "[\n" * 5000, "is nested too deeply", "", "compare with a shipped profile"),
        (f"x = {'9' * 1990}" + "9" * 3000, "line of more than 2000", "", "compare with a shipped profile"),
        (".".join("a" * 400_000) + " = 1", "line of more than 2000", "", "compare with a shipped profile"),
    ],
)
def test_text_that_is_not_toml(text: str, rule: str, found: str, fix: str) -> None:
    (issue,) = issues_in("machine", f'{text}\nkind = "machine"' if found else text)
    assert issue.subject == "my.toml"
    assert rule in issue.rule
    assert (issue.found, issue.key) == (found, "")
    assert fix in issue.fix


CLEAR = "\x1b[2J"


@pytest.mark.parametrize("sign", ["\x1b", "\x07", "\x9b", "\u202e", "\x7f", "\u2028"])
@pytest.mark.parametrize("key", ["title", "about", "usual_circuit", "usual_tariff"])
def test_escapes_written_into_a_text_are_refused(key: str, sign: str) -> None:
    """TOML takes no control character as it is, but any as an escape."""
    written_so = f'text = "a\\u{ord(sign):04x}[2Jb"'
    data = tomllib.loads(shipped_text("machine", "clubhouse")) | {key: tomllib.loads(written_so)["text"]}
    with pytest.raises(InputError) as caught:
        validate_profile("machine", data, "my.toml")
    (issue,) = caught.value.issues
    assert issue.key == key
    assert issue.rule == "must hold no control character"
    assert all(char.isprintable() for char in issue.found)


def test_name_of_a_file_may_not_clear_the_screen(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A plan would carry its name into every report."""
    path = tmp_path / f"{CLEAR}.toml"
    path.write_text(shipped_text("machine", "clubhouse"), encoding="utf-8")
    for words in (("plan", path, "everyday"), ("profiles", "show", path), ("check", path)):
        ended = scullion(capsys, *words)
        assert ended.code == 3
        assert "\x1b" not in ended.out + ended.err


SECRET = "hunter2-0123456789"


@pytest.mark.parametrize(
    "text",
    [
        f"root:{SECRET}:19000:0:99999:7:::\n",
        f"password = {SECRET}\n",
        f'password = "{SECRET}"\n',
        f'[login]\npassword = "{SECRET}"\n',
        f'tank = "{SECRET}"\n',
        f'"{SECRET}"',
        f'["{SECRET}"]',
        f'{{"password": "{SECRET}"}}',
        f"{SECRET},1\n2,3\n",
    ],
)
def test_a_path_given_by_mistake_is_not_quoted(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, text: str
) -> None:
    """The text of some other file is never shown, whatever it was given as."""
    path = tmp_path / "my.toml"
    path.write_text(text)
    tariff = tmp_path / "tariff.toml"
    tariff.write_text(changed("tariff", "half-hourly", ("half-hourly.csv", "my.toml")))
    for words in (
        ("profiles", "show", path),
        ("profiles", "show", path, "--kind", "machine", "--json"),
        ("plan", path, "everyday"),
        ("plan", "clubhouse", "everyday", "--tariff", tariff),
        ("check", path),
    ):
        ended = scullion(capsys, *words)
        if ended.code:
            assert ended.code == 3
            assert SECRET not in ended.err + ended.out, words


def test_deep_dotted_key_is_an_unknown_key() -> None:
    found = issues_in("goal", shipped_text("goal", "glasses") + ".".join(["limits", *"a" * 900]) + " = 1\n")
    assert [(issue.key, issue.found) for issue in found] == [("limits.limits", "a table")]


def test_another_kind_of_profile_is_one_fault() -> None:
    (issue,) = issues_in("machine", shipped_text("goal", "everyday"))
    assert issue == InputIssue(
        "my.toml",
        "kind",
        "must be a machine profile here, and this is a goal profile",
        '"goal"',
        "give a machine profile",
    )


def test_unknown_kind_is_an_ordinary_fault() -> None:
    found = issues_in("machine", changed("machine", "clubhouse", ('kind = "machine"', 'kind = "oven"')))
    assert [str(issue) for issue in found] == [
        'my.toml: kind: must be "machine", found "oven"\n    fix: "machine"'
    ]


@pytest.mark.parametrize("text", ["", "kind = 3", "kind = ['machine']", "title = 'x'"])
def test_file_that_does_not_say_its_kind(tmp_path: Path, text: str) -> None:
    path = tmp_path / "my.toml"
    path.write_text(text)
    with pytest.raises(InputError, match="must be one of machine, goal, circuit, tariff"):
        kind_of(str(path))
