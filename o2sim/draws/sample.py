"""All draws of one replication: patients, failures, power cuts, lead times, road closures.

Every number is draw(seed, replication, stream, item, ordinal), items keyed by what they mean under every
strategy, and is rounded to whole seconds or mL/min here, once.
"""

from __future__ import annotations

import datetime as dt
from collections.abc import Callable, Sequence
from typing import Any

import numpy.typing as npt
from scipy.special import ndtri

from o2sim.draws import cuts, funds
from o2sim.draws.admissions import Need, PatientTable, Sample, need_of, sample, with_those_met
from o2sim.draws.count_record import Start
from o2sim.draws.extra import with_extra
from o2sim.draws.from_count import start_of
from o2sim.draws.laws import quantile, whole
from o2sim.draws.lives import Lives, lives_of
from o2sim.draws.philox import Item, uniforms
from o2sim.draws.shocks import Effect, Storm, spells_of, spells_on, storms, storms_within
from o2sim.draws.spells import ROAD, roads_met, spell_records, spells
from o2sim.draws.streams import PackedAdmissions, pack_admissions
from o2sim.scenario.types.hospital import DAY_S, Cylinders, Hospital, Law, PartDelivery, RoadClosure, Shock

_FIRST_BLOCK = 16
_Times = tuple[dt.date, int, int, object, tuple[Shock, ...]]  # of a run, what was met of the road


class Series:
    """Whole-number draws of one law for one (stream, item), reached by ordinal; grown in blocks when asked."""

    def __init__(self, key: tuple[int, int], law: Law, stream: str, item: Item, least: int = 1) -> None:
        """Take (seed, replication), the law in the unit of its field, and the least value allowed."""
        self._key, self._law, self._stream, self._item, self._least = key, law, stream, item, least
        self._values: list[int] = []

    def __getitem__(self, ordinal: int) -> int:
        """Return the draw with this ordinal (from 0)."""
        while ordinal >= len(self._values):
            first = len(self._values)
            u = uniforms(*self._key, self._stream, self._item, first, max(_FIRST_BLOCK, first))
            self._values.extend(whole(quantile(self._law, u), self._least).tolist())
        return self._values[ordinal]


def _series(stream: str, what: str, least: int = 1) -> Callable[..., Series]:
    """Return the method that gives the draws of one stream by law and item."""

    def series(self: Draws, law: Law, item: Item = 0) -> Series:
        return Series(self.key, law, stream, item, least)

    series.__doc__ = f"Return {what}, by ordinal."
    return series


