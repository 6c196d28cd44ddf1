"""Recipes, labour tasks, rates, crews, calendars, stage plans and the firm's record as versions.

They are drafted, tried out, published, undone.
"""

import csv
import io
import json
from dataclasses import dataclass
from datetime import date, datetime
from functools import lru_cache
from typing import Any

from sqlmodel import Session, col, select

from api.errors import Problem, conflict, not_found
from api.ids import is_id
from api.security import Actor, require
from api.services.repricing import plan_run
from api.services.rules import RulesBook
from api.store import office, rule_sets
from api.store.seed_files import (
    FIRM,
    LATER_TABLES,
    NO_FIRM,
    TABLES_OF_KIND,
    Content,
    contents_of_folder,
    demo_households,
)
from api.versions import check_version
from api.wording import Fault
from models.catalogue.imports import LIVE, UnreadableFile, decoded, plain_cell, safe_cell
from models.estimate import Choices, Estimate, estimate
from models.firm import RefusedFirm, firm_document
from models.labour.search import Effort
from models.records import Job, Quote, RuleSetRecord
from models.rules import Rules
from models.survey import Survey

LAST_QUOTES = 20
_ENTRY = ("entry", "value")


def known_kind(kind: str) -> str:
    """The kind, if there is such a one. Raises 404."""
    if kind not in TABLES_OF_KIND:
        raise not_found("kind of rules")
    return kind


def set_for(session: Session, kind: str, set_id: str, *, lock: bool = False) -> RuleSetRecord:
    """The version of a kind at an address. Raises 404."""
    found = rule_sets.rule_set(session, known_kind(kind), set_id, lock=lock) if is_id(set_id) else None
    if found is None:
        raise not_found("rule set")
    return found


def draft_for(session: Session, actor: Actor, kind: str, set_id: str, if_match: str | None) -> RuleSetRecord:
    """A draft, locked, to be changed. Raises 403, 404, 409 for what is no draft, 412 for another edition."""
    require(actor, "edit_prices")
    head = set_for(session, kind, set_id, lock=True)
    check_version(head.edition, if_match, None)
    if head.state != rule_sets.DRAFT:
        raise conflict(f"{head.version} is {head.state} and cannot be changed; make a draft of it")
    return head


def in_force(session: Session, kind: str, today: date) -> RuleSetRecord | None:
    """The version of a kind that is in force; None where the firm's files stand in for it."""
    found = rule_sets.in_force(session, today).get(kind)
    return None if found is None else session.get(RuleSetRecord, found[0])


def make_draft(
    session: Session, actor: Actor, kind: str, book: RulesBook, *, based_on: str | None, now: datetime, today: date
) -> RuleSetRecord:
    """A draft with the content of another version, or of the one in force today."""
    require(actor, "edit_prices")
    base = in_force(session, known_kind(kind), today) if based_on is None else set_for(session, kind, based_on)
    of_files = book.contents_of_files()[kind]
    content = of_files if base is None else of_files | json.loads(base.content)
    base_id = None if base is None else base.id
    head = rule_sets.new_draft(
        session, kind, content, based_on=base_id, valid_from=today, by=actor.name, now=now
    )
    _audit(session, actor, head, "rules_drafted", now, {"based_on": base_id})
    return head


def save(
    session: Session,
    actor: Actor,
    head: RuleSetRecord,
    content: Content,
    book: RulesBook,
    *,
    now: datetime,
    today: date,
) -> None:
    """Write the content of a draft, every row checked. Raises a 422 problem with file, row and reason."""
    _check_shape(head.kind, content)
    rules = _tried(session, head.kind, content, book, today)
    if head.kind == FIRM:
        content = {FIRM: firm_document(rules.firm)} if rules.firm else NO_FIRM
    text = rule_sets.canonical(content)
    if text == head.content:
        return
    before = json.loads(head.content)
    detail = {"old_sha256": head.sha256, **_rows_changed(before, content)}
    was, becomes = _entries_changed(before[FIRM], content[FIRM]) if head.kind == FIRM else ({}, {})
    head.content, head.sha256 = text, rule_sets.digest_of(text)
    head.edition += 1
    session.add(head)
    detail |= {"new_sha256": head.sha256}
    _audit(session, actor, head, "rules_changed", now, detail, was=was, becomes=becomes)


