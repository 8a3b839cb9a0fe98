"""What the papers publish, as read in their abstracts, and the press figures that bound prices."""

from __future__ import annotations

from dataclasses import dataclass

TWO_YEARS, YEAR = 730, 365  # days


@dataclass(frozen=True)
class Total:
    """Money that a paper publishes for a strategy of a file, over some days and litres a day.

    at_least: the paper gives a lower bound.
    """

    row: str
    file: str
    strategy: str
    money: float
    days: int
    litres_per_day: float
    at_least: bool = False

    @property
    def litres(self) -> float:
        """Return the litres that the money is for."""
        return self.days * self.litres_per_day

    @property
    def cents_per_litre(self) -> float:
        """Return hundredths of the currency for each litre."""
        return 100 * self.money / self.litres


HOWIE, PROVINCIAL, DISTRICT, FIJI = "howie_2020", "png_provincial_2010", "png_district_2010", "fiji_2021"
LITRES_A_YEAR = 1_700_000  # Howie et al 2020
A_DAY = LITRES_A_YEAR / YEAR


def _howie(row: str, strategy: str, cents_per_litre: float) -> Total:
    return Total(row, HOWIE, strategy, round(cents_per_litre * LITRES_A_YEAR / 100), YEAR, A_DAY)


TOTALS = (
    _howie("cylinders, The Gambia", "cylinders", 3.2),
    _howie("cylinders, Fiji", "cylinders", 6.8),
    _howie("mains with battery", "mains and battery", 1.2),
    _howie("solar", "solar", 1.5),
    Total("provincial, cylinders", PROVINCIAL, "cylinders", 555_000, TWO_YEARS, 38_000, at_least=True),
    Total("provincial, concentrators", PROVINCIAL, "concentrators", 223_000, TWO_YEARS, 38_000),
    Total("district, cylinders", DISTRICT, "cylinders", 333_000, TWO_YEARS, 17_000),
    Total("district, concentrators", DISTRICT, "concentrators", 33_000, TWO_YEARS, 17_000),
)
CAPITAL = {"mains and battery": 9_519, "solar": 20_718}  # USD, Howie et al 2020
FIJI_RATIO = 0.55  # concentrators over cylinders only, five years: McAllister et al 2021
FIJI_MONEY = (327_940, 434_032, 506_920)  # F$: low, stated, high

# Press figures of 2021: currency a USD (Kenya's as read beside the figure, the others from memory), money, litres.
REFILLS = {
    "India": (74.0, 400, 7_000),  # Times of India: "normal" 400 to 600 for 46.7 L of water, taken at 150 bar
    "Kenya": (109.6, 4_000, 8_000),  # Daily Nation: 3,000 to 5,000 for about 8,000 L
    "Namibia": (14.8, 510, 1_400),  # Mail & Guardian
}
SETS_USD = (233, 246, 730)  # Uganda 2022 twice (trade press), Kenya 2021, imported (Bloomberg)
UNIT_USD, FLOWMETERS_USD, OXIMETER_USD = 648, 550, 250  # Duke et al 2021, table 2, and the next three
FILTER_USD, COMPRESSOR_USD, SIEVE_USD, BOARD_USD = 12.5, 180, 185, 170
SOLAR_USD = 41_000
UPS_USD, DELIVERY_USD, INSTALLATION_USD = 200, 3_000, 2_000
TO_A_USD = {HOWIE: 1.0, PROVINCIAL: 2.7, DISTRICT: 2.7, FIJI: 2.1}  # of kina 2010 and F$: from memory
