"""A small order of steps of its own, walked by the executor that an argument names; says as JSON what came out."""

import json
import sys
from pathlib import Path
from typing import Any

from pipeline import order
from pipeline.local import Local
from pipeline.order import Outcome
from pipeline.settings import Settings
from pipeline.workspace import Workspace

TRIED: dict[str, int] = {}


def tried(name: str) -> int:
    TRIED[name] = TRIED.get(name, 0) + 1
    return TRIED[name]


def take(first: int, second: list[int]) -> list[int]:
    return [first, *second]


def double(item: int) -> int:
    return 2 * item


def sometimes(item: int) -> int:
    """Fail once, as a disk or a share may."""
    if tried("sometimes") == 1:
        raise OSError("the share was away for a moment")
    return -item


def wrong(_: int) -> int:
    tried("wrong")
    raise ValueError("this cannot be mended by trying again")


def walk(executor: Any) -> dict[str, Any]:
    taken = executor.call(take, 1, [3, 2])
    doubled = executor.map(double, taken)
    nothing = executor.map(double, [])
    try:
        executor.call(wrong, 1)
    except ValueError as fault:
        said = str(fault)
    return {"taken": taken, "doubled": doubled, "nothing": nothing, "said": said}


def main(how: str, folder: Path) -> None:
    if how == "local":
        print(json.dumps(walk(Local())))
        return
    walked: dict[str, Any] = {}

    def one_pass(_: Workspace, __: Settings, executor: Any, *___: Any, **____: Any) -> Outcome:
        walked.update(walk(executor))
        walked["sometimes"] = executor.call(sometimes, 4)
        return Outcome(run_id=7, exports=3, problems=("one",))

    order.one_pass = one_pass  # type: ignore[assignment]
    from pipeline.flow import run_flow

    done = run_flow(Workspace(folder), Settings())
    print(json.dumps({**walked, "tried": TRIED, "outcome": vars(done)}))


if __name__ == "__main__":
    main(sys.argv[1], Path(sys.argv[2]))
