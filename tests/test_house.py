"""The house rules: which room may know which, and that every word is documented."""

import ast
import re
from pathlib import Path
from typing import get_args

import pytest

from station.cli import _INSIDE, _OWN
from station.pan.view import REASONS
from station.weighing.commands import METHODS
from station.weighing.commands import READING as READING_METHODS
from station.weighing.decide import PHASES
from station.weighing.deciders import DECIDERS
from station.weighing.words import Word

ROOT = Path(__file__).parents[1]
SOURCES = sorted([*ROOT.glob("station/**/*.py"), *ROOT.glob("drivers/**/*.py")])
FOUNDATIONS = {
    *("station", "station.units", "station.names", "station.tomlfile"),
    *("station.resources", "station.gs1"),
}
"""One file each, under all rooms."""
PURE = {"station.formula", "station.metrology", "station.pan", "station.batch", "station.weighing"}
READING = "drivers.reading"
MAY_KNOW: dict[str, set[str]] = {
    "drivers": set(),
    "station.formula": set(),
    "station.metrology": {"station.formula"},
    "station.pan": {"station.metrology", READING},
    "station.batch": {"station.metrology", "station.formula"},
    "station.weighing": {
        READING, "station.pan", "station.batch", "station.metrology", "station.formula",
    },
    "station.ledger": {"station.batch"},
    "station.settings": {"station.metrology", "station.formula", "drivers"},
    "station.products": {"station.formula"},
    "station.received": set(),
    "station.opening": {
        "station.settings", "station.weighing", "station.batch", "station.formula",
    },
    "station.client": set(),
    "station.wire": set(),
    "station.bench": {"station.wire", "station.client", "drivers"},
    "station.service": {
        "station.wire", "station.opening", "station.settings", "station.products",
        "station.ledger", "station.weighing", "station.pan",
        "station.batch", "station.metrology", "station.formula", "drivers",
    },
    "station.doctor": {
        "station.bench", "station.client", "station.service", "station.ledger", "station.settings",
        "station.formula", "drivers",
    },
    "station.audit": {
        "station.ledger", "station.batch", "station.metrology", "station.formula",
        "station.received",
    },
    "station.demo": {"station.wire", "station.client", "station.service", "drivers"},
}  # fmt: skip
"""Every room and the rooms it may know, beside itself and the foundations; `station.cli` and
`station.__main__` stand above all of them."""
ABOVE = {"station.cli", "station.__main__"}
PURE_NEVER = {
    *("time", "os", "pathlib", "sqlite3", "serial", "asyncio", "socket", "random", "logging"),
}


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


def room_of(module: str) -> str | None:
    """The room, foundation or file above all that a module of ours belongs to."""
    if module.partition(".")[0] not in ("station", "drivers"):
        return None
    for room in sorted({*MAY_KNOW, *FOUNDATIONS, *ABOVE}, key=len, reverse=True):
        if module == room or (module.startswith(f"{room}.") and room != "station"):
            return room
    return None


def test_every_file_belongs_to_a_room_and_every_room_has_files() -> None:
    homeless = [module for module in GRAPH if room_of(module) is None]
    assert not homeless
    rooms = {room_of(module) for module in GRAPH}
    assert rooms == {*MAY_KNOW, *FOUNDATIONS, *ABOVE}


@pytest.mark.parametrize("room", sorted(MAY_KNOW))
def test_a_room_knows_only_the_rooms_below_it(room: str) -> None:
    allowed = {room, *FOUNDATIONS, *MAY_KNOW[room]}
    if room == "drivers":
        allowed -= FOUNDATIONS
    for module, known in GRAPH.items():
        if room_of(module) != room:
            continue
        for name in known & GRAPH.keys():
            assert room_of(name) in allowed or name in allowed, f"{module}: {name}"


@pytest.mark.parametrize("room", sorted(MAY_KNOW))
def test_every_arrow_of_the_plan_is_used(room: str) -> None:
    """A room that is allowed and never used would let the plan rot unseen."""
    known = {name for module in GRAPH if room_of(module) == room for name in GRAPH[module]}
    for other in MAY_KNOW[room]:
        assert any(name == other or name.startswith(f"{other}.") for name in known), other


@pytest.mark.parametrize("room", sorted(PURE))
def test_a_pure_room_imports_no_clock_file_port_or_log(room: str) -> None:
    modules = [module for module in GRAPH if room_of(module) == room]
    assert modules
    for module in modules:
        roots = {name.partition(".")[0] for name in GRAPH[module]}
        assert not roots & PURE_NEVER, module
        assert "station.resources" not in GRAPH[module], module


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
        "pymodbus": {"drivers.kinds.modbus"}, "curses": {"station.bench.terminal"},
        "rich": {"station.cli.sheet_text", "station.cli.paper"}, "jinja2": {"station.audit.page"},
    }  # fmt: skip
    for library, allowed in owners.items():
        users = {
            module for module, known in GRAPH.items()
            if library in {name.partition(".")[0] for name in known}
        }  # fmt: skip
        assert users == allowed, library


def test_every_decider_stands_in_a_phase() -> None:
    homes = {module.__name__ for module in PHASES}
    assert {decider.__module__ for decider in DECIDERS.values()} == homes


@pytest.mark.parametrize("name", sorted(METHODS))
def test_every_method_is_built_and_explained(name: str) -> None:
    assert METHODS[name].command in DECIDERS
    assert METHODS[name].example.startswith("station ")
    assert METHODS[name].help.endswith(".")


def test_what_the_readme_calls_a_verb_is_one() -> None:
    text = (ROOT / "README.md").read_text(encoding="utf-8")
    named = set(re.findall(r"(?:`|^    )station ([a-z][a-z-]*)", text, re.MULTILINE))
    assert {"open", "way-back", "ledger", "doctor"} <= named
    assert named <= {*_OWN, *METHODS, *READING_METHODS} - _INSIDE


def test_every_reason_and_word_is_documented() -> None:
    documents = "".join(
        (ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")
    )
    for reason in REASONS:
        assert f"`{reason}`" in documents, reason
    for word in get_args(Word):
        assert word in documents, word


def test_what_the_tests_compare_with_stays_out_of_the_runtime() -> None:
    roots = {m: {name.partition(".")[0] for name in known} for m, known in GRAPH.items()}
    assert not {m for m, known in roots.items() if known & {"numpy", "scipy", "pandas"}}
