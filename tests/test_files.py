"""Files are read whole and sound, and written whole or not at all."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from profile_cases import as_nobody

from optimizer.errors import InputError
from optimizer.files import MOST_BYTES, read_text, write_text_atomic


def message(step: Callable[[], object]) -> str:
    with pytest.raises(InputError) as caught:
        step()
    assert len(caught.value.issues) == 1
    return str(caught.value)


def read(path: Path) -> str:
    return read_text(path, "goal profile")


@pytest.fixture
def open_folder() -> Iterator[Path]:
    """A folder that every user may look into, but only its owner may change."""
    with TemporaryDirectory() as name:
        folder = Path(name)
        folder.chmod(0o755)
        yield folder
        folder.chmod(0o755)


def test_text_is_read_without_its_byte_order_mark(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes("\ufeffa = '°'\r\n".encode())
    assert read(path) == "a = '°'\r\n"


def test_missing_file(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    assert message(lambda: read(path)) == f"{path}: no such file\n    fix: give the path of a goal profile"


def test_file_used_as_a_folder(tmp_path: Path) -> None:
    (tmp_path / "a").write_text("x")
    assert "no such file" in message(lambda: read(tmp_path / "a" / "b.toml"))


def test_folder(tmp_path: Path) -> None:
    assert message(lambda: read(tmp_path)) == (
        f"{tmp_path}: is a folder\n    fix: give the file of a goal profile in it"
    )


def test_not_utf8_names_the_line(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"# ok\n# 60 \xb0C\n")
    assert message(lambda: read(path)) == (
        f"{path}: is not UTF-8 text, found byte 0xb0 on line 2\n    fix: save it as UTF-8 in a text editor"
    )


@pytest.mark.parametrize("size", [MOST_BYTES + 1, 10_000_000])
def test_too_large(tmp_path: Path, size: int) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * size)
    assert message(lambda: read(path)) == (
        f"{path}: is larger than any goal profile (1 MB)\n    fix: give the file of the goal profile"
    )


def test_largest_size_is_read(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(b"#" * MOST_BYTES)
    assert len(read(path)) == MOST_BYTES


def test_name_with_a_null_byte() -> None:
    assert "cannot be read" in message(lambda: read(Path("a\0b")))


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions of another kind")
def test_unreadable_file(open_folder: Path) -> None:
    path = open_folder / "a.toml"
    path.write_text("a = 1")
    path.chmod(0)
    with as_nobody():
        found = message(lambda: read(path))
    assert found == f"{path}: may not be read\n    fix: give yourself permission to read it"


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions of another kind")
def test_folder_that_may_not_be_written(open_folder: Path) -> None:
    open_folder.chmod(0o555)
    path = open_folder / "a.toml"
    with as_nobody():
        found = message(lambda: write_text_atomic(path, "a", force=False))
    assert found == (
        f"{path}: its folder may not be written to, found {open_folder}\n"
        "    fix: write to a folder of your own"
    )
    assert list(open_folder.iterdir()) == []


@pytest.mark.skipif(not hasattr(os, "geteuid"), reason="permissions of another kind")
def test_folder_that_may_not_be_entered(open_folder: Path) -> None:
    open_folder.chmod(0)
    with as_nobody():
        found = message(lambda: write_text_atomic(open_folder / "a.toml", "a", force=True))
    assert "its folder may not be written to" in found


def test_new_file_has_the_users_usual_mode(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    write_text_atomic(path, "a = '°'\n", force=False)
    assert path.read_bytes() == "a = '°'\n".encode()
    plain = tmp_path / "plain"
    plain.touch()
    assert stat.S_IMODE(path.stat().st_mode) == stat.S_IMODE(plain.stat().st_mode)


def test_file_that_is_there_is_kept_unless_forced(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")
    path.chmod(0o640)
    assert message(lambda: write_text_atomic(path, "new", force=False)) == (
        f"{path}: is already there\n    fix: give --force to replace it, or another name"
    )
    assert path.read_text() == "old"
    write_text_atomic(path, "new", force=True)
    assert path.read_text() == "new"
    assert stat.S_IMODE(path.stat().st_mode) == 0o640
    assert list(tmp_path.iterdir()) == [path]


def test_link_is_followed(tmp_path: Path) -> None:
    target, link = tmp_path / "a.toml", tmp_path / "link.toml"
    target.write_text("old")
    link.symlink_to(target)
    write_text_atomic(link, "new", force=True)
    assert link.is_symlink()
    assert target.read_text() == "new"


def test_longest_name_is_written(tmp_path: Path) -> None:
    path = tmp_path / ("a" * 255)
    write_text_atomic(path, "a", force=False)
    assert path.read_text() == "a"
    assert "cannot be written" in message(lambda: write_text_atomic(tmp_path / ("a" * 256), "a", force=False))
    assert list(tmp_path.iterdir()) == [path]


def test_missing_folder(tmp_path: Path) -> None:
    path = tmp_path / "b" / "a.toml"
    assert message(lambda: write_text_atomic(path, "a", force=True)) == (
        f"{path}: its folder does not exist, found {path.parent}\n    fix: make the folder first"
    )
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("force", [False, True])
def test_target_is_a_folder(tmp_path: Path, force: bool) -> None:
    assert message(lambda: write_text_atomic(tmp_path, "a", force=force)) == (
        f"{tmp_path}: is a folder\n    fix: give the name of a file to write"
    )


def test_target_is_a_device() -> None:
    assert "is not an ordinary file" in message(lambda: write_text_atomic(Path(os.devnull), "a", force=True))


@pytest.mark.parametrize("step", ["fsync", "replace"])
def test_full_disk_leaves_the_old_file_and_nothing_else(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, step: str
) -> None:
    def full(*_: object) -> None:
        raise OSError(errno.ENOSPC, "No space left on device")

    path = tmp_path / "a.toml"
    path.write_text("old")
    monkeypatch.setattr(os, step, full)
    assert message(lambda: write_text_atomic(path, "new", force=True)) == (
        f"{path}: cannot be written, found No space left on device\n"
        "    fix: make room, or write to another folder"
    )
    assert path.read_text() == "old"
    assert list(tmp_path.iterdir()) == [path]


def test_interrupt_leaves_nothing(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    def interrupted(_: int) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr(os, "fsync", interrupted)
    with pytest.raises(KeyboardInterrupt):
        write_text_atomic(tmp_path / "a.toml", "new", force=False)
    assert list(tmp_path.iterdir()) == []
