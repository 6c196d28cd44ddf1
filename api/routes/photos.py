"""The photographs of a survey: saved by name, made small on the way in, read as they are kept."""

from typing import Annotated, Any

from fastapi import APIRouter, Depends, Path, Request, Response
from starlette.datastructures import UploadFile

from api.answers import answer
from api.deps import CurrentActor, EngineDep, IfMatch, IfNoneMatch, Now, ReadSession, WriteSession, kept
from api.errors import Problem
from api.routes.jobs import job_for
from api.schemas.photos import PhotoPublic
from api.services import photos as service
from api.store import photos
from api.versions import matches_tag

router = APIRouter(prefix="/jobs/{job_id}", tags=["surveys"])
PhotoName = Annotated[
    str, Path(min_length=1, max_length=120, pattern=r"^[^\x00-\x1f\x7f/]+$", description="The survey's name for it.")
]
_BODY: dict[str, Any] = {
    "requestBody": {
        "required": True,
        "content": {
            **{name: {"schema": {"type": "string", "format": "binary"}} for name in service.FORMATS},
            "multipart/form-data": {
                "schema": {
                    "type": "object",
                    "required": ["file"],
                    "properties": {"file": {"type": "string", "format": "binary"}},
                }
            },
        },
    }
}


async def photo_upload(request: Request) -> tuple[bytes, str]:
    """The bytes of a photograph and its media type: the body itself, or the field `file` of a form."""
    media_type = request.headers.get("content-type", "").partition(";")[0].strip().lower()
    if media_type != "multipart/form-data":
        return await request.body(), media_type
    async with request.form(max_files=1, max_fields=20) as form:
        file = form.get("file")
        if not isinstance(file, UploadFile):
            raise Problem(422, "invalid", "the form has no field file with a photograph in it")
        return await file.read(), (file.content_type or "").partition(";")[0].strip().lower()


Upload = Annotated[tuple[bytes, str], Depends(photo_upload)]


@router.get("/photos", summary="List the photographs", response_model=list[PhotoPublic])
def list_photos(job_id: str, actor: CurrentActor, session: ReadSession) -> list[PhotoPublic]:
    """The photographs that are kept, by name, without their bytes."""
    job = job_for(session, actor, job_id)
    names = service.named(session, job)
    return [PhotoPublic.of(row, named=row.name in names) for row in photos.photos(session, job.id)]


@router.get(
    "/survey/photos/{photo_id}",
    summary="Read a photograph",
    response_class=Response,
    responses={200: {"content": {service.KEPT_AS: {"schema": {"type": "string", "format": "binary"}}}}},
)
def get_photo(
    job_id: str, photo_id: PhotoName, actor: CurrentActor, session: ReadSession, if_none_match: IfNoneMatch = None
) -> Response:
    """The bytes as they are kept: upright, without place, time and device. 304 where the client has them."""
    kept = service.photo_of(session, job_for(session, actor, job_id), photo_id)
    tag = f'"{kept.sha256}"'
    headers = {"ETag": tag, "Cache-Control": "private, no-cache", "X-Content-Type-Options": "nosniff"}
    if if_none_match is not None and matches_tag(if_none_match, tag):
        return Response(None, 304, headers)
    return Response(kept.body, 200, headers, kept.media_type)


@router.put(
    "/survey/photos/{photo_id}",
    summary="Save a photograph",
    responses={200: {"model": PhotoPublic}, 201: {"model": PhotoPublic}},
    openapi_extra=_BODY,
)
def put_photo(
    job_id: str,
    photo_id: PhotoName,
    actor: CurrentActor,
    upload: Upload,
    engine: EngineDep,
    now: Now,
    if_match: IfMatch = None,
    if_none_match: IfNoneMatch = None,
) -> Response:
    """Save a JPEG, PNG or WebP under its name in the survey; it is turned upright and made small. Safe to repeat."""
    data, media_type = upload
    row, new = service.keep(
        engine, actor, job_id, photo_id, data, media_type, if_match=if_match, if_none_match=if_none_match, now=now
    )
    body = PhotoPublic.of(row, named=None)
    made = answer(body, status=201 if new else 200, location=f"/api/v1/jobs/{job_id}/photos" if new else None)
    made.headers["ETag"] = f'"{row.sha256}"'
    return made


@router.delete("/survey/photos/{photo_id}", summary="Take a photograph out", status_code=204)
@kept
def delete_photo(
    job_id: str, photo_id: PhotoName, actor: CurrentActor, session: WriteSession, now: Now, if_match: IfMatch = None
) -> Response:
    """Take a photograph out for good. Safe to repeat."""
    job = job_for(session, actor, job_id, lock=True)
    service.take_out(session, actor, job, photo_id, if_match=if_match, now=now)
    return Response(status_code=204)
