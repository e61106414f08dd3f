"""What is wrong with a piece sheet, in words that name the piece and the field."""

from __future__ import annotations

import difflib
from collections.abc import Iterable
from typing import Any

from pydantic import ValidationError

from nesting.findings import Finding, Level
from service.formats.sheet_models import (
    PieceSheet,
)


def problem(code: str, where: str, message: str, hint: str = "") -> Finding:
    """A finding that refuses the sheet."""
    return Finding(code, Level.REFUSED, message, where=where, hint=hint)


def told(error: ValidationError, raw: Any, where: str, names: tuple[str, ...]) -> list[Finding]:
    """Each cause of a validation error once, in words, with the place by names."""
    found: dict[tuple[str, str], Finding] = {}
    for e in error.errors(include_url=False):
        place = " / ".join(filter(None, [where, _place(e["loc"], raw)]))
        message, hint = _words(e, names)
        found.setdefault((place, message), problem("field", place, message, hint))
    return list(found.values())


def _place(loc: tuple[int | str, ...], raw: Any) -> str:
    words: list[str] = []
    here = raw
    for step in loc:
        if isinstance(step, int):
            here = here[step] if isinstance(here, list) and step < len(here) else None
            name = here.get("name") if isinstance(here, dict) else None
            said = name if isinstance(name, str) and name.strip() else f"{step + 1}"
            words.append(f"{words.pop() if words else ''} {said[:80]}".strip())
        elif isinstance(here, dict) and (step in here or step == loc[-1]):
            here = here.get(step)
            words.append(step)
        # Anything else is the tag of a union member: nothing that a person wrote.
    return " / ".join(words)


def _words(e: Any, names: tuple[str, ...]) -> tuple[str, str]:
    kind, last = e["type"], e["loc"][-1] if e["loc"] else ""
    if kind == "missing":
        return f"“{last}” is missing", f"Add “{last}”; the schema says what it holds."
    if kind == "extra_forbidden":
        near = difflib.get_close_matches(str(last), names or _ALL_NAMES, n=1)
        hint = f"Did you mean “{near[0]}”?" if near else "Take it out; the schema lists the fields."
        return f"“{str(last)[:80]}” is not a field here", hint
    if kind == "value_error":
        return str(e["ctx"]["error"]), ""
    if kind == "literal_error":
        return f"expected {e['ctx']['expected']}", ""
    if kind in ("too_short", "too_long") and "actual_length" in e["ctx"]:
        ctx = e["ctx"]
        bound = (
            f"{ctx['min_length']} or more are needed"
            if kind == "too_short"
            else f"{ctx['max_length']} at most are read"
        )
        return f"{bound}, {ctx['actual_length']} came", ""
    text = str(e["msg"])
    return text[0].lower() + text[1:], ""


def _field_names(schema: dict[str, Any]) -> tuple[str, ...]:
    parts = [schema, *schema.get("$defs", {}).values()]
    return tuple(dict.fromkeys(n for p in parts for n in p.get("properties", {})))


_ALL_NAMES = _field_names(PieceSheet.model_json_schema(by_alias=True))


def repeated(names: Iterable[str], what: str, where: str) -> list[Finding]:
    """A problem for each name that comes more than once."""
    seen: set[str] = set()
    twice = []
    for name in names:
        if name in seen and name not in twice:
            twice.append(name)
        seen.add(name)
    return [
        problem(
            "name-twice",
            where or name,
            f"two {what}s are called “{name}”",
            f"Give each {what} a name of its own.",
        )
        for name in twice
    ]
