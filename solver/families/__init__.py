"""Many parts that differ in a few sizes, solved together on one basis."""
