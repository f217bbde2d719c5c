"""The house keeps its own rules: rooms, tables of modules, lengths, words, locks, docs."""

import ast
import re
import statistics
import subprocess
import sys
import tomllib
from collections.abc import Iterator
from importlib import import_module
from pathlib import Path

import pytest

import tapertread

ROOT = Path(__file__).parents[1]
PACKAGE = Path(tapertread.__file__).parent
PROJECT = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))
LAYERS = list(reversed(PROJECT["tool"]["importlinter"]["contracts"][0]["layers"]))
SOURCES = sorted(PACKAGE.rglob("*.py"))
ROOMS = [name for name in LAYERS if (PACKAGE / name).is_dir()]
CLOSETS = [f"shapes.{name}" for name in ("drawing", "reading", "cleaning", "wheels", "rails")]


def relative(path: Path) -> str:
    return path.relative_to(PACKAGE).as_posix()


def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def functions(path: Path) -> Iterator[ast.FunctionDef | ast.AsyncFunctionDef]:
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
            yield node


def body_lines(function: ast.FunctionDef | ast.AsyncFunctionDef) -> int:
    body = function.body[1:] if ast.get_docstring(function) else function.body
    return (body[-1].end_lineno or 0) - body[0].lineno + 1 if body else 0


def table_of(docstring: str) -> list[str]:
    """Return the names in the first column of a front-page table."""
    return re.findall(r"^``(\w+)``", docstring, flags=re.MULTILINE)


def test_rooms_import_only_from_rooms_above_them() -> None:
    """The order of ``[tool.importlinter]``, late imports counted too."""
    wrong = [
        f"{relative(path)} imports {room}"
        for path in SOURCES
        if (own := relative(path).split("/")[0].removesuffix(".py")) in LAYERS
        for room in imported_rooms(path)
        if room in LAYERS and LAYERS.index(room) > LAYERS.index(own)
    ]
    assert wrong == []


def imported_rooms(path: Path) -> Iterator[str]:
    for node in ast.walk(tree(path)):
        if isinstance(node, ast.ImportFrom) and (node.module or "").startswith("tapertread."):
            yield str(node.module).split(".")[1]
        elif isinstance(node, ast.Import):
            yield from (
                one.name.split(".")[1] for one in node.names if one.name[:11] == "tapertread."
            )


def test_every_room_has_its_place_in_the_layers() -> None:
    there = {path.name.removesuffix(".py") for path in PACKAGE.iterdir() if path.name[0] != "_"}
    assert there - {"data", "py.typed"} == set(LAYERS)


def test_the_front_page_lists_every_room_in_the_order_data_flow() -> None:
    listed = table_of(tapertread.__doc__ or "")
    assert set(listed) == {*LAYERS, "data"}
    shared = [name for name in listed if name in LAYERS]
    ranks = [LAYERS.index(name) for name in shared]
    assert ranks == sorted(ranks)


@pytest.mark.parametrize("room", [*ROOMS, *CLOSETS])
def test_a_room_lists_every_module_it_has_and_no_other(room: str) -> None:
    listed = table_of(import_module(f"tapertread.{room}").__doc__ or "")
    there = {
        path.name.removesuffix(".py")
        for path in PACKAGE.joinpath(*room.split(".")).iterdir()
        if (path.suffix == ".py" or (path / "__init__.py").exists()) and path.name[:2] != "__"
    }
    assert sorted(listed) == sorted(there)


def test_every_module_says_what_it_is_for() -> None:
    assert [relative(path) for path in SOURCES if not ast.get_docstring(tree(path))] == []


def test_files_stay_short() -> None:
    lengths = {relative(path): len(path.read_text().splitlines()) for path in SOURCES}
    assert [name for name, length in lengths.items() if length > 600] == []
    assert statistics.median(lengths.values()) <= 180


def test_functions_stay_short() -> None:
    lengths = {
        f"{relative(path)}:{one.name}": body_lines(one)
        for path in SOURCES
        for one in functions(path)
    }
    assert [name for name, length in lengths.items() if length > 80] == []
    assert statistics.median(lengths.values()) <= 8
    assert statistics.quantiles(lengths.values(), n=10)[-1] <= 30


