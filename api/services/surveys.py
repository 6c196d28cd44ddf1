"""A survey in parts: what may be saved, what is still missing, and the whole put together again.

Saving takes anything well typed and answers with findings; only an estimate wants a survey that is complete.
"""

import json
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from pydantic import ValidationError
from sqlmodel import Session

from api.body import adapter, loosely, not_json
from api.errors import Problem, invalid_faults, not_found, one_fault
from api.store import office, surveys
from api.versions import check_version
from api.wording import Fault, faults_in_words
from models.findings import Finding
from models.records import Job, SurveyPart
from models.survey import (
    SCHEMA_VERSION,
    Construction,
    CylinderPlace,
    ExistingSystem,
    Hazard,
    HotWater,
    House,
    Photo,
    Position,
    Room,
    Supply,
    Survey,
    Tariffs,
    room_faults,
)
from models.survey.part import Remark


@dataclass(frozen=True, slots=True)
class PartKind:
    """A kind of part: its type, what it is called, whether there are several by id, and its key in the survey."""

    name: str
    type: Any
    called: str
    key: str
    many: bool = False


SECTIONS: dict[str, PartKind] = {
    kind.name: kind
    for kind in (
        PartKind("house", House, "the house", "house"),
        PartKind("constructions", tuple[Construction, ...], "the constructions", "constructions"),
        PartKind("existing", ExistingSystem, "the existing system", "existing"),
        PartKind("hot_water", HotWater, "the hot water", "hot_water"),
        PartKind("cylinder_place", CylinderPlace, "the cylinder place", "cylinder_place"),
        PartKind("supply", Supply, "the electrical supply", "supply"),
        PartKind("tariffs", Tariffs, "the tariffs", "tariffs"),
        PartKind("hazards", tuple[Hazard, ...], "the hazards", "hazards"),
        PartKind("photos", tuple[Photo, ...], "the photos", "photos"),
        PartKind("notes", Remark, "the notes", "notes"),
    )
}
ROOM = PartKind("room", Room, "room", "rooms", many=True)
POSITION = PartKind("position", Position, "position", "positions", many=True)
KINDS = SECTIONS | {"room": ROOM, "position": POSITION}
_LONGEST_ID = 64
_REMEDIES = {
    "missing_value": "look again or measure it",
    "out_of_range": "measure it again",
    "does_not_fit_together": "mend one of the two",
}


@dataclass(frozen=True, slots=True)
class Checked:
    """A part that may be saved, and what is still to be said about it."""

    body: Any
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Saved:
    """A part as it stands now. `created` when there was none before."""

    kind: str
    part_id: str
    version: int
    body: Any
    created: bool
    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Assembled:
    """The whole survey as far as it goes. `survey` is its record; `complete` whether it can be worked out."""

    survey: dict[str, Any]
    version: int
    versions: dict[str, Any]
    complete: bool
    findings: tuple[Finding, ...]


# --- checking a part: no database ---


def check_part(kind: PartKind, raw: bytes, part_id: str = "") -> Checked:
    """The part in a body, if it is well typed, with a finding for each gap.

    Raises a 422 problem for wrong types and unknown keys. Values of null count as not given.
    """
    try:
        body = _without_nulls(loosely(raw))
    except ValueError as error:
        raise _unreadable(raw) from error
    return check_body(kind, body, part_id)


def check_body(kind: PartKind, body: Any, part_id: str = "") -> Checked:
    """The same for a body that is parsed already: what a form of a page gives."""
    body = _without_nulls(body)
    if kind.many:
        _check_id(kind, part_id)
        if isinstance(body, dict):
            given = body.get("id", part_id)
            if given != part_id:
                raise one_fault(
                    where=kind.called,
                    field="id",
                    value=given,
                    message=f"the id in the body is not that of the address, {part_id}",
                    expected=part_id,
                )
            body = {"id": part_id, **body}
    return Checked(body, tuple(_finding(fault) for fault in _gaps(kind, body)))


