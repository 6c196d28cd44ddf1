"""Price lists over the wire: lists, lines, imports, uplifts, re-pricing. Decimals are strings."""

from datetime import date, datetime
from decimal import Decimal
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from api.schemas.texts import Line
from models.catalogue import PriceLine
from models.catalogue.imports import TICK_ABOVE_RATIO, Added, Changed, ImportPlan, Rejected, cells_of
from models.records import PriceLineRecord, PriceListRecord, RepricingRun

Cell = Annotated[str, Field(max_length=2000)]
Ratio = Annotated[Decimal, Field(gt=-1, le=10, max_digits=7, decimal_places=5, allow_inf_nan=False)]
Step = Annotated[Decimal, Field(gt=0, le=100, max_digits=7, decimal_places=4, allow_inf_nan=False)]


class PriceListPublic(BaseModel):
    """A price list without its lines. `firm` is false while its prices are only indicative.

    `state` is draft, published or retired; `edition` grows with every change of a draft and is its ETag.
    """

    id: str
    version: str
    valid_from: date
    state: str
    firm: bool
    based_on: str | None = None
    note: str = ""
    edition: int = 1
    made_at: datetime | None = None
    made_by: str = ""
    published_at: datetime | None = None

    @staticmethod
    def of(record: PriceListRecord) -> "PriceListPublic":
        """The public form of a list."""
        return PriceListPublic(**{name: getattr(record, name) for name in PriceListPublic.model_fields})


class PriceListPage(BaseModel):
    """A page of price lists, the latest first day first."""

    items: list[PriceListPublic]
    next_cursor: str | None


class PriceLinePage(BaseModel):
    """A page of lines by SKU. The fields about cost are absent without the right to see cost."""

    items: list[dict[str, Any]]
    next_cursor: str | None


_ABOUT_COST = ("cost_gbp", "margin_class", "supplier", "supplier_code")
_SHOWN = (
    "sku", "group", "description", "unit", "pack_size", "cost_gbp", "supplier", "supplier_code", "lead_time_days",
    "held", "margin_class", "vat_class", "sales_nominal", "charged_by", "role", "ends_on", "substitute", "priced_on",
)  # fmt: skip


def price_line_public(record: PriceLineRecord | PriceLine, *, sees_cost: bool) -> dict[str, Any]:
    """The public form of a line."""
    return {name: _shown(getattr(record, name)) for name in _SHOWN if sees_cost or name not in _ABOUT_COST}


def _shown(value: Any) -> Any:
    return value if value is None or isinstance(value, int) else str(value)


