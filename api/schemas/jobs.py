"""Jobs, parties and parts of surveys over the wire."""

from datetime import datetime
from typing import Annotated, Any, Literal

from pydantic import BaseModel, ConfigDict, Field

from api.schemas.findings import FindingPublic
from api.schemas.texts import Contact, Label, Line, Lines
from models.records import Job, Party

JobStatus = Literal["open", "won", "lost", "done"]
_UUID = r"^[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}$"


class _Incoming(BaseModel):
    model_config = ConfigDict(frozen=True, extra="forbid")


class PartyBody(_Incoming):
    """Whose house it is. Kept apart from the survey and from sealed quotes."""

    name: Line = ""
    address: Lines = ""
    contact: Contact = ""


class JobCreate(_Incoming):
    """A new job. `id` may be made by the client (UUID version 7), so that a phone without network can go ahead."""

    id: Annotated[str, Field(pattern=_UUID)] | None = None
    label: Label
    party: PartyBody = Field(default_factory=PartyBody)


class JobUpdate(_Incoming):
    """What may be changed about a job; what is left out stays."""

    label: Label | None = None
    status: JobStatus | None = None
    party: PartyBody | None = None


class JobPublic(BaseModel):
    """A job in lists."""

    id: str
    number: int
    label: str
    status: str
    owner: str
    version: int
    created_at: datetime

    @staticmethod
    def of(job: Job) -> "JobPublic":
        """The public form of a job."""
        return JobPublic(
            id=job.id,
            number=job.number,
            label=job.label,
            status=job.status,
            owner=job.owner,
            version=job.version,
            created_at=job.created_at,
        )


class JobDetail(JobPublic):
    """A job with its party."""

    party: PartyBody

    @staticmethod
    def with_party(job: Job, party: Party) -> "JobDetail":
        """The public form of a job and its party."""
        shown = PartyBody.model_construct(name=party.name, address=party.address, contact=party.contact)
        return JobDetail(**JobPublic.of(job).model_dump(), party=shown)


class JobPage(BaseModel):
    """A page of jobs, the newest first. `next_cursor` is null on the last page."""

    items: list[JobPublic]
    next_cursor: str | None


class SavedPart(BaseModel):
    """A part of a survey as it was kept, and what is still to be said about it."""

    kind: str
    id: str
    version: int
    part: Any
    findings: list[FindingPublic]


class SurveyAnswer(BaseModel):
    """The whole survey as far as it goes. `versions` holds the ETag number of each part."""

    survey: dict[str, Any]
    version: int
    versions: dict[str, Any]
    complete: bool
    findings: list[FindingPublic]
