"""The house as a picture, made from the source: its rooms, what they hold, and whom they import.

    python -m tests.support.house

puts it into DEVELOPERS.md. Steps are those of the layers in `pyproject.toml`, what a room holds is the first line of
its own docstring, and imports are read from every module, those for types included.
"""

import ast
import textwrap
import tomllib
from pathlib import Path

from tests.support import PROJECT

SOURCE = PROJECT / "src" / "tocsin"
PAGE = PROJECT / "DEVELOPERS.md"
BEGIN, END = "<!-- house: made by `python -m tests.support.house` -->\n```\n", "```\n<!-- /house -->"
MOST_MODULES = 18                      # in one room: more are not found by their names
WIDTH = 116


def rooms() -> list[Path]:
    """Return all folders of the source, from the top step to the ground, each before the rooms inside of it."""
    settings = tomllib.loads((PROJECT / "pyproject.toml").read_text("utf-8"))
    layers = next(one for one in settings["tool"]["importlinter"]["contracts"] if one["id"] == "layers")["layers"]
    steps = [name.strip() for layer in layers for name in layer.replace(":", "|").split("|")]
    found: list[Path] = []
    for name in steps:
        folder = SOURCE / name
        found += sorted(path.parent for path in folder.rglob("__init__.py"))
    return found


def modules(room: Path) -> list[Path]:
    """Return the modules of a room, without those of the rooms inside of it."""
    return sorted(path for path in room.glob("*.py") if path.name != "__init__.py")


def imports(room: Path) -> list[str]:
    """Return the rooms and single modules of the first step that a room, with all inside of it, imports."""
    own = room.relative_to(SOURCE).parts[0]
    found = set()
    for path in room.rglob("*.py"):
        for node in ast.walk(ast.parse(path.read_text("utf-8"))):
            if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] == "tocsin":
                names = [node.module] if node.module != "tocsin" else [f"tocsin.{alias.name}" for alias in node.names]
                found |= {str(name).split(".")[1] for name in names}
    return sorted(name for name in found - {own} if (SOURCE / name).is_dir())


def picture() -> str:
    """Return the house, a line a room."""
    lines = []
    for room in rooms():
        parts = room.relative_to(SOURCE).parts
        text = (ast.get_docstring(ast.parse((room / "__init__.py").read_text("utf-8"))) or "").split("\n")[0]
        count = len(modules(room))
        line = f"{'  ' * (len(parts) - 1)}{parts[-1]:<{16 - 2 * (len(parts) - 1)}}{count or '':>3}  {text}"
        lines.append(line)
        if len(parts) == 1 and (known := imports(room)):
            told = f"imports {', '.join(known)}"
            lines += textwrap.wrap(told, WIDTH, initial_indent=" " * 21, subsequent_indent=" " * 21)
    ground = [path.stem for path in modules(SOURCE) if path.stem not in ("__main__", "worker", "probe", "companion")]
    lines.append(f"{'(ground)':<16}{len(ground):>3}  {', '.join(ground)}")
    assert max(map(len, lines)) <= WIDTH, max(lines, key=len)
    return "\n".join(lines) + "\n"


def written(page: str) -> str:
    """Return the page with the picture as it is now."""
    head, rest = page.split(BEGIN)
    return head + BEGIN + picture() + END + rest.split(END, 1)[1]


if __name__ == "__main__":
    PAGE.write_text(written(PAGE.read_text("utf-8")), "utf-8")
