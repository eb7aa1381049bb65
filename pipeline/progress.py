"""One collector of progress: a bar on a terminal, log lines when piped, nothing when quiet."""

import sys
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Protocol


class Progress(Protocol):
    """Told what is going on; shows it or not."""

    @contextmanager
    def stage(self, title: str, total: int) -> Iterator["Stage"]:
        """Open a stage of `total` steps."""
        ...


class Stage(Protocol):
    """One stage under way."""

    def __call__(self, steps: int = 1) -> None:
        """Note that so many steps are done."""
        ...


class Quiet:
    """Shows nothing."""

    @contextmanager
    def stage(self, title: str, total: int) -> Iterator[Stage]:
        """Open a stage nobody sees."""
        yield lambda steps=1: None


class Lines:
    """One line per stage on standard error, for logs."""

    @contextmanager
    def stage(self, title: str, total: int) -> Iterator[Stage]:
        """Write the title and the number of steps once."""
        sys.stderr.write(f"{title}: {total}\n")
        yield lambda steps=1: None


class Bar:
    """A bar on a terminal."""

    @contextmanager
    def stage(self, title: str, total: int) -> Iterator[Stage]:
        """Draw a bar until the stage closes."""
        from rich.console import Console
        from rich.progress import Progress as RichProgress

        with RichProgress(console=Console(stderr=True), transient=True) as shown:
            task = shown.add_task(title, total=max(total, 1))
            yield lambda steps=1: shown.advance(task, steps)


def collector(quiet: bool = False) -> Progress:
    """Return the collector that suits where standard error goes."""
    if quiet:
        return Quiet()
    return Bar() if sys.stderr.isatty() else Lines()
