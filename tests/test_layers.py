"""The source holds to its layers: who may import whom, who may read a clock, what may be missing.
"""

import ast
import subprocess
import sys
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest
from importlinter.cli import lint_imports

import tocsin
from tests.support.house import MOST_MODULES, modules, rooms

SOURCE = Path(tocsin.__file__).parent
PROJECT = Path(__file__).resolve().parents[1]
NOT_IN_THE_MODEL = {
    "time", "datetime", "os", "pathlib", "subprocess", "threading", "logging", "pygame", "serial", "tocsin.monotime",
    "tocsin.files",
}  # fmt: skip
CLOCK_MODULES = {"time", "sched", "asyncio"}
CLOCK_READERS = {"now", "utcnow", "today"}          # of datetime and date
# Modules beside monotime that may import `time` or read a date, each with its reason.
MAY_READ_CLOCKS: dict[str, str] = {
    "tocsin.features.measure.lateness.baselines": "times the standard library's sched, by monotime's own clock",
}
# Modules that may import some of ours within a function, each with its reason; types and layers are checked as ever.
MAY_IMPORT_LATE: dict[str, str] = {
    "tocsin.features.follow.run": "most laptops have no library for a broker",
    "tocsin.service.main": "most laptops have no library for a broker",
    "tocsin.__main__": "Ctrl-C is quiet from here on, also while the command line is loaded",
    "tocsin.cli.main": "most commands play nothing, and need nothing that plays",
    "tocsin.cli.commands.by_people.delays": "numpy takes a while, and help has no use for it",
    "tocsin.cli.commands.by_people.start": "numpy takes a while, and help has no use for it",
    "tocsin.cli.commands.devices": "only who asks a strip's controller needs a library for ports",
    "tocsin.cli.commands.react": "statistics and drawing take a while, and help has no use for them",
    "tocsin.features.review.closing": "numpy takes a while, and the start of a drill does not wait for it",
    "tocsin.runner.boards.standing": "an evening without phones needs no page and no service",
    "tocsin.runner.run": "who lets no phones in needs no page, no document and no service",
    "tocsin.workers.main": "a worker loads its own channel only: no library of another device",
}
LOADERS = {"importlib.import_module", "import_module", "__import__", "sys.modules.get"}
# Modules that find one of ours by a name put together at run time, which no type checker sees, each with the test that
# goes through all names.
MAY_LOAD_BY_NAME: dict[str, str] = {
    "tocsin.cli.main": "tests/cli/test_main.py::test_each_command_shows_examples_that_begin_with_it",
    "tocsin.cli.commands.measure": "tests/cli/commands/test_measure.py::test_each_way_has_a_help_of_its_own",
}
MOST_LINES = 400


def name_of(path: Path) -> str:
    parts = path.relative_to(SOURCE.parent).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


MODULES = {name_of(path): path for path in sorted(SOURCE.rglob("*.py"))}


def package_of(module: str) -> str:
    """Return the part of a module's name that has a rank."""
    first, *rest = module.split(".")
    return rest[0] if rest else first


@cache
def tree_of(module: str) -> ast.Module:
    return ast.parse(MODULES[module].read_text(encoding="utf-8"))


def imports_in(node: ast.AST) -> Iterator[str]:
    """Yield the full names that are imported anywhere below a node."""
    for found in ast.walk(node):
        if isinstance(found, ast.Import):
            yield from (alias.name for alias in found.names)
        elif isinstance(found, ast.ImportFrom):
            assert found.level == 0, "imports are written in full"
            for alias in found.names:
                full = f"{found.module}.{alias.name}"
                yield full if full in MODULES else str(found.module)


@cache
def imports_of(module: str) -> frozenset[str]:
    return frozenset(imports_in(tree_of(module)))


def found_in_modules(look, modules=MODULES):
    """Return what a look at each module finds, by module; nothing is left out of where something is found."""
    return {module: found for module in modules if (found := look(module))}


def test_layers_are_kept_and_nothing_goes_in_circles(capsys):
    """The rules are the contracts in `pyproject.toml`; imports for types count."""
    config = str(PROJECT / "pyproject.toml")
    assert lint_imports(config_filename=config, no_cache=True) == 0, capsys.readouterr().out


def test_the_model_is_pure():
    def look(module):
        names = set(imports_of(module))
        names |= {name.split(".")[0] for name in names}
        calls = [node.func for node in ast.walk(tree_of(module)) if isinstance(node, ast.Call)]
        called = {call.id for call in calls if isinstance(call, ast.Name)}
        return names & NOT_IN_THE_MODEL | called & {"open", "print", "input"}

    model = [name for name in MODULES if package_of(name) == "model"]
    assert len(model) > 10
    assert found_in_modules(look, model) == {}


def clock_readings(tree: ast.AST) -> list[str]:
    """Return what of a module's code reads a clock or sleeps."""
    found = [name for name in imports_in(tree) if name.split(".")[0] in CLOCK_MODULES]
    for node in ast.walk(tree):
        if isinstance(node, ast.Attribute) and node.attr in CLOCK_READERS:
            found += [part for part in ("datetime", "date") if part in ast.unparse(node.value).split(".")]
    return found


