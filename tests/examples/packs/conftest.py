"""The example pack's own tests run where it is installed; see tests/packs/test_example_pack.py."""

collect_ignore = ["tern_bay_rules"]
