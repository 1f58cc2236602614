"""Reading and writing files: whole, or not at all."""

from __future__ import annotations

import contextlib
import os
import secrets
import shutil
import stat
from collections.abc import Iterator, Sequence
from contextvars import ContextVar
from functools import lru_cache, partial
from pathlib import Path
from typing import BinaryIO

from optimizer.errors import CONTROL, InputError, InputIssue, attempt

MOST_BYTES = 1_000_000
"""A profile or a plan is a few thousand bytes; more than this is another kind of file [B]."""

TEMPORARY = (".scullion-", ".tmp")
"""Start and end of the name of a file that is being written."""


_files_read: ContextVar[set[tuple[int, int]] | None] = ContextVar("files_read", default=None)
"""Device and number of each file read so far: a file has them by whatever path it is reached."""


@contextlib.contextmanager
def files_read_are_kept() -> Iterator[None]:
    """Until the end of this context no file that was read in it can be written over."""
    token = _files_read.set(set())
    try:
        yield
    finally:
        _files_read.reset(token)


def read_text(path: Path, kind: str, *, most_bytes: int = MOST_BYTES, own: bool = False) -> str:
    """Read a text file, or the one that a symbolic link leads to.

    Parameters
    ----------
    path : Path
        The file.
    kind : str
        What it should hold (``machine profile``), for the messages.
    most_bytes : int
        Size from which on it is refused unread [B].
    own : bool
        Whether it is the tool's own store, which may be written over once it is read.

    Returns
    -------
    str
        Its text, without a byte order mark.

    Raises
    ------
    InputError
        If there is no such file, it is a folder, a pipe or a device (which might never end), may not be read,
        is not UTF-8, is too large, or holds a sign that a terminal would act on.
    """
    try:
        with open(path, "rb", opener=_open_ordinary) as file:
            _note_read(file, own)
            data = file.read(most_bytes + 1)
    except (OSError, ValueError) as error:
        raise InputError([_unreadable(path, kind, error)]) from error
    if len(data) > most_bytes:
        rule = f"is larger than any {kind} ({most_bytes / 1e6:g} MB)"
        raise InputError([InputIssue(str(path), "", rule, "", f"give the path of a {kind}")])
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data.count(b"\n", 0, error.start) + 1
        found = f"byte 0x{data[error.start]:02x} on line {line}"
        issue = InputIssue(str(path), "", "is not UTF-8 text", found, "save it as UTF-8 in a text editor")
        raise InputError([issue]) from error
    # A carriage return before a line end is part of it.
    shown = text.replace("\r\n", "\n")
    if sign := CONTROL.search(shown):
        line = shown.count("\n", 0, sign.start()) + 1
        found = f"U+{ord(sign[0]):04X} on line {line}"
        issue = InputIssue(str(path), "", "holds a control character", found, "take it out in a text editor")
        raise InputError([issue])
    return text


def _open_ordinary(path: str, flags: int) -> int:
    """Open a file without waiting for the other end of a pipe, and only if it is a file."""
    mode = os.stat(path).st_mode
    if stat.S_ISDIR(mode):
        raise IsADirectoryError
    if not stat.S_ISREG(mode):
        raise _NotOrdinaryError
    descriptor = os.open(path, flags | getattr(os, "O_NONBLOCK", 0))
    if not stat.S_ISREG(os.fstat(descriptor).st_mode):  # it was put in the place of the file just now
        os.close(descriptor)
        raise _NotOrdinaryError
    return descriptor


class _NotOrdinaryError(OSError):
    """A pipe, a socket or a device stands where a file is asked for."""


def _note_read(file: BinaryIO, own: bool) -> None:
    already = _files_read.get()
    if already is not None and not own:
        found = os.fstat(file.fileno())
        already.add((found.st_dev, found.st_ino))


def _unreadable(path: Path, kind: str, error: Exception) -> InputIssue:
    match error:
        case FileNotFoundError() if path.is_symlink():
            found = os.readlink(path)
            return InputIssue(str(path), "", "is a link to no file", found, f"give the path of a {kind}")
        case FileNotFoundError() | NotADirectoryError():
            return InputIssue(str(path), "", "no such file", "", f"give the path of a {kind}")
        case _NotOrdinaryError():
            fix = f"save the {kind} in a file, and give that"
            return InputIssue(str(path), "", "is a pipe or a device, not a file", "", fix)
        case IsADirectoryError():
            return InputIssue(str(path), "", "is a folder", "", f"give the path of a {kind} in it")
        case PermissionError():
            return InputIssue(str(path), "", "may not be read", "", "give yourself permission to read it")
        case _:
            return InputIssue(str(path), "", "cannot be read", _reason(error), f"give the path of a {kind}")


def refuse_occupied(path: Path, *, force: bool) -> None:
    """Refuse a place to write to before the work is done, rather than after it.

    `InputError` where the place is taken and `force` does not replace it, or its folder does not exist.
    """
    try:
        issue = _occupied(path, Path(os.path.realpath(path)), force)
        if issue is None and not path.parent.is_dir():
            issue = _unwritable(path, FileNotFoundError())
    except OSError as error:
        issue = _unwritable(path, error)
    if issue:
        raise InputError([issue])


def refuse_folder(folder: Path, option: str) -> None:
    """Refuse a folder that cannot be made or written to, before the work is done rather than after it.

    `InputError` names `option`; the folder need not be there yet.
    """
    there = folder
    while not os.path.lexists(there) and there != there.parent:
        there = there.parent
    if not there.is_dir():
        raise InputError([_bad_folder(option, folder, "cannot be made", f"{there} is not a folder")])
    if not os.access(there, os.W_OK | os.X_OK):
        if there == folder:
            raise InputError([_bad_folder(option, folder, "may not be written to", "")])
        raise InputError([_bad_folder(option, folder, "cannot be made", f"{there} may not be written to")])