def _gaps(kind: PartKind, body: Any) -> list[Fault]:
    try:
        text = json.dumps(body)
        adapter(kind.type).validate_json(text)
    except ValidationError as error:
        broken = not_json(error)
        if broken is not None:
            raise broken from error
        where = _called(kind, body)
        key = kind.key if isinstance(body, list) else ""
        faults = faults_in_words(error.errors(include_url=False), body, root=kind.type, where=where, kind=key)
        wrong = [fault for fault in faults if not fault.is_gap]
        if wrong:
            raise invalid_faults(wrong) from error
        return faults
    return []


def _unreadable(raw: bytes) -> Problem:
    try:
        adapter(Any).validate_json(raw)
    except ValidationError as error:
        found = not_json(error)
        if found is not None:
            return found
    return Problem(422, "not_json", "the body is not JSON text in UTF-8")


def _called(kind: PartKind, body: Any) -> str:
    if not kind.many:
        return kind.called
    name = body.get("name") if isinstance(body, dict) else None
    if isinstance(name, str) and name.strip():
        return f"{kind.called} '{name.strip()[:120]}'"
    return f"{kind.called} '{body.get('id', '?')}'" if isinstance(body, dict) else kind.called


def _check_id(kind: PartKind, part_id: str) -> None:
    if part_id != part_id.strip() or not 1 <= len(part_id) <= _LONGEST_ID or not part_id.isprintable():
        raise one_fault(
            where=kind.called,
            field="id",
            value=part_id,
            message=f"the id of a {kind.called} has 1 to {_LONGEST_ID} printing characters",
            expected=f"a text of 1 to {_LONGEST_ID} characters",
        )


def _without_nulls(node: Any) -> Any:
    if isinstance(node, dict):
        return {key: _without_nulls(value) for key, value in node.items() if value is not None}
    if isinstance(node, list):
        return [_without_nulls(value) for value in node]
    return node


def _finding(fault: Fault) -> Finding:
    remedy = f"give {fault.expected}" if fault.expected else _REMEDIES[fault.code]
    return Finding(fault.code, "ask", fault.where, fault.message, "the survey's own ranges", remedy)


# --- saving ---


def save_part(
    session: Session,
    job: Job,
    kind: PartKind,
    checked: Checked,
    *,
    part_id: str = "",
    if_match: str | None = None,
    if_none_match: str | None = None,
    now: datetime,
    by: str | None = None,
) -> Saved:
    """Keep a part. The same part again changes nothing and is answered the same way, whatever the conditions.

    `by` is who the audit list names; without it nothing is written there. Raises a 412 problem when another version
    stands than the request expects.
    """
    head = surveys.header(session, job.id, lock=True)
    kept = surveys.part(session, job.id, kind.name, part_id)
    standing = kept if kept is not None and not kept.deleted else None
    findings = (*checked.findings, *_cross_findings(session, job, kind, checked))
    if standing is not None and standing.body == _text(checked.body):
        return Saved(kind.name, part_id, standing.version, checked.body, False, findings)
    check_version(None if standing is None else standing.version, if_match, if_none_match)
    before = None if standing is None else json.loads(standing.body)
    written = surveys.write_part(
        session, head, kind=kind.name, part_id=part_id, body=_text(checked.body), place=None, now=now
    )
    if by is not None:
        _tell(session, job, kind.name, part_id, before, checked.body, by=by, now=now)
    return Saved(kind.name, part_id, written.version, checked.body, standing is None, findings)


def delete_part(
    session: Session,
    job: Job,
    kind: PartKind,
    *,
    part_id: str,
    if_match: str | None,
    now: datetime,
    by: str | None = None,
) -> None:
    """Take a part out. A second time is as good as the first. Raises 404 for one that never was."""
    head = surveys.header(session, job.id, lock=True)
    kept = surveys.part(session, job.id, kind.name, part_id)
    if kept is None:
        raise not_found(kind.called)
    if kept.deleted:
        return
    check_version(kept.version, if_match, None)
    before = json.loads(kept.body)
    surveys.delete_part(session, head, kept, now)
    if by is not None:
        _tell(session, job, kind.name, part_id, before, None, by=by, now=now)


