"""Whom a rendering is for: what of a quote names the customer, and may be erased."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Addressee:
    """Who a quote is for, and what the house is called: the part of a rendering that may be erased."""

    name: str
    address: str
    contact: str
    label: str
