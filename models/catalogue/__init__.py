"""What can be bought: items with ratings and sizes, and the price lists that they stand in."""

from models.catalogue.items import (
    Cable as Cable,
    Catalogue as Catalogue,
    Cylinder as Cylinder,
    EmitterProduct as EmitterProduct,
    OutdoorUnit as OutdoorUnit,
    PipeInsulation as PipeInsulation,
    PumpPoint as PumpPoint,
    Rating as Rating,
    Vessel as Vessel,
    Volumiser as Volumiser,
    ZoneRecord as ZoneRecord,
)
from models.catalogue.prices import (
    PriceLine as PriceLine,
    PriceList as PriceList,
    RefusedRow as RefusedRow,
    price_lines_from_rows as price_lines_from_rows,
)
