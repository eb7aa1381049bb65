"""Where the rules of importers are registered, each under the name of its check."""

from collections.abc import Callable, Iterator
from itertools import islice

from plugins.contract.model import Rule, Subject, World

#: At most so many findings are told per rule: the first ones say what is wrong.
_TOLD = 5

RULES: dict[str, Rule] = {}

Check = Callable[[Subject, World], Iterator[str]]


def rule(sentence: str) -> Callable[[Check], Check]:
    """Register a check under the name of its function."""

    def register(check: Check) -> Check:
        def told(subject: Subject, world: World) -> Iterator[str]:
            return islice(check(subject, world), _TOLD)

        RULES[check.__name__] = Rule(check.__name__, sentence, told)
        return check

    return register
