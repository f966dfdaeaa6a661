"""The built-in rules: a folder a family, a file a rule, named as its id.

The core finds this package through the entry-point group `prebind`, like anyone's pack.
"""
