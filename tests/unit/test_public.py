"""What the package offers, what importing it costs, and which room may look into which."""

import ast
import graphlib
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

ROOMS = [
    {"csv_table", "errors", "files", "sources", "units"},
    {"solver", "heat", "exact_solutions", "steel"},
    {"case"},
    {"strand"},
    {"assessment"},
    {"section"},
    {"analysis", "storage"},
    {"study"},
    {"cast", "plan"},
    {"tuning"},
    {"plots"},
    {"report"},
    {"cli", "__main__", "__init__"},
]
"""Packages and root modules by level, lowest first; a level imports only from its own level and those below."""

ONLY = {
    "numba": {"section/kernel", "solver/kernels", "solver/simd"},
    "llvmlite": {"solver/simd", "study/run"},
    "h5py": {"storage/"},
    "tqdm": {"study/progress"},
    "matplotlib": {"plots/"},
    "pydantic": {"case/"},
    "click": {"cli/"},
    "distributed": {"study/cluster"},
    "jinja2": {"report/document"},
}
"""Libraries that only some modules may import."""


def in_a_fresh_process(code):
    done = subprocess.run([sys.executable, "-W", "error", "-c", code], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    return done.stdout.split()


def test_at_most_50_names_sorted_each_once():
    assert solidify.__all__ == sorted(set(solidify.__all__))
    assert len(solidify.__all__) <= 50


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


def test_an_old_name_still_works_and_says_its_new_one():
    with pytest.warns(DeprecationWarning, match="solidify.margins is now solidify.error_bands"):
        assert solidify.margins is solidify.error_bands


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


def level(room):
    return next((i for i, rooms in enumerate(ROOMS) if room in rooms), None)


SOURCES = [pytest.param(path, id=str(path.relative_to(PACKAGE))) for path in sorted(PACKAGE.rglob("*.py"))]


def room_of(path):
    return path.relative_to(PACKAGE).parts[0].removesuffix(".py")


def imports(path):
    """Modules and names that a file imports, with the statement, those for type checkers included."""
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            yield from ((alias.name, node) for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            assert node.level == 0, f"{path.name}:{node.lineno}: relative import"
            yield from ((f"{node.module}.{alias.name}", node) for alias in node.names)


def typing_only(path, node):
    """Whether an import is for type checkers alone: it loads nothing."""
    blocks = [
        block
        for block in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(block, ast.If) and ast.unparse(block.test) == "TYPE_CHECKING"
    ]
    return any(block.lineno <= node.lineno <= block.end_lineno for block in blocks)


def test_the_root_holds_at_most_eight_modules():
    assert len(list(PACKAGE.glob("*.py"))) <= 8


def test_the_developers_page_shows_the_same_rooms_in_the_same_order():
    page = (PACKAGE.parent / "DEVELOPERS.md").read_text(encoding="utf-8")
    rows = re.findall(r"^\| (\d+) \| ((?:`[a-z_]+`(?:, )?)+) \|", page, re.M)
    shown = {int(number): set(re.findall("`([a-z_]+)`", names)) for number, names in rows}
    there = {room_of(path.values[0]) for path in SOURCES} - {"__main__", "__init__"}
    assert shown == {i: rooms & there for i, rooms in enumerate(ROOMS)}
    assert set().union(*shown.values()) == there


@pytest.mark.parametrize("path", SOURCES)
def test_a_room_imports_only_from_below_and_libraries_it_may_use(path):
    room = room_of(path)
    own = level(room)
    assert own is not None, f"{room}: give this room a level"
    module = str(path.relative_to(PACKAGE).with_suffix("").as_posix())
    for name, node in imports(path):
        top, _, rest = name.partition(".")
        where = f"{module}:{node.lineno}: imports {name}"
        if top == "solidify":
            other = rest.split(".")[0]
            if other in ("", "__version__") and room in ("cli", "__main__"):
                continue
            assert level(other) is not None, f"{where}: give this room a level"
            assert level(other) <= own, f"{where}: level {level(other)} from level {own}"
            if level(other) == own and other != room:
                assert other in ROOMS[0] or room == "__main__", (
                    f"{where}: rooms of one level do not know one another"
                )
        elif top in ONLY and not typing_only(path, node):
            assert any(module.startswith(allowed) for allowed in ONLY[top]), where


def module_graph():
    """Which module imports which, type-checking imports included."""
    names = {}
    for param in SOURCES:
        path = param.values[0]
        parts = path.relative_to(PACKAGE.parent).with_suffix("").parts
        names[".".join(parts[:-1] if parts[-1] == "__init__" else parts)] = path
    graph = {}
    for name, path in names.items():
        if name == "solidify":
            continue
        wanted = (full if full in names else full.rpartition(".")[0] for full, _ in imports(path))
        graph[name] = {other for other in wanted if other in names and other not in (name, "solidify")}
    return graph


def test_no_module_imports_itself_by_way_of_others():
    try:
        tuple(graphlib.TopologicalSorter(module_graph()).static_order())
    except graphlib.CycleError as error:
        pytest.fail(" -> ".join(error.args[1]))


@pytest.mark.parametrize("path", SOURCES)
def test_own_modules_are_imported_at_the_top_but_in_the_command_line(path):
    if room_of(path) in ("cli", "__init__"):
        return
    tree = ast.parse(path.read_text(encoding="utf-8"))
    for function in ast.walk(tree):
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef):
            for node in ast.walk(function):
                name = getattr(node, "module", None) if isinstance(node, ast.ImportFrom) else None
                assert not (name or "").startswith("solidify"), f"{path.name}:{node.lineno}: imports {name}"


def test_no_page_of_the_docs_imports_from_an_inner_module():
    pages = [PACKAGE.parent / "README.md", *(PACKAGE.parent / "docs").glob("*.md")]
    found = {
        page.name: re.findall(r"^\s*(?:from|import) solidify\.[\w.]+", page.read_text(encoding="utf-8"), re.M)
        for page in pages
    }
    assert {name: lines for name, lines in found.items() if lines} == {}