class _Body(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class DraftRequest(_Body):
    """A draft of a list: with the lines of `based_on`, or of the list in force today."""

    based_on: Annotated[str, Field(max_length=36)] | None = None
    note: Line = ""


class LineRequest(_Body):
    """One line of a draft: cells as they stand in a CSV file; what is left out stays."""

    group: Cell | None = None
    description: Cell | None = None
    unit: Cell | None = None
    pack_size: Cell | None = None
    cost_gbp: Cell | None = None
    supplier: Cell | None = None
    supplier_code: Cell | None = None
    lead_time_days: Cell | None = None
    held: Cell | None = None
    margin_class: Cell | None = None
    vat_class: Cell | None = None
    sales_nominal: Cell | None = None
    charged_by: Cell | None = None
    role: Cell | None = None
    attributes: Cell | None = None
    ends_on: Cell | None = None
    substitute: Cell | None = None
    priced_on: Cell | None = None

    def cells(self) -> dict[str, str]:
        """The cells that were given."""
        return {name: value.strip() for name, value in self.model_dump(exclude_none=True).items()}


class UpliftRequest(_Body):
    """A change of cost by a ratio for a supplier, a class or a group. `dry_run` only shows it."""

    change_ratio: Ratio
    round_to_gbp: Step = Decimal("0.0001")
    supplier: Line = ""
    margin_class: Line = ""
    group: Line = ""
    dry_run: bool = True


class PublishRequest(_Body):
    """From which day a draft holds, and whether its prices are firm."""

    valid_from: date | None = None
    firm: bool = True


class ConfirmRequest(_Body):
    """The lines whose price still holds today."""

    skus: Annotated[tuple[Annotated[str, Field(max_length=40)], ...], Field(min_length=1, max_length=5000)]


class FieldChange(BaseModel):
    """One cell before and after."""

    name: str
    old: str
    new: str


class ChangedPublic(BaseModel):
    """A line that changes. `change_ratio` is of the cost, null where there was none."""

    row: int
    sku: str
    description: str
    old_cost_gbp: str
    new_cost_gbp: str
    change_ratio: str | None
    needs_tick: bool
    fields: list[FieldChange]

    @staticmethod
    def of(change: Changed) -> "ChangedPublic":
        """The public form of a change."""
        return ChangedPublic(
            row=change.row,
            sku=change.line.sku,
            description=change.line.description,
            old_cost_gbp=cells_of(change.old)["cost_gbp"],
            new_cost_gbp=cells_of(change.line)["cost_gbp"],
            change_ratio=None if change.change_ratio is None else str(round(change.change_ratio, 6)),
            needs_tick=change.needs_tick,
            fields=[FieldChange(name=name, old=old, new=new) for name, old, new in change.fields],
        )


class AddedPublic(BaseModel):
    """A line that is new."""

    row: int
    sku: str
    description: str
    cost_gbp: str

    @staticmethod
    def of(one: Added) -> "AddedPublic":
        """The public form of a new line."""
        cost = cells_of(one.line)["cost_gbp"]
        return AddedPublic(row=one.row, sku=one.line.sku, description=one.line.description, cost_gbp=cost)


class RejectedPublic(BaseModel):
    """A row that is not taken, and why."""

    row: int
    sku: str
    reason: str

    @staticmethod
    def of(one: Rejected) -> "RejectedPublic":
        """The public form of a rejected row."""
        return RejectedPublic(row=one.row, sku=one.sku, reason=one.reason)


class ImportPublic(BaseModel):
    """What a file does to a list, or would do. `price_list` is the draft that holds it, null where nothing changed."""

    dry_run: bool
    encoding: str
    tick_above_ratio: str = str(TICK_ABOVE_RATIO)
    added: list[AddedPublic]
    changed: list[ChangedPublic]
    unchanged_count: int
    untouched_count: int
    rejected: list[RejectedPublic]
    needs_tick: list[str]
    held_back: list[str]
    price_list: PriceListPublic | None

    @staticmethod
    def of(
        plan: ImportPlan, *, dry_run: bool, held_back: tuple[str, ...] = (), draft: PriceListRecord | None = None
    ) -> "ImportPublic":
        """The public form of an import."""
        return ImportPublic(
            dry_run=dry_run,
            encoding=plan.encoding,
            added=[AddedPublic.of(one) for one in plan.added],
            changed=[ChangedPublic.of(one) for one in plan.changed],
            unchanged_count=len(plan.unchanged),
            untouched_count=plan.untouched,
            rejected=[RejectedPublic.of(one) for one in plan.rejected],
            needs_tick=[change.line.sku for change in plan.needs_tick],
            held_back=list(held_back),
            price_list=None if draft is None else PriceListPublic.of(draft),
        )


class UpliftPublic(BaseModel):
    """What an uplift changes, or would change."""

    dry_run: bool
    changed: list[ChangedPublic]
    edition: int


class StaleLines(BaseModel):
    """Lines whose price nobody confirmed for more than so many days, the oldest first."""

    days: int
    items: list[dict[str, Any]]


class ChangesPublic(BaseModel):
    """What is new and changed in a list against the one that it was copied from."""

    added: list[AddedPublic]
    changed: list[ChangedPublic]


class RepricingPublic(BaseModel):
    """A re-pricing of open drafts. `differ` counts those for which a fresh estimate would choose differently."""

    id: str
    reason: str
    starts_on: date
    state: str
    total: int
    done: int
    changed: int
    to_check: int
    differ: int
    made_at: datetime
    started_at: datetime | None
    ended_at: datetime | None

    @staticmethod
    def of(run: RepricingRun) -> "RepricingPublic":
        """The public form of a run."""
        return RepricingPublic(**{name: getattr(run, name) for name in RepricingPublic.model_fields})


class RepricingList(BaseModel):
    """The latest runs, the newest first."""

    items: list[RepricingPublic]
