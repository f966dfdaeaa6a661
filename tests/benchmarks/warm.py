"""What one document costs where everything is set up, three ways in turn.

    python warm.py ROUNDS SCHEMA DOCUMENT ...

Prints JSON: for each document, for each way, what a document took in each round, in seconds and in
seconds of processor.
"""

import json
import sys
from pathlib import Path
from time import perf_counter, process_time

import jsonschema
import jsonschema_rs
from jiter import from_json

from prebind import Inspector

SAMPLE = 0.05  # seconds that a round lasts at least, as the clock is coarse


def ways(schema):
    inspector = Inspector()
    fast = jsonschema_rs.Draft202012Validator(schema)
    slow = jsonschema.Draft202012Validator(schema)
    return {
        "jiter + jsonschema-rs": lambda data: fast.is_valid(
            from_json(data, catch_duplicate_keys=True, allow_inf_nan=False)
        ),
        "json + jsonschema": lambda data: slow.is_valid(json.loads(data)),
        "Inspector.inspect": lambda data: inspector.inspect(data).document is not None,
    }


def took(way, data, times):
    started, computed = perf_counter(), process_time()
    for _ in range(times):
        way(data)
    return (perf_counter() - started) / times, (process_time() - computed) / times


def measured(by, data, rounds):
    unsound = [name for name, way in by.items() if not way(data)]
    if unsound:
        raise SystemExit(f"no setup for {unsound}")
    times = {name: max(1, round(SAMPLE / took(way, data, 1)[0])) for name, way in by.items()}
    found = {name: [] for name in by}
    for _ in range(rounds):
        for name, way in by.items():
            found[name].append(took(way, data, times[name]))
    return found


def main():
    rounds, schema, *documents = sys.argv[1:]
    by = ways(json.loads(Path(schema).read_bytes()))
    found = {name: measured(by, Path(name).read_bytes(), int(rounds)) for name in documents}
    print(json.dumps(found))


if __name__ == "__main__":
    main()
