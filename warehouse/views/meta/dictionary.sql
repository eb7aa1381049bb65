-- purpose: Every table and view with its columns, and what each of them holds.
-- grain: column of a table or view
-- cautions: The same text as `mixledger dictionary`, without keys and words of the vocabularies.
-- columns:
--   relation: Table or view.
--   relation_sentence: What it holds.
--   position: Place of the column, from 1.
--   column_name: Name of the column.
--   type: Type of the column.
--   nullable: Whether it can be null.
--   sentence: What the column holds, with its unit.
SELECT relations.name AS relation, relations.comment AS relation_sentence, columns.column_index::BIGINT AS position,
       columns.column_name, columns.data_type AS type, columns.is_nullable AS nullable, columns.comment AS sentence
FROM duckdb_columns() AS columns
JOIN (
    SELECT database_name, schema_name, table_name AS name, comment FROM duckdb_tables() WHERE NOT internal
    UNION ALL
    SELECT database_name, schema_name, view_name AS name, comment FROM duckdb_views() WHERE NOT internal
) AS relations
    ON relations.database_name = columns.database_name AND relations.schema_name = columns.schema_name
    AND relations.name = columns.table_name
