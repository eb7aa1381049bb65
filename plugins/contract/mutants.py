"""One wrong importer, and one wrong renderer, per rule: each shows that its rule can fail."""

import socket
import time
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace
from itertools import count
from types import SimpleNamespace
from typing import Any

import polars as pl

from plugins.api import Artefact, Export, Importer, Reading, Refusing, Scope, no_refusals, refusals
from plugins.contract.model import Subject
from plugins.contract.renderer_rules import RendererSubject
from plugins.skeleton.importer import Reader


class Changed(Reader):
    """The honest importer with its rows changed on the way out."""

    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        """Return other rows."""
        return frame

    def read(self, exports: Sequence[Export]) -> Reading:
        """Read honestly, then change the rows."""
        reading = super().read(exports)
        frames = {record: self.change(frame, exports) for record, frame in reading.frames.items()}
        return Reading(frames, reading.refused)


class Unversioned(Reader):
    version = ""


class Blind(Reader):
    def claims(self, export: Export) -> str | None:
        return None


class Greedy(Reader):
    def claims(self, export: Export) -> str | None:
        return "it is a file"


class Boastful(Reader):
    gives = ("weighing", "core")  # type: ignore[assignment]


class Inaccurate(Changed):
    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        return frame.with_columns(pl.col("mass_g") + 0.1)


class Moody(Changed):
    _calls = count()

    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        return frame.with_columns(pl.col("mass_g") + next(self._calls))


class Crowded(Changed):
    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        return frame.with_columns(pl.col("mass_g") + len(exports) - 1)


class Shapeless(Changed):
    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        return frame.with_columns(colour=pl.lit("blue"))


class Kilograms(Changed):
    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        return frame.with_columns(pl.col("mass_g") * 1000)


class OffByOne(Changed):
    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        return frame.with_columns(pl.col("source_line") + 1)


class Stammering(Changed):
    def change(self, frame: pl.DataFrame, exports: Sequence[Export]) -> pl.DataFrame:
        return pl.concat([frame, frame])


class Scribbling(Reader):
    def read(self, exports: Sequence[Export]) -> Reading:
        with exports[0].path.open("ab") as out:
            out.write(b"read")
        return super().read(exports)


class Chatty(Reader):
    def read(self, exports: Sequence[Export]) -> Reading:
        socket.create_connection(("127.0.0.1", 9), timeout=0.1)
        return super().read(exports)


class Sleepy(Reader):
    def read(self, exports: Sequence[Export]) -> Reading:
        time.sleep(1.0)
        return super().read(exports)


class Careless(Reader):
    """Reads line by line what looks like a row, in any file, and says nothing of what it leaves out."""

    encoding = "latin-1"

    def place(self, names: list[str]) -> list[int]:
        """Return where sample, specimen, role and mass stand."""
        return [names.index(name) for name in ("sample", "specimen", "role", "mass g")]

    def read(self, exports: Sequence[Export]) -> Reading:
        """Read without looking at the closing line."""
        rows = [row for export in exports for row in self.rows(export)]
        schema: dict[str, Any] = {
            "export_hash": pl.String, "source_line": pl.Int64, "sample_id": pl.String, "specimen_no": pl.String,
            "role": pl.String, "mass_g": pl.Float64, "method": pl.String,
        }  # fmt: skip
        return Reading({"weighing": pl.DataFrame(rows, schema=schema, orient="row")}, no_refusals())

    def rows(self, export: Export) -> Iterable[tuple[object, ...]]:
        """Yield the rows of one export."""
        lines = export.path.read_bytes().decode(self.encoding).split("\n")
        heading = next((number for number, line in enumerate(lines) if "sample;" in line or ";sample" in line), None)
        if heading is None:
            return
        names = [name.strip() for name in lines[heading].split(";")]
        for number, line in enumerate(lines[heading + 1 :], start=heading + 2):
            cells = line.split(";")
            try:
                sample, specimen, role, mass = (cells[place] for place in self.place(names))
                yield export.hash, number, sample, specimen, role, float(mass), "t166"
            except (IndexError, ValueError):
                continue


class Bottomless(Careless):
    def rows(self, export: Export) -> Iterable[tuple[object, ...]]:
        """Read the start of whatever it is handed, however long that is."""
        with export.path.open("rb") as content:
            return super().rows(replace(export, path=self.start(content.read(1 << 20), export)))

    def start(self, content: bytes, export: Export) -> Any:
        """Return something whose bytes are the start of the export."""
        return SimpleNamespace(read_bytes=lambda: content)


class AsciiOnly(Careless):
    encoding = "ascii"


class ByPosition(Careless):
    def place(self, names: list[str]) -> list[int]:
        return [0, 1, 2, 3]


