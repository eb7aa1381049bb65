"""Writes the sample exports: python -m tests.scenario [DEST] [--seed N]."""

import argparse
from pathlib import Path

from tests.scenario.generate import SEED, write


def main() -> None:
    """Read the command line and write the scenario."""
    parser = argparse.ArgumentParser(prog="python -m tests.scenario", description=__doc__)
    parser.add_argument("dest", nargs="?", type=Path, default=Path("sample_exports"), help="folder to write to")
    parser.add_argument("--seed", type=int, default=SEED, help="another seed gives another season")
    given = parser.parse_args()
    print(f"{write(given.dest, given.seed)} exports written to {given.dest}")


if __name__ == "__main__":
    main()
