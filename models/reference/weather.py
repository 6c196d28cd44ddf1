"""Days with rain by region and month.

Some cells of the table were never read; they stand between their neighbours, and the region says which they are.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache

from models.reference.load import BrokenTable, number, read_rows
from models.sources import Source

SOURCE = Source(
    "Met Office, regional values for months of 2008 to 2010 less their anomaly against 1971 to 2000",
    "days with 1 mm of rain or more",
)
RAIN_FILE = "rain_days.csv"
REGIONS_FILE = "rain_regions.csv"
_MONTHS = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")
_MONTHS_IN_FULL = (
    "January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November",
    "December",
)  # fmt: skip
_DAYS = (31, 28.25, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31)
"""A February has 28.25 days on average, leap years in."""
_NATIONS = {
    "england": "England",
    "wales": "Wales",
    "scotland": "Scotland",
    "northern_ireland": "Northern Ireland",
}


@dataclass(frozen=True, slots=True)
class RainRegion:
    """Days a month with 1 mm of rain or more, January to December; `between` are months taken between neighbours."""

    name: str
    rain_days: tuple[float, ...]
    between: tuple[int, ...]

    def chance_ratio(self, month: int) -> float:
        """The chance that a day of a month (1 to 12) has rain: its rain days over its days."""
        return self.rain_days[month - 1] / _DAYS[month - 1]

    def month_said(self, month: int) -> str:
        """The region and a month (1 to 12) by name."""
        return f"{self.name} in {_MONTHS_IN_FULL[month - 1]}"

    def said(self, month: int) -> str:
        """What the table says of a month (1 to 12), in words."""
        days = f"{self.rain_days[month - 1]:.1f} days with 1 mm of rain or more in {_MONTHS_IN_FULL[month - 1]}"
        if month in self.between:
            return f"{self.name}: {days}, not read but taken between the months before and after"
        return f"{self.name}: {days}"


@cache
def load_rain() -> Mapping[str, RainRegion]:
    """The regions by name, read once per process. Raises BrokenTable with file, row and reason."""
    regions: dict[str, RainRegion] = {}
    for row_number, row in enumerate(read_rows(RAIN_FILE), 2):
        name = row["region"]
        if not name or name in regions:
            raise BrokenTable(f"{RAIN_FILE}, row {row_number}: a region is named once, not {name!r}")
        read = {
            month: number(RAIN_FILE, row_number, row, heading, 0, 31)
            for month, heading in enumerate(_MONTHS, 1)
            if row.get(heading) != ""
        }
        if len(read) < 2:
            raise BrokenTable(f"{RAIN_FILE}, row {row_number}: {name} has fewer than two months to stand between")
        days = tuple(read[month] if month in read else _between(read, month) for month in range(1, 13))
        regions[name] = RainRegion(name, days, tuple(month for month in range(1, 13) if month not in read))
    return regions


@cache
def load_regions() -> Mapping[int, str]:
    """The rain region by climate region (SAP Appendix U), where one is narrower than the nation.

    Raises BrokenTable with file, row and reason.
    """
    known = load_rain()
    found: dict[int, str] = {}
    for row_number, row in enumerate(read_rows(REGIONS_FILE), 2):
        climate_region = int(number(REGIONS_FILE, row_number, row, "climate_region", 0, 21))
        if row["region"] not in known:
            raise BrokenTable(f"{REGIONS_FILE}, row {row_number}: no rain region is called {row['region']!r}")
        found[climate_region] = row["region"]
    return found


def rain_of(nation: str, climate_region: int) -> RainRegion:
    """The rain region of a house: in England by its climate region, elsewhere the nation. KeyError for no nation."""
    if nation != "england":
        return rain_of_nation(nation)
    name = load_regions().get(climate_region)
    return load_rain()[name] if name else rain_of_nation(nation)


def rain_of_nation(nation: str) -> RainRegion:
    """The row of a nation by the name that a survey gives it. Raises KeyError for another."""
    return load_rain()[_NATIONS[nation]]


def _between(read: Mapping[int, float], month: int) -> float:
    """A month on the straight line between the nearest months read before and after it, round the year."""
    back = next(step for step in range(1, 12) if (month - step - 1) % 12 + 1 in read)
    forth = next(step for step in range(1, 12) if (month + step - 1) % 12 + 1 in read)
    before, after = read[(month - back - 1) % 12 + 1], read[(month + forth - 1) % 12 + 1]
    return before + (after - before) * back / (back + forth)
