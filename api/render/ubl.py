"""A sealed quote as an OASIS UBL 2.1 Quotation, for the programs of whoever buys or keeps books.

Amounts are those of the document: a line is quantity times price of one, rounded once; totals keep the rules of
EN 16931-1 (BR-CO-10 to BR-CO-16, from memory). The grant is paid by somebody else and lowers nothing: it stands as paid
beforehand. A discount is an allowance of the whole. VAT is worked out by stage of payment, so a subtotal is the sum of
what each stage rounded, and goods that are taxed at several rates name each.
"""

from collections.abc import Iterator, Mapping, Sequence
from datetime import datetime
from decimal import Decimal
from typing import Any

from api.render.addressee import Addressee
from api.render.bill_csv import gbp
from api.render.sentences import stage_words, vat_words
from models.pricing.vat import OUTSIDE_SCOPE

Document = Mapping[str, Any]

_NAMESPACE = "urn:oasis:names:specification:ubl:schema:xsd:"
_SPACES: dict[Any, str] = {
    None: f"{_NAMESPACE}Quotation-2",
    "cac": f"{_NAMESPACE}CommonAggregateComponents-2",
    "cbc": f"{_NAMESPACE}CommonBasicComponents-2",
}
_CURRENCY = "GBP"
_PERSON_HASH = "salted SHA-256"
_SHA256 = "http://www.w3.org/2001/04/xmlenc#sha256"
_CREDIT_TRANSFER = "30"
_DISCOUNT = "95"
"""Codes of UN/CEFACT lists 4461 (means of payment) and 5189 (reasons of an allowance), from memory."""
UNIT_CODES: Mapping[str, str] = {
    "each": "C62", "m": "MTR", "m2": "MTK", "m3": "MTQ", "L": "LTR", "kg": "KGM", "h": "HUR", "day": "DAY",
    "night": "C62", "week": "WEE", "set": "SET", "pair": "PR", "pack": "XPK", "kit": "KT", "bag": "XBG", "bulk": "XBG",
    "box": "XBX", "roll": "XRO", "length": "LN", "job": "E51", "room": "C62", "visit": "C62", "hole": "C62",
}  # fmt: skip
"""UN/ECE Recommendations 20 and 21 (from memory). What has no code of its own, as a unit that the firm names, counts
as one."""
_ONE = "C62"

Node = tuple[str, Any]
"""An element as it is put together: its name and its text, its children, or (text, attributes)."""


def quote_ubl(document: Document, sha256: str, addressee: Addressee | None) -> bytes:
    """The Quotation of a sealed document with this hash; without an addressee the buyer is only a hash.

    OASIS UBL 2.1, Quotation. Raises ValueError where lines, discount and VAT do not add up to the price.
    """
    # Loaded when something is first rendered: the start of the service does not wait for it.
    from lxml import etree

    root = etree.Element(f"{{{_SPACES[None]}}}Quotation", nsmap=_SPACES)
    _append(etree, root, list(_quotation(document, sha256, addressee)))
    made = etree.tostring(root, xml_declaration=True, encoding="UTF-8", pretty_print=True)
    assert isinstance(made, bytes)
    return made


def _append(etree: Any, parent: Any, children: Sequence[Node]) -> None:
    for name, content in children:
        prefix, _, local = name.partition(":")
        element = etree.SubElement(parent, f"{{{_SPACES[prefix]}}}{local}")
        if isinstance(content, list):
            _append(etree, element, content)
            continue
        text, attributes = content if isinstance(content, tuple) else (content, {})
        element.text = _clean(str(text))
        for key, value in attributes.items():
            element.set(key, value)


def _clean(text: str) -> str:
    """A text without what XML 1.0 cannot hold (section 2.2)."""
    return "".join(sign for sign in text if sign in "\t\n" or (sign >= " " and sign not in "\ufffe\uffff"))


def _money(pence: int) -> tuple[str, dict[str, str]]:
    return gbp(pence), {"currencyID": _CURRENCY}


