"""One place prints: everybody else hands it text, so that nothing that others wrote reaches a terminal as it is."""

import ast

import pytest

from tests.test_layers import MODULES, found_in_modules, tree_of

# Who may write to a stream beside `cli.lines`, each with its reason.
MAY_WRITE = {
    "tocsin.cli.lines": "the one place",
    "tocsin.cli.streams": "what takes the place of a pipe that nobody reads, bytes as they were printed",
    "tocsin.cli.parser": "argparse's own help, which is ours alone",
    "tocsin.runner.terminal.screen": "the live picture: each of its texts goes through `readable_line`",
    "tocsin.runner.terminal.front_end": "hands the stream to the live picture",
    "tocsin.pipe": "messages for another process of ours",
    "tocsin.spawn": "flushes it before libraries are given a stream of their own",
    "tocsin.workers.priority": "a fixed line from a signal's handler, where no more is allowed",
    "tocsin.workers.main": "a line on how it is called, for those who try a worker by hand",
    "tocsin.service.main": "a fault of its own on stderr, which the conductor keeps",
    "tocsin.features.measure.helper_main": "a line on how it is called",
    "tocsin.features.devices.probe": "a line on how it is called, and JSON for the process that called it",
    "tocsin.features.measure.lateness.baselines": "JSON for the process that called it",
    "tocsin.features.measure.delays.microphone": "bytes for the process that called it",
}


def printing(tree: ast.AST) -> set[str]:
    """Return what of a module's code writes to a terminal, or takes hold of one: print, input, streams, consoles."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Name):
            found |= {node.id} & {"print", "input", "Console", "Live"}
        elif isinstance(node, ast.Attribute):
            name = f"{node.value.id}.{node.attr}" if isinstance(node.value, ast.Name) else ""
            if name in ("sys.stdout", "sys.stderr", "sys.__stdout__", "sys.__stderr__", "os.write"):
                found.add(name)
            if node.attr in ("print_exc", "print_exception", "Console", "basicConfig"):
                found.add(node.attr)
    return found


def test_nobody_else_prints():
    def look(module):
        # A command may say on which stream a line goes, and ask how wide it is.
        named = {"sys.stdout", "sys.stderr"} if module.startswith("tocsin.cli.") else set()
        return printing(tree_of(module)) - named

    assert found_in_modules(look, set(MODULES) - set(MAY_WRITE)) == {}


def test_no_command_writes_to_a_stream_by_itself():
    def look(module):
        calls = [ast.unparse(node.func) for node in ast.walk(tree_of(module)) if isinstance(node, ast.Call)]
        return [call for call in calls if call.startswith("sys.std") and ".write" in call]

    commands = [name for name in MODULES if name.startswith("tocsin.cli.") and name != "tocsin.cli.lines"]
    assert len(commands) > 10
    assert found_in_modules(look, commands) == {}


@pytest.mark.parametrize(
    "text", ["print(1)", "input()", "sys.stdout.write('')", "rich.Console()", "Console()", "os.write(1, b'')"]
)
def test_a_print_would_be_found(text):
    assert printing(ast.parse(text))
