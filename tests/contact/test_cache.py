"""The folder of compiled kernels follows every kernel source.

The compiler's own cache of a function looks only at the file that holds it. Change a helper in
another file, and the old machine code with the old helper inside would still be run: stale physics
after an upgrade. So the folder's name carries a hash of all kernel sources, and the version.
"""

from __future__ import annotations

import importlib.util
import shutil
import subprocess
import sys
from pathlib import Path
from types import ModuleType

import pytest

from tapertread import __version__
from tapertread.contact import _kernels

SOURCES = Path(_kernels.__file__).parent


def _copy(folder: Path, name: str) -> ModuleType:
    """Return the kernel package copied into a folder, imported under another name."""
    target = folder / name
    shutil.copytree(SOURCES, target, ignore=shutil.ignore_patterns("__pycache__"))
    spec = importlib.util.spec_from_file_location(
        name, target / "__init__.py", submodule_search_locations=[str(target)]
    )
    assert spec is not None
    assert spec.loader is not None
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module
    spec.loader.exec_module(module)
    return module


@pytest.fixture
def copied(tmp_path: Path) -> ModuleType:
    return _copy(tmp_path, "copied_kernels")


def test_an_equal_copy_has_the_same_folder(copied: ModuleType) -> None:
    assert copied.kernel_hash() == _kernels.kernel_hash()
    assert copied.cache_folder() == _kernels.cache_folder()


@pytest.mark.parametrize("source", sorted(path.name for path in SOURCES.glob("*.py")))
def test_changing_any_kernel_source_changes_the_folder(copied: ModuleType, source: str) -> None:
    before = copied.cache_folder()
    path = Path(copied.__file__ or "").parent / source
    path.write_text(path.read_text() + "\n# a helper's physics changed here\n")
    assert copied.cache_folder() != before


def test_a_new_kernel_source_changes_the_folder(copied: ModuleType) -> None:
    before = copied.kernel_hash()
    (Path(copied.__file__ or "").parent / "another.py").write_text("WEAR = 1.0\n")
    assert copied.kernel_hash() != before


def test_files_that_are_no_source_change_nothing(copied: ModuleType) -> None:
    before = copied.kernel_hash()
    (Path(copied.__file__ or "").parent / "notes.txt").write_text("nothing to compile")
    assert copied.kernel_hash() == before


def test_the_folder_carries_version_and_python(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.setenv("TAPERTREAD_CACHE", str(tmp_path))
    folder = _kernels.cache_folder()
    assert folder.is_relative_to(tmp_path)
    assert __version__ in folder.name
    assert f"py{sys.version_info.major}{sys.version_info.minor}" in folder.name


def test_without_a_setting_it_lies_in_the_users_cache_folder(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    monkeypatch.delenv("TAPERTREAD_CACHE", raising=False)
    monkeypatch.setenv("XDG_CACHE_HOME", str(tmp_path / "xdg"))
    assert _kernels.cache_folder().is_relative_to(tmp_path / "xdg")
    monkeypatch.delenv("XDG_CACHE_HOME")
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    assert _kernels.cache_folder().is_relative_to(tmp_path / "home" / ".cache")


def test_a_changed_helper_is_really_run(tmp_path: Path) -> None:
    """The trap itself: compile, change a helper in another file, and run again."""
    package = tmp_path / "small_kernels"
    package.mkdir()
    for name in ("__init__.py", "compile.py"):
        text = (SOURCES / name).read_text()
        text = text.replace("tapertread.contact._kernels", "small_kernels")
        (package / name).write_text(text)
    (package / "helper.py").write_text(
        "from small_kernels.compile import kernel\n\n@kernel\ndef weight(x):\n    return 2.0 * x\n"
    )
    (package / "caller.py").write_text(
        "from small_kernels.compile import kernel\n"
        "from small_kernels.helper import weight\n\n"
        "@kernel\ndef heavier(x):\n    return weight(x) + 1.0\n"
    )
    assert _run(tmp_path) == 7.0
    helper = package / "helper.py"
    helper.write_text(helper.read_text().replace("2.0 * x", "3.0 * x"))
    assert _run(tmp_path) == 10.0
    assert len(list((tmp_path / "cache" / "tapertread").iterdir())) == 2


def _run(folder: Path) -> float:
    code = "from small_kernels.caller import heavier; print(heavier(3.0))"
    done = subprocess.run(
        [sys.executable, "-c", code],
        env={
            "TAPERTREAD_CACHE": str(folder / "cache"),
            "PYTHONPATH": str(folder),
            "PYTHONDONTWRITEBYTECODE": "1",  # whose clock of whole seconds is a trap of its own
        },
        capture_output=True,
        text=True,
        check=True,
    )
    return float(done.stdout)
