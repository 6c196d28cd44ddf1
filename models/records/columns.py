"""Column types that both databases keep exactly: decimals as integers, moments in UTC."""

import zlib
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import BigInteger, DateTime, Dialect, LargeBinary
from sqlalchemy.types import TypeDecorator

_LARGEST = 2**63 - 1


class FixedDecimal(TypeDecorator[Decimal]):
    """A decimal with a fixed number of places, kept as a whole number of its last place.

    SQLite has no decimal type and would keep a float. Binding raises ValueError when digits would be lost.
    """

    impl = BigInteger
    cache_ok = True

    def __init__(self, places: int) -> None:
        super().__init__()
        self.places = places

    def process_bind_param(self, value: Decimal | None, dialect: Dialect) -> int | None:
        """The whole number that stands for `value`."""
        if value is None:
            return None
        if not isinstance(value, Decimal) or not value.is_finite():
            raise ValueError(f"a decimal is needed, not {value!r}")
        scaled = value.scaleb(self.places)
        whole = int(scaled)
        if scaled != whole:
            raise ValueError(f"{value} has more than {self.places} decimal places")
        if abs(whole) > _LARGEST:
            raise ValueError(f"{value} is too large to be kept")
        return whole

    def process_result_value(self, value: Any | None, dialect: Dialect) -> Decimal | None:
        """The decimal that `value` stands for, with all its places."""
        return None if value is None else Decimal(int(value)).scaleb(-self.places)


class PackedBytes(TypeDecorator[bytes]):
    """Bytes kept deflated (RFC 1950), so that a row with a document in it stays small; given back as they were."""

    impl = LargeBinary
    cache_ok = True

    def process_bind_param(self, value: bytes | None, dialect: Dialect) -> bytes | None:
        """The packed bytes."""
        return None if value is None else zlib.compress(value, 1)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> bytes | None:
        """The bytes as they were."""
        return None if value is None else zlib.decompress(bytes(value))


class UtcStamp(TypeDecorator[datetime]):
    """A moment in UTC. Binding raises ValueError for a time without a zone; reading always gives one."""

    impl = DateTime(timezone=True)
    cache_ok = True

    def process_bind_param(self, value: datetime | None, dialect: Dialect) -> datetime | None:
        """The moment in UTC."""
        if value is None:
            return None
        if value.tzinfo is None:
            raise ValueError("a moment needs its time zone")
        return value.astimezone(UTC)

    def process_result_value(self, value: Any | None, dialect: Dialect) -> datetime | None:
        """The moment with its zone."""
        if value is None:
            return None
        moment: datetime = value
        return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
