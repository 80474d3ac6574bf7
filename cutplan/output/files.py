"""Writing a file so that nobody ever finds half of one: beside it first, then moved into place.

Killed amid a write, a run leaves a hidden file ``.NAME.????????.tmp`` beside the old one; a later run that writes
there clears it away.
"""

from __future__ import annotations

import errno
import os
import re
import tempfile
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from cutplan.errors import CutplanError, report

_CURES = {
    errno.EACCES: ("cannot be written", "close it in the spreadsheet, or write to another file"),
    errno.EPERM: ("cannot be written", "close it in the spreadsheet, or write to another file"),
    errno.EBUSY: ("is in use", "close it in the spreadsheet, then try again"),
    errno.ETXTBSY: ("is in use", "close it in the spreadsheet, then try again"),
    errno.EROFS: ("is in a folder that cannot be written to", "write to another folder"),
    errno.ENOENT: ("is in a folder that does not exist", "make the folder first, or write to another"),
    errno.ENOTDIR: ("is inside something that is not a folder", "write to another folder"),
    errno.EISDIR: ("is a folder", "give the name of a file"),
    errno.ENOSPC: ("does not fit: the disk is full", "free some space, then try again"),
    errno.EDQUOT: ("does not fit: the quota is used up", "free some space, then try again"),
    errno.EFBIG: ("does not fit: files that large are not allowed here", "write to another folder"),
    errno.ENXIO: ("is a pipe that nothing is reading", "give the name of a file, or start the reader first"),
    errno.ENAMETOOLONG: ("has a name that is too long", "give a shorter one"),
}


class OutputError(CutplanError, OSError):
    """A file that was not written: which, the rule it breaks, the cure. What was there before is untouched."""

    def __init__(self, path: Path, rule: str, cure: str) -> None:
        self.path, self.rule, self.cure = path, rule, cure
        super().__init__(str(path), rule, cure)

    def __str__(self) -> str:
        return report(self.path, f"{self.rule}; nothing was changed", cure=self.cure)


_LEFT_OVER = 600.0
"""Seconds after which an unfinished file is taken for that of a killed run: the largest takes half a minute."""

_READER_STARTS = 2.0
"""Seconds that the reader of a pipe is given to open it."""


def write_beside(
    path: Path, writer: Callable[[Path], object], *, force: bool = True, agreed: Callable[[], None] | None = None
) -> None:
    """Let ``writer`` write a new file in the folder of ``path``, then move it into place in one step.

    ``force`` False: a file that is there already, or comes to be there meanwhile, is not replaced. ``agreed`` is asked
    last, just before the move, and may raise OutputError. On any failure the new file is removed and the old one stays
    as it was. A link is followed; into a device or a pipe the content is written straight. Raises OutputError.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "", str(path))
        if path.exists() and not path.is_file():
            _straight(path, writer)
            return
        path_there = Path(os.path.realpath(path))
        if path.exists():
            if not force:
                raise _there(path)
            if not os.access(path, os.W_OK) or _locked(path_there):
                raise PermissionError(errno.EACCES, "", str(path))
        prefix = f".{path_there.name[:40]}."
        _clear(path_there.parent, prefix)
        handle, name = tempfile.mkstemp(prefix=prefix, suffix=".tmp", dir=path_there.parent)
        os.close(handle)
        beside = Path(name)
        try:
            writer(beside)
            # mkstemp makes it private; a saw list is as readable as any file its owner makes. Some disks know no modes.
            with suppress(PermissionError):
                beside.chmod(path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask())
            with beside.open("r+b") as written:
                os.fsync(written.fileno())
            if agreed is not None:
                agreed()
            if force:
                os.replace(beside, path_there)
            else:
                _move_if_free(beside, path_there)
        finally:
            with suppress(FileNotFoundError):
                beside.unlink()
    except OutputError:
        raise
    except OSError as error:
        raise not_written(path, error) from error


def not_written(path: Path, error: OSError) -> OutputError:
    """What it means for a person that the system would not write ``path``."""
    rule, cure = _CURES.get(
        error.errno or 0, (f"cannot be written: {error.strerror or error}", "write to another file")
    )
    return OutputError(path, rule, cure)


def _there(path: Path) -> OutputError:
    return OutputError(path, "already exists", "add --force to overwrite it, or choose another name")


def _move_if_free(beside: Path, path: Path) -> None:
    """Give ``beside`` the name ``path`` unless another file has it: a new name is given in one step or not at all."""
    try:
        os.link(beside, path)
    except FileExistsError:
        raise _there(path) from None
    except OSError:  # a disk that knows no second names
        if path.exists():
            raise _there(path) from None
        os.replace(beside, path)


def _straight(path: Path, writer: Callable[[Path], object]) -> None:
    """Into what is no file, and must not become one."""
    with tempfile.TemporaryDirectory() as folder:
        whole = Path(folder, "whole")
        writer(whole)
        content = whole.read_bytes()
    handle = _opened_for_writing(path)
    if hasattr(os, "set_blocking"):
        os.set_blocking(handle, True)
    with open(handle, "wb") as out:
        out.write(content)


def _opened_for_writing(path: Path) -> int:
    """A device or a pipe, opened; a pipe's reader that is only just starting is waited for, but not without end."""
    until = time.monotonic() + _READER_STARTS
    while True:
        try:
            return os.open(path, os.O_WRONLY | getattr(os, "O_NONBLOCK", 0))
        except OSError as error:
            if error.errno != errno.ENXIO or time.monotonic() > until:
                raise
            time.sleep(0.02)


def _clear(folder: Path, prefix: str) -> None:
    """Remove what killed runs have left of files with this prefix."""
    name = re.compile(re.escape(prefix) + r"[a-z0-9_]{8}\.tmp")
    with os.scandir(folder) as entries:
        for entry in entries:
            with suppress(OSError):
                if name.fullmatch(entry.name) and time.time() - entry.stat().st_mtime > _LEFT_OVER:
                    os.unlink(entry)


def write_text(path: Path, text: str, *, force: bool = True) -> None:
    """Write ``text`` as UTF-8 with plain line ends. Raises OutputError."""
    write_beside(path, lambda beside: beside.write_text(text, encoding="utf-8", newline=""), force=force)


def _locked(path: Path) -> bool:
    """Whether a spreadsheet program has the file open: it says so with a lock file beside it."""
    return any((path.parent / f"{lock}{path.name}{end}").exists() for lock, end in ((".~lock.", "#"), ("~$", "")))


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
