"""The surface a plugin's author sees: one list of names, documented, and nothing heavy to import."""

import inspect
import subprocess
import sys

import mixledger.plugin
import pytest

import plugins.api
from plugins import hookspecs


def test_the_public_name_offers_the_whole_surface() -> None:
    assert mixledger.plugin.__all__ == plugins.api.__all__
    for name in plugins.api.__all__:
        if name != "REFUSALS":  # a frame's schema, made anew each time
            assert getattr(mixledger.plugin, name) is getattr(plugins.api, name)
    with pytest.raises(AttributeError, match="has no attribute 'anything'"):
        _ = mixledger.plugin.anything


def test_every_class_function_method_and_hook_is_documented() -> None:
    for name in plugins.api.__all__:
        one = getattr(plugins.api, name)
        if not inspect.isclass(one) and not inspect.isfunction(one):
            continue
        assert inspect.getdoc(one), name
        for member, value in vars(one).items() if inspect.isclass(one) else ():
            if not member.startswith("_") and inspect.isfunction(value):
                assert inspect.getdoc(value), f"{name}.{member}"
    for hook in (hookspecs.mixledger_importers, hookspecs.mixledger_renderers):
        assert "Returns" in (hook.__doc__ or "") and "Called" in (hook.__doc__ or "")


def test_importing_it_loads_nothing_heavy() -> None:
    code = (
        "import sys, mixledger.plugin;"
        "heavy = {'polars', 'pandera', 'duckdb', 'pytest', 'great_tables'} & set(sys.modules);"
        "sys.exit(repr(heavy) if heavy else 0)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stderr
