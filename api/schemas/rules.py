"""Rule sets over the wire: versions, content by table, and what a draft would change."""

from datetime import date, datetime
from typing import Annotated, Any

from pydantic import BaseModel, ConfigDict, Field

from api.services.rule_sets import EffectRow
from models.records import RuleSetRecord


class RuleSetPublic(BaseModel):
    """One version of a kind of rules, without its content."""

    id: str
    kind: str
    version: str
    state: str
    valid_from: date
    sha256: str
    based_on: str | None
    edition: int
    made_at: datetime | None
    made_by: str
    published_at: datetime | None

    @staticmethod
    def of(record: RuleSetRecord) -> "RuleSetPublic":
        """The public form of a version."""
        return RuleSetPublic(**{name: getattr(record, name) for name in RuleSetPublic.model_fields})


class RuleSetDetail(RuleSetPublic):
    """One version with its content: by table its rows of text, or its document."""

    content: dict[str, Any]


class KindPublic(BaseModel):
    """A kind of rules, its tables and the version in force today."""

    kind: str
    tables: list[str]
    in_force: RuleSetPublic | None


class KindList(BaseModel):
    """All kinds of rules."""

    items: list[KindPublic]


class RuleSetList(BaseModel):
    """The versions of a kind, the newest first."""

    items: list[RuleSetPublic]


class _Body(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid", allow_inf_nan=False)


class RuleDraftRequest(_Body):
    """A draft with the content of `based_on`, or of the version in force today."""

    based_on: Annotated[str, Field(max_length=36)] | None = None


class RuleContentRequest(_Body):
    """The whole content of a draft."""

    content: dict[str, Any]


class RulePublishRequest(_Body):
    """From which day a draft holds; today where it is left out."""

    valid_from: date | None = None


class EffectRowPublic(BaseModel):
    """What a draft does to one house."""

    what: str
    label: str
    total_before_pence: int | None
    total_after_pence: int | None
    days_before: int | None
    days_after: int | None
    lines_changed: list[str]
    findings_new: list[str]

    @staticmethod
    def of(row: EffectRow) -> "EffectRowPublic":
        """The public form of a row."""
        return EffectRowPublic(**{name: getattr(row, name) for name in ("what", "label", "total_before_pence",
            "total_after_pence", "days_before", "days_after")}, lines_changed=list(row.lines_changed),
            findings_new=list(row.findings_new))  # fmt: skip


class EffectPublic(BaseModel):
    """Before and after on the demo households and on the last twenty quotes."""

    rows: list[EffectRowPublic]
