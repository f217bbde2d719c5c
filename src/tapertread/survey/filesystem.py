"""Which kind of file system a folder is on: a write-ahead log is safe on local ones only.

Two computers cannot share the memory that such a log's index lives in, so that a store on a
network share would be torn by the first two that open it.
"""

from __future__ import annotations

import re
from pathlib import Path

MOUNTS = Path("/proc/self/mountinfo")

LOCAL_TYPES = frozenset(
    {
        "ext2",
        "ext3",
        "ext4",
        "xfs",
        "btrfs",
        "zfs",
        "f2fs",
        "jfs",
        "reiserfs",
        "bcachefs",
        "tmpfs",
        "ramfs",
        "overlay",
        "overlayfs",
        "ntfs3",
        "ntfs",
        "vfat",
        "exfat",
        "apfs",
        "hfsplus",
        "nilfs2",
        "squashfs",
    }
)
"""File systems of disks of this computer; whatever is not named here counts as shared."""

_OCTAL = re.compile(r"\\([0-7]{3})")


def is_local(folder: Path, *, mounts: Path = MOUNTS) -> bool:
    """Return whether a folder is on a disk of this computer; ``False`` where nothing tells."""
    return filesystem_type(folder, mounts=mounts) in LOCAL_TYPES


def filesystem_type(folder: Path, *, mounts: Path = MOUNTS) -> str:
    """Return the type of the file system of a folder, empty where nothing tells.

    The longest mount point that holds the folder decides; of several on one point, the last.
    """
    try:
        lines = mounts.read_text(encoding="utf-8", errors="replace").splitlines()
    except OSError:
        return ""
    target = folder.resolve()
    best, found = -1, ""
    for line in lines:
        left, _, right = line.partition(" - ")
        fields = left.split()
        if len(fields) < 5 or not right:
            continue
        point = Path(_OCTAL.sub(lambda octal: chr(int(octal.group(1), 8)), fields[4]))
        if target.is_relative_to(point) and len(point.parts) >= best:
            best, found = len(point.parts), right.split()[0]
    return found
