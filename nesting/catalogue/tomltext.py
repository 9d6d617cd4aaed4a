"""Writing range files: values as TOML, and changes put into a file that people have written remarks in."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, MutableMapping
from typing import Any

import tomlkit
from tomlkit.items import Item

__all__ = ["changed_text", "remarks", "toml_value"]


def toml_value(value: Any) -> str:
    """A value as it stands behind the equals sign of a range file, on one line."""
    return _inline(value).as_string()


def _inline(value: Any) -> Item:
    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        for key, part in value.items():
            table.append(key, _inline(part))
        return table
    if isinstance(value, list):
        array = tomlkit.array()
        for part in value:
            array.append(_inline(part))
        return array
    item: Item = tomlkit.item(value)
    return item


def remarks(text: str, table: str) -> dict[str, str]:
    """What is remarked behind the values of a table, by their names."""
    found = tomlkit.parse(text).get(table, {})
    if not isinstance(found, Mapping):
        return {}
    notes = {key: found.item(key).trivia.comment.lstrip("# ") for key in found}  # type: ignore[attr-defined]
    return {key: note for key, note in notes.items() if note}


def changed_text(tables: Mapping[str, Any], text: str = "") -> tuple[str, list[str]]:
    """The text of a range file that holds the given tables, and what was changed to get there.

    What is already so in `text` stays as it is written, remarks and order included. Without a text all is
    written anew.

    Returns
    -------
    str
        TOML.
    list of str
        A line for every value that was changed, added or taken out.
    """
    document = tomlkit.parse(text)
    changes = list(_put(document, tables, ""))
    return tomlkit.dumps(document), changes


def _put(old: MutableMapping[str, Any], new: Mapping[str, Any], path: str) -> Iterator[str]:
    for key in [key for key in old if key not in new and old[key] != {}]:
        yield f"{path}{key}: taken out"
        del old[key]
    for key, value in new.items():
        place = f"{path}{key}"
        if key not in old:
            old[key] = _block(value, path)
            yield f"{place}: added{'' if isinstance(value, Mapping | list) else f' {value!r}'}"
        elif isinstance(old[key], MutableMapping) and isinstance(value, Mapping):
            yield from _put(old[key], value, f"{place}.")
        elif _tables(old[key]) and _tables(value):
            yield from _put_rows(old[key], value, place)
        elif old[key] != value or isinstance(old[key], bool) != isinstance(value, bool):
            yield f"{place}: {_plain(old[key])!r} is now {value!r}"
            trivia = old.item(key).trivia  # type: ignore[attr-defined]
            fresh = _inline(value)
            fresh.trivia.comment_ws, fresh.trivia.comment = trivia.comment_ws, trivia.comment
            old[key] = fresh


def _put_rows(old: Any, new: list[Mapping[str, Any]], place: str) -> Iterator[str]:
    for at, row in enumerate(new):
        if at < len(old):
            yield from _put(old[at], row, f"{place}[{at + 1}].")
        else:
            old.append(_block(row, f"{place}[{at + 1}]."))
            yield f"{place}[{at + 1}]: added"
    while len(old) > len(new):
        yield f"{place}[{len(old)}]: taken out"
        del old[len(old) - 1]


def _tables(value: Any) -> bool:
    return isinstance(value, list) and bool(value) and all(isinstance(part, Mapping) for part in value)


def _plain(value: Any) -> Any:
    return value.unwrap() if hasattr(value, "unwrap") else value


def _block(value: Any, path: str) -> Item:
    """A value that is new: tables of materials, models and panels get headings, inner ones one line."""
    depth = path.count(".")
    if isinstance(value, Mapping) and depth < 2 and not path.startswith("sizes."):
        table = tomlkit.table()
        for key, part in value.items():
            table.append(key, _block(part, f"{path}{key}." if depth else f"{path}x."))
        return table
    if _tables(value) and depth == 2:
        rows = tomlkit.aot()
        for row in value:
            entry = tomlkit.table()
            for key, part in row.items():
                entry.append(key, _inline(part))
            rows.append(entry)
        return rows
    return _inline(value)
