"""All that the rules and the board promise, in two lines."""

import tern_bay_rules

from prebind.testing import conformance_tests, example_tests

test_examples = example_tests(tern_bay_rules)
test_conformance = conformance_tests(tern_bay_rules)
