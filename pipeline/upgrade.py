"""Brings the store of a workspace to the installed version: on demand, all or nothing, then published."""

from pipeline import settings
from pipeline.workspace import Workspace


def owed(workspace: Workspace, wait_seconds: float = 0) -> list[str]:
    """Say what an upgrade would do, one sentence each; nothing where the store is up to date or empty.

    Raises
    ------
    StoreVersionError
        When a newer mixledger wrote the store.
    """
    from warehouse import migrations
    from warehouse.lock import writer
    from warehouse.store import Store
    from warehouse.working import WORKING_NAME

    if not (workspace.store / WORKING_NAME).is_file():
        return []
    with writer(workspace.store, wait_seconds), Store(workspace.store, workspace.series) as opened:
        return migrations.owed(opened.connection)


def upgrade(workspace: Workspace, wait_seconds: float = 0) -> list[str]:
    """Upgrade the store and publish it; say what was done, nothing where nothing was owed.

    Raises
    ------
    StoreVersionError
        When a newer mixledger wrote the store, or no migration leads to this version; it is left as it was.
    StoreBusyError
        When another process is writing to this workspace, and still is after `wait_seconds`.
    """
    from pipeline.update import describe_catalogue
    from warehouse.lock import writer
    from warehouse.publish import publish
    from warehouse.store import open_store, upgrade_store
    from warehouse.working import WORKING_NAME

    if not (workspace.store / WORKING_NAME).is_file():
        return []
    with writer(workspace.store, wait_seconds):
        done = upgrade_store(workspace.store, workspace.series)
        if done:
            with open_store(workspace.store, workspace.series) as opened:
                describe_catalogue(opened, settings.load(workspace.root).results.limits)
                publish(opened)
    return done
