"""The contract an importer or a renderer has to keep, as rules that can be called anywhere."""
