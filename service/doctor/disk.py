"""The disk below an SQLite database: whether it is a network share, who may write, how much room is left."""

import os
import shutil
import sys
from pathlib import Path
from typing import Final

from plaitlog.service.doctor.check import Check

NETWORK: Final = frozenset(
    {
        *("9p", "afs", "beegfs", "ceph", "cifs", "coda", "davfs", "glusterfs", "gpfs", "lustre", "ncpfs"),
        *("nfs", "nfs4", "ocfs2", "smb2", "smb3", "smbfs", "virtiofs", "vboxsf", "vmhgfs"),
    }
)
"""File systems, as Linux names them, whose locks or shared memory SQLite cannot rely on."""
ROOM_TIMES: Final = 3
ROOM_BYTES: Final = 50_000_000
"""Room for a backup, a migration that rebuilds the tables, and its log: three times the database and some."""
MOUNTS: Final = Path("/proc/self/mountinfo")
_OCTAL: Final = (("\\040", " "), ("\\011", "\t"), ("\\012", "\n"), ("\\134", "\\"))


def nearest_folder(path: Path) -> Path:
    """The folder itself, or the nearest above it that exists."""
    while not path.is_dir() and path != path.parent:
        path = path.parent
    return path


def file_system(folder: Path, mounts: str) -> tuple[str, str] | None:
    """Type and mount point of the file system that a folder lies on, from the text of ``mountinfo``.

    Its lines hold, among others, mount point (field 5) and, after a lone hyphen, the type; a later line
    lies over an earlier one at the same place (Linux, Documentation/filesystems/proc.rst).
    """
    found: tuple[str, str] | None = None
    for line in mounts.splitlines():
        before, _, after = line.partition(" - ")
        fields, kind = before.split(), after.split()
        if len(fields) < 5 or not kind:
            continue
        point = fields[4]
        for code, sign in _OCTAL:
            point = point.replace(code, sign)
        if folder.is_relative_to(point) and (found is None or len(point) >= len(found[1])):
            found = kind[0], point
    return found


def share(folder: Path) -> Check:
    """Whether the folder lies on a network share."""
    unsure = "whether it lies on a network share cannot be told on this system"
    remedy = "make sure that it is a local disk: SQLite's locks do not hold on a share"
    if str(folder).startswith("\\\\"):
        return Check("disk", "trouble", f"{folder} is a network share", _MOVE)
    if not sys.platform.startswith("linux"):
        return Check("disk", "note", unsure, remedy)
    try:
        found = file_system(folder.resolve(), MOUNTS.read_text("utf-8", errors="surrogateescape"))
    except OSError:
        found = None
    if found is None:
        return Check("disk", "note", unsure, remedy)
    kind, point = found
    if kind in NETWORK:
        return Check("disk", "trouble", f"{point} is a network share or shared folder ({kind})", _MOVE)
    if kind.startswith("fuse"):
        return Check("disk", "note", f"whether {point} ({kind}) lies on a network cannot be told", remedy)
    return Check("disk", "ok", f"{point} is a local disk ({kind})")


_MOVE: Final = "move the database to a local disk, or use PostgreSQL"


def rights(file: Path, backups: Path) -> Check:
    """Whether this user may write the database, beside it, and in the folder of backups."""
    wanted = [file] if file.exists() else []
    wanted += [nearest_folder(file.parent), nearest_folder(backups)]
    refused = [str(path) for path in dict.fromkeys(wanted) if not os.access(path, os.W_OK)]
    in_the_way = next((path for path in (backups, *backups.parents) if path.is_file()), None)
    if in_the_way is not None:
        return Check("rights", "trouble", f"{in_the_way} is a file where a folder is needed", "move it away")
    if refused:
        return Check(
            "rights", "trouble", f"you may not write to {', '.join(refused)}", "change its owner or mode"
        )
    return Check("rights", "ok", "file, folder and folder of backups can be written")


def free_space(folder: Path, database_bytes: int) -> Check:
    """Whether there is room to go on, to back up and to migrate."""
    free = shutil.disk_usage(nearest_folder(folder)).free
    needed = ROOM_TIMES * database_bytes + ROOM_BYTES
    text = f"{free / 1e6:,.0f} MB free"
    if free < needed:
        return Check("free-space", "trouble", f"{text}; {needed / 1e6:,.0f} MB are needed", "make room")
    return Check("free-space", "ok", text)