def _tell(
    session: Session, job: Job, kind: str, part_id: str, before: Any, after: Any, *, by: str, now: datetime
) -> None:
    """Who changed what in a survey: numbers and yes or no as they were and are, of texts only that they changed."""
    old, new = _plain_values(before), _plain_values(after)
    changed = sorted(name for name in old.keys() | new.keys() if old.get(name) != new.get(name))
    office.write_audit(
        session,
        actor=by,
        action="survey_changed",
        subject=job.id,
        now=now,
        detail={"part": kind, "id": part_id},
        old=None if before is None else {name: _said(old.get(name)) for name in changed},
        new=None if after is None else {name: _said(new.get(name)) for name in changed},
    )


def _plain_values(body: Any) -> dict[str, Any]:
    """The fields of a part; a list is one field by the name of its place."""
    if isinstance(body, dict):
        return body
    return {str(place): value for place, value in enumerate(body)} if isinstance(body, list) else {}


def _said(value: Any) -> Any:
    """What the audit list holds of a value: a text may name somebody, and could never be taken out again."""
    return value if value is None or isinstance(value, bool | int | float) else "(text or list)"


def replace_survey(
    session: Session, job: Job, body: Any, *, if_match: str | None, now: datetime, by: str | None = None
) -> tuple[Finding, ...]:
    """Put a whole survey in the place of the one that stands: parts that it does not hold go, equal ones stay.

    Every part is checked as when saved alone. Raises 422, or 412 when the survey stands at another version.
    """
    wanted, findings = _split(body)
    head = surveys.header(session, job.id, lock=True)
    standing = {(part.kind, part.part_id): part for part in surveys.parts(session, job.id)}
    places = {key: place for place, key in enumerate(wanted)}
    same = standing.keys() == wanted.keys() and all(
        standing[key].body == _text(part) and standing[key].place == places[key] for key, part in wanted.items()
    )
    if not same:
        check_version(head.version, if_match, None)
    for key, part in standing.items():
        if key not in wanted:
            if by is not None:
                _tell(session, job, *key, json.loads(part.body), None, by=by, now=now)
            surveys.delete_part(session, head, part, now)
    for (kind, part_id), part_body in wanted.items():
        known = standing.get((kind, part_id))
        place = places[kind, part_id]
        if known is None or known.body != _text(part_body):
            if by is not None:
                before = None if known is None else json.loads(known.body)
                _tell(session, job, kind, part_id, before, part_body, by=by, now=now)
            surveys.write_part(
                session, head, kind=kind, part_id=part_id, body=_text(part_body), place=place, now=now
            )
        elif known.place != place:
            known.place = place
            session.add(known)
    label = body.get("label")
    if isinstance(label, str) and label.strip() and label.strip() != job.label:
        job.label = label.strip()
        job.version += 1
        session.add(job)
    session.flush()
    return findings


def _split(body: Any) -> tuple[dict[tuple[str, str], Any], tuple[Finding, ...]]:
    """A whole survey as parts by kind and id, each checked."""
    body = _without_nulls(body)
    if not isinstance(body, dict):
        raise _wrong("the body", body, "a survey is an object", "an object")
    allowed = {kind.key for kind in KINDS.values()} | {"label", "schema_version", "known"}
    unknown = sorted(set(body) - allowed)
    if unknown:
        raise _wrong(
            unknown[0], body[unknown[0]], f"{unknown[0][:80]} is not a field of a survey", ", ".join(sorted(allowed))
        )
    if body.get("schema_version", SCHEMA_VERSION) != SCHEMA_VERSION:
        raise _wrong("schema_version", body["schema_version"], "this survey has another version", str(SCHEMA_VERSION))
    label = body.get("label", "")
    if not isinstance(label, str) or len(label.strip()) > 120 or not label.isprintable():
        raise _wrong("label", label, "the label is a text of 1 to 120 characters", "a text")
    wanted: dict[tuple[str, str], Any] = {}
    findings: list[Finding] = []
    for kind in KINDS.values():
        if kind.key not in body:
            continue
        if not kind.many:
            checked = check_body(kind, body[kind.key])
            wanted[kind.name, ""] = checked.body
            findings.extend(checked.findings)
            continue
        if not isinstance(body[kind.key], list):
            raise _wrong(kind.key, body[kind.key], f"{kind.key} is a list", "a list")
        for number, one in enumerate(body[kind.key], 1):
            part_id = one.get("id") if isinstance(one, dict) else None
            if not isinstance(part_id, str):
                raise _wrong(
                    "id", part_id, f"{kind.called} {number} has no id; every {kind.called} needs its own", "a text"
                )
            if (kind.name, part_id) in wanted:
                raise _wrong("id", part_id, f"the {kind.called} id '{part_id}' stands twice", "an id that stands once")
            checked = check_body(kind, one, part_id)
            wanted[kind.name, part_id] = checked.body
            findings.extend(checked.findings)
    return wanted, tuple(findings)


