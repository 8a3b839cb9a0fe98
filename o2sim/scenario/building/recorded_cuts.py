"""What a record of power cuts says of the grid."""

from __future__ import annotations

import datetime as dt
from collections.abc import Iterator

from o2sim.scenario.building.built import Setting
from o2sim.scenario.building.columns import dialect_of
from o2sim.scenario.building.periods import Period, Record, check_run, outside, period
from o2sim.scenario.building.record_rows import Cut, read_cuts
from o2sim.scenario.building.values import Values
from o2sim.scenario.types.hospital import DAY_S
from o2sim.scenario.types.power import Grid
from o2sim.scenario.types.spells import merged


def recorded_grid(setting: Setting, values: Values) -> Grid:
    """Return the grid of a section with a file of cuts. Raises RefusedError.

    A cut that began before the period counts from its part inside; one without an end lasts to the end of the
    period. Cuts that meet are one; each then lasts `scale` times as long from its beginning.
    """
    start = setting.general.start
    cuts = read_cuts(setting.reader.beside, values.node, values["file"], dialect_of(values), start)
    record = Record("record of cuts", values.node, values["file"], values["use"], values["from"], values["to"])
    days = sorted(cut.start_s // DAY_S for cut in cuts)
    kept = period(setting.problems, record, (start + dt.timedelta(days=day) for day in (days[0], days[-1])))
    outside(setting.problems, record, kept, _outside(cuts, kept, start))
    check_run(setting.problems, record, kept, setting.general)
    from_s = kept.first_day(start) * DAY_S
    to_s, scale = from_s + kept.days * DAY_S, values["scale"]
    inside = merged((max(cut.start_s, from_s), to_s if cut.end_s is None else cut.end_s) for cut in cuts)
    longer = ((begin_s, begin_s + max(1, round((end_s - begin_s) * scale))) for begin_s, end_s in inside)
    return Grid(
        use=values["use"],
        scale=scale,
        cuts=merged(longer),
        first_day=kept.first_day(start),
        days=kept.days,
        stated=kept.stated,
    )


def _outside(cuts: tuple[Cut, ...], kept: Period, start: dt.date) -> Iterator[tuple[int, str]]:
    """Yield (line, what was found) of cuts that do not meet the period."""
    from_s = kept.first_day(start) * DAY_S
    for cut in cuts:
        date = start + dt.timedelta(days=cut.start_s // DAY_S)
        if cut.start_s >= from_s + kept.days * DAY_S:
            yield cut.line, f"{date}, after the last day of the record of cuts"
        elif cut.end_s is not None and cut.end_s <= from_s:
            yield cut.line, f"{date}, before the first day of the record of cuts, and a cut that ends before it"
