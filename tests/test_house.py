"""The house rules: which room may know which, and that every word is documented."""

import ast
from pathlib import Path

import pytest

from station.cli import _OWN
from station.service.methods import BUILD
from station.service.vocabulary import METHODS, READING
from station.weighing.pan import REASONS

ROOT = Path(__file__).parents[1]
SOURCES = sorted([*ROOT.glob("station/**/*.py"), *ROOT.glob("drivers/**/*.py")])
PURE_NEVER = {
    "time",
    "os",
    "pathlib",
    "sqlite3",
    "serial",
    "asyncio",
    "socket",
    "random",
    "logging",
}
PURE_NEVER_OURS = (
    "station.service",
    "station.ledger",
    "station.bench",
    "station.audit",
    "station.cli",
)


def module_of(path: Path) -> str:
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imports(path: Path) -> set[str]:
    found = set()
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
        if isinstance(node, ast.Import):
            found |= {alias.name for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and node.module:
            found.add(node.module)
            found |= {f"{node.module}.{alias.name}" for alias in node.names}
    return found


GRAPH = {module_of(path): imports(path) for path in SOURCES}


def test_drivers_know_nothing_of_the_station() -> None:
    for module, known in GRAPH.items():
        if module.startswith("drivers"):
            assert not {name for name in known if name.startswith("station")}, module


def test_formula_and_weighing_are_pure() -> None:
    for module, known in GRAPH.items():
        if not module.startswith(("station.formula", "station.weighing")):
            continue
        roots = {name.partition(".")[0] for name in known}
        assert not roots & PURE_NEVER, module
        assert not {name for name in known if name.startswith(PURE_NEVER_OURS)}, module
        drivers = {name for name in known if name.startswith("drivers")}
        assert all(name.startswith("drivers.reading") for name in drivers), module


def test_formula_does_not_know_the_weighing() -> None:
    for module, known in GRAPH.items():
        if module.startswith("station.formula"):
            assert not {name for name in known if name.startswith("station.weighing")}, module


def test_no_circle_of_imports() -> None:
    graph = {
        m: {name for name in known if name in GRAPH and name != m} for m, known in GRAPH.items()
    }
    done: set[str] = set()

    def visit(module: str, path: tuple[str, ...]) -> None:
        assert module not in path, " -> ".join((*path, module))
        if module not in done:
            for name in sorted(graph[module]):
                visit(name, (*path, module))
            done.add(module)

    for module in graph:
        visit(module, ())


def test_no_import_hides_in_a_function() -> None:
    for path in SOURCES:
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef)):
                hidden = [n for n in ast.walk(node) if isinstance(n, (ast.Import, ast.ImportFrom))]
                assert not hidden, f"{path.name}: {node.name}"


def test_a_file_fits_in_one_sitting() -> None:
    long = {
        p.name: n for p in SOURCES if (n := len(p.read_text(encoding="utf-8").splitlines())) > 380
    }
    assert not long


def test_the_heavy_libraries_stay_where_they_belong() -> None:
    owners = {
        "pint": {"station.units"}, "serial_asyncio": {"drivers.link"},
        "serial": {"drivers.link", "drivers.control_line", "drivers.ports"},
        "pymodbus": {"drivers.kinds.modbus"}, "rich": {"station.cli.audit"},
        "curses": {"station.bench.terminal"},
    }  # fmt: skip
    for library, allowed in owners.items():
        users = {
            module for module, known in GRAPH.items()
            if library in {name.partition(".")[0] for name in known}
        }  # fmt: skip
        assert users == allowed, library


@pytest.mark.parametrize("name", sorted(METHODS))
def test_every_method_is_built_and_explained(name: str) -> None:
    assert name in BUILD
    assert METHODS[name].example.startswith("station ")
    assert METHODS[name].help.endswith(".")


def test_every_verb_reason_and_word_is_documented() -> None:
    documents = "".join(
        (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")
    )
    for verb in {*_OWN, *METHODS, *READING}:
        assert f"station {verb}" in documents, verb
    for reason in REASONS:
        assert f"`{reason}`" in documents, reason
    for word in ("POUR", "SLOWER", "STOP", "IN BAND", "TAKE OUT", "WAIT", "BLOCKED"):
        assert word in documents, word


def test_numpy_stays_out_of_the_runtime() -> None:
    assert not {m for m, known in GRAPH.items() if any(n.startswith("numpy") for n in known)}
