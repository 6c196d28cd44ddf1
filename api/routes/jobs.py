"""Jobs: the houses to be quoted for."""

from typing import Annotated

from fastapi import APIRouter, Query, Response

from api.answers import answer
from api.body import RawJson, documented, parse
from api.deps import CurrentActor, IfMatch, Now, OnceDep, ReadSession, WriteSession, kept
from api.errors import conflict, not_found
from api.ids import cursor_of, is_id, new_id, number_of_cursor
from api.schemas.jobs import JobCreate, JobDetail, JobPage, JobPublic, JobUpdate
from api.security import Actor
from api.store import jobs, office
from api.versions import check_version
from models.records import Job

router = APIRouter(prefix="/jobs", tags=["jobs"])
Limit = Annotated[int, Query(ge=1, le=200, description="How many at most.")]
Cursor = Annotated[str | None, Query(max_length=200, description="`next_cursor` of the page before.")]


def job_for(session: ReadSession, actor: Actor, job_id: str, *, lock: bool = False) -> Job:
    """The job at an address. Raises 404 also for one that this actor may not see."""
    found = jobs.job_by_id(session, job_id, only_owner=actor.only_owner, lock=lock) if is_id(job_id) else None
    if found is None:
        raise not_found("job")
    return found


@router.get("", summary="List jobs", response_model=JobPage)
def list_jobs(actor: CurrentActor, session: ReadSession, limit: Limit = 50, cursor: Cursor = None) -> JobPage:
    """Jobs, the newest first; sales people see their own."""
    before = None if cursor is None else number_of_cursor(cursor)
    found = jobs.jobs_before(session, number=before, only_owner=actor.only_owner, limit=limit + 1)
    shown = found[:limit]
    return JobPage(
        items=[JobPublic.of(job) for job in shown],
        next_cursor=cursor_of(shown[-1].number) if len(found) > limit else None,
    )


@router.post(
    "",
    summary="Start a job",
    status_code=201,
    responses={201: {"model": JobDetail}},
    openapi_extra=documented("JobCreate", JobCreate, {"plain": {"value": {"label": "12 Any Lane"}}}),
)
def post_job(actor: CurrentActor, raw: RawJson, session: WriteSession, once: OnceDep, now: Now) -> Response:
    """A job with an empty survey. The same `id` with the same content again is answered as before."""
    body = parse(JobCreate, raw, where="the job")

    def make() -> Response:
        if body.id is not None and jobs.job_by_id(session, body.id, only_owner=None) is not None:
            raise conflict(f"there is a job with the id {body.id} already")
        party = jobs.new_party(name=body.party.name, address=body.party.address, contact=body.party.contact)
        job = jobs.add_job(
            session, job_id=body.id or new_id(), label=body.label, party=party, owner=actor.id, now=now
        )
        office.write_audit(session, actor=actor.id, action="job_created", subject=job.id, now=now)
        shown = JobDetail.with_party(job, party)
        return answer(shown, status=201, version=job.version, location=f"/api/v1/jobs/{job.id}")

    return once.answer(make)


@router.get("/{job_id}", summary="Read a job", responses={200: {"model": JobDetail}})
def get_job(job_id: str, actor: CurrentActor, session: ReadSession) -> Response:
    """A job with its party."""
    job = job_for(session, actor, job_id)
    return answer(JobDetail.with_party(job, jobs.party_of(session, job)), version=job.version)


@router.patch(
    "/{job_id}",
    summary="Change a job",
    responses={200: {"model": JobDetail}},
    openapi_extra=documented("JobUpdate", JobUpdate, {"label": {"value": {"label": "14 Any Lane"}}}),
)
@kept
def patch_job(
    job_id: str, actor: CurrentActor, raw: RawJson, session: WriteSession, now: Now, if_match: IfMatch = None
) -> Response:
    """Change label, status or party. What is left out stays."""
    body = parse(JobUpdate, raw, where="the job")
    job = job_for(session, actor, job_id, lock=True)
    party = jobs.party_of(session, job)
    check_version(job.version, if_match, None)
    changed = [name for name in ("label", "status") if getattr(body, name) not in (None, getattr(job, name))]
    for name in changed:
        setattr(job, name, getattr(body, name))
    if body.party is not None and body.party.model_dump() != party.model_dump(include={"name", "address", "contact"}):
        jobs.refuse_change_of_erased(party)
        party.name, party.address, party.contact = body.party.name, body.party.address, body.party.contact
        session.add(party)
        changed.append("party")
    if changed:
        job.version += 1
        session.add(job)
        office.write_audit(
            session, actor=actor.id, action="job_changed", subject=job.id, now=now, detail={"fields": changed}
        )
    return answer(JobDetail.with_party(job, party), version=job.version)
