"""TOML -> typed, frozen layout with its marks filled in; a fault points at the layout's own line and says the fix."""

import tomllib
from dataclasses import replace
from pathlib import Path

from plugins.layout import checks
from plugins.layout.keys import Scalar, build
from plugins.layout.lines import toml_lines
from plugins.layout.model import FILE_KEY, KINDS, FieldPlan, Layout, RecordKeys, RecordPlan
from plugins.layout.section import LayoutError, Section


def load(path: Path) -> Layout:
    """Read a layout file.

    Raises
    ------
    LayoutError
        When it is not TOML, lacks something, or has a key that no layout has.
    """
    return parse(path.read_bytes(), f"{path.parent.name}/{path.name}")


def parse(content: bytes, source: str) -> Layout:
    """Read a layout from its bytes; `source` names it in messages."""
    try:
        text = content.decode("utf-8").replace("\r\n", "\n")
        data = tomllib.loads(text)
    except (UnicodeDecodeError, tomllib.TOMLDecodeError) as fault:
        raise LayoutError(source, _fault_line(str(fault)), f"this is not TOML: {fault}") from fault
    return _layout(Section(source, data, toml_lines(text)))


def _fault_line(sentence: str) -> int:
    after = sentence.partition("at line ")[2].partition(",")[0]
    return int(after) if after.isdigit() else 1


def _layout(top: Section) -> Layout:
    top.kind = top.choice("kind", KINDS)
    if "recognise" not in top.data:
        sentence = "the layout lacks [recognise]: without it nothing would ever be read"
        raise top.fault(sentence)
    common = _fields(top.inner("common"), {})
    records = tuple(plan for item in top.items("record") for plan in _records(item, common))
    layout = build(Layout, top, source=top.source, records=records)
    layout = replace(layout, title=layout.title or layout.name)
    checks.check(top, layout)
    return layout


def _fields(section: Section | None, marks: dict[str, Scalar]) -> tuple[FieldPlan, ...]:
    fields: list[FieldPlan] = []
    for target in section.data if section else ():
        inner = section.inner(target) if section else None
        if inner is None:
            continue
        first, last = inner.span("n") if "n" in inner.data else (1, 1)
        read = build(FieldPlan, inner, target=target, line=inner.fault("").line)
        checks.field(inner, read)
        numbers: list[dict[str, Scalar]] = (
            [{"n": number} for number in range(first, last + 1)] if last > first else [{}]
        )
        fields.extend(_filled(inner, read, marks | number) for number in numbers)
    return tuple(fields)


def _filled(section: Section, plan: FieldPlan, marks: dict[str, Scalar]) -> FieldPlan:
    """Return the field with its marks filled in; the name of the file is kept like a header value."""
    given, place = plan.value, plan.unit_from
    value = marks.get(given[1:-1], given) if isinstance(given, str) and given[:1] == "{" else given
    constant = plan.constant
    made = replace(
        plan,
        target=_text(section, plan.target, marks) or plan.target,
        column=_text(section, plan.column, marks),
        header=_text(section, plan.header, marks),
        unit_from=place and place._replace(name=_text(section, place.name, marks) or place.name),
        constant=_text(section, constant, marks) if isinstance(constant, str) else constant,
        value=value,
    )
    return replace(made, header=FILE_KEY, pattern=plan.file_name) if plan.file_name is not None else made


def _text(section: Section, text: str | None, marks: dict[str, Scalar]) -> str | None:
    if text is None or not marks:
        return text
    try:
        return text.format_map(marks)
    except (KeyError, ValueError, IndexError, AttributeError) as fault:
        raise section.fault(f"'{text}' uses a mark that is not given: {fault}") from fault


def _records(section: Section, common: tuple[FieldPlan, ...]) -> list[RecordPlan]:
    section.known.add("fields")
    keys = build(RecordKeys, section)
    plans = []
    for marks in keys.repeat or ({},):
        own = _fields(section.inner("fields"), dict(marks))
        targets = {plan.target for plan in own}
        plans.append(
            RecordPlan(
                record=keys.record,
                table=keys.table,
                present=_text(section, keys.present, dict(marks)),
                where=keys.where,
                fields=(*(plan for plan in common if plan.target not in targets), *own),
                line=section.fault("").line,
            )
        )
    return plans
