"""Writing a file so that nobody ever finds half of one: beside it first, then moved into place."""

from __future__ import annotations

import errno
import os
import tempfile
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

from cutplan.errors import CutplanError

_CURES = {
    errno.EACCES: ("may not be written", "close it in the spreadsheet, or write to another file with --output"),
    errno.EPERM: ("may not be written", "close it in the spreadsheet, or write to another file with --output"),
    errno.EBUSY: ("is in use", "close it in the spreadsheet, then try again"),
    errno.ETXTBSY: ("is in use", "close it in the spreadsheet, then try again"),
    errno.EROFS: ("lies where nothing may be written", "write to another folder with --output"),
    errno.ENOENT: ("lies in a folder that is not there", "make the folder first, or write to another with --output"),
    errno.ENOTDIR: ("lies in a folder that is none", "write to another folder with --output"),
    errno.EISDIR: ("is a folder", "give the name of a file"),
    errno.ENOSPC: ("does not fit: the disk is full", "free some room, then try again"),
    errno.EDQUOT: ("does not fit: the quota is used up", "free some room, then try again"),
    errno.ENAMETOOLONG: ("has too long a name", "give a shorter one"),
}


class OutputError(CutplanError, OSError):
    """A file that was not written: which, the rule it breaks, the cure. What was there before is untouched."""

    def __init__(self, path: Path, rule: str, cure: str) -> None:
        self.path, self.rule, self.cure = path, rule, cure
        super().__init__(str(path), rule, cure)

    def __str__(self) -> str:
        return f"{self.path}: {self.rule}; nothing was changed ({self.cure})"


def write_beside(path: Path, writer: Callable[[Path], None], *, force: bool = True) -> None:
    """Let ``writer`` write a new file in the folder of ``path``, then move it into place in one step.

    ``force`` False: a file that is there already is not replaced. On any failure the new file is removed and the old
    one stays as it was. Raises OutputError.
    """
    try:
        if path.is_dir():
            raise IsADirectoryError(errno.EISDIR, "", str(path))
        if path.exists():
            if not force:
                raise OutputError(path, "is there already", "add --force to write over it, or choose another name")
            if not os.access(path, os.W_OK) or _locked(path):
                raise PermissionError(errno.EACCES, "", str(path))
        handle, name = tempfile.mkstemp(prefix=f".{path.name}.", suffix=".tmp", dir=path.parent)
        os.close(handle)
        beside = Path(name)
        try:
            writer(beside)
            # mkstemp makes it private; a saw list is as readable as any file its owner makes.
            mode = path.stat().st_mode & 0o777 if path.exists() else 0o666 & ~_umask()
            beside.chmod(mode)
            with beside.open("rb") as written:
                os.fsync(written.fileno())
            os.replace(beside, path)
        finally:
            with suppress(FileNotFoundError):
                beside.unlink()
    except OutputError:
        raise
    except OSError as error:
        rule, cure = _CURES.get(error.errno or 0, (f"cannot be written: {error.strerror}", "write to another file"))
        raise OutputError(path, rule, cure) from error


def write_text(path: Path, text: str, *, force: bool = True) -> None:
    """Write ``text`` as UTF-8 with plain line ends. Raises OutputError."""
    write_beside(path, lambda beside: _text(beside, text), force=force)


def _text(beside: Path, text: str) -> None:
    beside.write_text(text, encoding="utf-8", newline="")


def _locked(path: Path) -> bool:
    """Whether a spreadsheet program has the file open: it says so with a lock file beside it."""
    return any((path.parent / f"{lock}{path.name}{end}").exists() for lock, end in ((".~lock.", "#"), ("~$", "")))


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask
