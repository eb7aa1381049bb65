"""The words: records, columns, units and closed vocabularies. Imports nothing of the project."""
