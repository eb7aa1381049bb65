"""The memory: tables, history, long series, publishing and reading. Knows the schemas, not the plugins."""
