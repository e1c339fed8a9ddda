"""Change the code in one place at a time and see whether a test fails:
`python tests/mutation/run.py [FILE ...] [--sample N] [--seed S] [--listed]`.

A mutant that no test kills must stand in `survivors.toml` with its reason: it is no other program
(equivalent), or only a message has other words. A survivor that is not listed fails the run, and so
does a listed one that is killed or is no mutant of the file any more. Nothing is written to the
source: a fork of this process loads the changed module in place of the file's. Tests that start
another process see the file as it is, and kill nothing.
"""

import argparse
import gc
import importlib
import os
import random
import signal
import sys
import tempfile
import time
import tomllib
from contextlib import suppress
from importlib.abc import MetaPathFinder
from importlib.machinery import ModuleSpec, SourceFileLoader
from importlib.util import spec_from_file_location
from pathlib import Path
from types import CodeType
from typing import Any

import hypothesis
import pytest
from mutants import Mutant, Name, mutants

HERE = Path(__file__).parent
ROOT = HERE.parents[1]
PASSED, NOT_LOADED = 0, 99
BROKEN = (3, 5)
"""pytest's own faults: an internal error, no test collected."""
OPTIONS = (
    *("-x", "-q", "-p", "no:cacheprovider", "--hypothesis-profile=mutation"),
    *("-W", "ignore::pytest.PytestAssertRewriteWarning"),  # plugins are loaded before the fork
)
LEAST = 0.95
"""The share of all mutants that must be killed, however good the reasons."""
OUR_OWN = ("station", "drivers", "tests")


class Changed(MetaPathFinder, SourceFileLoader):
    """Loads one module from a changed source."""

    def __init__(self, file: str, source: str) -> None:
        module = file.removesuffix(".py").replace("/", ".")
        SourceFileLoader.__init__(self, module, str(ROOT / file))
        self.source, self.loaded = source, False

    def find_spec(self, fullname: str, path: Any = None, target: Any = None) -> ModuleSpec | None:
        if fullname != self.name:
            return None
        return spec_from_file_location(fullname, self.path, loader=self)

    def get_code(self, fullname: str) -> CodeType:
        self.loaded = True
        code: CodeType = self.source_to_code(self.source.encode(), self.path)
        return code


class Runner:
    """The tests of one file, run on its mutants."""

    def __init__(self, file: str, tests: list[str]) -> None:
        self.file, self.tests, self.limit_s = file, tests, 300.0

    def begin(self) -> None:
        """See that the tests pass as things are, and load what they load and others wrote, so that
        each fork has it already."""
        source = (ROOT / self.file).read_text(encoding="utf-8")
        began = time.monotonic()
        with tempfile.NamedTemporaryFile("r", encoding="utf-8") as modules:
            if (code := self._run(source, modules.name)) != PASSED:
                sys.exit(f"{self.file}: its tests fail without any change (pytest says {code})")
            for name in modules.read().splitlines():
                if name.partition(".")[0] not in OUR_OWN:
                    with suppress(ImportError):
                        importlib.import_module(name)
        gc.freeze()  # no fork looks at it again
        self.limit_s = 20 + 5 * (time.monotonic() - began)

    def kills(self, mutant: Mutant) -> bool:
        code = self._run(mutant.source)
        if code in BROKEN:
            sys.exit(f"{mutant.name}: pytest failed ({code})")
        return code != PASSED

    def _run(self, source: str, modules: str | None = None) -> int:
        """The exit code of pytest in a fork; a negative one is a signal, for one that hangs too."""
        child = os.fork()
        if child == 0:
            self._test(source, modules)
        until = time.monotonic() + self.limit_s
        while time.monotonic() < until:
            done, status = os.waitpid(child, os.WNOHANG)
            if done:
                code = os.waitstatus_to_exitcode(status)
                if code == NOT_LOADED:
                    sys.exit(f"{self.file}: none of its tests loads it")
                return code
            time.sleep(0.01)
        os.killpg(child, signal.SIGKILL)
        os.waitpid(child, 0)
        return -signal.SIGKILL

    def _test(self, source: str, modules: str | None) -> None:
        os.setsid()
        nowhere = os.open(os.devnull, os.O_RDWR)
        for stream in (0, 1, 2):
            os.dup2(nowhere, stream)
        changed = Changed(self.file, source)
        sys.meta_path.insert(0, changed)
        code = int(pytest.main([*OPTIONS, *self.tests]))
        if modules:
            Path(modules).write_text("\n".join(sorted(sys.modules)), encoding="utf-8")
        os._exit(NOT_LOADED if code == PASSED and not changed.loaded else code)


