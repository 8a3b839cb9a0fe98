"""`o2sim cylinder`: one gauge reading, or a bedside table to print."""

from __future__ import annotations

from dataclasses import asdict, dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import click

from o2sim.commands import places
from o2sim.commands.from_settings import options_from
from o2sim.commands.options import file_setting, force_setting, json_setting, print_json
from o2sim.errors import QuantityError
from o2sim.settings import setting

if TYPE_CHECKING:
    from o2sim.quantities.gas import CylinderSize
    from o2sim.questions.bedside.table import BedsideTable

DEFAULT_FILL_KPA = 13_700.0  # of a table where none is stated; a US size is filled to US_FILL_PSI
US_FILL_PSI = 2_200


@dataclass(frozen=True)
class Reading:
    """A gauge reading: its pressure in kPa, and the unit it was given in with that unit's size in kPa."""

    kpa: float
    unit: tuple[str, float]


@dataclass(frozen=True)
class Options:
    """The options of the command; once read, pressures are in kPa, flows in mL/min, volumes in mL."""

    flows: tuple[float, ...] = setting(
        (), 'Such as "5 L/min"; many for a table.', flag="--flow", multiple=True, reads="flow"
    )
    water_capacity: float | None = setting(None, 'Stamped on the shoulder, such as "47 L".', reads="volume")
    content: float | None = setting(None, 'When full, such as "6800 L"; with --filling-pressure.', reads="volume")
    filling_pressure: float | None = setting(None, 'Such as "13.7 MPa", the usual one.', reads="pressure")
    us_size: str | None = setting(None, "A US size.", choices=("D", "E", "G", "H"), reads="any case")
    residual: float = setting(800.0, "Change here.", typed="800 kPa", reads="pressure")
    flow_lost_below: float = setting(400.0, typed="400 kPa", reads="pressure")
    leak: float = setting(0.0, "At the joints.", typed="0 L/min", reads="flow")
    temperature: float = setting(
        15.0,
        "At which the pressures are read; of a table the filling pressure, if there is a --room-temperature.",
        typed="15 degC",
        reads="temperature",
    )
    table: bool = setting(False, "A bedside table of gauge against flow in place of one reading.")
    gauge_unit: str = setting("bar", "Of the table.", choices=("bar", "kPa", "psi", "MPa"))
    gauge_error: float | None = setting(
        None,
        'How far the gauge may read too high, such as "5 bar"; of the table.  [default: 600 kPa, about what '
        "accuracy class 2.5 (EN 837-1, ISO 2503) allows on a range of 25 MPa: 625 kPa, from memory]",
        reads="pressure",
    )
    room_temperature: float | None = setting(
        None,
        'Of the ward where the gauge is read, such as "30 degC"; of the table.  [default: --temperature]',
        reads="temperature",
    )
    round_: float | None = setting(
        None,
        'From one round to the next, such as "4 h"; of the table.  [default: 2 h, the usual gauge check]',
        flag="--round",
        reads="duration",
    )
    ours: bool = setting(
        False,
        "The figures were read off the cylinders on the ward; without it the table is marked as an EXAMPLE.",
    )
    title: str = setting("Oxygen cylinder: how long will it last?", "At the top of the page.", shown=False)
    out: tuple[Path, ...] = file_setting(
        "Write the table to FILE.html (a page to print) or FILE.csv; may be repeated.", multiple=True
    )
    force: bool = force_setting()
    as_json: bool = json_setting()


def _reading(_: click.Context, __: click.Parameter, text: str | None) -> Reading | None:
    """Return the reading in a text such as "500 psi"; the answer is to be in its unit."""
    from o2sim.quantities.units import read

    if text is None:
        return None
    try:
        kpa = read(text, "pressure")
        unit = " ".join(text.split()).lstrip("+.0123456789eE ")
        return Reading(kpa, (unit, read(f"1 {unit}", "pressure")) if unit else ("kPa", 1.0))
    except QuantityError as error:
        raise click.BadParameter(str(error)) from error


@click.command(short_help="How long a cylinder lasts; a bedside table.")
@click.argument("gauge", callback=_reading, required=False)
@options_from(Options, "options")
def cylinder(gauge: Reading | None, options: Options) -> None:
    """Say how long a cylinder lasts from a GAUGE reading such as "12 MPa", "120 bar" or "1800 psi".

    Its size is one of --water-capacity, --content with --filling-pressure, or --us-size. With --table it prints a
    table for the bedside instead: hours and minutes by gauge reading and flow, the change-over line, the reading
    below which to change at a round, and how often to look at the gauge.
    """
    try:
        if options.table:
            _table(gauge, options)
        else:
            _one_reading(gauge, options)
    except QuantityError as error:
        raise click.UsageError(str(error)) from error


