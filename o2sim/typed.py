"""Make the JSON object of a typed, frozen record, and the JSON Schema of that object.

A result is declared once, as a dataclass whose fields carry what a reader wants to know of them (`item`). The
object that `--json` prints and the schema by which a program reads it are both made from that declaration.
"""

from __future__ import annotations

import datetime as dt
import math
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import MISSING, Field, dataclass, field, fields, is_dataclass
from enum import Enum
from functools import cache
from pathlib import PurePath
from types import NoneType, UnionType
from typing import Annotated, Any, Literal, Union, get_args, get_origin, get_type_hints

Schema = dict[str, Any]
KEY = "o2sim"
_PLAIN = frozenset({str, int, bool, NoneType})

# Keywords of a schema beside its type, as pairs: a dict could not stand in a union with None.
Count = Annotated[int, (("minimum", 0),)]
Share = Annotated[float, (("minimum", 0), ("maximum", 1))]
Inside = Annotated[float, (("exclusiveMinimum", 0), ("exclusiveMaximum", 1))]
Hash = Annotated[str, (("pattern", "^[0-9a-f]{16}$"),)]
Currency = Annotated[str, (("pattern", "^[A-Z]{3}$"),)]


@dataclass(frozen=True)
class Item:
    """What is said of one field: its help, its unit, its key in JSON where that is no name of Python's.

    sometimes: the key is left out where the value is None. flat: the keys of a record, or of a mapping, stand
    among those of the record that holds it. keys: those of a mapping, where they are known beforehand.
    """

    help: str = ""
    unit: str = ""
    key: str = ""
    sometimes: bool = False
    flat: bool = False
    keys: tuple[str, ...] = ()


def item(help_: str = "", *, default: Any = MISSING, **said: Any) -> Any:
    """Return a dataclass field with what is said of it."""
    metadata = {KEY: Item(help_, **said)}
    return field(metadata=metadata) if default is MISSING else field(default=default, metadata=metadata)


def item_of(each: Field[Any]) -> Item:
    """Return what is said of a field, an empty Item where nothing is."""
    found: Item = each.metadata.get(KEY, Item())
    return found


def key_of(each: Field[Any]) -> str:
    """Return the key of a field in JSON."""
    return item_of(each).key or each.name


def as_json(value: Any) -> Any:
    """Return a record, or what holds records, as plain dicts, lists, texts and numbers, in the order declared.

    Raises ValueError for a number that is none (nan, infinite), which no JSON can hold.
    """
    kind = type(value)
    if kind in _PLAIN or (kind is float and math.isfinite(value)):
        return value
    if is_dataclass(kind):
        return dict(_pairs(value))
    if isinstance(value, Mapping):
        return {str(key): as_json(each) for key, each in value.items()}
    if isinstance(value, str | int):
        return value
    if isinstance(value, Sequence | set | frozenset):
        return [as_json(each) for each in value]
    if isinstance(value, Enum):
        return as_json(value.value)
    if isinstance(value, dt.date | PurePath):
        return str(value)
    if hasattr(value, "item"):  # a scalar of NumPy
        return as_json(value.item())
    if isinstance(value, float) and math.isfinite(value):
        return value
    raise ValueError(f"found {value!r}; allowed in JSON: texts, finite numbers, lists and records")


def _pairs(record: Any) -> Iterator[tuple[str, Any]]:
    """Yield the keys and values of a record."""
    kind: type = type(record)
    for name, key, said in _keys(kind):
        value = getattr(record, name)
        if value is None and said.sometimes:
            continue
        plain = as_json(value)
        if said.flat:
            yield from (plain or {}).items()
        else:
            yield key, plain


@cache
def _keys(kind: type) -> tuple[tuple[str, str, Item], ...]:
    """Return name, key and Item of each field, looked up once: a summary has hundreds of records."""
    return tuple((each.name, key_of(each), item_of(each)) for each in fields(kind))


def schema_of(kind: Any, named: Mapping[type, str]) -> Schema:
    """Return the JSON Schema of a record, or of any type that a field may have; named records become references.

    named: record types by their name in `$defs`. Raises TypeError for a type that has no JSON.
    """
    if isinstance(kind, type) and kind in named:
        return {"$ref": f"#/$defs/{named[kind]}"}
    return _schema(kind, named)


def definitions(named: Mapping[type, str]) -> dict[str, Schema]:
    """Return the schemas of all named records, by name."""
    return {name: _schema(kind, named) for kind, name in named.items()}


def _schema(kind: Any, named: Mapping[type, str]) -> Schema:
    if is_dataclass(kind) and isinstance(kind, type):
        return _of_record(kind, named)
    origin, inside = get_origin(kind), get_args(kind)
    if origin is Annotated:
        limits = {key: list(said) if isinstance(said, tuple) else said for key, said in inside[1]}
        return {**schema_of(inside[0], named), **limits}
    if origin in (Union, UnionType):
        return {"anyOf": [schema_of(each, named) for each in inside]}
    if origin is Literal:
        return {"const": inside[0]} if len(inside) == 1 else {"enum": list(inside)}
    if isinstance(origin, type) and issubclass(origin, Mapping):
        return {"type": "object", "additionalProperties": schema_of(inside[1], named)}
    if isinstance(origin, type) and issubclass(origin, Sequence):
        return {"type": "array", "items": schema_of(inside[0], named)}
    plain = {str: "string", bool: "boolean", int: "integer", float: "number", NoneType: "null"}
    if kind is Any:
        return {}
    if kind not in plain:
        raise TypeError(f"found {kind!r}; a result holds texts, numbers, truths, lists, mappings and records")
    return {"type": plain[kind]}


def _of_record(kind: type, named: Mapping[type, str]) -> Schema:
    properties: dict[str, Schema] = {}
    needed: list[str] = []
    open_to: Schema | None = None
    for each in fields(kind):
        said, hint = item_of(each), _hints(kind)[each.name]
        if said.flat:
            inner = _inside(hint, named)
            properties |= inner.get("properties", {})
            needed += inner.get("required", ())
            open_to = inner.get("additionalProperties", open_to)
            continue
        properties[key_of(each)] = _described(_without_none(hint) if said.sometimes else hint, said, named)
        needed += [] if said.sometimes else [key_of(each)]
    more = {} if open_to is None else {"additionalProperties": open_to}
    return {"type": "object", "properties": properties, "required": needed, **more}


def _inside(hint: Any, named: Mapping[type, str]) -> Schema:
    """Return the schema of a flat field, none of whose keys is needed where it may be None."""
    found = _schema(_without_none(hint), named)
    return {**found, "required": []} if NoneType in get_args(hint) else found


def _described(hint: Any, said: Item, named: Mapping[type, str]) -> Schema:
    found = schema_of(hint, named)
    if said.keys:
        inside = found.pop("additionalProperties")
        found |= {"properties": dict.fromkeys(said.keys, inside), "required": list(said.keys)}
    description = "; ".join(text for text in (said.help, said.unit) if text)
    return {**found, "description": description} if description else found


def _without_none(hint: Any) -> Any:
    """Return a type without None."""
    kept = [each for each in get_args(hint) if each is not NoneType]
    return Union[tuple(kept)] if NoneType in get_args(hint) else hint  # noqa: UP007


@cache
def _hints(kind: type) -> dict[str, Any]:
    return get_type_hints(kind, include_extras=True)