def stanza(name: Name) -> str:
    """What to paste into `survivors.toml` once there is a reason."""
    fields = {"file": name.file, "where": name.where, "line": name.line, "mutant": name.mutant}
    return "\n".join(["[[survivor]]", *(f"{key} = '''{text}'''" for key, text in fields.items())])


def listed() -> dict[Name, str]:
    survivors = tomllib.loads((HERE / "survivors.toml").read_text(encoding="utf-8"))
    found = {}
    for row in survivors.get("survivor", []):
        why = row.pop("why", "").strip()
        name = Name(**row)
        if not why or name in found:
            sys.exit(f"survivors.toml: without a reason, or twice: {name}")
        found[name] = why
    return found


def run_file(
    file: str, tests: list[str], chosen: list[Mutant], known: dict[Name, str]
) -> tuple[int, int]:
    """Run the chosen mutants of one file and print what is wrong; how many survived, and how many
    things are wrong."""
    runner = Runner(file, tests)
    runner.begin()
    survived: list[Name] = []
    wrong = 0
    for mutant in chosen:
        if runner.kills(mutant):
            continue
        survived.append(mutant.name)
        if mutant.name not in known:
            wrong += 1
            print(f"line {mutant.at} survives\n{stanza(mutant.name)}", flush=True)
    for name in {mutant.name for mutant in chosen if mutant.name in known}.difference(survived):
        wrong += 1
        print(f"killed now: take it off the list\n{stanza(name)}")
    print(f"{file}: {len(chosen) - len(survived)} of {len(chosen)} killed", flush=True)
    return len(survived), wrong


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", help="of those in targets.toml; all of them if none")
    parser.add_argument("--sample", type=int, help="only so many mutants, by lot")
    parser.add_argument("--seed", type=int, default=random.randrange(10_000), help="of that lot")
    parser.add_argument("--listed", action="store_true", help="only what survivors.toml lists")
    asked = parser.parse_args()

    os.chdir(ROOT)
    sys.dont_write_bytecode = False  # what does not change is compiled once
    sys.path.insert(0, str(ROOT))
    hypothesis.settings.register_profile(
        "mutation", derandomize=True, database=None, deadline=None,
        phases=[hypothesis.Phase.explicit, hypothesis.Phase.generate],
    )  # fmt: skip
    targets: dict[str, list[str]] = tomllib.loads((HERE / "targets.toml").read_text())
    known = listed()
    files = asked.files or list(targets)
    if unknown := set(files) - set(targets):
        parser.error(f"not in targets.toml: {', '.join(sorted(unknown))}")
    everything = [mutant for file in files for mutant in mutants(file, ROOT)]
    gone = {name for name in known if name.file in files} - {mutant.name for mutant in everything}
    for name in gone:
        print(f"no mutant any more: take it off the list\n{stanza(name)}")
    chosen = [m for m in everything if m.name in known or not asked.listed]
    if asked.sample is not None:
        print(f"seed {asked.seed}")
        chosen = random.Random(asked.seed).sample(chosen, min(asked.sample, len(chosen)))
    alive, wrong = 0, len(gone)
    for file in files:
        mine = sorted((m for m in chosen if m.name.file == file), key=lambda m: m.at)
        if mine:
            survived, more = run_file(file, targets[file], mine, known)
            alive, wrong = alive + survived, wrong + more
    killed = len(chosen) - alive
    print(f"{killed} of {len(chosen)} killed: {100 * killed / (len(chosen) or 1):.1f} %")
    if chosen == everything and killed < LEAST * len(chosen):
        wrong += 1
        print(f"that is under {LEAST:.0%}")
    sys.exit(bool(wrong))


if __name__ == "__main__":
    main()
