"""The grammar of names: a column has a unit's suffix if and only if it has the unit; same name, same unit."""

from collections import defaultdict

from schemas.describe import describe_all
from schemas.units import SUFFIXES


def test_a_unit_shows_in_the_name_and_only_then() -> None:
    for description in describe_all():
        for column in description.columns:
            if column.unit:
                suffix = SUFFIXES[column.unit]
                assert column.name.endswith(suffix), f"{description.name}.{column.name}: end the name in '{suffix}'"
            else:
                wrong = [unit for unit, suffix in SUFFIXES.items() if column.name.endswith(suffix)]
                assert not wrong, f"{description.name}.{column.name}: ends like a column in {wrong}; give it that unit"


def test_one_name_has_one_unit_and_type_everywhere() -> None:
    meanings = defaultdict(set)
    for description in describe_all():
        for column in description.columns:
            meanings[column.name].add((column.unit, str(column.dtype)))
    assert not {name: found for name, found in meanings.items() if len(found) > 1}


def test_every_record_and_column_is_described_in_a_sentence() -> None:
    for description in describe_all():
        assert description.sentence.endswith("."), description.name
        for column in description.columns:
            assert column.sentence.endswith("."), f"{description.name}.{column.name}"


def test_ties_name_columns_and_records_that_exist() -> None:
    names = {description.name for description in describe_all()}
    for description in describe_all():
        columns = set(description.schema()) | {"valid_from_run"}
        assert set(description.ties.key) <= columns, description.name
        assert set(description.ties.refers) <= columns, description.name
        assert set(description.ties.refers.values()) <= names, description.name
        if description.ties.header:
            assert description.ties.header in names
