"""The days of a quote over the wire: papers and what-ifs."""

from datetime import date
from typing import Any

from pydantic import BaseModel, ConfigDict, Field

_SENTENCE = (
    "During the works, Monday 11 January to Friday 15 January 2027, these are off: the heating from Monday 11 January "
    "at 09:14 to Thursday 14 January at 14:46 (3 nights); the hot water on Friday 15 January from 11:04 to 11:40. "
    "Times are planned and may move a little."
)
_WHAT_IF = (
    "the cylinder is damaged on delivery and replaced on day 2 at 10:00: costs a day: working half an hour longer each "
    "day avoids it"
)


class SheetLinePublic(BaseModel):
    """One stretch of work: from, to, what, who, and whether it goes on on another day."""

    since: str = Field(examples=["08:00"])
    until: str = Field(examples=["09:30"])
    code: str = Field(examples=["PRIMARY-SET"])
    name: str
    people: list[str]
    goes_on: bool


class DaySheetPublic(BaseModel):
    """What one trade does on one day, with the usual cautions; the maker's instructions and local codes come first."""

    day: int
    on: date | None
    trade: str = Field(examples=["engineer"])
    people: list[str]
    arrives: str
    leaves: str
    lines: list[SheetLinePublic]
    cautions: list[str]


class PickLinePublic(BaseModel):
    """A part that is there on that day, and the task that needs it first."""

    sku: str
    description: str
    bought: str = Field(description="a decimal with three places")
    unit: str
    task: str = Field(description="empty where no task is known: then it is there on day 1")


class PickListPublic(BaseModel):
    """What one supplier brings for one day."""

    day: int
    on: date | None
    supplier: str = Field(default="", description="absent without the right to see cost")
    lines: list[PickLinePublic]


class WhatIfPublic(BaseModel):
    """What happens if: the plan then and a sentence with what it costs and what avoids it.

    `days_more` for a mishap, `days_dry`, `days_half`, `days_four_of_five` and `runs` for rain.
    """

    model_config = ConfigDict(extra="allow")

    question: str
    sentence: str = Field(examples=[_WHAT_IF])
    avoided_by: str = Field(description="the cheapest way that was tried and works; empty where none does")
    source: str
    plan: dict[str, Any]


class DaysPublic(BaseModel):
    """Day sheets, pick lists, delivery checks and the customer's sentence of a quote; what-ifs if asked for."""

    services_sentence: str = Field(examples=[_SENTENCE])
    sheets: list[DaySheetPublic]
    pick_lists: list[PickListPublic]
    delivery_checks: list[str]
    what_if: list[WhatIfPublic] = Field(default_factory=list, description="absent unless asked for")
    same_days: bool = Field(
        default=True, description="whether today's rules still give the quote's days; absent without what_if"
    )
