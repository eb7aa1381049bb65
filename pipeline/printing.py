"""Prints a page to PDF through a browser that is on the machine: what is printed is what is seen."""

import os
import shutil
import subprocess
from pathlib import Path
from tempfile import TemporaryDirectory

from pipeline.reports import ReportError
from pipeline.settings import Settings

#: Programs that print a page without a window, by name on the search path and by usual place.
_NAMES = ("chromium", "chromium-browser", "google-chrome", "google-chrome-stable", "chrome", "msedge", "microsoft-edge")
_PLACES = (
    "/Applications/Google Chrome.app/Contents/MacOS/Google Chrome",
    "/Applications/Microsoft Edge.app/Contents/MacOS/Microsoft Edge",
    "C:/Program Files (x86)/Microsoft/Edge/Application/msedge.exe",
    "C:/Program Files/Google/Chrome/Application/chrome.exe",
)
_SECONDS = 120


def browser(settings: Settings) -> str:
    """Return the program that prints.

    Raises
    ------
    ReportError
        When there is none, with what to install or to set.
    """
    asked = settings.pages.browser
    found = shutil.which(asked) if asked else next(filter(None, map(shutil.which, (*_NAMES, *_PLACES))), None)
    if found is None:
        what = f"'{asked}' ([pages] browser) was not found" if asked else "no browser that prints was found"
        raise ReportError(
            f"PDF needs a browser, and {what}: install Chromium, Chrome or Edge, or name its program in mixledger.toml "
            "as [pages] browser. The HTML report prints as it should from any browser (paper size and page numbers "
            "are set in it)."
        )
    return found


def print_pdf(program: str, page: Path) -> Path:
    """Print a page to a PDF beside it, without network; return the PDF.

    Raises
    ------
    ReportError
        When the browser fails or takes longer than two minutes.
    """
    target = page.with_suffix(".pdf")
    with TemporaryDirectory() as profile:
        made = Path(profile) / "report.pdf"
        command = [
            program,
            "--headless=new",
            "--disable-gpu",
            "--no-first-run",
            "--no-pdf-header-footer",
            "--host-resolver-rules=MAP * ~NOTFOUND",
            f"--user-data-dir={profile}",
            f"--print-to-pdf={made}",
            page.resolve().as_uri(),
        ]
        if hasattr(os, "geteuid") and os.geteuid() == 0:
            command.insert(1, "--no-sandbox")  # the sandbox refuses to work for root
        try:
            done = subprocess.run(command, capture_output=True, timeout=_SECONDS, check=False)  # noqa: S603 - no shell
        except (OSError, subprocess.TimeoutExpired) as fault:
            raise ReportError(f"the browser could not print {page}: {fault}") from fault
        if not made.is_file():
            said = done.stderr.decode("utf-8", "replace").strip().splitlines()[-1:] or ["it said nothing"]
            raise ReportError(f"the browser printed nothing of {page}: {said[0]}")
        aside = target.with_name(f".{target.name}.{os.getpid()}")
        shutil.copyfile(made, aside)
        aside.replace(target)
    return target
