"""One of several parts into which all that is to be inspected falls, the same on every machine."""

from __future__ import annotations

from hashlib import sha256
from unicodedata import normalize


class Part:
    """Part `number`, from 1, `of` so many.

    `entries` counts all that was met so far, in whatever part; `listing` is a SHA-256, in
    hexadecimal, that only the same names in the same order have.
    """

    def __init__(self, number: int, of: int) -> None:
        self.number = number
        self.of = of
        self.entries = 0
        self.listing = sha256().hexdigest()

    def __str__(self) -> str:
        return f"part {self.number} of {self.of}"

    def has(self, name: str) -> bool:
        """Whether the next entry is in this part, by its name, which has slashes on any system."""
        self.entries += 1
        # Some systems write the same letters in another way.
        digest = sha256(normalize("NFC", name).encode("utf-8", "surrogatepass")).digest()
        self.listing = sha256(bytes.fromhex(self.listing) + digest).hexdigest()
        return int.from_bytes(digest, "big") % self.of == self.number - 1
