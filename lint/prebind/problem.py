"""A problem: something that makes a run, or the report on one document, not to be trusted."""

from __future__ import annotations

from prebind.record import Record, record


@record
class Problem(Record):
    """`line` and `column` count from 1, in characters; None where there is no place to name.

    `rule` and `pack` are given where a rule or a rule pack is to blame, not the document;
    `traceback` says where in their code.
    """

    path: str
    message: str
    line: int | None = None
    column: int | None = None
    rule: str | None = None
    pack: str | None = None
    traceback: str | None = None