def make_folder(folder: Path, option: str) -> None:
    """Make a folder to write to, and those above it, where they are missing; `InputError` names `option`."""
    refuse_folder(folder, option)
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise InputError([_bad_folder(option, folder, "cannot be made", _reason(error))]) from error


def _bad_folder(option: str, folder: Path, rule: str, found: str) -> InputIssue:
    return InputIssue(option, "", f"the folder {folder} {rule}", found, "give a folder of your own")


def refuse_all_occupied(paths: Sequence[Path | None], *, force: bool) -> None:
    """Refuse places to write to, each as `refuse_occupied` does, and two that are the same.

    `InputError` with an issue for each place; None stands where nothing is to be written.
    """
    issues: list[InputIssue] = []
    targets = list[str]()
    for path in filter(None, paths):
        attempt(issues, partial(refuse_occupied, path, force=force))
        targets.append(os.path.realpath(path))
        if targets.count(targets[-1]) == 2:
            rule = "is named for two things to write"
            issues.append(InputIssue(str(path), "", rule, "", "give each a name of its own"))
    if issues:
        raise InputError(issues)


def write_text_atomic(path: Path, text: str, *, force: bool) -> None:
    """Write a text file as `write_bytes_atomic` does, as UTF-8 with the line ends of `text`."""
    write_bytes_atomic(path, text.encode("utf-8"), force=force)


def write_bytes_atomic(path: Path, data: bytes, *, force: bool) -> None:
    """Write a file whole or not at all.

    It is written beside its place under another name and then renamed, so that a reader, a full disk
    or a power cut never meets half a file, and a file that is there stays until the new one is whole.

    Parameters
    ----------
    path : Path
        Where to. A symbolic link is followed.
    data : bytes
        What to write.
    force : bool
        Replace a file that is already there.

    Raises
    ------
    InputError
        If the file is already there and `force` is not given, the folder does not exist or may not
        be written to, the place is taken by something else than a file, or the disk fails.
    """
    target = Path(os.path.realpath(path))
    try:
        if issue := _occupied(path, target, force):
            raise InputError([issue])
        _clear_left_behind(target.parent)
        with _new_file(target.parent) as file:
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
            if target.exists():
                shutil.copymode(target, file.name)
            if os.name == "nt":  # where an open file has a fixed name
                file.close()
            os.replace(file.name, target)
    except OSError as error:
        raise InputError([_unwritable(path, error)]) from error


@contextlib.contextmanager
def _new_file(folder: Path) -> Iterator[BinaryIO]:
    """A file to write that is gone at the end, unless it was renamed.

    It is locked while it is written. A killed process cannot clean up, but its lock ends with it, and the
    next process removes what is no longer locked.
    """
    while True:
        # The name does not grow with the target's, which may be as long as the file system allows.
        path = folder / f"{TEMPORARY[0]}{secrets.token_hex(8)}{TEMPORARY[1]}"
        with path.open("xb") as file:
            try:
                _lock(file, wait=True)
                # Another process may have cleared it away before it was locked.
                if path.exists():
                    yield file
                    return
            finally:
                with contextlib.suppress(OSError):
                    path.unlink(missing_ok=True)


def _lock(file: BinaryIO, *, wait: bool = False) -> bool:
    """Lock a file until it is closed; False where another process has it, or where nothing can be locked."""
    try:
        import fcntl

        fcntl.flock(file, fcntl.LOCK_EX if wait else fcntl.LOCK_EX | fcntl.LOCK_NB)
    except (ImportError, OSError):
        return False
    return True


@lru_cache(maxsize=256)
def _clear_left_behind(folder: Path) -> None:
    """Remove what a process that was killed in the middle of a write has left; once a folder is enough."""
    with contextlib.suppress(OSError):
        for path in folder.glob("*".join(TEMPORARY)):
            with contextlib.suppress(OSError), open(path, "rb", opener=_open_ordinary) as file:
                if _lock(file):
                    path.unlink()


def _occupied(path: Path, target: Path, force: bool) -> InputIssue | None:
    if target.is_symlink():  # of links that lead to one another nothing real is found
        return InputIssue(str(path), "", "is a link that leads to itself", "", "give another name")
    # /dev/stdout leads to a pipe that has no name of its own, so the path is asked as well as its target.
    if (target.exists() or path.exists()) and not target.is_file():
        rule = "is a folder" if target.is_dir() else "is not an ordinary file"
        return InputIssue(str(path), "", rule, "", "give the name of a file to write")
    if not target.exists():
        return None
    found = target.stat()
    if (found.st_dev, found.st_ino) in (_files_read.get() or ()):
        rule = "is a file that this command reads, which it never writes over"
        return InputIssue(str(path), "", rule, "", "give another name")
    if force:
        return None
    if path.is_symlink():
        rule, fix = "is a link to a file that is already there", "give --force to replace that file"
        return InputIssue(str(path), "", rule, str(target), f"{fix} (the link stays), or another name")
    return InputIssue(str(path), "", "is already there", "", "give --force to replace it, or another name")


def _unwritable(path: Path, error: OSError) -> InputIssue:
    folder = str(path.parent)
    match error:
        case FileNotFoundError() | NotADirectoryError() if not path.parent.is_dir():
            return InputIssue(str(path), "", "its folder does not exist", folder, "make the folder first")
        case PermissionError():
            fix = "write to a folder of your own"
            return InputIssue(str(path), "", "its folder may not be written to", folder, fix)
        case _:
            fix = "make room, or write to another folder"
            return InputIssue(str(path), "", "cannot be written", _reason(error), fix)


def _reason(error: Exception) -> str:
    return (error.strerror if isinstance(error, OSError) else None) or str(error)
