"""The hooks a plugin may implement, typed: what each gets, returns and may do."""

from collections.abc import Iterable

import pluggy

from plugins.api import Importer, Renderer

hookspec = pluggy.HookspecMarker("mixledger")


@hookspec
def mixledger_importers() -> Iterable[Importer]:
    """Give the importers of this plugin.

    Called without arguments, once, when a run starts to read; the plugin was named by an entry point of the group
    `mixledger.importers` or lies in the workspace's `importers/NAME/importer.py`.

    Returns
    -------
    Iterable[Importer]
        Importers with names no other plugin uses. They are asked for every new export, so `claims` must be cheap.

    Notes
    -----
    An error is reported with the plugin's name and the line it was raised on; the run goes on without the plugin.

    Examples
    --------
    >>> from mixledger.plugin import hookimpl
    >>> @hookimpl
    ... def mixledger_importers():
    ...     return [OurPress()]
    """
    raise NotImplementedError


@hookspec
def mixledger_renderers() -> Iterable[Renderer]:
    """Give the renderers of this plugin.

    Called without arguments, once, and only when something is to be rendered; the plugin was named by an entry point
    of the group `mixledger.renderers`.

    Returns
    -------
    Iterable[Renderer]
        Renderers with names no other plugin uses.

    Notes
    -----
    An error is reported with the plugin's name and the line it was raised on; the other pages are rendered.
    """
    raise NotImplementedError