def test_only_monotime_reads_clocks_and_sleeps():
    others = set(MODULES) - {"tocsin.monotime", *MAY_READ_CLOCKS}
    assert found_in_modules(lambda module: clock_readings(tree_of(module)), others) == {}


@pytest.mark.parametrize(
    "text",
    ["import time", "from time import sleep", "import asyncio", "datetime.now(UTC)", "datetime.datetime.utcnow()",
     "date.today()"],
)  # fmt: skip
def test_a_clock_reading_would_be_found(text):
    assert clock_readings(ast.parse(text))


@cache
def functions_of(module: str) -> list[ast.FunctionDef | ast.AsyncFunctionDef]:
    return [node for node in ast.walk(tree_of(module)) if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef)]


def test_imports_of_our_own_stand_in_functions_only_where_loading_must_wait():
    def look(module):
        return {name for f in functions_of(module) for name in imports_in(f) if name.startswith("tocsin")}

    assert found_in_modules(look).keys() == MAY_IMPORT_LATE.keys()


def loads_by_name(tree: ast.AST) -> list[str]:
    """Return what of a module's code finds modules by a name that is no import: a type checker sees none of that."""
    calls = [node for node in ast.walk(tree) if isinstance(node, ast.Call)]
    return [ast.unparse(call) for call in calls if ast.unparse(call.func) in LOADERS]


def test_no_module_of_ours_is_loaded_by_a_name_that_a_renaming_would_miss():
    found = found_in_modules(lambda module: loads_by_name(tree_of(module)))
    assert {module: len(calls) for module, calls in found.items()} == dict.fromkeys(MAY_LOAD_BY_NAME, 1)
    for test in MAY_LOAD_BY_NAME.values():
        file, _, name = test.partition("::")
        assert f"def {name}(" in (PROJECT / file).read_text("utf-8")


@pytest.mark.parametrize(
    "text",
    ["importlib.import_module(f'tocsin.cli.{name}')", "import_module('x')", "sys.modules.get('tocsin.runner.ending')"],
)
def test_a_module_loaded_by_name_would_be_found(text):
    assert loads_by_name(ast.parse(text))


def test_modules_stay_short():
    lines = {module: len(path.read_text(encoding="utf-8").splitlines()) for module, path in MODULES.items()}
    assert {module: count for module, count in lines.items() if count >= MOST_LINES} == {}


def test_no_room_is_too_full_to_find_a_module_by_its_name():
    full = {room.name: len(modules(room)) for room in rooms() if len(modules(room)) > MOST_MODULES}
    assert full == {}


def test_functions_stay_short():
    def look(module):
        return [f.name for f in functions_of(module) if (f.end_lineno or f.lineno) - f.lineno >= 60]

    assert found_in_modules(look) == {}


def run_child(script: str) -> None:
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, timeout=100, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.devices
def test_the_conductor_and_the_command_line_of_a_run_load_no_device_and_nothing_heavy_that_they_do_not_use():
    """rich is for a terminal without a window, numpy for words that are made while standby waits for nothing."""
    run_child(
        "import sys, tocsin.runner.conductor, tocsin.runner.run, tocsin.cli.main, tocsin.cli.commands.run\n"
        "found = {'pygame', 'serial', 'numpy', 'scipy', 'matplotlib', 'rich', 'wakepy'} & set(sys.modules)\n"
        "sys.exit(f'imported: {found}' if found else 0)"
    )


@pytest.mark.devices
def test_what_needs_no_device_works_without_the_device_libraries():
    packages = ("model", "config", "journal", "export", "lint", "cli")
    modules = [name for name in MODULES if package_of(name) in packages]
    run_child(
        "import importlib, sys\n"
        "sys.modules['pygame'] = sys.modules['serial'] = None        # an import of either fails\n"
        f"for name in {modules!r}: importlib.import_module(name)"
    )


@pytest.mark.devices
def test_the_light_worker_needs_no_pygame():
    run_child(
        "import sys\n"
        "sys.modules['pygame'] = None\n"
        "import tocsin.workers.main, tocsin.channels.light.channel"
    )


# What a worker has no use for: each of these takes a tenth of a second of its start, or megabytes as long as it lives.
HEAVY = {
    "numpy", "scipy", "matplotlib", "pkg_resources", "psutil", "pydantic", "rich", "statemachine", "asyncio", "logging",
}  # fmt: skip
HEAVY_FOR = {
    "rumble": HEAVY | {"serial"},
    "light": HEAVY | {"pygame"},
    "screen": HEAVY | {"serial"},
    "sound": HEAVY | {"serial"},
}


@pytest.mark.devices
@pytest.mark.parametrize("channel", HEAVY_FOR)
def test_a_worker_loads_nothing_heavy_that_it_does_not_use(channel):
    load_sdl = "" if channel == "light" else f"import_pygame({channel!r})"
    run_child(
        f"import sys, tocsin.worker, tocsin.channels.{channel}.channel\n"
        "from tocsin.channels.sdl import import_pygame\n"
        f"{load_sdl}\n"
        f"found = {HEAVY_FOR[channel]!r} & set(sys.modules)\n"
        "sys.exit(f'imported: {found}' if found else 0)"
    )
