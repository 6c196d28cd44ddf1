"""The rules that estimates are worked out by: the firm's files and the price list in force, one value a version."""

import threading
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING

from sqlmodel import Session

from api.errors import one_fault
from api.store import prices
from models.rules import with_price_list

if TYPE_CHECKING:
    from models.rules import Rules


class RulesBook:
    """Keeps one `Rules` for each published price list. Lists never change once published, so nothing goes stale."""

    def __init__(self, seed_dir: Path | None) -> None:
        self._seed_dir = seed_dir
        self._lock = threading.Lock()
        self._of_files: Rules | None = None
        self._by_list: dict[str, Rules] = {}

    def of_files(self) -> "Rules":
        """The rules as they stand in the firm's files, read once."""
        with self._lock:
            if self._of_files is None:
                from api.store.seed_files import SEED_FOLDER, rules_from_folder

                self._of_files = rules_from_folder(self._seed_dir or SEED_FOLDER)
            return self._of_files

    def in_force(self, session: Session, priced_on: date) -> "Rules":
        """The rules with the price list in force on a day. Raises a 422 problem for a day before the first list."""
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
            )
        rules = self._by_list.get(list_id)
        if rules is None:
            rules = with_price_list(self.of_files(), prices.load_price_list(session, list_id))
            self._by_list[list_id] = rules
        return rules