@pytest.mark.parametrize("room", ROOMS)
def test_public_functions_take_at_most_two_positional_arguments(room: str) -> None:
    """A swapped argument must be impossible."""
    module = import_module(f"tapertread.{room}")
    public = set(getattr(module, "__all__", ()))
    wrong = [
        f"{relative(path)}:{one.name}"
        for path in sorted((PACKAGE / room).rglob("*.py"))
        for one in tree(path).body
        if isinstance(one, ast.FunctionDef)
        and one.name in public
        and len(one.args.posonlyargs) + len(one.args.args) > 2
    ]
    assert wrong == []


@pytest.mark.parametrize("room", ROOMS)
def test_public_names_have_a_docstring(room: str) -> None:
    module = import_module(f"tapertread.{room}")
    for name in getattr(module, "__all__", ()):
        value = getattr(module, name)
        if isinstance(value, type) or callable(value):
            assert value.__doc__, f"{room}.{name}"


TEXTS = [
    path
    for folder in ("src", "tests", "docs", "examples", "benchmarks", ".ci", ".")
    for path in (sorted((ROOT / folder).rglob("*")) if folder != "." else sorted(ROOT.glob("*")))
    if path.suffix in (".py", ".toml", ".md", ".lock", ".j2", ".js", ".css", ".csv", ".json", "")
    and path.is_file()
    and "__pycache__" not in path.parts
]

# Taken apart, so that this file does not itself hold what it looks for.
FORBIDDEN = [
    "/wo" + r"rk/",
    r"(?<!, )\biss" + r"ue #?\d",  # "standard, … 4" is the edition of a document
    r"\bseed docu" + "ment",
    r"\btrans" + "cripts?\\b",
    r"\ba" + r"gents?\b",
    r"\bAI\b|\bL" + r"LMs?\b|language mod" + "el",
    r"py" + r"pi\.org|pythonho" + "sted|--index-u" + "rl http",
    r"TO" + r"DO\b|FIX" + r"ME\b|X" + "XX",
]


@pytest.mark.parametrize("pattern", FORBIDDEN)
def test_no_file_holds_words_that_do_not_belong_here(pattern: str) -> None:
    found = [
        f"{path.relative_to(ROOT)}:{number}: {line.strip()[:80]}"
        for path in TEXTS
        for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), start=1)
        if re.search(pattern, line)
    ]
    assert found == []


LOCKS = [ROOT / "requirements.lock", ROOT / "requirements-dev.lock"]


def pinned(lock: Path) -> dict[str, str]:
    """Return name → version of every package of a lock."""
    found = re.findall(r"^([a-z0-9._-]+)==(\S+)", lock.read_text(), flags=re.MULTILINE)
    return dict(found)


def wanted(lines: list[str]) -> set[str]:
    return {re.split(r"[<>=!~\[; ]", line)[0].lower().replace("_", "-") for line in lines}


def test_the_locks_pin_everything_the_project_asks_for_in_agreement() -> None:
    """Renew both with ``make lock``."""
    run, test = (pinned(lock) for lock in LOCKS)
    project = PROJECT["project"]
    assert wanted(project["dependencies"]) <= set(run)
    assert wanted(PROJECT["dependency-groups"]["build"]) <= set(run)
    assert wanted(project["optional-dependencies"]["dev"]) <= set(test)
    assert {name: test[name] for name in run} == run


@pytest.mark.parametrize("lock", LOCKS, ids=lambda path: path.name)
def test_every_pin_has_its_hashes_and_names_no_host(lock: Path) -> None:
    text = lock.read_text()
    for block in re.split(r"\n(?=[a-z0-9])", text):
        assert "--hash=sha256:" in block, block.splitlines()[0]
    assert "://" not in text
    assert "file:" not in text


GENERATED = [
    (relative(path), *found.groups())
    for path in SOURCES
    if (found := re.search(r"python -m (tapertread\.\S+) > (docs/\S+?)``", path.read_text()))
]


@pytest.mark.parametrize(("module", "page"), [one[1:] for one in GENERATED])
def test_a_generated_page_is_fresh(module: str, page: str) -> None:
    """A module says in its docstring how its page is made: ``python -m MODULE > docs/PAGE``."""
    made = subprocess.run([sys.executable, "-m", module], capture_output=True, check=True)
    assert made.stdout == (ROOT / page).read_bytes()


def test_pages_are_found() -> None:
    assert {"docs/commands.md", "docs/limits.md"} <= {page for *_, page in GENERATED}


def test_one_version_is_told_everywhere() -> None:
    assert tapertread.__version__ == PROJECT["project"]["version"]
