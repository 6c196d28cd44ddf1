"""The files of an issued quote: what kinds there are, and all of them rendered from one sealed document."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from api.render.addressee import Addressee
from api.render.bill_csv import bill_csv
from api.render.pdf import quote_pdf
from api.render.ubl import quote_ubl


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: how its name ends, what it is over the wire, and what a page calls it."""

    suffix: str
    media_type: str
    words: str


KINDS: Mapping[str, Kind] = {
    "pdf": Kind("pdf", "application/pdf", "PDF to send or print"),
    "csv": Kind("csv", "text/csv; charset=utf-8", "Bill for the books, CSV"),
    "ubl": Kind("ubl.xml", "application/xml", "For other programs, UBL"),
}


@dataclass(frozen=True, slots=True)
class Rendered:
    """One file. `names_party` says whether the customer stands in it."""

    kind: str
    names_party: bool
    body: bytes


def rendered(document: Mapping[str, Any], sha256: str, addressee: Addressee) -> Iterator[Rendered]:
    """Every file of a sealed document with this hash; what names the customer comes with and without the name.

    The copy without the name is made now and not when somebody is erased, since the words and the typesetter of a
    later day would make another file.
    """
    yield Rendered("csv", False, bill_csv(document))
    for named in (addressee, None):
        yield Rendered("ubl", named is not None, quote_ubl(document, sha256, named))
        yield Rendered("pdf", named is not None, quote_pdf(document, sha256, named))
