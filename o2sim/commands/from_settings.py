"""Make a command's options of a record of settings: each is declared once, for the function and for click."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import MISSING, fields
from functools import partial, wraps
from typing import TYPE_CHECKING, Any, TypeVar

import click

from o2sim.commands.reading import Closeness, Place, Price, Quantity, at_hand, between_commas, finite
from o2sim.settings import Setting, settings_of

if TYPE_CHECKING:
    from o2sim.quantities.units import Kind

Command = Callable[..., Any]
Record = TypeVar("Record")

QUANTITIES: tuple[Kind, ...] = ("share", "flow", "volume", "pressure", "temperature", "duration")
READERS: dict[str, Callable[[], Any]] = {
    "place": Place,
    "closeness": Closeness,
    "money": Price,
    "money a year": partial(Price, "year"),
    **{kind: partial(Quantity, kind) for kind in QUANTITIES},
}
CHECKS = {"finite": finite, "engine": at_hand, "list": between_commas}


def options_from(
    record: type, into: str = "settings", after: Mapping[str, Callable[[Command], Command]] | None = None
) -> Callable[[Command], Command]:
    """Give a command the options that a record of settings declares, in its order, and hand it the record read.

    into: the command's parameter for the record. after: what adds options of the command alone, by the setting
    that they follow in its help.
    """

    def of(command: Command) -> Command:
        @wraps(command)
        def call(**options: Any) -> Any:
            options[into] = record_from(record, options)
            return command(**options)

        added: Command = call
        for name, written, default, said in reversed(list(settings_of(record))):
            if after and name in after:
                added = after[name](added)
            added = _option(name, str(written), default, said)(added)
        return added

    return of


def record_from(record: Callable[..., Record], options: dict[str, Any]) -> Record:
    """Take a record's fields out of what click read and return the record; what is left stays in options.

    What may be repeated and was never typed is as the record has it.
    """
    given = {each.name: options.pop(each.name) for each in fields(record) if each.name in options}  # type: ignore[arg-type]
    return record(**{name: value for name, value in given.items() if value != ()})


def _option(name: str, written: str, default: Any, said: Setting) -> Callable[[Command], Command]:
    flag = said.flag or f"--{name.replace('_', '-')}"
    if written.startswith("bool"):
        return click.option(flag, name, is_flag=True, default=bool(default), help=said.help)
    if said.multiple:
        default = (default,) if isinstance(default, str) else default or ()
    given: dict[str, Any] = {"required": True} if default is MISSING else {"default": default}
    return click.option(
        flag,
        name,
        type=_type(written, said),
        multiple=said.multiple,
        metavar=said.metavar,
        show_default=said.shown and default not in (MISSING, None, ()),
        callback=CHECKS.get(said.reads),
        help=said.help,
        **given,
    )


def _type(written: str, said: Setting) -> Any:
    """Return how click reads a value: by its choices, its way to be read, its type as written and its limits."""
    if said.choices:
        return click.Choice(said.choices, case_sensitive=said.reads != "any case")
    if said.reads in READERS:
        return READERS[said.reads]()
    if written.startswith("int"):
        least, most = (None if limit is None else int(limit) for limit in (said.least, said.most))
        return click.IntRange(least, most)
    if written.startswith("float") and "str" not in written:
        return click.FloatRange(said.least, said.most)
    return click.STRING
