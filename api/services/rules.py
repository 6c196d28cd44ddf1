"""The rules that estimates are worked out by: price list and rule sets in force, one immutable value a version."""

import hashlib
import threading
from bisect import bisect_left
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlmodel import Session

from api.errors import one_fault
from api.store import prices, rule_sets

if TYPE_CHECKING:
    from api.store.seed_files import Content
    from models.catalogue import PriceList
    from models.labour.sheets import FirstUsed
    from models.rules import Rules

# How many versions a process keeps built; one is a few hundred kilobytes.
_MOST_KEPT = 60
_Key = tuple[str, tuple[str, ...], int]


class RulesBook:
    """Keeps one `Rules` for each price list and set of rules in force. Once published nothing changes, so nothing
    goes stale; lines that are no longer sold on the day of pricing make a version of their own."""

    def __init__(self, seed_dir: Path | None) -> None:
        self._seed_dir = seed_dir
        self._lock = threading.Lock()
        self._of_files: Rules | None = None
        self._contents: dict[str, Content] = {}
        self._digests: dict[str, str] = {}
        self._kept: dict[_Key, Rules] = {}
        self._lists: dict[str, tuple[PriceList, list[date]]] = {}

    def of_files(self) -> "Rules":
        """The rules as they stand in the firm's files, read once."""
        with self._lock:
            if self._of_files is None:
                from api.store.seed_files import (
                    SEED_FOLDER,
                    contents_of_folder,
                    rules_from_folder,
                    without_demo_firm,
                )

                folder = self._seed_dir or SEED_FOLDER
                self._of_files = rules_from_folder(folder)
                self._contents = without_demo_firm(contents_of_folder(folder))
                self._digests = {
                    kind: rule_sets.digest_of(rule_sets.canonical(content)) for kind, content in self._contents.items()
                }
            return self._of_files

    def first_used(self, session: Session, on: date) -> "FirstUsed":
        """The tasks that need the parts of each group of the price list first, by the labour rules of a day."""
        from models.labour.sheets import first_used

        return first_used(self._first_used_rows(self.contents_in_force(session, on)), self.in_force(session, on).labour)

    def _first_used_rows(self, contents: "dict[str, Content]") -> list[dict[str, str]]:
        rows: list[dict[str, str]] | None = contents["labour_tasks"].get("first_used")
        return self.contents_of_files()["labour_tasks"]["first_used"] if rows is None else rows

    def contents_of_files(self) -> "dict[str, Content]":
        """The content of each kind of rules in the firm's files, without the firm of a demo."""
        self.of_files()
        return self._contents

    def in_force(self, session: Session, priced_on: date) -> "Rules":
        """The rules in force on a day. Raises a 422 problem for a day before the first price list."""
        list_id = prices.list_in_force(session, priced_on)
        if list_id is None:
            first = prices.first_day(session)
            raise one_fault(
                where="the choices",
                field="priced_on",
                value=priced_on.isoformat(),
                message=f"no price list is in force on {priced_on}"
                + (f"; the first holds from {first}" if first else ""),
                expected=f"a day from {first} on" if first else "a published price list",
                path="choices.priced_on",
            )
        sets = rule_sets.in_force(session, priced_on)
        price_list, ends = self._list(session, list_id)
        key = (list_id, tuple(sets[kind][0] if kind in sets else "" for kind in rule_sets.KINDS),
               bisect_left(ends, priced_on))  # fmt: skip
        rules = self._kept.get(key)
        if rules is None:
            rules = self._built(session, price_list, sets, on=priced_on, check_listed=False)
            while len(self._kept) >= _MOST_KEPT:
                self._kept.pop(next(iter(self._kept)), None)
            self._kept[key] = rules
        return rules

    def contents_in_force(self, session: Session, on: date) -> "dict[str, Content]":
        """The content of each kind in force on a day: of the database, or of the files where it has none."""
        sets = rule_sets.in_force(session, on)
        return {
            kind: rule_sets.content_of(session, sets[kind][0]) if kind in sets else content
            for kind, content in self.contents_of_files().items()
        }

    def firm_in_force(self, session: Session, on: date) -> "dict[str, Any] | None":
        """Who makes an offer on a day, as the block of an answer; None where nobody wrote it down."""
        from api.store.seed_files import FIRM
        from models.firm import firm_document, firm_from

        found = rule_sets.in_force(session, on).get(FIRM)
        content = self.contents_of_files()[FIRM] if found is None else rule_sets.content_of(session, found[0])
        return firm_document(firm_from(content[FIRM]))

    def trial(self, session: Session, on: date, changed: "dict[str, Content]") -> "Rules":
        """The rules in force on a day with some kinds changed, every row checked. Kept nowhere.

        Raises ValueError that names file, row or entry, and the reason.
        """
        from api.store.seed_files import rules_from_contents
        from models.catalogue import RefusedRow
        from models.labour.sheets import FIRST_USED_FILE, first_used
        from models.pricing.margins import check_margins

        list_id = prices.list_in_force(session, on)
        price_list = self.of_files().price_list if list_id is None else prices.load_price_list(session, list_id)
        contents = self.contents_in_force(session, on) | changed
        rules = rules_from_contents(
            contents,
            version="trial",
            catalogue=self.of_files().catalogue,
            price_list=price_list,
            check_listed=True,
            on=on,
        )
        check_margins(price_list, rules.rates.margin_ratio_by_class)
        rows = self._first_used_rows(contents)
        first_used(rows, rules.labour)
        groups = {line.group for line in price_list.lines.values()}
        for number, row in enumerate(rows, 2):
            if row["group"] not in groups:
                raise RefusedRow(FIRST_USED_FILE, number, f"no line of the price list is in a group {row['group']!r}")
        for number, row in enumerate(contents["labour_tasks"]["tasks"], 2):
            if row["trade"] not in rules.rates.labour:
                known = ", ".join(sorted(rules.rates.labour))
                raise RefusedRow(
                    "labour_tasks.csv", number, f"the rates have no trade {row['trade']!r}; they have {known}"
                )
        return rules

    def check(self, session: Session, on: date) -> None:
        """Whether list and rules fit each other on a day and whenever another comes into force after it.

        Raises a 409 problem with file, row and reason.
        """
        from api.errors import conflict

        days = {on} | prices.first_days_after(session, on) | rule_sets.first_days_after(session, on)
        for day in sorted(days):
            try:
                self.trial(session, day, {})
            except ValueError as fault:
                raise conflict(f"prices and rules would not fit each other on {day}: {fault}") from fault

    def _list(self, session: Session, list_id: str) -> "tuple[PriceList, list[date]]":
        found = self._lists.get(list_id)
        if found is None:
            price_list = prices.load_price_list(session, list_id)
            ends = sorted(line.ends_on for line in price_list.lines.values() if line.ends_on is not None)
            while len(self._lists) >= _MOST_KEPT:
                self._lists.pop(next(iter(self._lists)), None)
            found = self._lists[list_id] = price_list, ends
        return found

    def _built(
        self,
        session: Session,
        price_list: "PriceList",
        sets: dict[str, tuple[str, str, str]],
        *,
        on: date,
        check_listed: bool,
    ) -> "Rules":
        from api.store.seed_files import FIRM, rules_from_contents

        of_files = self.of_files()
        contents: dict[str, Content] = {}
        digests: dict[str, str] = {}
        for kind, content in self._contents.items():
            digest = sets[kind][2] if kind in sets else self._digests[kind]
            digests[kind] = digest
            same = digest == self._digests[kind]
            contents[kind] = content if same else rule_sets.content_of(session, sets[kind][0])
        version = of_files.version
        # Who makes the offer changes no figure, so that it changes no version that figures rest on.
        figures = [kind for kind in sorted(digests) if kind != FIRM]
        if any(digests[kind] != self._digests[kind] for kind in figures):
            joined = "\n".join([version, *(f"{kind} {digests[kind]}" for kind in figures)])
            version = f"rules-{hashlib.sha256(joined.encode()).hexdigest()[:12]}"
        return rules_from_contents(
            contents,
            version=version,
            catalogue=of_files.catalogue,
            price_list=price_list,
            check_listed=check_listed,
            on=on,
            versions={kind: found[1] for kind, found in sets.items()} | {"prices": price_list.version},
        )
