"""Runs the order in this process: no server, no orchestrator, fast start."""

from collections.abc import Callable, Sequence
from typing import Any, TypeVar

T = TypeVar("T")


class Local:
    """Plain calls, one after the other."""

    def call(self, step: Callable[..., T], *given: Any) -> T:
        """Run one step."""
        return step(*given)

    def map(self, step: Callable[[Any], T], items: Sequence[Any]) -> list[T]:
        """Run a step once per item, in order."""
        return [step(item) for item in items]