def _quotation(document: Document, sha256: str, addressee: Addressee | None) -> Iterator[Node]:
    head, price, firm = document["quote"], document["price"], document.get("firm")
    issued_at = datetime.fromisoformat(head["issued_at"])
    lines, discount, categories = _lines(document), _discount(price), _categories(price)
    yield "cbc:UBLVersionID", "2.1"
    yield "cbc:ID", head["number"]
    yield "cbc:UUID", head["quote_id"]
    yield "cbc:IssueDate", issued_at.date().isoformat()
    yield "cbc:IssueTime", f"{issued_at:%H:%M:%S}Z"
    yield "cbc:PricingCurrencyCode", _CURRENCY
    yield "cbc:LineCountNumeric", len(lines)
    yield (
        "cac:ValidityPeriod",
        [
            ("cbc:StartDate", issued_at.date().isoformat()),
            ("cbc:EndDate", head["valid_until"]),
        ],
    )
    yield "cac:AdditionalDocumentReference", [
        ("cbc:ID", head["number"]),
        ("cbc:DocumentType", "sealed quote"),
        ("cac:Attachment", [
            ("cac:ExternalReference", [("cbc:DocumentHash", sha256), ("cbc:HashAlgorithmMethod", _SHA256)])
        ]),
    ]  # fmt: skip
    yield "cac:SellerSupplierParty", [] if firm is None else [("cac:Party", list(_seller(firm)))]
    yield "cac:BuyerCustomerParty", [("cac:Party", list(_buyer(head, addressee)))]
    if firm is not None and firm.get("bank"):
        yield "cac:PaymentMeans", [
            ("cbc:PaymentMeansCode", _CREDIT_TRANSFER),
            ("cbc:PaymentID", head["number"]),
            ("cac:PayeeFinancialAccount", [
                ("cbc:ID", firm["bank"]["account_number"]),
                ("cbc:Name", firm["bank"]["account_name"]),
                ("cac:FinancialInstitutionBranch", [("cbc:ID", firm["bank"]["sort_code"])]),
            ]),
        ]  # fmt: skip
    yield (
        "cac:TransactionConditions",
        [("cbc:Description", f"{stage_words(stage)}; {vat_words(stage)}") for stage in price["stages"]],
    )
    if discount is not None:
        yield (
            "cac:AllowanceCharge",
            [
                ("cbc:ChargeIndicator", "false"),
                ("cbc:AllowanceChargeReasonCode", _DISCOUNT),
                ("cbc:AllowanceChargeReason", discount["description"]),
                ("cbc:Amount", _money(-discount["sell_pence"])),
                *(("cac:TaxCategory", category) for category in categories[discount["vat_class"]]),
            ],
        )
    yield "cac:TaxTotal", [("cbc:TaxAmount", _money(price["vat_pence"])), *_subtotals(price)]
    yield "cac:QuotedMonetaryTotal", list(_totals(price, lines, discount))
    for number, line in enumerate(lines, 1):
        yield (
            "cac:QuotationLine",
            [("cbc:ID", number), ("cac:LineItem", list(_line(number, line, categories[line["vat_class"]])))],
        )


# --- who ---


def _seller(firm: Document) -> Iterator[Node]:
    street, *middle, town = firm["address"] if len(firm["address"]) > 1 else (*firm["address"], None)
    yield "cac:PartyName", [("cbc:Name", firm["name"])]
    yield (
        "cac:PostalAddress",
        [
            ("cbc:StreetName", street),
            *([("cbc:AdditionalStreetName", middle[0])] if middle else []),
            *([("cbc:CityName", town)] if town is not None else []),
            ("cbc:PostalZone", firm["postcode"]),
            *(("cac:AddressLine", [("cbc:Line", one)]) for one in middle[1:]),
            ("cac:Country", [("cbc:IdentificationCode", "GB")]),
        ],
    )
    if firm.get("vat_number"):
        yield "cac:PartyTaxScheme", [("cbc:CompanyID", firm["vat_number"]), _VAT]
    yield (
        "cac:PartyLegalEntity",
        [
            ("cbc:RegistrationName", firm["name"]),
            *([("cbc:CompanyID", firm["company_number"])] if firm.get("company_number") else []),
        ],
    )
    yield "cac:Contact", [("cbc:Telephone", firm["telephone"]), ("cbc:ElectronicMail", firm["email"])]


def _buyer(head: Document, addressee: Addressee | None) -> Iterator[Node]:
    yield "cac:PartyIdentification", [("cbc:ID", (head["party_hash"], {"schemeName": _PERSON_HASH}))]
    if addressee is None:
        return
    if addressee.name:
        yield "cac:PartyName", [("cbc:Name", addressee.name)]
    lines = [line.strip() for line in addressee.address.splitlines() if line.strip()]
    if lines:
        yield (
            "cac:PostalAddress",
            [
                *(("cac:AddressLine", [("cbc:Line", line)]) for line in lines),
                ("cac:Country", [("cbc:IdentificationCode", "GB")]),
            ],
        )
    if addressee.contact.strip():
        yield "cac:Contact", [("cbc:Note", addressee.contact.strip())]


# --- VAT ---

_VAT: Node = ("cac:TaxScheme", [("cbc:ID", "VAT")])
_Rate = tuple[str, Decimal]


