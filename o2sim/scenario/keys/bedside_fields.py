"""The keys of the equipment at the bedside; fields.py has the rest of the table."""

from __future__ import annotations

from o2sim.scenario.keys.field import COMMON, HIGHEST_FLOW, Field, Section, whole_field

VALVES = tuple((word, word) for word in ("bullnose", "pin-index", "CGA 540"))
DEVICES = ("nasal prongs", "nasal catheter", "nasopharyngeal catheter", "face mask", "non-rebreather mask")
ALWAYS_HUMIDIFIED = ("nasopharyngeal catheter",)  # gas that is not moistened in the nose: WHO 2016, from memory
MOST = 100_000

FLOWMETER = Section(
    (
        Field("low", "flow", "lowest flow it can be set to", "0 L/min", COMMON, most=HIGHEST_FLOW),
        Field("high", "flow", "highest flow it can be set to", required=True, most=HIGHEST_FLOW),
    )
)
REGULATOR_SET = Section(
    (
        whole_field("count", "sets of this kind", None, 0, MOST, required=True),
        Field("flowmeter", "section", "flows it can be set to, the same at each outlet of a splitter",
              section=FLOWMETER, otherwise="any flow"),
        Field("valve", "word", "fitting; a set whose fitting is not that of the cylinders cannot be used",
              words=VALVES, otherwise="fits the cylinders"),
    )
)  # fmt: skip
SPLITTERS = Section(
    (
        whole_field("count", "flow splitters", None, 0, MOST, required=True),
        whole_field("outlets", "patients who can share a cylinder through one", None, 2, 20, required=True),
    )
)
DELIVERY = Field("delivery", "word", "how oxygen is given; counts where humidifiers or delivery sets are limited",
                 words=tuple((word, word) for word in DEVICES), otherwise="limited by nothing")  # fmt: skip
BEDSIDE = Section(
    (
        whole_field("humidifiers", "used at once", None, 0, MOST, words=(("unlimited", None),),
                    otherwise="unlimited"),
        Field("humidify_above", "flow", "a higher flow needs a humidifier, and a nasopharyngeal catheter always",
              "4 L/min", "WHO, Oxygen therapy for children, 2016, from memory", most=HIGHEST_FLOW),
        Field("delivery_sets", "section", "prongs, catheters and masks that can be used at once",
              otherwise="unlimited", section=Section(tuple(
                  whole_field(device, "used at once", None, 0, MOST, words=(("unlimited", None),),
                              otherwise="unlimited") for device in DEVICES))),
    )
)  # fmt: skip
