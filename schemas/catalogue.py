"""Finds every model by walking records/ and results/; nothing is listed by hand."""

import re
from collections.abc import Iterator
from functools import cache
from importlib import import_module
from pkgutil import iter_modules
from types import ModuleType

import pandera.polars as pa

import schemas.records
import schemas.results
from schemas.keys import Ties

Model = type[pa.DataFrameModel]


def record_name(model: Model) -> str:
    """Return the snake_case name of a model: the name of its table."""
    return re.sub(r"(?<!^)(?=[A-Z])", "_", model.__name__).lower()


def ties(model: Model) -> Ties:
    """Return key, references and storage of a model."""
    metadata = getattr(model.Config, "metadata", None) or {}
    found = metadata.get("ties")
    if not isinstance(found, Ties):
        raise TypeError(f"{model.__name__} declares no ties")
    return found


def _walk(package: ModuleType) -> Iterator[Model]:
    for module_info in iter_modules(package.__path__, f"{package.__name__}."):
        module = import_module(module_info.name)
        for value in vars(module).values():
            is_model = isinstance(value, type) and issubclass(value, pa.DataFrameModel)
            if is_model and value.__module__ == module.__name__ and value.__name__ != "Traced":
                yield value


@cache
def records() -> dict[str, Model]:
    """Return the records an importer may hand in, by name."""
    return {record_name(model): model for model in _walk(schemas.records)}


@cache
def results() -> dict[str, Model]:
    """Return the records the pipeline writes itself, by name."""
    return {record_name(model): model for model in _walk(schemas.results)}
