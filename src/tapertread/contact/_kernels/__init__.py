"""Compiled kernels of the contact search, and the folder in which their machine code is kept.

The compiler's own cache does not notice a change in a helper of another file, so the folder is
named by the package version and a hash of every kernel source: an upgrade can never run old
physics.
"""

from __future__ import annotations

import hashlib
import os
import sys
from importlib.resources import files
from pathlib import Path

from tapertread._version import __version__


def kernel_hash() -> str:
    """Return a hash of every kernel source file of this folder."""
    digest = hashlib.sha256()
    for item in sorted(files(__name__).iterdir(), key=lambda entry: entry.name):
        if item.name.endswith(".py"):
            digest.update(item.name.encode())
            digest.update(item.read_bytes())
    return digest.hexdigest()[:16]


def cache_folder() -> Path:
    """Return the folder for machine code of exactly this version and these sources.

    It lies under ``TAPERTREAD_CACHE`` if that is set, else under the user's cache folder.
    """
    base = os.environ.get("TAPERTREAD_CACHE") or os.environ.get("XDG_CACHE_HOME")
    root = Path(base) if base else Path.home() / ".cache"
    python = f"py{sys.version_info.major}{sys.version_info.minor}"
    return root / "tapertread" / f"kernels-{__version__}-{python}-{kernel_hash()}"