def _check_shape(kind: str, content: Content) -> None:
    """Every table is there, rows are texts by heading and documents are documents; nothing else."""
    tables = TABLES_OF_KIND[kind]
    if set(content) | LATER_TABLES & set(tables) != set(tables):
        raise _refused(kind, None, f"the tables are {', '.join(tables)}")
    for table, file in tables.items():
        if table not in content:
            continue
        value = content[table]
        if not file.endswith(".csv"):
            if not isinstance(value, dict):
                raise _refused(table, None, "is a document of named entries")
            continue
        if not isinstance(value, list):
            raise _refused(table, None, "is a list of rows")
        for number, row in enumerate(value, 2):
            if not isinstance(row, dict) or not all(isinstance(cell, str) for cell in row.values()):
                raise _refused(table, number, "is a row of texts by heading")


def _tried(session: Session, kind: str, content: Content, book: RulesBook, on: date) -> Rules:
    try:
        return book.trial(session, on, {kind: content})
    except RefusedFirm as fault:
        raise _refused_firm(fault, content[FIRM]) from fault
    except (ValueError, KeyError, TypeError, AttributeError) as fault:
        row = getattr(fault, "row", None)
        reason = getattr(fault, "reason", None) or str(fault)
        raise _refused(str(getattr(fault, "file", kind)), row, reason) from fault


def _refused(where: str, row: int | None, reason: str) -> Problem:
    place = where if row is None else f"{where}, row {row}"
    expected = "a row whose every name is known"
    fault = Fault(where=place, field="", value=None, message=reason, expected=expected, path="")
    return Problem(422, "invalid", f"{place}: {reason}", [fault])


def _refused_firm(fault: RefusedFirm, record: dict[str, Any]) -> Problem:
    """Every entry of the firm's record that cannot be right, each by its name."""
    given = {row["entry"]: row["value"] for row in entries_of(record)}
    found = [
        Fault(where="our firm", field=entry, value=given.get(entry), message=reason, expected=reason, path=entry)
        for entry, reason in fault.faults.items()
    ]
    return Problem(422, "invalid", f"our firm: {fault}", found)


def _rows_changed(old: Content, new: Content) -> dict[str, Any]:
    """What is said in the audit of a change: rows that went and came, the first hundred of each."""
    gone: list[Any] = []
    come: list[Any] = []
    for table in new:
        before, after = _flat_rows(old.get(table, [])), _flat_rows(new[table])
        gone += [[table, *row] for row in before if row not in after]
        come += [[table, *row] for row in after if row not in before]
    return {"old": gone[:100], "new": come[:100]}


def _entries_changed(old: dict[str, Any], new: dict[str, Any]) -> tuple[dict[str, str], dict[str, str]]:
    """The entries of a record that differ, as they stood and as they stand: whose account it was is asked for long."""
    was, now = ({row["entry"]: row["value"] for row in entries_of(one)} for one in (old, new))
    differ = [entry for entry in dict.fromkeys([*was, *now]) if was.get(entry, "null") != now.get(entry, "null")]

    def said(record: dict[str, str]) -> dict[str, str]:
        there = {entry: record[entry] for entry in differ if entry in record}
        return {_entry_words(entry): "none" if value == "null" else value for entry, value in there.items()}

    return said(was), said(now)


def _flat_rows(table: Any) -> list[list[str]]:
    rows = table if isinstance(table, list) else entries_of(table)
    return [[str(cell) for cell in row.values()] for row in rows]


# --- tables as CSV ---


def entries_of(document: dict[str, Any]) -> list[dict[str, str]]:
    """A document as rows of entry and value: "labour.engineer.cost_gbp_per_h", "30.50"."""
    rows: list[dict[str, str]] = []

    def walk(path: str, value: Any) -> None:
        if isinstance(value, dict | list) and value:
            inner = value.items() if isinstance(value, dict) else enumerate(value)
            for name, each in inner:
                walk(f"{path}.{name}" if path else str(name), each)
        else:
            rows.append({"entry": path, "value": value if isinstance(value, str) else json.dumps(value)})

    walk("", document)
    return rows


def document_of(rows: list[dict[str, str]], before: dict[str, Any]) -> dict[str, Any]:
    """A document from its rows of entry and value. What was a number or a list before stays one; new values are texts
    where their neighbours are. Raises ValueError that names the entry."""
    kinds = {row["entry"]: value for row, value in zip(entries_of(before), _leaves(before), strict=True)}
    tree: dict[str, Any] = {}
    for row in rows:
        entry, text = row["entry"], row["value"]
        old = kinds.get(entry, _like_neighbour(entry, kinds))
        value: Any = text
        if not isinstance(old, str) or text in ("[]", "{}"):
            try:
                value = json.loads(text)
            except ValueError:
                value = text
        node = tree
        *path, last = entry.split(".")
        for name in path:
            node = node.setdefault(name, {})
            if not isinstance(node, dict):
                raise ValueError(f"{entry}: {name} is a value and cannot hold entries")
        if last in node:
            raise ValueError(f"{entry} stands twice")
        node[last] = value
    return dict(_with_lists(tree))


