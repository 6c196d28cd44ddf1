"""Logs as lines of JSON, with the id of the request."""

import json
import logging
import sys
from contextvars import ContextVar
from datetime import UTC, datetime

request_id: ContextVar[str] = ContextVar("request_id", default="")
client_address: ContextVar[str] = ContextVar("client_address", default="")
"""Where the present request comes from, for the audit list; nothing outside of a request."""
_OWN = set(logging.makeLogRecord({}).__dict__) | {"message", "asctime", "taskName"}


class JsonLines(logging.Formatter):
    """One JSON object a line: moment, level, logger, message, request id, and whatever `extra` holds."""

    def format(self, record: logging.LogRecord) -> str:
        """The line of one record."""
        line = {
            "at": datetime.fromtimestamp(record.created, UTC).isoformat(),
            "level": record.levelname.lower(),
            "logger": record.name,
            "message": record.getMessage(),
            "request_id": request_id.get(),
        }
        line |= {name: value for name, value in record.__dict__.items() if name not in _OWN}
        if record.exc_info:
            line["exception"] = self.formatException(record.exc_info)
        return json.dumps(line, ensure_ascii=False, default=str)


def configure_logging(level: str) -> None:
    """Send the logs of this program to standard error as JSON. A second call changes only the level."""
    logger = logging.getLogger("footing")
    logger.setLevel(level.upper())
    logger.propagate = False
    if not logger.handlers:
        handler = logging.StreamHandler(sys.stderr)
        handler.setFormatter(JsonLines())
        logger.addHandler(handler)
