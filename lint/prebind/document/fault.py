"""A fault: what is wrong at one place of a document, before lines and columns are known."""

from __future__ import annotations

from prebind.record import Record, record


@record
class Fault(Record):
    """`at` is a JSON Pointer (RFC 6901); `key` means the key at that place, not its value."""

    at: str
    message: str
    key: bool = False