def _rate_of(line: Document) -> _Rate:
    """Category (S taxed, Z at nought, O outside the scope: UN/CEFACT 5305 as EN 16931 uses it) and rate."""
    rate = Decimal(str(line["rate_ratio"]))
    if line["vat_class"] == OUTSIDE_SCOPE:
        return "O", Decimal(0)
    return ("S" if rate else "Z"), rate


def _category(rate: _Rate) -> list[Node]:
    code, ratio = rate
    percent = [] if code == "O" else [("cbc:Percent", f"{ratio * 100:.2f}")]
    why = [("cbc:TaxExemptionReason", "outside the scope of VAT")] if code == "O" else []
    return [("cbc:ID", code), *percent, *why, _VAT]


def _categories(price: Document) -> dict[str, list[list[Node]]]:
    """Every rate that each class bears in some stage, without the reason, which belongs to the total."""
    rates: dict[str, dict[_Rate, None]] = {}
    for line in price["vat"]:
        rates.setdefault(line["vat_class"], {})[_rate_of(line)] = None
    return {
        vat_class: [[part for part in _category(rate) if part[0] != "cbc:TaxExemptionReason"] for rate in found]
        for vat_class, found in rates.items()
    }


def _subtotals(price: Document) -> Iterator[Node]:
    sums: dict[_Rate, list[int]] = {}
    for line in price["vat"]:
        both = sums.setdefault(_rate_of(line), [0, 0])
        both[0] += line["net_pence"]
        both[1] += line["vat_pence"]
    for rate, (net, vat) in sums.items():
        yield (
            "cac:TaxSubtotal",
            [
                ("cbc:TaxableAmount", _money(net)),
                ("cbc:TaxAmount", _money(vat)),
                ("cac:TaxCategory", _category(rate)),
            ],
        )


# --- lines and totals ---


def _discount(price: Document) -> Document | None:
    return next((part for part in price["parts"] if part["code"] == "discount"), None)


def _lines(document: Document) -> list[dict[str, Any]]:
    """Goods and work alike: code, description, unit, quantity, price of one, sum, VAT class."""
    shared = ("description", "unit", "unit_sell_gbp", "sell_pence", "vat_class")
    goods = [
        {"code": line["sku"], "quantity": line["charged"], **{name: line[name] for name in shared}}
        for line in document["bill"]["lines"]
    ]
    work = [
        {"code": part["code"], "quantity": part["quantity"], **{name: part[name] for name in shared}}
        for part in document["price"]["parts"]
        if part["code"] != "discount"
    ]
    return goods + work


def _line(number: int, line: Document, categories: Sequence[list[Node]]) -> Iterator[Node]:
    quantity, one = Decimal(str(line["quantity"])), Decimal(str(line["unit_sell_gbp"]))
    if one < 0:
        # BR-27: the price of one is never below nothing; what is given back is a quantity below nothing.
        quantity, one = -quantity, -one
    unit = {"unitCode": UNIT_CODES.get(line["unit"], _ONE)}
    yield "cbc:ID", number
    yield "cbc:Quantity", (f"{quantity:f}", unit)
    yield "cbc:LineExtensionAmount", _money(line["sell_pence"])
    yield (
        "cac:Price",
        [
            ("cbc:PriceAmount", (f"{one:f}", {"currencyID": _CURRENCY})),
            ("cbc:BaseQuantity", ("1", unit)),
        ],
    )
    yield (
        "cac:Item",
        [
            ("cbc:Name", line["description"]),
            ("cac:SellersItemIdentification", [("cbc:ID", line["code"])]),
            *(("cac:ClassifiedTaxCategory", category) for category in categories),
        ],
    )


def _totals(price: Document, lines: Sequence[Document], discount: Document | None) -> Iterator[Node]:
    together = sum(line["sell_pence"] for line in lines)
    allowance = 0 if discount is None else -discount["sell_pence"]
    net, vat, total = price["net_pence"], price["vat_pence"], price["total_pence"]
    taxed = sum(line["net_pence"] for line in price["vat"]), sum(line["vat_pence"] for line in price["vat"])
    if (together - allowance, *taxed, net + vat) != (net, net, vat, total):
        raise ValueError("lines, discount and VAT do not add up to the price")
    yield "cbc:LineExtensionAmount", _money(together)
    yield "cbc:TaxExclusiveAmount", _money(net)
    yield "cbc:TaxInclusiveAmount", _money(total)
    if allowance:
        yield "cbc:AllowanceTotalAmount", _money(allowance)
    if price["grant_pence"]:
        yield "cbc:PrepaidAmount", _money(price["grant_pence"])
    yield "cbc:PayableAmount", _money(total - price["grant_pence"])
