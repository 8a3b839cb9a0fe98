"""What a command and the function behind it can be asked: one record of settings, from which both are made.

A setting is a field of a frozen dataclass with its default, its help and its limits (`setting`). `takes` gives a
function the fields as keywords; `commands.from_settings` makes click's options of them.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import MISSING, dataclass, field, fields, replace
from functools import wraps
from typing import Any, TypeVar

KEY = "setting"
SAME = object()  # the command has the function's default
Found = TypeVar("Found")


@dataclass(frozen=True)
class Setting:
    """What a command line wants to know of a setting.

    flag: as typed, --name where it is empty. typed: the default where the command has another than the function,
    or writes it otherwise, such as "5 %". least and most: limits of a number, both allowed. choices: the texts
    allowed. multiple: may be given again and again. shown: whether help states the default; otherwise `help` does.
    reads: the name of a way to read the text, such as `finite` or `place`, known to commands.from_settings.
    """

    help: str
    flag: str = ""
    typed: Any = SAME
    least: float | None = None
    most: float | None = None
    choices: tuple[str, ...] = ()
    multiple: bool = False
    shown: bool = True
    reads: str = ""
    metavar: str | None = None


def setting(default: Any = MISSING, help_: str = "", **said: Any) -> Any:
    """Return a dataclass field that is a setting; without a default it has to be given."""
    metadata = {KEY: Setting(help_, **said)}
    return field(metadata=metadata) if default is MISSING else field(default=default, metadata=metadata)


def settings_of(record: type) -> Iterator[tuple[str, Any, Any, Setting]]:
    """Yield (name, type as written, the command's default or MISSING, setting) of every setting of a record."""
    for each in fields(record):
        if KEY in each.metadata:
            said = each.metadata[KEY]
            yield each.name, each.type, each.default if said.typed is SAME else said.typed, said


def takes(record: type) -> Callable[[Callable[..., Found]], Callable[..., Found]]:
    """Let a function whose parameter `settings` is such a record be called with its fields as keywords.

    A whole record may be given as `settings`, too. An unknown keyword is a TypeError, as it is for any function;
    help() and notebooks show the fields.
    """

    def of(function: Callable[..., Found]) -> Callable[..., Found]:
        signature = inspect.signature(function)
        names = {each.name for each in fields(record)}

        @wraps(function)
        def call(*given: Any, **keywords: Any) -> Found:
            asked = {name: keywords.pop(name) for name in names & set(keywords)}
            made = keywords.pop("settings", None)
            settings = record(**asked) if made is None else replace(made, **asked)
            return function(*given, settings=settings, **keywords)

        shown = [
            parameter
            for each in signature.parameters.values()
            for parameter in (_keywords(record) if each.name == "settings" else [each])
        ]
        call.__signature__ = signature.replace(parameters=shown)  # type: ignore[attr-defined]
        return call

    return of


def _keywords(record: type) -> list[inspect.Parameter]:
    """Return the fields of a record as keywords of a function."""
    empty = inspect.Parameter.empty
    return [
        inspect.Parameter(
            each.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=empty if each.default is MISSING else each.default,
            annotation=each.type,
        )
        for each in fields(record)
    ]
