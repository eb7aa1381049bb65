-- purpose: Quality of what arrives: exports, rows accepted and refused, duplicates and corrections, by importer and month.
-- grain: importer and month of arrival
-- cautions: Files no importer takes have no importer; they count under null.
-- columns:
--   importer: = export.importer
--   month: First day of the month of arrival, UTC.
--   exports: Exports taken in.
--   duplicates: Further files that held the same bytes as one of them.
--   refused_exports: Exports nothing of which was accepted.
--   partly_exports: Exports with rows refused among others accepted.
--   rows_accepted: Rows accepted.
--   rows_refused: Rows refused.
--   refusals_standing: Refusals that still stand.
--   rows_superseded: Rows that a later issue replaced.
WITH superseded AS (
    SELECT export_before AS export_hash, count(*) AS rows_superseded
    FROM record_change
    WHERE change = 'replaced'
    GROUP BY export_before
), standing AS (
    SELECT export_hash, count(*) AS refusals
    FROM refusal
    WHERE valid_to_run IS NULL AND export_hash IS NOT NULL
    GROUP BY export_hash
)
SELECT e.importer, date_trunc('month', e.received_at)::DATE AS month, count(*) AS exports,
       sum(e.arrivals - 1)::BIGINT AS duplicates, count(*) FILTER (e.state = 'refused') AS refused_exports,
       count(*) FILTER (e.state = 'partly') AS partly_exports, sum(e.rows_accepted)::BIGINT AS rows_accepted,
       sum(e.rows_refused)::BIGINT AS rows_refused, coalesce(sum(standing.refusals), 0)::BIGINT AS refusals_standing,
       coalesce(sum(superseded.rows_superseded), 0)::BIGINT AS rows_superseded
FROM export AS e
LEFT JOIN standing ON standing.export_hash = e.export_hash
LEFT JOIN superseded ON superseded.export_hash = e.export_hash
GROUP BY e.importer, month
