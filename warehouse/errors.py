"""What the warehouse says when it cannot do what is asked: one sentence and one remedy each."""


class WarehouseError(Exception):
    """Base of all errors of the warehouse that a user sees.

    Attributes
    ----------
    sentence
        What is wrong, and where.
    remedy
        What to do about it.
    """

    def __init__(self, sentence: str, remedy: str) -> None:
        super().__init__(f"{sentence} {remedy}")
        self.sentence = sentence
        self.remedy = remedy


class StoreBusyError(WarehouseError):
    """Another process is writing the store."""


class StoreVersionError(WarehouseError):
    """The store was written by another version of the program, and no migration leads from it to this one."""


class StoreDamagedError(WarehouseError):
    """The file of the working store is no store any more, or of a format this program cannot read."""


class NotPublishedError(WarehouseError):
    """No warehouse has been published in this workspace, or what was published is gone."""


class QueryRefusedError(WarehouseError):
    """A query that was not run, was stopped, or could not be answered."""