class Draws:
    """The luck of one replication, the same for every strategy and engine."""

    def __init__(self, seed: int, replication: int) -> None:
        """Take the seed of the study and the number of the replication (from 0)."""
        self.seed, self.replication = seed, replication
        self._samples: dict[tuple[PackedAdmissions, int | None, tuple[Shock, ...]], Sample] = {}
        self._lives: dict[int, tuple[Hospital, Lives]] = {}
        self._starts: dict[int, tuple[Hospital, Start]] = {}  # by hospital
        self._tables: dict[Sample, PatientTable] = {}
        self._needs: dict[Sample, Need] = {}
        self._cuts: list[tuple[tuple[Any, ...], npt.NDArray[Any]]] = []
        self._spells: list[tuple[str, tuple[RoadClosure, ...], _Times, npt.NDArray[Any]]] = []
        self._storms: dict[tuple[object, ...], tuple[Storm, ...]] = {}

    @property
    def key(self) -> tuple[int, int]:
        """Return (seed, replication)."""
        return self.seed, self.replication

    def draw(self, stream: str, item: Item, ordinal: int) -> float:
        """Return one uniform number in (0, 1), a pure function of seed, replication, stream, item, ordinal."""
        return float(uniforms(*self.key, stream, item, ordinal, 1)[0])

    def _whole(self, law: Law, stream: str, item: Item, ordinal: int, least: int, times: int = 1) -> int:
        """Return one draw of a law, times a whole number, rounded."""
        u = uniforms(*self.key, stream, item, ordinal, 1)
        return int(whole(times * quantile(law, u), least)[0])

    def normal(self, stream: str, item: Item, ordinal: int, spread: int) -> int:
        """Return one normal number of mean 0 and this standard deviation, rounded to a whole one."""
        return round(spread * float(ndtri(self.draw(stream, item, ordinal))))

    def sample(self, hospital: Hospital) -> Sample:
        """Return all who need oxygen from the start of the warm-up to the end of the horizon, as records."""
        by = pack_admissions(hospital), id(hospital) if hospital.now is not None else None, hospital.shocks
        if by not in self._samples:
            found = with_extra(self.key, hospital, sample(self.key, by[0]), self.storms(hospital))
            start = self.start(hospital)
            self._samples[by] = found if start is None else with_those_met(found, start.rows)
        return self._samples[by]

    def start(self, hospital: Hospital) -> Start | None:
        """Return what a run from a count begins from, None where it begins with an empty hospital."""
        if hospital.now is None:
            return None
        if id(hospital) not in self._starts:
            self._starts[id(hospital)] = hospital, start_of(self.key, hospital)
        return self._starts[id(hospital)][1]

    def patients(self, hospital: Hospital) -> PatientTable:
        """Return the same as lists."""
        found = self.sample(hospital)
        if found not in self._tables:
            self._tables[found] = found.table(hospital.patients)
        return self._tables[found]

    def need(self, hospital: Hospital) -> Need:
        """Return what the patients need within the horizon, the same under every strategy."""
        found = self.sample(hospital)
        if found not in self._needs:
            self._needs[found] = need_of(found, hospital.patients, hospital.counted_from_s, hospital.end_s)
        return self._needs[found]

    def lives(self, hospital: Hospital) -> Lives:
        """Return the lives of units that are worked out ahead; the same object for the same hospital."""
        if id(hospital) not in self._lives:
            self._lives[id(hospital)] = hospital, lives_of(self.key, hospital)
        return self._lives[id(hospital)][1]

    # A concentrator's item is in `Concentrators.items`; the ordinal of a repair or a way is that of the failure.
    failures = _series("concentrator failure", "seconds to each failure of a concentrator")
    repairs = _series("concentrator repair", "seconds of each repair of a concentrator")
    drifts = _series("concentrator drift", "running seconds to low concentration, each time it is as new")
    travel = _series("technician travel", "seconds of a technician's way to a unit", least=0)
    voltage_good = _series("voltage good", "seconds of usable voltage")
    voltage_bad = _series("voltage bad", "seconds of unusable voltage")
    generator_failures = _series("generator failure", "running seconds to each breakdown of the generator")
    generator_repairs = _series("generator repair", "seconds of each repair of the generator")
    grid_up = _series("grid up", "seconds of grid before each power cut")
    grid_down = _series("grid down", "seconds of each power cut")

    def fuel_lead_time_s(self, law: Law, day: dt.date) -> int:
        """Return the lead time of fuel ordered on a day."""
        return self._whole(law, "fuel lead time", day.toordinal(), 0, 1)

    def clearness_permille(self, law: Law, day: int) -> int:
        """Return what a day (its date's ordinal) gives of full sun, in whole per mille from 0 to 1000."""
        return min(1_000, self._whole(law, "clearness", day, 0, 0, 1_000))

    def lead_time_s(self, law: Law, day: dt.date, nth: int) -> int:
        """Return the lead time of the nth order (from 0) placed on a day."""
        return self._whole(law, "lead time", day.toordinal(), nth, 0)

    def emergency_lead_time_s(self, law: Law, day: dt.date, nth: int) -> int:
        """Return the lead time of the nth emergency order (from 0) placed on a day."""
        return self._whole(law, "emergency lead time", day.toordinal(), nth, 0)

    def handling_s(self, law: Law, stream: str, item: Item, ordinal: int) -> int:
        """Return how long hands take for a patient's nth job of a kind: if drawn, a second at least."""
        return self._whole(law, stream, item, ordinal, 0 if law.kind == "constant" else 1)

    def noticed_s(self, law: Law, stream: str, item: Item, nth: int) -> int:
        """Return the seconds after which somebody notices a patient's nth loss of flow (from 0) unseen."""
        return self._whole(law, stream, item, nth, 1)

    def backup_open_s(self, law: Law, patient: int, loss: int) -> int:
        """Return the seconds until the back-up of a patient flows, by how many units were lost before."""
        return self._whole(law, "backup open", patient, loss, 0)

    def listed_cuts(self, hospital: Hospital) -> tuple[tuple[int, int], ...]:
        """Return the cuts [start, end) in s by plan and by record, apart and in order; recorded days are drawn."""
        return cuts.cuts(self.key, hospital, self._cuts_of_storms(hospital))

    def listed_cut_records(self, hospital: Hospital) -> npt.NDArray[Any]:
        """Return the same as records of spells.SPELL, drawn once for all strategies with the same ones."""
        grid, power = hospital.grid, hospital.power
        shed = power.load_shedding if power else ()
        of_storms = self._cuts_of_storms(hospital)
        by = grid, shed, hospital.start, hospital.warm_up_s, hospital.end_s, of_storms
        for known, found in self._cuts:
            if known == by:
                return found
        self._cuts.append((by, spell_records(self.listed_cuts(hospital))))
        return self._cuts[-1][1]

    def closures(self, hospital: Hospital) -> list[tuple[int, int]]:
        """Return spells [start, end) in s, apart and in order, in which no delivery arrives."""
        return self.closure_records(hospital).tolist()  # type: ignore[no-any-return]

    def closure_records(self, hospital: Hospital) -> npt.NDArray[Any]:
        """Return the same as records of spells.SPELL."""
        return self._spells_of(
            hospital, "road closure", hospital.resupply.road_closures if hospital.resupply else ()
        )

    def outages(self, hospital: Hospital) -> list[tuple[int, int]]:
        """Return spells [start, end) in s, apart and in order, in which the supplier takes up no order."""
        return self.outage_records(hospital).tolist()  # type: ignore[no-any-return]

    def outage_records(self, hospital: Hospital) -> npt.NDArray[Any]:
        """Return the same as records of spells.SPELL."""
        listed = hospital.resupply.supplier_outages if hospital.resupply else ()
        return self._spells_of(hospital, "supplier outage", listed)

    def _spells_of(self, hospital: Hospital, stream: str, listed: tuple[RoadClosure, ...]) -> npt.NDArray[Any]:
        """Return the spells of a stream, drawn once for all strategies that list the same ones."""
        times = hospital.start, hospital.warm_up_s, hospital.end_s, roads_met(hospital), hospital.shocks
        for known in self._spells:
            if known[0] == stream and known[1] is listed and known[2] == times:
                return known[3]
        effect: Effect = "road" if stream == ROAD else "supplier"
        found = spells(self.key, hospital, stream, listed, spells_of(self.storms(hospital), effect))
        self._spells.append((stream, listed, times, found))
        return found

    def storms(self, hospital: Hospital) -> tuple[Storm, ...]:
        """Return the storms of a run in order of onset, the same for every strategy."""
        if not hospital.shocks:
            return ()
        by = (
            hospital.shocks, hospital.start, hospital.warm_up_s, hospital.end_s, roads_met(hospital),
            hospital.now and hospital.now.grid, hospital.resupply and hospital.resupply.road_closures,
        )  # fmt: skip
        if by not in self._storms:
            self._storms[by] = storms(self.key, hospital)
        return self._storms[by]

    def _cuts_of_storms(self, hospital: Hospital) -> tuple[tuple[int, int], ...]:
        """Return the power cuts of storms."""
        return spells_of(self.storms(hospital), "power")

    def shock_records(self, hospital: Hospital) -> npt.NDArray[Any]:
        """Return the spells in which a storm is on, apart and in order, as records of spells.SPELL."""
        return spell_records(spells_on(self.storms(hospital)))

    def shocks_met(self, hospital: Hospital) -> tuple[int, int]:
        """Return how many storms begin within the horizon, and its seconds with at least one on."""
        return storms_within(self.storms(hospital), hospital.counted_from_s, hospital.end_s)

    def failures_of_supplier(self, hospital: Hospital) -> list[int]:
        """Return the seconds of a run at which what was paid ahead to the supplier is lost, in order."""
        found = (each for each in self.storms(hospital) if each.shock.prepaid_lost)
        return [each.onset_s for each in found if each.onset_s >= 0]

    def brought(self, rule: PartDelivery | None, counts: Sequence[int], day: dt.date, nth: int) -> list[int]:
        """Return how many of `counts` cylinders by size come, at least one in all, for a day's nth order."""
        if rule is None or self.draw("part delivery", day.toordinal(), nth) >= rule.chance:
            return list(counts)
        came = [
            min(count, self._whole(rule.share, "part delivery share", day.toordinal(), nth, 0, count))
            for count in counts
        ]
        if not any(came):
            came[next(size for size, count in enumerate(counts) if count)] = 1
        return came

    def fill(self, cylinders: Cylinders, nth: int) -> int:
        """Return the content (1/60 mL) of the nth cylinder of a size delivered; 0 for one that is unusable."""
        item, full = cylinders.name or 0, cylinders.full_gas
        if cylinders.unusable and self.draw("cylinder unusable", item, nth) < cylinders.unusable:
            return 0
        low = cylinders.underfilled
        if low is None or self.draw("cylinder underfilled", item, nth) >= low.share:
            return full
        return min(full, self._whole(low.content, "underfilled content", item, nth, 1, full))

    def refused(self, cylinders: Cylinders, nth: int) -> bool:
        """Return True if the nth empty of a size handed over in the run is condemned instead of filled."""
        return cylinders.refused > 0 and self.draw("empty refused", cylinders.name or 0, nth) < cylinders.refused

    def allotments(self, hospital: Hospital) -> list[int]:
        """Return the seconds at which allotments come into the purse, in order."""
        return funds.allotments(self.key, hospital)

    def approval_s(self, law: Law, day: dt.date, nth: int) -> int:
        """Return how long the nth order (from 0) decided on a day waits to be approved."""
        return self._whole(law, "approval", day.toordinal(), nth, 0)

    def pays_fee(self, share: float, patient: int) -> bool:
        """Return True for a patient who pays the fee."""
        return self.draw("fee", patient, 0) < share

    def losses(self, cylinders: Cylinders) -> Series:
        """Return the seconds between cylinders going missing, by their ordinal."""
        return Series(
            self.key, Law("exponential", (DAY_S / cylinders.losses_per_day,)), "cylinder loss", cylinders.name or 0
        )
