"""Where a number comes from: the standard, law, record or practice that stands behind it."""

from dataclasses import dataclass
from datetime import date
from typing import Literal

from models.frozen import quickly_made

Standing = Literal["published", "second computation", "from memory", "common practice", "maker's record", "firm's rule"]


@quickly_made
@dataclass(frozen=True, slots=True)
class Source:
    """A document and a place in it, and how well we know what it says."""

    document: str
    clause: str = ""
    standing: Standing = "published"
    read_on: date | None = None

    def __str__(self) -> str:
        place = f"{self.document}, {self.clause}" if self.clause else self.document
        said = self.standing in ("published", "firm's rule") or self.standing in self.document
        return place if said else f"{place} ({self.standing})"


COMMON_PRACTICE = Source("common practice, no source", standing="common practice")


@dataclass(frozen=True, slots=True)
class Why:
    """The reason of a figure: a sentence with the numbers in it, and the source of the method.

    `sentence` is a format string over the fields of the result that it explains; whoever renders fills it.
    """

    sentence: str
    source: Source