def _leaves(value: Any) -> list[Any]:
    if isinstance(value, dict | list) and value:
        inner = value.values() if isinstance(value, dict) else value
        return [leaf for each in inner for leaf in _leaves(each)]
    return [value]


def _like_neighbour(entry: str, kinds: dict[str, Any]) -> Any:
    """A value of the same last name, or in the same list, elsewhere in the document; otherwise text."""
    before, _, last = entry.rpartition(".")
    for name, value in kinds.items():
        stem, _, end = name.rpartition(".")
        if (end == last and not last.isdigit()) or (stem == before and end.isdigit() and last.isdigit()):
            return value
    return ""


def _with_lists(node: Any) -> Any:
    """Entries that are numbered from 0 without gaps are a list."""
    if not isinstance(node, dict):
        return node
    whole = {name: _with_lists(value) for name, value in node.items()}
    if whole and set(whole) == {str(number) for number in range(len(whole))}:
        return [whole[str(number)] for number in range(len(whole))]
    return whole


@lru_cache(maxsize=1)
def _usual_headings() -> dict[str, tuple[str, ...]]:
    """The headings of each table in the order of the firm's files."""
    contents = contents_of_folder()
    return {
        table: tuple(rows[0])
        for content in contents.values()
        for table, rows in content.items()
        if isinstance(rows, list) and rows
    }


def headings_of(table: str, rows: list[dict[str, str]]) -> list[str]:
    """The headings of the rows of a table, in the order in which people know them."""
    there = dict.fromkeys(heading for row in rows for heading in row)
    usual = _usual_headings().get(table, ())
    if not there:
        return list(usual or _ENTRY)
    return [name for name in usual if name in there] + [name for name in there if name not in usual]


def table_csv(content: Content, table: str) -> bytes:
    """One table as CSV that no spreadsheet takes for formulas."""
    value = content[table]
    rows = value if isinstance(value, list) else entries_of(value)
    out = io.StringIO(newline="")
    writer = csv.writer(out, lineterminator="\r\n")
    headings = headings_of(table, rows)
    writer.writerow(headings)
    writer.writerows([safe_cell(row.get(name, "")) for name in headings] for row in rows)
    return b"\xef\xbb\xbf" + out.getvalue().encode()


def with_table(kind: str, content: Content, table: str, data: bytes) -> Content:
    """The content with one table read from CSV. Raises a 422 problem that names the row."""
    if table not in TABLES_OF_KIND[kind]:
        raise not_found("table of this kind")
    try:
        text, _ = decoded(data)
        head = text.split("\n", 1)[0]
        delimiter = max(",;\t", key=head.count)
        reader = csv.reader(io.StringIO(text, newline=""), delimiter=delimiter, strict=True)
        records = [(number, cells) for number, cells in enumerate(reader, 1) if any(cell.strip() for cell in cells)]
    except (UnreadableFile, csv.Error) as fault:
        raise _refused(table, None, str(fault)) from fault
    if not records:
        raise _refused(table, None, "the file is empty; its first row names the columns")
    headings = [cell.strip() for cell in records[0][1]]
    if len(set(headings)) < len(headings):
        raise _refused(table, 1, "a heading stands twice")
    rows: list[dict[str, str]] = []
    for number, cells in records[1:]:
        if len(cells) > len(headings) and any(cell.strip() for cell in cells[len(headings) :]):
            raise _refused(table, number, "there are more cells than headings")
        row = {name: cells[place].strip(" \n") if place < len(cells) else "" for place, name in enumerate(headings)}
        for name, cell in row.items():
            if cell.startswith(LIVE) and not _is_number(cell):
                raise _refused(table, number, f"{name} {cell[:40]!r} is a formula to a spreadsheet; write plain text")
        rows.append({name: plain_cell(cell) for name, cell in row.items()})
    if isinstance(content[table], list):
        return content | {table: rows}
    if set(headings) != set(_ENTRY):
        raise _refused(table, 1, "the headings are entry and value")
    try:
        return content | {table: document_of(rows, content[table])}
    except ValueError as fault:
        raise _refused(table, None, str(fault)) from fault


