"""Files are read whole and sound, and written whole or not at all."""

from __future__ import annotations

import errno
import os
import signal
import stat
import subprocess
import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from patience import PATIENCE_S
from profile_cases import as_nobody, scullion

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
        f"{tmp_path}: is a folder\n    fix: give the path of a goal profile in it"
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
        f"{path}: is larger than any goal profile (1 MB)\n    fix: give the path of a goal profile"
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


def test_a_link_is_named_with_the_file_that_it_leads_to(tmp_path: Path) -> None:
    target, link = tmp_path / "a.toml", tmp_path / "link.toml"
    target.write_text("old")
    link.symlink_to(target)
    assert message(lambda: write_text_atomic(link, "new", force=False)) == (
        f"{link}: is a link to a file that is already there, found {target}\n"
        "    fix: give --force to replace that file (the link stays), or another name"
    )
    assert read(link) == target.read_text() == "old"


def test_link_to_no_file(tmp_path: Path) -> None:
    """Reading says where it leads to; writing makes that file, and the link stays."""
    target, link = tmp_path / "a.toml", tmp_path / "link.toml"
    link.symlink_to(target)
    assert message(lambda: read(link)) == (
        f"{link}: is a link to no file, found {target}\n    fix: give the path of a goal profile"
    )
    write_text_atomic(link, "new", force=False)
    assert link.is_symlink()
    assert target.read_text() == "new"


def test_link_that_leads_to_itself(tmp_path: Path) -> None:
    link = tmp_path / "link.toml"
    link.symlink_to(link)
    assert "cannot be read" in message(lambda: read(link))
    assert "is a link that leads to itself" in message(lambda: write_text_atomic(link, "new", force=True))
    assert link.is_symlink()


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes")
def test_pipe_and_device_are_refused_without_waiting(tmp_path: Path) -> None:
    """Nobody writes into the pipe; a device may never end."""
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    rule = "is a pipe or a device, not a file\n    fix: save the goal profile in a file, and give that"
    assert message(lambda: read(pipe)) == f"{pipe}: {rule}"
    assert message(lambda: read(Path("/dev/zero"))) == f"/dev/zero: {rule}"
    assert "is not an ordinary file" in message(lambda: write_text_atomic(pipe, "a", force=True))


@pytest.mark.skipif(not hasattr(os, "mkfifo"), reason="no named pipes")
@pytest.mark.parametrize(
    "words",
    [
        ("plan", "PIPE", "everyday"),
        ("plan", "clubhouse", "everyday", "--tariff", "PIPE"),
        ("check", "PIPE"),
        ("profiles", "show", "PIPE"),
    ],
)
def test_no_command_waits_for_a_pipe(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, words: tuple[str, ...]
) -> None:
    pipe = tmp_path / "pipe.toml"
    os.mkfifo(pipe)
    ended = scullion(capsys, *(str(pipe) if word == "PIPE" else word for word in words))
    assert (ended.code, ended.out) == (3, "")
    assert "is a pipe or a device, not a file" in ended.err


@pytest.mark.parametrize("sign", ["\x00", "\x07", "\x1b", "\r", "\x7f", "\x9b", "\u202e", "\u2066"])
def test_signs_that_a_terminal_acts_on_are_refused(tmp_path: Path, sign: str) -> None:
    path = tmp_path / "a.toml"
    path.write_bytes(f"# ok\r\n\t# {sign}[31m\n".encode())
    assert message(lambda: read(path)) == (
        f"{path}: holds a control character, found U+{ord(sign):04X} on line 2\n"
        "    fix: take it out in a text editor"
    )


def test_name_with_an_escape_is_shown_harmless(tmp_path: Path) -> None:
    path = tmp_path / "\x1b[31m\u202e.toml"
    assert message(lambda: read(path)) == (
        f"{tmp_path}/\\u001b[31m\\u202e.toml: no such file\n    fix: give the path of a goal profile"
    )


KILLED = """\
import os, signal, sys
from pathlib import Path
from optimizer.files import write_text_atomic
os.fsync = lambda _: os.kill(os.getpid(), signal.SIGKILL)
write_text_atomic(Path(sys.argv[1]), "new", force=True)
"""


@pytest.mark.skipif(not hasattr(signal, "SIGKILL"), reason="no such signal")
def test_what_a_killed_write_leaves_is_gone_after_the_next(tmp_path: Path) -> None:
    path = tmp_path / "a.toml"
    path.write_text("old")
    ended = subprocess.run([sys.executable, "-c", KILLED, str(path)], check=False, timeout=PATIENCE_S)
    assert ended.returncode == -signal.SIGKILL
    (left,) = set(tmp_path.iterdir()) - {path}
    assert left.match(".scullion-*.tmp")
    assert path.read_text() == "old"
    write_text_atomic(path, "new", force=True)
    assert path.read_text() == "new"
    assert list(tmp_path.iterdir()) == [path]


def test_what_another_process_is_writing_stays(tmp_path: Path) -> None:
    fcntl = pytest.importorskip("fcntl")
    written = tmp_path / ".scullion-0123456789abcdef.tmp"
    with written.open("wb") as file:
        fcntl.flock(file, fcntl.LOCK_EX)
        write_text_atomic(tmp_path / "a.toml", "a", force=False)
        assert written.exists()


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
