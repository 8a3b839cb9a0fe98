"""The stages of the flow of a class of patients: from when to when in a stay, what flow, how long."""

from __future__ import annotations

from dataclasses import dataclass

from o2sim.scenario.types.hospital import DAY_S, Law, PatientClass
from o2sim.scenario.types.laws import law_mean, mean_up_to, scaled


@dataclass(frozen=True)
class Stage:
    """A part of the stays of a class: seconds from the beginning of a stay (to_s None: to its end), and the flow.

    mean_s is the mean time that a patient of the class spends in it.
    """

    patients: PatientClass
    from_s: int
    to_s: int | None
    flow_ml_min: Law
    mean_s: float

    @property
    def at_once(self) -> float:
        """Return the mean number of patients in it at once: their rate x their mean time (Little 1961)."""
        return self.patients.admissions_per_day * self.patients.hypoxaemic * self.mean_s / DAY_S


def stages(patients: PatientClass) -> tuple[Stage, ...]:
    """Return the stages of a class in order; one, to the end of the stay, where its flow has no steps."""
    starts = [0, *(step.after_s for step in patients.flow_steps)]
    shares = [1.0, *(step.share for step in patients.flow_steps)]
    reached = [
        0.0,
        *(mean_up_to(patients.duration_s, start) for start in starts[1:]),
        law_mean(patients.duration_s),
    ]
    return tuple(
        Stage(
            patients,
            start,
            starts[place + 1] if place + 1 < len(starts) else None,
            patients.flow_ml_min if share == 1 else scaled(patients.flow_ml_min, share),
            reached[place + 1] - reached[place],
        )
        for place, (start, share) in enumerate(zip(starts, shares, strict=True))
    )