def _is_number(cell: str) -> bool:
    try:
        float(cell)
    except ValueError:
        return False
    return True


# --- before and after ---


@dataclass(frozen=True, slots=True)
class EffectRow:
    """What a draft does to one house. Amounts and days are None where there is no whole price or plan."""

    what: str
    label: str
    total_before_pence: int | None
    total_after_pence: int | None
    days_before: int | None
    days_after: int | None
    lines_changed: tuple[str, ...]
    findings_new: tuple[str, ...]


def effect(session: Session, head: RuleSetRecord, book: RulesBook, *, today: date) -> tuple[EffectRow, ...]:
    """Before and after on the demo households and on the last twenty quotes, priced today.

    The firm's record moves no figure: what it changes is what stands on the papers that go out.
    """
    before = book.in_force(session, today)
    after = _tried(session, head.kind, json.loads(head.content), book, today)
    rows: list[EffectRow] = []
    if head.kind == FIRM:
        return (_effect_on_papers(firm_document(before.firm), firm_document(after.firm)),)
    for household in demo_households():
        survey, choices = household["survey"], household.get("choices", {})
        rows.append(_effect_on("household", survey["label"], survey, choices, before, after, today))
    quotes = session.exec(
        select(Quote, Job)
        .join(Job, col(Job.id) == col(Quote.job_id))
        .order_by(col(Quote.created_at).desc(), col(Quote.id).desc())
        .limit(LAST_QUOTES)
    )
    for quote, job in quotes:
        label = quote.number or f"draft for job {job.number}"
        choices = json.loads(quote.choices) | {"priced_on": today.isoformat()}
        rows.append(
            _effect_on("quote", f"{label} · {job.label}", json.loads(quote.survey), choices, before, after, today)
        )
    return tuple(rows)


def _effect_on_papers(before: dict[str, Any] | None, after: dict[str, Any] | None) -> EffectRow:
    was, now = ({row["entry"]: row["value"] for row in entries_of(one or {})} for one in (before, after))
    nothing = ("", "null", "[]")
    said = []
    for entry in dict.fromkeys([*was, *now]):
        old, new = was.get(entry, ""), now.get(entry, "")
        if old == new or (old in nothing and new in nothing):
            continue
        words = _entry_words(entry)
        if old in nothing:
            said.append(f"new: {words}, {new}")
        else:
            said.append(f"no longer: {words}, {old}" if new in nothing else f"{words}: {old} becomes {new}")
    return EffectRow("papers", "every quote that is issued from then on", None, None, None, None, tuple(said), ())


def _entry_words(entry: str) -> str:
    """The entry of a record as it is said: "bank, sort code", "registrations 2, number"."""
    said = ""
    for step in entry.split("."):
        words = step.replace("_", " ").replace("vat", "VAT").replace("email", "e-mail")
        said += f" {int(step) + 1}" if step.isdigit() else f"{', ' if said else ''}{words}"
    return said


def _effect_on(
    what: str,
    label: str,
    survey: dict[str, Any],
    choices: dict[str, Any],
    before: Rules,
    after: Rules,
    today: date,
) -> EffectRow:
    try:
        surveyed, chosen = Survey.model_validate(survey), Choices.model_validate(choices)
        # A quote is planned as thoroughly as when it was drafted, so that its days and total are those that it says.
        effort: Effort = "thorough" if what == "quote" else "live"
        was = estimate(surveyed, chosen, before, today=today, effort=effort)
        now = estimate(surveyed, chosen, after, today=today, effort=effort)
    except ValueError as fault:
        return EffectRow(what, label, None, None, None, None, (f"cannot be worked out: {fault}"[:300],), ())
    stood = {(finding.code, finding.where) for finding in was.findings}
    new = tuple(
        f"{finding.where}: {finding.message}"
        for finding in now.findings
        if (finding.code, finding.where) not in stood and finding.strength != "note"
    )
    return EffectRow(
        what, label, _total(was), _total(now), _days(was), _days(now), lines_changed(was, now), new
    )


def _total(worked_out: Estimate) -> int | None:
    return None if worked_out.price is None else worked_out.price.total_pence


def _days(worked_out: Estimate) -> int | None:
    return None if worked_out.plan is None else worked_out.plan.days


