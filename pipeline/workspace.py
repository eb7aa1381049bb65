"""Paths of one installation: inbox, kept exports, working and published store, series and pages."""

from dataclasses import dataclass
from pathlib import Path

from pipeline import settings


class WorkspaceError(ValueError):
    """A folder that is not a workspace, or cannot become one."""


@dataclass(frozen=True)
class Workspace:
    """A folder with `mixledger.toml` and everything the pipeline keeps."""

    root: Path
    store_name: str = "store"
    series_name: str = "series"

    @property
    def inbox(self) -> Path:
        """Folder that exports are dropped into; its files are read, never changed."""
        return self.root / "inbox"

    @property
    def kept(self) -> Path:
        """Bytes of every export under their hash, and the journal of arrivals."""
        return self.root / "kept"

    @property
    def journal(self) -> Path:
        """One line per arrival; with the kept bytes it is enough to rebuild everything."""
        return self.kept / "journal.jsonl"

    @property
    def importers(self) -> Path:
        """Layouts of this workspace's own instruments."""
        return self.root / "importers"

    @property
    def store(self) -> Path:
        """Working store, its lock, and the published copies."""
        return self.root / self.store_name

    @property
    def series(self) -> Path:
        """Long raw series in Parquet."""
        return self.root / self.series_name

    @property
    def pages(self) -> Path:
        """Rendered pages."""
        return self.root / "pages"

    @property
    def reports(self) -> Path:
        """Issued reports as they left the laboratory, and what is handed out beside them."""
        return self.root / "reports"

    @property
    def summary_page(self) -> Path:
        """Cross-project summary."""
        return self.pages / "summary.html"

    def kept_file(self, export_hash: str) -> Path:
        """Return where the bytes of an export are kept."""
        return self.kept / export_hash[:2] / export_hash

    def folders(self) -> tuple[Path, ...]:
        """Return every folder of a workspace."""
        return (self.inbox, self.kept, self.importers, self.store, self.series, self.pages)


def create(root: Path) -> Workspace:
    """Make a folder into a workspace; what is already there stays.

    Raises
    ------
    WorkspaceError
        When the path is a file, or a folder that holds something else.
    """
    if root.exists() and not root.is_dir():
        raise WorkspaceError(f"{root} is a file; name a folder that may be made or is empty.")
    foreign = root.is_dir() and any(root.iterdir()) and not (root / settings.FILE_NAME).is_file()
    if foreign:
        raise WorkspaceError(f"{root} holds other files and no {settings.FILE_NAME}; name a new or empty folder.")
    workspace = Workspace(root.resolve())
    for folder in workspace.folders():
        folder.mkdir(parents=True, exist_ok=True)
    path = workspace.root / settings.FILE_NAME
    if not path.exists():
        path.write_bytes(settings.TEMPLATE.read_bytes())
    return workspace


def find(root: Path) -> Workspace:
    """Return the workspace at a folder.

    Raises
    ------
    WorkspaceError
        When the folder is not a workspace.
    """
    if not (root / settings.FILE_NAME).is_file():
        raise WorkspaceError(
            f"{root.resolve()} is not a workspace: it has no {settings.FILE_NAME}. "
            "Make one with `mixledger init DIR`, or name one with `mixledger -w DIR …`."
        )
    workspace = Workspace(root.resolve())
    for folder in workspace.folders():
        folder.mkdir(parents=True, exist_ok=True)
    return workspace