def _wrong(field: str, value: Any, message: str, expected: str) -> Problem:
    return one_fault(where="the survey", field=field, value=value, message=message, expected=expected)


def _cross_findings(session: Session, job: Job, kind: PartKind, checked: Checked) -> tuple[Finding, ...]:
    """What does not hang together between a complete room and the rest of the survey."""
    if kind is not ROOM or checked.findings:
        return ()
    room = Room.model_validate_json(json.dumps(checked.body))
    listed = surveys.part(session, job.id, "constructions", "")
    entries = [] if listed is None or listed.deleted else json.loads(listed.body)
    constructions = {one["id"] for one in entries if isinstance(one, dict) and "id" in one}
    rooms = surveys.part_ids(session, job.id, "room") | {room.id}
    where = f"room '{room.name}'"
    return tuple(
        Finding("does_not_fit_together", "ask", where, text.removeprefix(f"{where}: "), "", "mend one of the two")
        for text in room_faults(room, constructions=constructions, rooms=rooms)
    )


def _text(body: Any) -> str:
    return json.dumps(body, ensure_ascii=False, separators=(",", ":"))


# --- reading ---


def part_of(session: Session, job: Job, kind: PartKind, part_id: str = "") -> SurveyPart:
    """A part that stands. Raises 404."""
    found = surveys.part(session, job.id, kind.name, part_id)
    if found is None or found.deleted:
        raise not_found(kind.called if kind.many else f"section {kind.name} yet")
    return found


def assemble(session: Session, job: Job) -> Assembled:
    """The whole survey from its parts, with a finding for each thing that is still missing."""
    record: dict[str, Any] = {"schema_version": SCHEMA_VERSION, "label": job.label}
    versions: dict[str, Any] = {}
    record["constructions"], record["rooms"], record["positions"] = [], [], []
    for part in surveys.parts(session, job.id):
        kind = KINDS[part.kind]
        body = json.loads(part.body)
        if kind.many:
            record[kind.key].append(body)
            versions.setdefault(kind.key, {})[part.part_id] = part.version
        else:
            record[kind.key] = body
            versions[kind.key] = part.version
    head = surveys.header(session, job.id)
    faults = survey_faults(record)
    return Assembled(record, head.version, versions, not faults, tuple(_finding(fault) for fault in faults))


def survey_faults(record: dict[str, Any]) -> list[Fault]:
    """What keeps a survey from being worked out."""
    try:
        Survey.model_validate_json(json.dumps(record))
    except ValidationError as error:
        return faults_in_words(error.errors(include_url=False), record, root=Survey, where="the survey")
    return []


def complete_survey(session: Session, job: Job, *, lock: bool = False) -> tuple[Survey, Assembled]:
    """The survey of a job, complete. Raises a 422 problem that names everything that is missing.

    With `lock` nobody saves a part until the transaction ends, so that its version is that of what was read.
    """
    if lock:
        surveys.header(session, job.id, lock=True)
    assembled = assemble(session, job)
    if not assembled.complete:
        raise invalid_faults(survey_faults(assembled.survey))
    return Survey.model_validate_json(json.dumps(assembled.survey)), assembled