def lines_changed(was: Estimate, now: Estimate) -> tuple[str, ...]:
    """The lines of bill and price that differ, in words."""
    before, after = _lines(was), _lines(now)
    said = []
    for code, (name, quantity, sell) in after.items():
        if code not in before:
            said.append(f"new: {name}, {quantity}")
        elif before[code][1] != quantity:
            said.append(f"{name}: {before[code][1]} becomes {quantity}")
        elif before[code][2] != sell:
            said.append(f"{name}: £{before[code][2] / 100:,.2f} becomes £{sell / 100:,.2f}")
    said += [f"no longer: {name}, {quantity}" for code, (name, quantity, _) in before.items() if code not in after]
    return tuple(said)


def _lines(worked_out: Estimate) -> dict[str, tuple[str, str, int]]:
    lines = {}
    if worked_out.bill is not None:
        for line in worked_out.bill.lines:
            lines[line.sku] = (line.description, f"{line.charged.normalize():f} {line.unit}", line.sell_pence)
    if worked_out.price is not None:
        for part in worked_out.price.parts:
            lines[f"part {part.code}"] = (
                part.description, f"{part.quantity.normalize():f} {part.unit}", part.sell_pence
            )  # fmt: skip
    return lines


# --- in force ---


def publish(
    session: Session,
    actor: Actor,
    head: RuleSetRecord,
    book: RulesBook,
    *,
    valid_from: date,
    now: datetime,
    today: date,
) -> None:
    """Put a draft in force from a day on, and have open drafts of quotes looked at again from that day.

    The draft is locked by the caller. Raises a 409 problem where it does not fit prices and other rules, 422 for a
    day that is past.
    """
    if head.kind == FIRM and json.loads(head.content) == NO_FIRM:
        raise Problem(422, "invalid", "the firm's record is empty; write down who you are, then publish it")
    if valid_from < today:
        raise Problem(422, "invalid", f"rules hold from today on at the earliest, not from {valid_from}")
    head.valid_from, head.state, head.published_at = valid_from, rule_sets.PUBLISHED, now
    head.edition += 1
    for other in rule_sets.published_on_day(session, head.kind, valid_from):
        if other.id != head.id:
            other.state = rule_sets.RETIRED
            session.add(other)
    session.add(head)
    session.flush()
    book.check(session, valid_from)
    detail = {"valid_from": valid_from.isoformat()}
    if head.kind != FIRM:
        # Who makes the offer moves no price; a draft shows the record in force without being touched.
        detail["repricing_run"] = plan_run(session, reason=head.version, starts_on=valid_from, now=now).id
    _audit(session, actor, head, "rules_published", now, detail)


def undo(
    session: Session, actor: Actor, head: RuleSetRecord, book: RulesBook, *, now: datetime, today: date
) -> RuleSetRecord:
    """Publish the version that was in force before this one again, as a new version with the same content."""
    require(actor, "edit_prices")
    if head.state != rule_sets.PUBLISHED:
        raise conflict(f"only a published version can be undone; {head.version} is {head.state}")
    former = rule_sets.published_before(session, head)
    if former is None:
        raise conflict(f"there is no version before {head.version}")
    again = rule_sets.new_draft(
        session, head.kind, json.loads(former.content), based_on=former.id, valid_from=today, by=actor.name, now=now
    )
    _audit(session, actor, again, "rules_drafted", now, {"based_on": former.id, "undoes": head.version})
    publish(session, actor, again, book, valid_from=max(today, head.valid_from), now=now, today=today)
    return again


def retire(session: Session, actor: Actor, head: RuleSetRecord, *, now: datetime, today: date) -> None:
    """Put a draft aside, or a published version before its first day. Raises a 409 problem for any other."""
    require(actor, "edit_prices")
    if head.state == rule_sets.RETIRED or (head.state == rule_sets.PUBLISHED and head.valid_from <= today):
        raise conflict(f"{head.version} is {head.state} since {head.valid_from}: undo it instead")
    was = head.state
    head.state = rule_sets.RETIRED
    head.edition += 1
    session.add(head)
    _audit(session, actor, head, "rules_retired", now, {"was": was})


def _audit(
    session: Session,
    actor: Actor,
    head: RuleSetRecord,
    action: str,
    now: datetime,
    detail: dict[str, Any],
    *,
    was: dict[str, str] | None = None,
    becomes: dict[str, str] | None = None,
) -> None:
    office.write_audit(
        session, actor=actor.id, action=action, subject=head.id, now=now,
        detail={"kind": head.kind, "version": head.version, **detail}, old=was or None,
        new={"version": head.version} | ({"from": detail["valid_from"]} if "valid_from" in detail else {})
        | (becomes or {}),
    )  # fmt: skip
