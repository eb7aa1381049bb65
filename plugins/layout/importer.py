"""A layout as an importer: the same protocol as one written in code."""

import hashlib
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from plugins.api import Export, Reading
from plugins.layout import load, model
from plugins.layout.recognise import claim
from plugins.layout.section import LayoutError

if TYPE_CHECKING:
    import polars as pl

    from plugins.layout.bound import BoundRecord


class LayoutImporter:
    """Importer made of a layout; polars and the schemas are loaded when it reads for the first time."""

    def __init__(self, layout: model.Layout, digest: str) -> None:
        self.layout = layout
        self._version = f"{layout.version}+{digest[:12]}"
        self._bound: Sequence[BoundRecord] | None = None

    @classmethod
    def load(cls, path: Path) -> "LayoutImporter":
        """Make an importer of a layout file.

        Raises
        ------
        plugins.layout.section.LayoutError
            When the layout has a fault; the message names its line.
        """
        content = path.read_bytes()
        return cls(load.parse(content, f"{path.parent.name}/{path.name}"), hashlib.sha256(content).hexdigest())

    @property
    def name(self) -> str:
        """Return the name of the layout."""
        return self.layout.name

    @property
    def version(self) -> str:
        """Return the layout's version and the start of the hash of its file."""
        return self._version

    @property
    def gives(self) -> tuple[str, ...]:
        """Return the records it gives."""
        return self.layout.gives

    def claims(self, export: Export) -> str | None:
        """Return why the export is of this kind, or None."""
        return claim(self.layout, export)

    def read(self, exports: Sequence[Export]) -> Reading:
        """Read a batch; `plugins.layout.parse.read` says how."""
        from plugins.layout import bound, parse

        if self._bound is None:
            try:
                self._bound = bound.bind(self.layout)
            except LayoutError:
                return parse.read(self.layout, exports)  # it refuses each export with the line of the layout
        return parse.read(self.layout, exports, self._bound)

    def seen(self, export: Export) -> "pl.DataFrame":
        """Return what stands at each place of one export and what it is read as, for people to compare."""
        from plugins.layout import parse

        return parse.seen(self.layout, export)
