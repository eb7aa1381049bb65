"""The hooks a plugin may implement, typed: what each gets, returns and may do."""

from collections.abc import Iterable

import pluggy

from plugins.api import Importer, Renderer

hookspec = pluggy.HookspecMarker("mixledger")


@hookspec
def mixledger_importers() -> Iterable[Importer]:
    """Give the importers of this plugin.

    Returns
    -------
    Iterable[Importer]
        Importers with names no other plugin uses. They are asked for every new export, so `claims` must be cheap.

    Notes
    -----
    Called once when the plugins are loaded. An error is reported with the plugin's name; the run goes on without it.
    """
    raise NotImplementedError


@hookspec
def mixledger_renderers() -> Iterable[Renderer]:
    """Give the renderers of this plugin.

    Returns
    -------
    Iterable[Renderer]
        Renderers with names no other plugin uses.

    Notes
    -----
    Called only when something is to be rendered. An error is reported with the plugin's name.
    """
    raise NotImplementedError
