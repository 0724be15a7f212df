"""The built-in rules: one rule, one file; the path is the rule's name."""
