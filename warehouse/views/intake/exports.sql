-- purpose: Every export the warehouse has taken in, and what became of it.
-- grain: export, that is one set of bytes, however often it arrived
-- cautions: File names are text given by whoever wrote the file.
-- columns:
--   export_hash: = export.export_hash
--   name: = export.name
--   size_bytes: = export.size_bytes
--   received_at: = export.received_at
--   arrivals: = export.arrivals
--   run_id: = export.run_id
--   importer: = export.importer
--   importer_version: = export.importer_version
--   state: = export.state
--   rows_accepted: = export.rows_accepted
--   rows_refused: = export.rows_refused
SELECT export_hash, name, size_bytes, received_at, arrivals, run_id, importer, importer_version, state, rows_accepted,
       rows_refused
FROM export
