"""What a command and the function behind it can be asked: one record of settings, from which both are made.

A setting is a field of a frozen dataclass with its default, its help and its limits (`setting`). `takes` gives a
function the fields as keywords; `commands.from_settings` makes click's options of them.
"""

from __future__ import annotations

import inspect
from collections.abc import Callable, Iterator
from dataclasses import MISSING, dataclass, field, fields
from functools import wraps
from typing import Any, TypeVar

KEY = "setting"
Found = TypeVar("Found")


@dataclass(frozen=True)
class Setting:
    """What a command line wants to know of a setting.

    flag: as typed, --name where it is empty. least and most: limits of a number, both allowed. choices: the texts
    allowed. multiple: may be given again and again. shown: whether help states the default; otherwise `help` does.
    reads: the name of a way to read the text, such as `finite` or `place`, known to commands.from_settings.
    """

    help: str
    flag: str = ""
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
    """Yield (name, type as written, default or MISSING, setting) of every setting of a record."""
    for each in fields(record):
        if KEY in each.metadata:
            yield each.name, each.type, each.default, each.metadata[KEY]


def takes(record: type) -> Callable[[Callable[..., Found]], Callable[..., Found]]:
    """Let a function whose parameter `settings` is such a record be called with its fields as keywords.

    An unknown keyword is a TypeError, as it is for any function; help() and editors show the fields.
    """

    def of(function: Callable[..., Found]) -> Callable[..., Found]:
        signature = inspect.signature(function)
        own = [each for each in signature.parameters.values() if each.name != "settings"]
        names = {each.name for each in fields(record)}

        @wraps(function)
        def call(*given: Any, **keywords: Any) -> Found:
            asked = {name: keywords.pop(name) for name in names & set(keywords)}
            made = keywords.pop("settings", None) or record(**asked)
            return function(*given, settings=made, **keywords)

        call.__signature__ = signature.replace(parameters=_merged(own, record))  # type: ignore[attr-defined]
        return call

    return of


def _merged(own: list[inspect.Parameter], record: type) -> list[inspect.Parameter]:
    """Return the function's own parameters with those of the record among its keywords."""
    empty = inspect.Parameter.empty
    added = [
        inspect.Parameter(
            each.name,
            inspect.Parameter.KEYWORD_ONLY,
            default=empty if each.default is MISSING else each.default,
            annotation=each.type,
        )
        for each in fields(record)
    ]
    place = next((at for at, each in enumerate(own) if each.kind is each.KEYWORD_ONLY), len(own))
    return [*own[:place], *added, *own[place:]]
