"""The least that many documents cost: read each strictly, and ask the schema for yes or no.

python floor.py SCHEMA DOCUMENT ...
"""

import sys
from pathlib import Path

from jiter import from_json
from jsonschema_rs import Draft202012Validator


def main() -> None:
    schema, *documents = sys.argv[1:]
    validator = Draft202012Validator(from_json(Path(schema).read_bytes()))
    sound = 0
    for document in documents:
        with open(document, "rb") as stream:  # noqa: PTH123
            data = stream.read()
        try:
            value = from_json(data, catch_duplicate_keys=True, allow_inf_nan=False)
        except ValueError:
            continue
        sound += validator.is_valid(value)
    print(f"{sound} of {len(documents)}")


if __name__ == "__main__":
    main()
