"""Make the document of what is played, as programs know it from the export."""

import msgspec

from tocsin import __version__
from tocsin.config.files import FileText
from tocsin.export.json_document import document
from tocsin.export.source import Source
from tocsin.readable import utf8_json
from tocsin.runner.stage import Piece


def document_of(piece: Piece) -> msgspec.Raw:
    """Return the export's JSON of the plan that a piece plays, as it varies it."""
    place = next((no for no, one in enumerate(piece.files.plans) if one.plan == piece.plan), 0)
    found = piece.files.plans[place]
    game, plan = _checksums(piece.files.files, place)
    source = Source(
        game=found.game, plan=found.plan, timeline=piece.timeline, game_sha256=game, plan_sha256=plan,
        version=__version__,
    )  # fmt: skip
    return msgspec.Raw(utf8_json(document(source)))


def _checksums(files: tuple[FileText, ...], place: int) -> tuple[str, str]:
    """Return the checksums of a plan's game and of the plan, which comes right behind it."""
    game, found = "", []
    for file in files:
        game = file.sha256 if file.kind == "game" else game
        if file.kind == "plan":
            found.append((game, file.sha256))
    return found[min(place, len(found) - 1)]