def _one_reading(gauge: Reading | None, options: Options) -> None:
    """Print how long a cylinder lasts from one reading at one flow."""
    from o2sim.quantities.gas import cylinder_lasts
    from o2sim.questions.check.text import cylinder_sentences

    if gauge is None:
        raise click.UsageError("give a GAUGE reading, or --table")
    if len(options.flows) != 1:
        raise click.UsageError('give one --flow, such as --flow "2 L/min"; a table takes several')
    (flow,) = options.flows
    if flow <= 0:
        raise click.UsageError("--flow must be more than 0")
    of_table = (options.gauge_error, options.room_temperature, options.round_)
    if options.out or options.ours or any(each is not None for each in of_table):
        raise click.UsageError(
            "--out, --ours, --gauge-error, --room-temperature and --round go with --table; one reading is read at "
            "--temperature"
        )
    lasts = cylinder_lasts(
        _size(options, options.filling_pressure),
        gauge.kpa,
        flow / 1_000,
        residual_kpa=options.residual,
        flow_lost_kpa=options.flow_lost_below,
        leak_l_min=options.leak / 1_000,
        temperature_c=options.temperature,
    )
    if options.as_json:
        print_json(asdict(lasts))
        return
    said = cylinder_sentences(lasts, flow, options.residual, options.flow_lost_below, gauge.unit)
    click.echo("\n".join(said))


def _table(gauge: Reading | None, options: Options) -> None:
    """Print the bedside table of a size, and write it where asked."""
    from o2sim.questions.bedside import table as bedside
    from o2sim.questions.bedside.text import text_lines

    if gauge is not None:
        raise click.UsageError("a table is for every reading: leave out GAUGE, or --table")
    for path in options.out:
        places.refuse("--out", path, options.force, (".html", ".csv"))
    table = bedside.bedside_table(
        bedside.Bedside(
            size=_size(options, options.filling_pressure if options.content is not None else None),
            filling_kpa=options.filling_pressure or _usual_fill_kpa(options),
            flows_ml_min=tuple(sorted(set(options.flows))) or bedside.FLOWS_ML_MIN,
            gauge_unit=options.gauge_unit,
            gauge_error_kpa=bedside.GAUGE_ERROR_KPA if options.gauge_error is None else options.gauge_error,
            residual_kpa=options.residual,
            flow_lost_kpa=options.flow_lost_below,
            leak_ml_min=options.leak,
            temperature_c=options.temperature,
            size_name="" if options.us_size is None else f"US size {options.us_size.upper()}",
            room_c=options.room_temperature,
            round_s=bedside.ROUND_S if options.round_ is None else round(options.round_),
            ours=options.ours,
        )
    )
    if options.as_json:
        print_json(asdict(table))
    else:
        click.echo("\n".join(text_lines(table)))
    places.write_all((path, lambda path: _write(path, table, options.title)) for path in options.out)


def _write(path: Path, table: BedsideTable, title: str) -> None:
    from o2sim.looks.files import write_csv, write_text
    from o2sim.questions.bedside.page import page
    from o2sim.questions.bedside.text import csv_columns, csv_rows

    if path.suffix.lower() == ".csv":
        write_csv(path, csv_columns(table), csv_rows(table))
    else:
        write_text(path, page(table, title))


def _size(options: Options, filling_kpa: float | None) -> CylinderSize:
    from o2sim.quantities.gas import US_FACTORS_L_PER_PSI, CylinderSize

    ways = (options.water_capacity, options.content, options.us_size)
    count = sum(way is not None for way in ways)
    if count != 1:
        raise click.UsageError(
            f"found {count} sizes: give one of --water-capacity (stamped on the shoulder), --content with "
            "--filling-pressure, or --us-size"
        )
    return CylinderSize(
        water_capacity_l=None if options.water_capacity is None else options.water_capacity / 1_000,
        full_content_l=None if options.content is None else options.content / 1_000,
        filling_pressure_kpa=filling_kpa,
        us_factor_l_per_psi=None if options.us_size is None else US_FACTORS_L_PER_PSI[options.us_size.upper()],
    )


def _usual_fill_kpa(options: Options) -> float:
    from o2sim.quantities.gas import KPA_PER_PSI

    return DEFAULT_FILL_KPA if options.us_size is None else US_FILL_PSI * KPA_PER_PSI
