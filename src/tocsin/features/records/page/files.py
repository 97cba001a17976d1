"""Find the files that a page's match was played with: a game and a plan by their checksums, never by their names."""

from collections.abc import Callable, Iterator
from pathlib import Path

from tocsin.config import bundle
from tocsin.config.files import FileText, file_text
from tocsin.config.load import Loaded, Named, load_texts
from tocsin.errors import JournalError, MistakeError, TocsinError, UsageError
from tocsin.features.records.page.record import HeaderLine, PageMatch, PageRecord, SourceLine
from tocsin.journal.reader import Journal, all_runs
from tocsin.readable import readable_line
from tocsin.translation import tr

_SHOWN = 12                            # digits of a checksum


class PlanSearch:
    """Finds what each match was played with: the ``given`` plan, else what its page was made from, else one of the
    ``usual`` plans, which are asked for only then, else what an earlier run was played with."""

    def __init__(
        self, record: PageRecord, given: Loaded | None, usual: Callable[[], Loaded | None], runs: Path
    ) -> None:
        self._record = record
        self._given = given
        self._usual = usual
        self._runs = runs
        self._known: dict[tuple[str, str], Loaded] = {}
        self.notes: list[str] = []

    def plan_of(self, match: PageMatch) -> Loaded:
        """Return the files of a match, with one plan. Raises UsageError if they are nowhere, MistakeError if they
        cannot be read."""
        header = match.header
        sums = (header.game_sha256, header.plan_sha256)
        if sums not in self._known:
            self._known[sums] = self._found(match)
        return self._known[sums]

    def _found(self, match: PageMatch) -> Loaded:
        header = match.header
        if self._given is not None and (fitting := _fitting(self._given, header)):
            return fitting
        found = self._carried(header) or self._usual_plan(header) or self._played_before(header)
        if found is None:
            raise UsageError(
                tr(
                    "match {number} was {made_with}{other}", number=match.number, made_with=_made_with(header),
                    other=self._other(),
                ),
                hint=self._hint(header),
            )
        if self._given is not None:
            was = tr(
                "match {number} was {made_with}{other}", number=match.number, made_with=_made_with(header),
                other=self._other(),
            )
            self.notes.append(tr("note: {was}: the one it was made with is used", was=was))
        return found

    def _usual_plan(self, header: HeaderLine) -> Loaded | None:
        usual = None if self._given is not None else self._usual()
        return None if usual is None else _fitting(usual, header)

    def _other(self) -> str:
        if self._given is None:
            return tr(", and its files are not in the record")
        plan = next(file for file in self._given.files if file.kind == "plan")
        return tr(
            ", and the given one is another ({readable_line}, sha256 {sha256})", readable_line=readable_line(plan.name),
            sha256=plan.sha256[:_SHOWN],
        )

    def _hint(self, header: HeaderLine) -> str:
        plan, game = header.plan_sha256[:_SHOWN], header.game_sha256[:_SHOWN]
        return tr(
            "name the file as it was when the page was exported, with --plan FILE (sha256 {plan}), its game with "
            "--game FILE (sha256 {game}), or with --runs a folder of runs that were played with it", plan=plan,
            game=game,
        )

    def _carried(self, header: HeaderLine) -> Loaded | None:
        for source in self._record.sources:
            if files := _texts(source, header):
                try:
                    return _fitting(load_texts(files), header)
                except MistakeError as error:
                    raise MistakeError(
                        tr("in the record: {error}", error=error), hint=error.hint,
                    ) from error
        return None

    def _played_before(self, header: HeaderLine) -> Loaded | None:
        for run in self._readable_runs():
            sums = {file.sha256 for file in run.header.files}
            if {header.game_sha256, header.plan_sha256} <= sums and all(file.intact() for file in run.header.files):
                try:
                    found = _fitting(load_texts(run.header.files), header)
                except TocsinError:                    # a drill's files, or those of another version
                    continue
                if found is not None:
                    return found
        return None

    def _readable_runs(self) -> Iterator[Journal]:
        try:
            yield from all_runs(self._runs, lambda _: None)
        except JournalError:
            return


def _made_with(header: HeaderLine) -> str:
    plan, game = readable_line(header.plan, 40), readable_line(header.game, 40)
    return tr(
        "made with the plan '{plan}' (sha256 {plan_sha256}) in '{game}'", plan=plan,
        plan_sha256=header.plan_sha256[:_SHOWN], game=game,
    )


def _fitting(loaded: Loaded, header: HeaderLine) -> Loaded | None:
    """Return the one plan of a match among those loaded, or None."""
    game, place = "", 0
    for file in loaded.files:
        if file.kind == "game":
            game = file.sha256
        elif file.kind == "plan":
            if (game, file.sha256) == (header.game_sha256, header.plan_sha256):
                sums = {game, file.sha256}
                files = tuple(one for one in loaded.files if one.kind not in ("game", "plan") or one.sha256 in sums)
                return Loaded((loaded.plans[place],), loaded.rig, files)
            place += 1
    return None


def _texts(source: SourceLine, header: HeaderLine) -> list[Named]:
    """Return the files of a match among those that its page was made from, with a rig of no device; none if one is
    missing or was changed."""
    files = [file_text(file.kind, file.name, file.text) for file in source.files]
    files = [file for file, told in zip(files, source.files, strict=True) if file.sha256 == told.sha256]
    game = next((file for file in files if (file.kind, file.sha256) == ("game", header.game_sha256)), None)
    plan = next((file for file in files if (file.kind, file.sha256) == ("plan", header.plan_sha256)), None)
    if game is None or plan is None:
        return []
    patterns = [file for file in files if file.kind == "patterns"]
    return [game, plan, _bundled("rigs", "nothing"), *(patterns or _bundled_patterns())]


def _bundled_patterns() -> list[FileText]:
    return [_bundled("patterns", name) for name in bundle.names("patterns")]


def _bundled(kind: bundle.Kind, name: str) -> FileText:
    path = bundle.root() / kind / f"{name}.toml"
    return file_text(kind.removesuffix("s"), f"{kind}/{path.name}", path.read_text(encoding="utf-8"))
