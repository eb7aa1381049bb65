"""Exit codes and which known problem has which: one list, shown by --help."""

DONE, LISTED, USAGE, BUSY, FAULT = 0, 1, 2, 3, 4

EXIT_CODES: dict[int, str] = {
    DONE: "done",
    LISTED: "done, but something was refused, waits, was left out or breaks its contract: see `mixledger status`",
    USAGE: "the command, a setting or a query is wrong; nothing was changed",
    BUSY: "another process is writing to this workspace (the message names it); try again",
    FAULT: "a fault of the program; nothing already stored is harmed",
}

#: Class name of a known problem -> exit code. By name, so that no heavy module is loaded to start the program.
_KNOWN = {
    "SettingsError": USAGE,
    "WorkspaceError": USAGE,
    "QueryRefusedError": USAGE,
    "ComputeError": USAGE,
    "TraceError": USAGE,
    "LayoutError": USAGE,
    "StoreVersionError": USAGE,
    "StoreDamagedError": USAGE,
    "ExportError": USAGE,
    "NotPublishedError": USAGE,
    "ServeError": USAGE,
    "TrustError": USAGE,
    "SkeletonError": USAGE,
    "SpecificationError": USAGE,
    "NoSuchLotError": USAGE,
    "SamplingError": USAGE,
    "ReportError": USAGE,
    "StoreBusyError": BUSY,
}


def problem_of(fault: Exception) -> tuple[str, int] | None:
    """Return message and exit code of a known problem, else None."""
    for kind in type(fault).__mro__:
        if kind.__name__ in _KNOWN:
            return str(fault), _KNOWN[kind.__name__]
    return None
