"""A record of settings in, a command's options out: each is declared once, for the function and for click."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import MISSING, fields
from typing import Any, TypeVar

import click

from o2sim.commands.options import Place, finite
from o2sim.settings import Setting, settings_of

Command = TypeVar("Command", bound=Callable[..., Any])
Record = TypeVar("Record")


def options_from(record: type) -> Callable[[Command], Command]:
    """Give a command the options that a record of settings declares, in its order."""

    def of(command: Command) -> Command:
        for name, written, default, said in reversed(list(settings_of(record))):
            command = _option(name, str(written), default, said)(command)
        return command

    return of


def record_from(record: Callable[..., Record], options: dict[str, Any]) -> Record:
    """Take a record's fields out of what click read and return the record; what is left stays in options."""
    names = [each.name for each in fields(record)]  # type: ignore[arg-type]
    return record(**{name: options.pop(name) for name in names if name in options})


def _option(name: str, written: str, default: Any, said: Setting) -> Callable[[Command], Command]:
    flag = said.flag or f"--{name.replace('_', '-')}"
    if written == "bool":
        return click.option(flag, name, is_flag=True, default=bool(default), help=said.help)
    given: dict[str, Any] = {"required": True} if default is MISSING else {"default": default}
    return click.option(
        flag,
        name,
        type=_type(written, said),
        multiple=said.multiple,
        metavar=said.metavar,
        show_default=said.shown and default not in (MISSING, None, ()),
        callback=finite if said.reads == "finite" else None,
        help=said.help,
        **given,
    )


def _type(written: str, said: Setting) -> Any:
    """Return how click reads a value: by its choices, its type as written, and its limits."""
    if said.choices:
        return click.Choice(said.choices)
    if said.reads == "place":
        return Place()
    if written.startswith("int"):
        least, most = (None if limit is None else int(limit) for limit in (said.least, said.most))
        return click.IntRange(least, most)
    if written.startswith("float") and "str" not in written:
        return click.FloatRange(said.least, said.most)
    return click.STRING
