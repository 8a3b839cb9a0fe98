"""How a text on the command line is read: places, quantities, money, shares; each fails as a usage error."""

from __future__ import annotations

import math
from importlib.util import find_spec
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from o2sim.errors import O2simError, QuantityError

if TYPE_CHECKING:
    from o2sim.quantities.units import Kind, Per

    FloatParam = click.ParamType[float]
    MoneyParam = click.ParamType[tuple[float, str]]
else:
    FloatParam = MoneyParam = click.ParamType  # cannot be subscripted before click 8.2

NO_COMPILER = (
    "Note: numba, which compiles the fast engine, is not installed; the reference engine gives the same results, "
    "more slowly. To have it: pip install numba"
)


class Place(click.Path):
    """Where to write: a path that is not empty, since an empty one would silently be the folder one is in."""

    def __init__(self) -> None:
        """Give paths as pathlib's."""
        super().__init__(path_type=Path)

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> Any:
        """Return the path, or fail as a usage error."""
        if not str(value).strip():
            self.fail("the name is empty; write . for the folder you are in, or another name", param, ctx)
        if ":" in str(value):
            from o2sim.scenario.text.places import address

            if where := address(str(value)):
                found, allowed, _ = where
                self.fail(f"{value}: {found}; allowed: {allowed}", param, ctx)
        return super().convert(value, param, ctx)


class Quantity(FloatParam):
    """A command-line value such as `12 MPa`, read into the internal unit of its kind."""

    def __init__(self, kind: Kind) -> None:
        """Take the kind of quantity, as in units.read."""
        self.kind, self.name = kind, kind

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the number in the internal unit, or fail as a usage error."""
        from o2sim.quantities.units import read

        if isinstance(value, float):
            return value
        try:
            return read(value, self.kind)
        except QuantityError as error:
            return self.fail(str(error), param, ctx)


class Closeness(Quantity):
    """A command-line precision such as `1 %`, read as a share."""

    def __init__(self) -> None:
        """Take shares."""
        super().__init__("share")

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> float:
        """Return the share, or fail as a usage error."""
        from o2sim.runs.precision import check_precision

        wanted = super().convert(value, param, ctx)
        try:
            check_precision(wanted, 1)
        except O2simError:
            self.fail(
                f"found {value!r}; allowed: from 0.01 % to below 50 %, such as 1 % for ±1 in 100", param, ctx
            )
        return wanted


class Price(MoneyParam):
    """A command-line amount such as `20000 USD/year`, read as (amount, currency)."""

    name = "money"

    def __init__(self, per: Per = "") -> None:
        """Take what it is for, as in units.read_money."""
        self.per = per

    def convert(self, value: Any, param: click.Parameter | None, ctx: click.Context | None) -> tuple[float, str]:
        """Return amount and currency, or fail as a usage error."""
        from o2sim.quantities.units import read_money

        try:
            return read_money(value, self.per)
        except QuantityError as error:
            return self.fail(str(error), param, ctx)


def finite(_ctx: click.Context, _param: click.Parameter, amount: float | None) -> float | None:
    """Refuse what is read as a number and is none."""
    if amount is not None and not math.isfinite(amount):
        raise click.BadParameter(f"found {amount}; allowed: an amount of money a year, such as 20000")
    return amount


def at_hand(_ctx: click.Context, _param: click.Parameter, engine: str) -> str:
    """Return the engine, the reference in place of the compiled one where nothing can compile it; say so."""
    if engine != "kernel" or find_spec("numba") is not None:
        return engine
    click.echo(NO_COMPILER, err=True)
    return "reference"


def between_commas(_ctx: click.Context, _param: click.Parameter, text: str | None) -> list[str] | None:
    """Return the parts of a list."""
    return None if text is None else text.split(",")