class LastColumn(Careless):
    def place(self, names: list[str]) -> list[int]:
        return [0, 1, 2, len(names) - 1]


class Mute(Reader):
    def read(self, exports: Sequence[Export]) -> Reading:
        reading = super().read(exports)
        rows = [Refusing("truncated", " ").row(each) for each in reading.refused["export_hash"].unique()]
        return Reading(reading.frames, refusals(rows))


Mutation = Callable[[Subject], Subject]


def _with(importer: Importer) -> Mutation:
    return lambda subject: replace(subject, importer=importer, _read={})


#: Rule -> how the honest subject becomes one that breaks it.
MUTANTS: dict[str, Mutation] = {
    "says_what_it_is": _with(Unversioned()),
    "says_what_it_leaves": lambda subject: replace(subject, note=None),
    "claims_its_examples": _with(Blind()),
    "claims_no_stranger": _with(Greedy()),
    "claims_no_noise": _with(Greedy()),
    "shows_every_record": _with(Boastful()),
    "equals_the_expected": _with(Inaccurate()),
    "same_twice": _with(Moody()),
    "same_in_a_batch": _with(Crowded()),
    "keeps_the_shape": _with(Shapeless()),
    "keeps_the_schema": _with(Kilograms()),
    "names_the_line": _with(OffByOne()),
    "no_row_twice": _with(Stammering()),
    "leaves_the_export": _with(Scribbling()),
    "is_pure": _with(Chatty()),
    "answers_in_time": _with(Sleepy()),
    "survives_truncation": _with(Careless()),
    "survives_emptiness": _with(Careless()),
    "survives_line_ends": _with(Careless()),
    "survives_marks": _with(AsciiOnly()),
    "survives_encodings": _with(Careless()),
    "survives_moving": _with(ByPosition()),
    "survives_surplus": _with(LastColumn()),
    "survives_hostile_bytes": _with(AsciiOnly()),
    "survives_noise": _with(Bottomless()),
    "speaks_clearly": _with(Mute()),
}

#: Rules whose mutant hangs; they are tried with a limit of this many seconds.
IMPATIENT = {"answers_in_time": 0.4, "draws_in_time": 0.4}


class Page:
    """An honest renderer: one page that lists samples."""

    name = "page"

    def render(self, tables: Mapping[str, pl.DataFrame], scope: Scope) -> Iterable[Artefact]:
        """Draw one page."""
        from html import escape

        samples = tables["samples"]["sample_id"].to_list() if "samples" in tables else []
        yield self.page("".join(f"<li>{escape(str(each))}" for each in samples))

    def page(self, body: str) -> Artefact:
        """Return the page with a body."""
        return Artefact("page/samples.html", f"<ul>{body}</ul>".encode(), "text/html")


class Nameless(Page):
    name = "../Page"


class Demanding(Page):
    def render(self, tables: Mapping[str, pl.DataFrame], scope: Scope) -> Iterable[Artefact]:
        return [self.page(str(tables["samples"]["sample_id"][0]))]


class Idle(Page):
    def render(self, tables: Mapping[str, pl.DataFrame], scope: Scope) -> Iterable[Artefact]:
        return []


class Dated(Page):
    def page(self, body: str) -> Artefact:
        return super().page(f"{time.perf_counter_ns()}")


class Wandering(Page):
    def page(self, body: str) -> Artefact:
        return replace(super().page(body), path="summary.html")


class Trusting(Page):
    def render(self, tables: Mapping[str, pl.DataFrame], scope: Scope) -> Iterable[Artefact]:
        return [self.page("".join(tables["samples"]["sample_id"]))] if "samples" in tables else []


class Fetching(Page):
    def page(self, body: str) -> Artefact:
        return super().page('<img src="https://example.invalid/x.png">')


class Calling(Page):
    def page(self, body: str) -> Artefact:
        socket.create_connection(("127.0.0.1", 9), timeout=0.1)
        return super().page(body)


class Slow(Page):
    def page(self, body: str) -> Artefact:
        time.sleep(1.0)
        return super().page(body)


#: Rule of a renderer -> one that breaks it.
RENDERER_MUTANTS: dict[str, RendererSubject] = {
    "says_its_name": RendererSubject(Nameless()),
    "draws_emptiness": RendererSubject(Demanding()),
    "draws_something": RendererSubject(Idle()),
    "draws_the_same_twice": RendererSubject(Dated()),
    "stays_in_its_folder": RendererSubject(Wandering()),
    "escapes_labels": RendererSubject(Trusting()),
    "needs_no_network": RendererSubject(Fetching()),
    "draws_purely": RendererSubject(Calling()),
    "draws_in_time": RendererSubject(Slow(), limit=IMPATIENT["draws_in_time"]),
}
