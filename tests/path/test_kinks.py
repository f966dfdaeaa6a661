"""Where the slope from demand to output changes, found a second time in small steps."""

from __future__ import annotations

from itertools import product

import pytest

from prebind.model import LowHigh, Output
from prebind.path.scale import Scale

ORDERS = [("reverse", "travel", "subtrim"), ("subtrim", "reverse", "travel")]
CASES = list(product(ORDERS, (1, -1), (False, True), ((80, 120), (130, 60)), (0.0, 20.0, -30.0)))


def scale(
    order: tuple[str, ...], native: int, turned: bool, travel: tuple[float, float], subtrim: float
) -> Scale:
    output = Output(order=order, limit_percent=110)  # type: ignore[arg-type]
    return Scale(output, native=native, reversed=turned, travel=LowHigh(*travel), subtrim=subtrim)  # type: ignore[arg-type]


@pytest.mark.parametrize("case", CASES, ids=str)
def test_kinks(case: tuple[object, ...]) -> None:
    it = scale(*case)  # type: ignore[arg-type]
    step = 0.05

    def output(demand: float) -> float:
        return min(max(it.unlimited(demand), -110.0), 110.0)

    demands = [step * i for i in range(-5_000, 5_001)]
    walked = [output(demand) for demand in demands]
    bends = [
        demands[i]
        for i in range(1, len(walked) - 1)
        if abs(walked[i + 1] - 2 * walked[i] + walked[i - 1]) > 1e-4
    ]
    kinks = [kink for kink in it.kinks if -249 < kink < 249]
    for bend in bends:
        assert any(abs(bend - kink) <= 2 * step for kink in kinks), f"no kink at {bend:g}"
    for kink in kinks:
        assert any(abs(bend - kink) <= 2 * step for bend in bends), f"no bend at {kink:g}"
