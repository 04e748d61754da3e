"""What the package offers, what importing it costs, and which room may look into which."""

import ast
import importlib
import pkgutil
import re
import subprocess
import sys
import tomllib
from pathlib import Path

import pytest

import solidify

PACKAGE = Path(solidify.__file__).parent
HEAVY = {"numpy", "numba", "scipy", "h5py", "matplotlib", "pydantic"}

FLOORS = [
    {"errors", "units", "files", "sheet", "kernels", "lanes"},
    {"sources", "tables", "grid", "schedule", "profiles"},
    {
        "steel",
        "mould",
        "spray",
        "surface",
        "water",
        "strain",
        "strength",
        "handbook",
        "exact_solutions",
        "blocks",
        "slices",
    },
    {"case"},
    {"alike", "strand", "primary", "secondary", "cooling", "result", "results", "rolls", "figures"},
    {"batch", "drawing", "marching"},
    {
        "limits",
        "ductility",
        "measures",
        "findings",
        "breakout",
        "verdict",
        "bands",
        "facts",
        "backtrace",
        "growth",
        "compare",
        "measured",
    },
    {"layout", "store", "study_layout", "study_store", "study_writer", "shards", "answers", "section"},
    {
        "plots",
        "report",
        "page",
        "page_basis",
        "page_parts",
        "page_tables",
        "case_sheet",
        "ceiling_sheet",
        "compare_sheet",
        "mould_sheet",
        "steel_sheet",
        "trace_sheet",
        "growth_sheet",
        "ductility_sheet",
        "accuracy_sheet",
        "tune_page",
        "tune_sheet",
        "sweep_sheet",
        "study_csv",
        "study_page",
        "progress",
    },
    {"studies"},
    {"cli", "__main__", "__init__"},
]
"""Rooms by floor, lowest first; a room may look into its own floor and those below."""

ONLY = {
    "numba": {"kernels", "lanes", "section"},
    "h5py": {"store", "study_store", "study_writer", "section"},
    "tqdm": {"progress"},
    "matplotlib": {"plots"},
    "pydantic": {"case"},
    "click": {"cli"},
    "distributed": {"studies"},
    "llvmlite": {"lanes", "studies"},
    "jinja2": {"page_parts"},
}
"""Libraries that only some rooms may import."""


def in_a_fresh_process(code):
    done = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def test_at_most_30_names_sorted_each_once():
    assert solidify.__all__ == sorted(set(solidify.__all__))
    assert len(solidify.__all__) <= 30


@pytest.mark.parametrize("name", solidify.__all__)
def test_every_name_is_there_documented_and_comes_from_one_place(name):
    thing = getattr(solidify, name)
    assert thing.__doc__
    assert name == getattr(thing, "__name__", name)
    assert getattr(importlib.import_module(thing.__module__), name) is thing
    assert name in dir(solidify)


def test_the_promised_calls_are_there():
    promised = {"read_case", "parse_case", "solve", "solve_many", "judge", "save", "load"}
    assert promised | {"Case", "Result", "Steel", "InputError"} <= set(solidify.__all__)


def test_type_checkers_see_the_same_names():
    """The names imported for type checkers are those that are loaded when first used."""
    tree = ast.parse((PACKAGE / "__init__.py").read_text(encoding="utf-8"))
    (block,) = (node for node in tree.body if isinstance(node, ast.If))
    seen = {
        (node.module, alias.name)
        for node in block.body
        if isinstance(node, ast.ImportFrom)
        for alias in node.names
    }
    assert seen == {(f"solidify.{module}", name) for name, module in solidify._HOME.items()}
    assert {name for _, name in seen} == set(solidify.__all__)


def test_an_unknown_name_is_refused():
    with pytest.raises(AttributeError, match="no attribute 'sovle'"):
        solidify.sovle  # noqa: B018


def test_the_version_is_that_of_the_project():
    project = tomllib.loads((PACKAGE.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    assert solidify.__version__ == project["version"]


def test_importing_loads_nothing_heavy():
    loaded = in_a_fresh_process(
        "import sys, solidify; solidify.InputError; solidify.InputError; dir(solidify); print(*sys.modules)"
    )
    assert not HEAVY & set(loaded)


def test_reading_a_case_twice_loads_no_solver_and_no_file_library():
    """Twice: importing a module sets its name on the package, and must not replace a function."""
    loaded = in_a_fresh_process(
        "import sys, solidify\n"
        "for _ in range(2):\n"
        "    solidify.parse_case\n"
        "    solidify.read_case\n"
        "    assert callable(solidify.read_case)\n"
        "print(*sys.modules)"
    )
    assert not HEAVY - {"pydantic", "numpy"} & set(loaded)


def modules():
    return [m.name.removeprefix("solidify.") for m in pkgutil.walk_packages([str(PACKAGE)], "solidify.")]


def test_no_module_bears_the_name_of_an_exported_function():
    """Importing it would put the module in the function's place."""
    assert not set(solidify.__all__) & {name.split(".")[0] for name in modules()}


def floor(room):
    return next((i for i, rooms in enumerate(FLOORS) if room in rooms), None)


SOURCES = [
    pytest.param(
        path, path.relative_to(PACKAGE).parts[0].removesuffix(".py"), id=str(path.relative_to(PACKAGE))
    )
    for path in sorted(PACKAGE.rglob("*.py"))
]


def imports(path):
    """Names of modules a file imports, with the statement; those for type checkers alone left out."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for node in ast.walk(tree):
        if isinstance(node, ast.If) and "TYPE_CHECKING" in ast.unparse(node.test):
            node.body = []
    for node in ast.walk(tree):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}:{node.lineno}: relative import"
            if node.module == "solidify":
                yield from ((f"solidify.{alias.name}", node) for alias in node.names)
            else:
                yield node.module, node


def test_the_developers_page_shows_the_same_floors():
    page = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = {
        int(row[1]): set(re.findall("`([a-z_]+)`", row[2]))
        for row in re.finditer(r"^\| (\d+) \| (.*?) \|", page, re.M)
    }
    hidden = {"__main__", "__init__"}
    there = {path.values[1] for path in SOURCES}
    assert rows == {i: rooms & there - hidden for i, rooms in enumerate(FLOORS) if rooms & there - hidden}


@pytest.mark.parametrize(("path", "room"), SOURCES)
def test_a_room_looks_only_down_and_into_libraries_it_may_use(path, room):
    level = floor(room)
    assert level is not None, f"{room}: give this room a floor"
    for name, node in imports(path):
        top, _, rest = name.partition(".")
        where = f"{path.name}:{node.lineno}: imports {name}"
        if top == "solidify":
            other = rest.split(".")[0]
            if other in ("", "__version__") and room in ("cli", "__main__"):
                continue
            assert other, f"{where}: the package itself, from inside it"
            assert floor(other) is not None, f"{where}: give this room a floor"
            assert floor(other) <= level, f"{where}: floor {floor(other)} from floor {level}"
        elif top in ONLY:
            assert room in ONLY[top], where


@pytest.mark.parametrize(("path", "room"), SOURCES)
def test_own_modules_are_imported_at_the_top_but_in_the_command_line(path, room):
    if room in ("cli", "__init__"):
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
            for node in ast.walk(function):
                name = getattr(node, "module", None) if isinstance(node, ast.ImportFrom) else None
                assert not (name or "").startswith("solidify"), f"{path.name}:{node.lineno}: imports {name}"
