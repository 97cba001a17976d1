"""Copies of bundled files in which some words are others."""

import re
from pathlib import Path

from tocsin.config import bundle


def copied(to: Path, bundled: str, *changes: tuple[str, str]) -> Path:
    """Write a copy of a bundled file, such as ``plans/full.toml``, with each pattern replaced; return its path."""
    text = (bundle.root() / bundled).read_text(encoding="utf-8")
    for pattern, new in changes:
        text, count = re.subn(pattern, lambda _, new=new: new, text)
        assert count, f"{bundled} holds no {pattern}"
    to.write_text(text, encoding="utf-8")
    return to
